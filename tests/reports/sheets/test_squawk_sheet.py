"""The sheet of a squawk, from a document of the agreed shape."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from analyzer.findings.finding import Cause, Finding, FindingName, Severity
from analyzer.quantity import Quantity
from analyzer.reports.reference import find_topics
from analyzer.reports.sheets.html import html
from analyzer.reports.sheets.pdf import pdf
from analyzer.reports.sheets.squawk_sheet import ALONE, DRAWN_SHOWN, drawn_occasions, squawk_sheet
from analyzer.simulator.healthy import healthy
from analyzer.squawk.conditions import Circumstances, SymptomCondition
from analyzer.squawk.examine import Occasion, SquawkFlight
from analyzer.squawk.idling import Beside, Idling
from analyzer.squawk.known import SYMPTOMS, load_symptoms
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.report import Report
from analyzer.squawk.result import AlsoFound, SquawkResult
from analyzer.squawk.sentences import VERDICTS as SAID
from analyzer.squawk.symptom_result import State
from analyzer.squawk.understanding import understand
from analyzer.squawk.verdict import Against, MeasureFirst, NotObservable, OnlyWhere, SymptomVerdict
from analyzer.squawk.weighing import ConditionShare
from tests.flown import judged
from tests.paper import assert_stands_alone, packed, pages, pdf_words

MADE = date(2026, 10, 1)
AT_LOW_RPM = "5 of 7 occasions at under 1,200 rpm, 70 % of their time, where chance alone gives 18 %"
VERDICTS = (State.SEEN, State.NOT_SEEN, State.NOT_OBSERVABLE)
IDLE = Idling(Beside.USUAL, 7, 27, 24.0)
LOW = ConditionShare(SymptomCondition.LOW_RPM, 5, 7, 0.7, 0.18, 1200.0, telling=True, too_few=False)
LATE = "the log begins with the engine already running"
CAUSES = (
    Cause("brushes", "Alternator brushes worn", 0.6, ()),
    Cause("belt", "Drive belt loose or worn", 0.4, ("x 2",)),
)


def reference(day: int) -> SquawkFlight:
    return SquawkFlight(day, f"logs/{day}.csv", 1, datetime(2026, 3, day, 10))


def occasion(day: int) -> Occasion:
    numbers = {
        "engine_speed": Quantity(980.0, "rpm"),
        "load": Quantity(11.5, "A"),
        "outside_air_temperature": Quantity(-4.0, "degC"),
    }
    says = f"Bus at 12.4 V for {day} s, below the 12.8 V at which the light comes on"
    at = datetime(2026, 3, day, 10, 10)
    circumstances = Circumstances(numbers, "low_rpm")
    return Occasion(reference(day), 600.0, 614.0, at, says, {"lowest_voltage": Quantity(12.4, "V")}, circumstances)


def symptom(state: State, seen: int, against: int, blind: int, name: str = "charging_light") -> SymptomVerdict:
    measures = tuple(
        MeasureFirst(
            f"Bus voltage at the battery's terminals, engine at {rpm} rpm", "13.8 to 14.4 V (14 V)",
            "low at both ends: the alternator", "common practice",
        )
        for rpm in (1000, 1800, 2000, 2200, 2400)
    )  # fmt: skip
    return SymptomVerdict(
        symptom=load_symptoms()[name],
        state=state,
        only=OnlyWhere.LOW_RPM if seen else None,
        rpm_known=True,
        idling=IDLE if seen else None,
        seen_in=tuple(reference(day) for day in range(seen, 0, -1)),
        occasions=tuple(occasion(day) for day in range(seen, 0, -1)),
        against=tuple(
            Against(reference(day), f"lowest bus 13.9 V over 5{day % 10} min", {"lowest_voltage": Quantity(13.9, "V")})
            for day in range(28, 28 - against, -1)
        ),
        not_observable=(
            NotObservable(reference(29), Reason(Unobservable.NOT_MEASURED, measure="cranking_time", because=LATE)),
        )
        * blind,
        hours_observed=31.2,
        headline=None,
        conditions=(LOW,),
        circumstances=(),
        likely=CAUSES if seen else (),
        measure_first=measures,
        check=tuple(
            f"check {place}, {'look at the belt and its tension with a cold engine ' * 2}" for place in range(6)
        ),
    )


def document(*symptoms: SymptomVerdict, words: str | None = "ALT light <flickered> in #gumball") -> SquawkResult:
    low = Finding(FindingName.REGULATOR_LOW, Severity.CAUTION, 0.0, 1.0, {"level": Quantity(13.0, "V")}, "...")
    return SquawkResult(
        tail="N047KT",
        report=Report(words, understand(words or ""), ()),
        since=datetime(2026, 3, 1),
        until=None,
        flights=42,
        hours=61.3,
        copies=(reference(3),),
        symptoms=symptoms,
        also_found=(AlsoFound(reference(1), True, low),),
        work=(),
    )


@pytest.fixture(scope="module")
def charts() -> dict[tuple[str, int, float], str]:
    review = judged(healthy())
    asked = []

    def review_of(flight: Any) -> Any:
        asked.append(flight.source)
        return review

    drawn = drawn_occasions(document(symptom(VERDICTS[0], 7, 20, 4)), review_of)
    assert asked == ["logs/7.csv", "logs/6.csv"]
    return drawn


def shown(made: SquawkResult, charts: Any) -> list[str]:
    """Words of the PDF and of the HTML."""
    sheet = squawk_sheet(made, charts, MADE)
    return [packed(pdf_words(pdf(sheet))), packed(assert_stands_alone(html(sheet)).words)]


def test_what_was_seen_is_told_with_its_numbers_windows_and_where_they_come_from(charts) -> None:
    made = document(symptom(VERDICTS[0], 7, 20, 4))
    for words in shown(made, charts):
        for one in made.symptoms[0].occasions[: ALONE.occasions]:
            assert packed(one.says) in words
            assert packed(f"{one.flight.start:%Y-%m-%d %H:%M}10:10:00 to 10:10:14") in words
        assert (
            packed("lowest voltage 12.4 V, engine speed 980 rpm, load 11.5 A, outside air temperature -4 °C") in words
        )
        assert packed(f"Left out here: {7 - ALONE.occasions} more earlier occasions.") in words
        assert packed(f"Not drawn here: {7 - DRAWN_SHOWN[1][0]} more occasions.") in words
        assert packed("Flights: 7 with it, 20 without, 4 that could not show it; watched for 31.2 h") in words
        assert packed("reference: charging_light") in words
        assert packed(f"{AT_LOW_RPM}: more often than by chance.") in words
        assert packed("as usual for this aircraft at that rpm, outside low rpm: never").lower() in words.lower()
        assert packed("60 % Alternator brushes worn") in words
        assert packed("Expected: 13.8 to 14.4 V (14 V)") in words
        assert packed("caution: Regulated voltage low") in words
        assert packed("1 flight came in two files; the longer copy counts.") in words
        assert packed("“ALT light <flickered> in #gumball”") in words


@pytest.mark.parametrize("verdict", VERDICTS[1:])
def test_what_was_not_seen_is_never_said_not_to_be_there(verdict: State) -> None:
    made = document(symptom(verdict, 0, 3 if verdict == VERDICTS[1] else 0, 4))
    for words in shown(made, {}):
        assert packed(SAID[verdict]).lower() in words.lower()
        assert packed("Not recorded does not mean it did not happen") in words
        assert packed(f"4 flights (2026-03-29 10:00 and others), because {LATE}") in words
        assert packed("For it:") not in words


def test_it_is_not_said_twice() -> None:
    (words, _) = shown(document(symptom(State.NOT_SEEN, 0, 3, 0)), {})
    assert words.count(packed("Not recorded does not mean it did not happen")) == 1


def two_symptoms() -> SquawkResult:
    slow = symptom(State.SEEN, 5, 20, 4, "slow_crank")
    return document(symptom(State.SEEN, 7, 20, 4), replace(slow, check=("Look at the starter.",)))


def three_symptoms() -> SquawkResult:
    return document(*two_symptoms().symptoms, symptom(State.NOT_SEEN, 0, 20, 4, "voltage_high"))


def test_what_to_do_for_two_symptoms_is_listed_once_and_says_for_which(charts) -> None:
    for words in shown(two_symptoms(), charts):
        at_1000 = packed("Bus voltage at the battery's terminals, engine at 1000 rpm.")
        assert words.count(at_1000) == 1
        assert packed("For: charging light on or flickering; slow crank, or many tries.") in words
        assert packed("Look at the starter. For: slow crank, or many tries.") in words
        assert words.count(packed("Alternator brushes worn")) == 1
        assert packed("Likely causes: those named above.") in words


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("make", [two_symptoms, three_symptoms])
def test_a_squawk_of_two_or_three_symptoms_takes_two_pages(make: Callable[[], SquawkResult], paper: str) -> None:
    made, review = make(), judged(healthy())
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
    nameless = replace(reference(1), id=None, start=None)
    one = replace(occasion(1), at=None, flight=nameless)
    made = document(replace(symptom(VERDICTS[0], 1, 0, 0), occasions=(one,)))
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
