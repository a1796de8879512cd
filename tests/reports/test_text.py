"""The text of a review: wording, digits, colour."""

from __future__ import annotations

import io
from datetime import datetime

import pytest
from msgspec.structs import replace

from analyzer.findings.finding import OF_ONE_FLIGHT, Cause, Finding, FindingName, Severity
from analyzer.measures.measure import MEASURES, Assumption, measured, not_measurable
from analyzer.quantity import volts
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.text import Style, closing, finding_lines, log_text
from analyzer.reports.wording import (
    FINDING_LABELS,
    MEASURE_LABELS,
    clock_words,
    interval_words,
    measure_words,
    number,
    unmeasured_label,
    value_words,
)
from analyzer.results import FlightResult, LogResult


def test_every_measure_and_finding_has_words() -> None:
    assert MEASURE_LABELS.keys() == MEASURES.keys()
    assert FINDING_LABELS.keys() == set(OF_ONE_FLIGHT)


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [(13.984, "V", "13.98"), (-0.004, "V/h", "0.00"), (-0.3, "A", "-0.3"), (93.6, "%", "94"), (2.0, "1", "2")],
)
def test_a_number_has_the_digits_of_its_unit_and_no_minus_zero(value: float, unit: str, shown: str) -> None:
    assert number(value, unit) == shown


def test_a_measure_is_written_with_unit_and_interval() -> None:
    measure = measured("battery_resistance", 11.93, 7.06, 16.6)
    assert measure_words(measure) == "11.9 mΩ (7.1 to 16.6)"
    assert (value_words(measure), interval_words(measure)) == ("11.9 mΩ", "7.1 to 16.6 mΩ")
    assert measure_words(measured("start_attempts", 2.0, 2.0, 2.0)) == "2"
    taken = measured("resting_charge", 93.6, 88.0, 97.0, (Assumption.LEAD_ACID, "at 15 degC"))
    assert measure_words(taken) == "94 % (88 to 97) (taken as lead-acid)"


def test_what_has_no_value_is_not_written_as_one() -> None:
    missing = not_measurable("recharge_returned", "the start was not recorded", at_least=6.93)
    assert unmeasured_label(missing) == "charge returned (at least 6.93 Ah)"
    with pytest.raises(ValueError, match="was not measured"):
        measure_words(missing)


def test_an_interval_of_many_minutes_is_written_without_decimals() -> None:
    assert measure_words(measured("recharge_settling_time", 22.13, 10.9, 76.9)) == "22 min (11 to 77)"


def test_of_the_endurance_the_lower_end_is_told_never_the_middle() -> None:
    endurance = measured("endurance", 202.13, 110.9, 276.9, (Assumption.LEAD_ACID,))
    assert measure_words(endurance) == "111 min (up to 277) (taken as lead-acid)"
    assert value_words(endurance) == "111 min (taken as lead-acid)"
    assert interval_words(endurance) == "111 to 277 min"


def test_a_time_is_the_clocks_or_minutes_into_the_log() -> None:
    assert clock_words(datetime(2026, 5, 9, 10, 34, 21, 500_000), 99.0) == "2026-05-09 10:34:21"
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


def test_severity_is_said_in_words_and_not_by_colour_alone() -> None:
    finding = Finding(
        FindingName.OVERVOLTAGE,
        Severity.WARNING,
        60.0,
        180.0,
        {"limit": volts(16.0)},
        "The bus stood above 16.0 V.",
        likely=(Cause("regulator", "a regulator", 1.0, ()),),
        check=("Look at it.",),
    )
    flight = FlightResult(None, 0.0, 600.0, 601, True, 1.0, 14, "none", "no column", None, (), {}, (finding,))
    text = log_text(LogResult("a.csv", None, None, (), (flight,)), Style(colour=True))
    assert "WARNING: Overvoltage" in text
    assert "from 1.0 min into the log, over 2 min" in text
    assert "no ammeter" in text


def test_the_whole_text_shows_every_cause_and_check_and_the_short_one_counts_what_it_leaves_out() -> None:
    likely = tuple(Cause(f"cause_{place}", f"cause number {place}", 0.2, ()) for place in range(5))
    checks = tuple(f"Look at part {place}." for place in range(6))
    finding = Finding(
        FindingName.OVERVOLTAGE, Severity.WARNING, 60.0, 180.0, {"limit": volts(16.0)}, "Too high.",
        likely=likely, check=checks,
    )  # fmt: skip
    plain = Style(colour=False)
    flight = FlightResult(None, 0.0, 600.0, 601, True, 1.0, 14, "none", "no column", None, (), {}, (finding,))
    whole = log_text(LogResult("a.csv", None, None, (), (flight,)), plain)
    assert [place for place in range(5) if f"cause number {place} (20 %)" not in whole] == []
    assert [place for place in range(6) if f"{place + 1}. Look at part {place}." not in whole] == []
    short = finding_lines(finding, plain, "raised 2026-05-02")
    assert short[-1].strip() == "and 2 more causes, 3 more checks"
    assert "cause number 3" not in "\n".join(short)
    few = replace(finding, likely=likely[:3], check=checks[:3])
    assert "more" not in "\n".join(finding_lines(few, plain, ""))


def test_a_refusal_is_one_sentence() -> None:
    refused = LogResult("a.csv", "nothing in it", None, (), ())
    assert "refused: nothing in it" in log_text(refused, Style(colour=False))


def test_the_closing_counts_and_holds_every_caution() -> None:
    text = closing(2, 1, 1, Style(colour=False))
    assert text.startswith("2 logs, 1 flight, 1 log refused.")
    for caution in CAUTIONS:
        assert " ".join(caution.split()) in " ".join(text.split())
