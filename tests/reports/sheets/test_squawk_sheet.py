"""The sheet of a squawk, from a document of the agreed shape."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from paper import assert_stands_alone, packed, pages, pdf_words

from analyzer.reports.reference import find_topics
from analyzer.reports.sheets.html import html
from analyzer.reports.sheets.pdf import pdf
from analyzer.reports.sheets.squawk_sheet import ALONE, DRAWN_SHOWN, drawn_occasions, squawk_sheet
from analyzer.simulator.healthy import healthy
from analyzer.squawk.document import on_the_ground
from analyzer.squawk.known import SYMPTOMS
from tests.flown import judged

MADE = date(2026, 10, 1)
AT_LOW_RPM = "5 of 7 occasions at under 1,200 rpm, where the engine spent 18 % of the time"
LOW = "comes at low rpm (x 2)"
STATES = ("seen", "not_seen", "not_observable")
VERDICTS = ("seen in the recordings", "not seen though it could have been", "could not have been seen")


def reference(day: int) -> dict[str, Any]:
    return {"id": day, "source": f"logs/{day}.csv", "number": 1, "start": f"2026-03-{day:02d}T10:00:00"}


def occasion(day: int) -> dict[str, Any]:
    return {
        "flight": reference(day),
        "from_s": 600.0,
        "to_s": 614.0,
        "at": f"2026-03-{day:02d}T10:10:00",
        "says": f"Bus at 12.4 V for {day} s, below the 12.8 V at which the light comes on",
        "numbers": {"lowest_voltage": {"value": 12.4, "unit": "V"}},
        "conditions": {"engine_speed": {"value": 980, "unit": "rpm"}, "load": {"value": 11.5, "unit": "A"},
                       "outside_air_temperature": {"value": -4.0, "unit": "degC"}, "phase": "low_rpm"},
    }  # fmt: skip


def symptom(verdict: str, seen: int, against: int, blind: int) -> dict[str, Any]:
    counts = {"seen": seen, "not_seen": against, "not_observable": blind, "occasions": seen, "hours_observed": 31.2}
    causes = [
        {"cause": "Alternator brushes worn", "key": "brushes", "weight": 0.6, "why": [], "check": []},
        {
            "cause": "Drive belt loose or worn",
            "key": "belt",
            "weight": 0.4,
            "why": ["comes at low rpm (x 2)"],
            "check": [],
        },
    ]
    return {
        "symptom": "charging_light",
        "title": "Charging light on or flickering",
        "state": STATES[VERDICTS.index(verdict)],
        "verdict": verdict,
        "only": "at low engine speed only" if seen else None,
        "because": f"Seen in {seen} of {seen + against} flights.",
        "counts": counts,
        "for": [occasion(day) for day in range(seen, 0, -1)],
        "against": [
            {
                "flight": reference(day),
                "says": f"lowest bus 13.9 V over 5{day % 10} min",
                "numbers": {"lowest_voltage": {"value": 13.9, "unit": "V"}},
            }
            for day in range(28, 28 - against, -1)
        ],
        "not_observable": [{"flight": reference(29), "because": "the log begins with the engine running"}] * blind,
        "before": None,
        "conditions": [{"condition": "low rpm", "seen": 5, "of": 7, "exposure": 0.18, "says": AT_LOW_RPM}],
        "likely": causes if seen else [],
        "measure_first": [
            {
                "what": f"Bus voltage at the battery's terminals, engine at {rpm} rpm",
                "expected": "13.8 to 14.4 V (14 V)",
                "tells": "low at both ends: the alternator",
                "source": "common practice",
            }
            for rpm in (1000, 1800, 2000, 2200, 2400)
        ],
        "check": [f"check {place}, {'look at the belt and its tension with a cold engine ' * 2}" for place in range(6)],
    }


def document(*symptoms: dict[str, Any], words: str | None = "ALT light <flickered> in #pattern") -> dict[str, Any]:
    return {
        "contract": 1,
        "tail": "N047KT",
        "report": {"words": words, "symptoms": [], "not_understood": ["#pattern"]},
        "since": "2026-03-01T00:00:00",
        "until": None,
        "flights": 42,
        "hours": 61.3,
        "symptoms": list(symptoms),
        "on_the_ground": on_the_ground(symptoms),
        "work": [],
        "copies_left_out": [reference(3)],
        "also_found": [
            {"flight": reference(1), "finding": "regulator_low", "severity": "caution", "says": "...", "with_it": True}
        ],
        "cautions": ["A caution of the document's own."],
    }


@pytest.fixture(scope="module")
def charts() -> dict[tuple[str, int, float], str]:
    review = judged(healthy())
    asked = []

    def review_of(flight: Any) -> Any:
        asked.append(flight["source"])
        return review

    drawn = drawn_occasions(document(symptom(VERDICTS[0], 7, 20, 4)), review_of)
    assert asked == ["logs/7.csv", "logs/6.csv"]
    return drawn


def shown(made: dict[str, Any], charts: Any) -> list[str]:
    """Words of the PDF and of the HTML."""
    sheet = squawk_sheet(made, charts, MADE)
    return [packed(pdf_words(pdf(sheet))), packed(assert_stands_alone(html(sheet)).words)]


def test_what_was_seen_is_told_with_its_numbers_windows_and_where_they_come_from(charts) -> None:
    made = document(symptom(VERDICTS[0], 7, 20, 4))
    for words in shown(made, charts):
        for one in made["symptoms"][0]["for"][: ALONE.occasions]:
            assert packed(one["says"]) in words
            assert packed(one["flight"]["start"].replace("T", " ")[:16] + "10:10:00 to 10:10:14") in words
        assert (
            packed("lowest voltage 12.4 V, engine speed 980 rpm, load 11.5 A, outside air temperature -4 °C") in words
        )
        assert packed(f"Left out here: {7 - ALONE.occasions} more earlier occasions.") in words
        assert packed(f"Not drawn here: {7 - DRAWN_SHOWN[1][0]} more occasions.") in words
        assert packed("Flights: 7 with it, 20 without, 4 that could not show it; looked at for 31.2 h") in words
        assert packed("reference: charging_light") in words
        assert packed(f"{AT_LOW_RPM}.") in words
        assert packed("seen in the recordings, at low engine speed only").lower() in words.lower()
        assert packed("60 % Alternator brushes worn") in words
        assert packed("Expected: 13.8 to 14.4 V (14 V)") in words
        assert packed("caution: Regulated voltage low") in words
        assert packed("1 flight came in two files; the longer copy counts.") in words
        assert packed("“ALT light <flickered> in #pattern”") in words
        assert packed("A caution of the document's own.") in words


@pytest.mark.parametrize("verdict", VERDICTS[1:])
def test_what_was_not_seen_is_never_said_not_to_be_there(verdict: str) -> None:
    made = document(symptom(verdict, 0, 3 if verdict == VERDICTS[1] else 0, 4))
    for words in shown(made, {}):
        assert packed(verdict).lower() in words.lower()
        assert packed("Not recorded does not mean it did not happen") in words
        assert (
            packed("4 flights (2026-03-29 10:00 and others), because the log begins with the engine running") in words
        )
        assert packed("For it:") not in words


def test_a_document_that_says_so_itself_is_not_said_it_twice() -> None:
    one = symptom(VERDICTS[1], 0, 3, 0) | {
        "because": "In none of 3 flights. Not recorded does not mean it did not happen."
    }
    (words, _) = shown(document(one), {})
    assert words.count(packed("Not recorded does not mean it did not happen")) == 1


def two_symptoms() -> dict[str, Any]:
    slow = {"symptom": "slow_crank", "title": "Slow crank, or many tries", "check": ["Look at the starter."]}
    return document(symptom(VERDICTS[0], 7, 20, 4), symptom(VERDICTS[0], 5, 20, 4) | slow)


def three_symptoms() -> dict[str, Any]:
    high = {"symptom": "voltage_high", "title": "Voltage high"}
    return document(*two_symptoms()["symptoms"], symptom(VERDICTS[1], 0, 20, 4) | high)


def test_what_to_do_for_two_symptoms_is_listed_once_and_says_for_which(charts) -> None:
    for words in shown(two_symptoms(), charts):
        at_1000 = packed("Bus voltage at the battery's terminals, engine at 1000 rpm.")
        assert words.count(at_1000) == 1
        assert packed("For: charging light on or flickering; slow crank, or many tries.") in words
        assert packed("Look at the starter. For: slow crank, or many tries.") in words
        assert words.count(packed("Alternator brushes worn")) == 1
        assert packed("Likely causes: those named above.") in words


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("made", [two_symptoms(), three_symptoms()], ids=["two", "three"])
def test_a_squawk_of_two_or_three_symptoms_takes_two_pages(made: dict[str, Any], paper: str) -> None:
    review = judged(healthy())
    assert pages(pdf(squawk_sheet(made, drawn_occasions(made, lambda _: review), MADE), paper)) <= 2


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_squawk_of_one_symptom_takes_two_pages(charts, paper: str) -> None:
    assert pages(pdf(squawk_sheet(document(symptom(VERDICTS[0], 7, 20, 4)), charts, MADE), paper)) <= 2


def test_a_report_of_ten_thousand_characters_is_shortened_and_says_by_how_much() -> None:
    made = document(symptom(VERDICTS[1], 0, 3, 0), words="light " * 2000)
    sheet = squawk_sheet(made, {}, MADE)
    assert pages(pdf(sheet)) <= 2
    assert "(11600 more characters)" in pdf_words(pdf(sheet))


def test_a_symptom_without_a_clock_tells_minutes_into_the_log() -> None:
    one = occasion(1) | {"at": None}
    one["flight"] = one["flight"] | {"start": None, "id": None}
    made = document(symptom(VERDICTS[0], 1, 0, 0) | {"for": [one]})
    (words, _) = shown(made, {})
    assert packed("1.csv, flight 1") in words
    assert packed("10.0 to 10.2 min into the log") in words


def test_a_flight_that_can_no_longer_be_read_is_told_and_not_drawn() -> None:
    made = document(symptom(VERDICTS[0], 2, 1, 0))
    assert drawn_occasions(made, lambda flight: None) == {}
    (words, _) = shown(made, {})
    assert packed("below the 12.8 V at which the light comes on") in words


def test_every_symptom_that_a_sheet_refers_to_is_in_the_reference() -> None:
    for name in SYMPTOMS:
        assert find_topics(name), name
