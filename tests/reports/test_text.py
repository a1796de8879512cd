"""The text of a review: wording, digits, colour."""

from __future__ import annotations

import io

import pytest

from analyzer.findings.finding import FindingName
from analyzer.measures.measure import MEASURES
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.text import Style, closing, log_text
from analyzer.reports.wording import FINDING_LABELS, MEASURE_LABELS, clock_words, measure_words, number


def test_every_measure_and_finding_has_words() -> None:
    assert MEASURE_LABELS.keys() == MEASURES.keys()
    assert FINDING_LABELS.keys() == set(FindingName)


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [(13.984, "V", "13.98"), (-0.004, "V/h", "0.00"), (-0.3, "A", "-0.3"), (93.6, "%", "94"), (2.0, "1", "2")],
)
def test_a_number_has_the_digits_of_its_unit_and_no_minus_zero(value: float, unit: str, shown: str) -> None:
    assert number(value, unit) == shown


def test_a_measure_is_written_with_unit_and_interval() -> None:
    measure = {"value": 11.93, "unit": "mohm", "low": 7.06, "high": 16.6, "state": "measured"}
    assert measure_words(measure) == "11.9 mΩ (7.1 to 16.6)"


def test_an_interval_of_many_minutes_is_written_without_decimals() -> None:
    measure = {"value": 202.13, "unit": "min", "low": 110.9, "high": 276.9}
    assert measure_words(measure) == "202 min (111 to 277)"


def test_a_time_is_the_clocks_or_minutes_into_the_log() -> None:
    assert clock_words("2026-05-09T10:34:21.500", 99.0) == "2026-05-09 10:34:21"
    assert clock_words(None, 99.0) == "1.6 min into the log"


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_colour_is_for_terminals_that_want_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert Style.of(Terminal()).colour
    assert not Style.of(io.StringIO()).colour
    monkeypatch.setenv("NO_COLOR", "1")
    assert not Style.of(Terminal()).colour


def refused() -> dict[str, object]:
    return {
        "source": "a.csv",
        "state": "refused",
        "because": "nothing in it",
        "tail": None,
        "warnings": [],
        "flights": [],
    }


def test_severity_is_said_in_words_and_not_by_colour_alone() -> None:
    flight = {
        "start": None,
        "from_s": 0.0,
        "to_s": 600.0,
        "nominal_voltage": 14,
        "ammeter": "none",
        "measures": {},
        "findings": [
            {
                "finding": "overvoltage",
                "severity": "warning",
                "from_s": 60.0,
                "to_s": 180.0,
                "start": None,
                "says": "The bus stood above 16.0 V.",
                "likely": [{"cause": "a regulator", "weight": 1.0}],
                "check": ["Look at it."],
            }
        ],
    }
    text = log_text(refused() | {"state": "read", "flights": [flight]}, Style(colour=True))
    assert "WARNING: Overvoltage" in text
    assert "no ammeter" in text


def test_a_refusal_is_one_sentence() -> None:
    assert "refused: nothing in it" in log_text(refused(), Style(colour=False))


def test_the_closing_counts_and_holds_every_caution() -> None:
    text = closing(2, 1, 1, Style(colour=False))
    assert text.startswith("2 logs, 1 flight, 1 log refused.")
    for caution in CAUTIONS:
        assert " ".join(caution.split()) in " ".join(text.split())
