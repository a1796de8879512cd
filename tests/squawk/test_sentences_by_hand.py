"""What a squawk's result says, sentence by sentence and on the terminal, with every number put in by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from analyzer.findings.finding import Cause
from analyzer.quantity import Quantity
from analyzer.reports.squawk_text import squawk_text, work_side_words
from analyzer.squawk.around_work import SideOfWork
from analyzer.squawk.conditions import Circumstances, SymptomCondition
from analyzer.squawk.examine import SquawkFlight
from analyzer.squawk.idling import Beside, Idling
from analyzer.squawk.known import load_symptoms
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.report import report_of
from analyzer.squawk.result import SquawkResult
from analyzer.squawk.sentences import because_words, condition_words, only_words, reason_words, verdict_words
from analyzer.squawk.symptom_result import State
from analyzer.squawk.verdict import Against, LowStarts, NotObservable, OnlyWhere, SymptomVerdict, verdict_of
from analyzer.squawk.weighing import ConditionShare
from tests.squawk.examined import occasion

LIGHT = load_symptoms()["charging_light"]
DAYS = [SquawkFlight(day, f"{day}.csv", day, datetime(2026, 3, day, 9, 30)) for day in range(1, 10)]


def quantities(**numbers: tuple[float, str]) -> dict[str, Quantity]:
    return {name: Quantity(*one) for name, one in numbers.items()}


REASONS = {
    "too short": (Reason(Unobservable.TOO_SHORT, quantities(observed=(41.0, "s"))),
                  "only 41 s are recorded in which it could have shown"),
    "charges at rest": (Reason(Unobservable.AMMETER_CHARGES_AT_REST, quantities(current=(3.25, "A"))),
                        "the ammeter shows 3.2 A of charge with the engine stopped"),
    "little output": (Reason(Unobservable.OUTPUT_TOO_SMALL, quantities(current=(2.0, "A"))),
                      "the alternator usually gives 2.0 A, too little to tell from zero"),
    "slow for a flicker": (
        Reason(Unobservable.SLOW_FOR_FLICKER, quantities(step=(6.0, "s"), lowest_voltage=(13.42, "V"))),
        "one reading every 6 s misses a flicker; no lasting fall was recorded, lowest 13.4 V"),
    "ends early": (Reason(Unobservable.ENDS_EARLY, quantities(carried=(12.0, "min"))),
                   "the recording ends 12 min after the alternator came on, when a high current is still normal"),
    "voltmeter off": (
        Reason(Unobservable.VOLTMETER_OFFSET, quantities(offset=(-0.62, "V"), light_at=(12.8, "V"))),
        "the voltmeter reads -0.6 V off throughout, so whether the bus fell below 12.8 V cannot be told"),
    "voltmeter off by nobody knows what": (
        Reason(Unobservable.VOLTMETER_OFFSET),
        "the voltmeter is off, so how high the bus really stood cannot be told"),
    "kind unknown": (Reason(Unobservable.AMMETER_KIND_UNKNOWN),
                     "the ammeter's kind is unknown, so a high reading may be load or charge"),
    "not measured": (
        Reason(Unobservable.NOT_MEASURED, quantities(recharge_returned=(1.25, "Ah")), because="no rest was recorded"),
        "no rest was recorded; 1.2 Ah went back into the battery, no sign of an empty one"),
    "heat, with hints": (
        Reason(Unobservable.BATTERY_HEAT, quantities(late_current=(-0.04, "A"), late_voltage=(14.26, "V"))),
        "the battery's temperature is not recorded; the only hints late in flight: 0.0 A into the battery, the bus at "
        "14.3 V"),
    "heat, volts alone": (
        Reason(Unobservable.BATTERY_HEAT, quantities(late_voltage=(14.26, "V"))),
        "the battery's temperature is not recorded; the only hints late in flight: no ammeter that shows charging "
        "current, the bus at 14.3 V"),
    "heat, nothing": (Reason(Unobservable.BATTERY_HEAT),
                      "the battery's temperature is not recorded, and no current or voltage late in flight hints at "
                      "it"),
}  # fmt: skip


@pytest.mark.parametrize(("reason", "words"), REASONS.values(), ids=REASONS)
def test_why_a_recording_could_not_have_shown_it(reason: Reason, words: str) -> None:
    assert reason_words(reason) == words


def verdict(state: State, **more: Any) -> SymptomVerdict:
    return replace(verdict_of(LIGHT, []), state=state, **more)


def seen(*flights: SquawkFlight, **more: Any) -> SymptomVerdict:
    told = {"occasions": tuple(occasion(one) for one in flights), "headline": Quantity(12.064, "V"), "rpm_known": True}
    return verdict(State.SEEN, seen_in=flights, **told | more)


def against(*flights: SquawkFlight) -> tuple[Against, ...]:
    return tuple(Against(one, f"the bus held on day {one.number}", {}) for one in flights)


def blind(*reasons: Reason) -> tuple[NotObservable, ...]:
    return tuple(NotObservable(flight, reason) for flight, reason in zip(DAYS, reasons, strict=False))


SHORT, LONG = (Reason(Unobservable.TOO_SHORT, quantities(observed=(s, "s"))) for s in (20.0, 41.0))
NO_VOLTS = Reason(Unobservable.NO_VOLTAGE)
VERDICTS = {
    "seen once": (
        seen(DAYS[6]),
        "Seen in 1 of 1 flight in which it would have shown, on 1 occasion, lowest bus voltage 12.06 V. Last seen in "
        "the flight of 2026-03-07.",
    ),
    "seen in some": (
        seen(DAYS[6], DAYS[2], against=against(DAYS[8], DAYS[0])),
        "Seen in 2 of 4 flights in which it would have shown, on 2 occasions, lowest bus voltage 12.06 V. Last seen in "
        "the flight of 2026-03-07.",
    ),
    "seen without a clock": (
        seen(replace(DAYS[6], start=None), headline=None),
        "Seen in 1 of 1 flight in which it would have shown, on 1 occasion.",
    ),
    "before the alternator came on": (
        seen(DAYS[6], only=OnlyWhere.LATE_START, headline=None),
        "Seen in 1 of 1 flight in which it would have shown, on 1 occasion. Last seen in the flight of 2026-03-07. All "
        "of it before the alternator came on after the start: it was switched on late, or came on late.",
    ),
    "not seen": (
        verdict(State.NOT_SEEN, against=against(DAYS[8], DAYS[0]), headline=Quantity(13.8, "V")),
        "Seen in none of 2 flights in which it would have shown, lowest bus voltage 13.80 V. Latest: the bus held on "
        "day 9. Not recorded does not mean it did not happen.",
    ),
    "not slow, though low": (
        verdict(State.NOT_SEEN, against=against(DAYS[8]), headline=None, low_starts=LowStarts(1, Quantity(8.4, "V"))),
        "Seen in none of 1 flight in which it would have shown. But in 1 of them the bus fell below 8.40 V: one "
        "reading may catch the first instant, so look at the trend of the lowest cranking voltage. Latest: the bus "
        "held on day 9. Not recorded does not mean it did not happen.",
    ),
    "no flight": (verdict(State.NOT_OBSERVABLE), "There is no flight to search."),
    "could not be seen in the one": (
        verdict(State.NOT_OBSERVABLE, not_observable=blind(LONG)),
        "Not in these recordings: only 41 s are recorded in which it could have shown. It needs "
        f"{LIGHT.needs}. Not recorded does not mean it did not happen.",
    ),
    "could not be seen, mostly for one reason": (  # the latest of the two that are too short tells it
        verdict(State.NOT_OBSERVABLE, not_observable=blind(NO_VOLTS, LONG, SHORT)),
        "Not in these recordings: only 41 s are recorded in which it could have shown (2 of 3 flights). It needs "
        f"{LIGHT.needs}. Not recorded does not mean it did not happen.",
    ),
}


@pytest.mark.parametrize(("one", "says"), VERDICTS.values(), ids=VERDICTS)
def test_a_verdict_is_justified_by_its_numbers(one: SymptomVerdict, says: str) -> None:
    assert because_words(one) == says


@pytest.mark.parametrize("beside", Beside)
def test_what_came_at_low_rpm_only_says_in_how_many_flights_that_idled(beside: Beside) -> None:
    one = seen(DAYS[6], only=OnlyWhere.LOW_RPM, idling=Idling(beside, 1, 7, 5.44))
    assert " All of it at low engine speed, in 1 of 7 flights that idled; never in 5.4 h outside it." in because_words(
        one
    )
    assert verdict_words(one).startswith("seen at low rpm only, ")
    assert only_words(one) == "outside low rpm: never"


CONDITIONS = {
    "low rpm": (SymptomCondition.LOW_RPM, 0.875, 1300.0,
                "2 of 3 occasions at under 1,300 rpm, 88 % of their time, where chance alone gives 16 %: "),
    "soon after start": (SymptomCondition.SOON_AFTER_START, 1.0, 10.0,
                         "2 of 3 occasions within 10 min after start, 100 % of their time, where chance alone gives 16 "
                         "%: "),
    "high load": (SymptomCondition.HIGH_LOAD, 0.5, None,
                  "2 of 3 occasions under a load well above the flight's usual one, 50 % of their time, where chance "
                  "alone gives 16 %: "),
    "hot": (SymptomCondition.HOT, None, 30.0, "2 of 3 flights with it began above 30 °C, as 16 % of all flights did: "),
}  # fmt: skip


@pytest.mark.parametrize(("condition", "part", "threshold", "says"), CONDITIONS.values(), ids=CONDITIONS)
@pytest.mark.parametrize(
    ("telling", "too_few", "told"),
    [(True, False, "more often than by chance"), (False, False, "no more often than by chance"),
     (False, True, "too few flights to say")],
)  # fmt: skip
def test_a_condition_is_held_against_chance(condition, part, threshold, says, telling, too_few, told) -> None:
    one = ConditionShare(condition, 2, 3, part, 0.156, threshold, telling, too_few)
    assert condition_words(one) == says + told


def result(*symptoms: SymptomVerdict, **more: Any) -> SquawkResult:
    told = {"since": None, "until": None, "copies": (), "also_found": (), "work": ()} | more
    return SquawkResult("N1", report_of("ALT light"), flights=9, hours=11.26, symptoms=symptoms, **told)


def lines(one: SquawkResult) -> list[str]:
    return [line.strip() for line in squawk_text(one).splitlines()]


def cause(key: str, weight: float, *why: str) -> Cause:
    return Cause(key, key, weight, why, ())


def test_the_text_shows_three_occasions_a_flight_against_and_three_causes_and_counts_the_rest(monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    likely = (cause("belt", 0.6, "sparks (x 3)"), cause("brushes", 0.2), cause("lead", 0.1), cause("switch", 0.1))
    one = seen(*DAYS[8:3:-1], against=against(*DAYS[:2]), likely=likely, not_observable=blind(SHORT, LONG))
    told = lines(result(one))
    assert told[0] == "N1  9 flights, 11.3 h searched, all"
    assert told[told.index("2 more flights could not have shown it") + 1 :][:10] == [
        "for: 2026-03-09 09:40:00  the bus fell",
        "for: 2026-03-08 09:40:00  the bus fell",
        "for: 2026-03-07 09:40:00  the bus fell",
        "and 2 more occasions",
        "against: 2026-03-01 09:30  the bus held on day 1",
        "likely: belt (60 %)",
        "since sparks (x 3)",
        "brushes (20 %)",
        "lead (10 %)",
        "and 1 more cause",
    ]


@pytest.mark.parametrize(
    ("count", "shown"), [(3, []), (4, ["and 1 more occasion"]), (5, ["and 2 more occasions"])]
)  # fmt: skip
def test_occasions_beyond_three_are_counted(count: int, shown: list[str]) -> None:
    told = lines(result(seen(*DAYS[:count])))
    assert [line for line in told if line.startswith("and ") and "occasion" in line] == shown


def test_an_occasion_of_another_phase_is_shown_before_the_third_of_the_same() -> None:
    *same, other = (occasion(one) for one in DAYS[8:3:-1])
    other = replace(other, circumstances=Circumstances({}, "taxi"), says="while taxiing")
    told = [line for line in lines(result(seen(DAYS[8], occasions=(*same, other)))) if line.startswith("for:")]
    assert [line.split("  ")[0] for line in told] == [
        "for: 2026-03-09 09:40:00", "for: 2026-03-05 09:40:00", "for: 2026-03-08 09:40:00",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("numbers", "shown"),
    [
        (quantities(engine_speed=(2349.6, "rpm"), load=(12.5, "A")), "(2,350 rpm, load 12 A)"),
        (quantities(outside_air_temperature=(-0.4, "degC"), minutes_after_start=(0.4, "min")),
         "(air 0 °C, 0 min after start)"),
        (quantities(load=(-0.3, "A"), outside_air_temperature=(-12.6, "degC")), "(load 0 A, air -13 °C)"),
    ],
)  # fmt: skip
def test_how_it_was_at_an_occasion_is_told_without_a_minus_before_nothing(numbers, shown: str) -> None:
    one = replace(occasion(DAYS[0]), circumstances=Circumstances(numbers, "cruise"))
    (line,) = (line for line in lines(result(seen(DAYS[0], occasions=(one,)))) if line.startswith("for:"))
    assert line == f"for: 2026-03-01 09:40:00  the bus fell {shown}"


def test_an_occasion_without_a_clock_is_told_by_its_minute() -> None:
    one = replace(occasion(DAYS[0]), at=None, from_s=90.0)
    assert "for: 1.5 min into the log  the bus fell" in lines(result(seen(DAYS[0], occasions=(one,))))


@pytest.mark.parametrize(
    ("since", "until", "period"),
    [(None, None, "all"), (datetime(2026, 3, 1), None, "since 2026-03-01"),
     (datetime(2026, 3, 1), datetime(2026, 3, 9), "since 2026-03-01 until 2026-03-09"),
     (None, datetime(2026, 3, 9), "all until 2026-03-09")],
)  # fmt: skip
def test_the_period_that_was_searched_is_told(since, until, period: str) -> None:
    assert lines(result(seen(DAYS[0]), since=since, until=until))[0] == f"N1  9 flights, 11.3 h searched, {period}"


@pytest.mark.parametrize(
    ("side", "words"),
    [
        (SideOfWork(1, 0, 0, (datetime(2026, 3, 1),)), "seen in 1 of 1 flight, 2026-03-01 to 2026-03-01"),
        (SideOfWork(3, 14, 2, (datetime(2026, 3, 1), datetime(2026, 3, 9))),
         "seen in 3 of 17 flights, 2 more could not show it, 2026-03-01 to 2026-03-09"),
        (SideOfWork(0, 0, 0, ()), "seen in 0 of 0 flights"),
    ],
)  # fmt: skip
def test_a_symptom_on_one_side_of_work_is_counted(side: SideOfWork, words: str) -> None:
    assert work_side_words(side) == words
