"""What a report names as circumstances, and ordinary idling, answered from the flights."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analyzer.squawk.across import across_flights
from analyzer.squawk.circumstances import answers
from analyzer.squawk.conditions import Circumstances, SymptomCondition
from analyzer.squawk.examine import ExaminedFlight, FlightSymptom, Occasion, SquawkFlight
from analyzer.squawk.idling import Beside, idling_of
from analyzer.squawk.known import load_symptoms
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import State, number
from analyzer.squawk.understanding import understand
from analyzer.squawk.verdict import OnlyWhere, verdict_of

LIGHT = "charging_light"
LOW, NEAR = SymptomCondition.LOW_RPM, SymptomCondition.NEAR_GROUND


def flight(
    day: int, *volts: float, low: float = 1.0, condition: SymptomCondition = LOW, late: bool = False
) -> ExaminedFlight:
    """An hour of flight, six minutes of it in a condition, with an occasion for each of some lowest voltages."""
    ref = SquawkFlight(day, "", 1, None)
    numbers = [{"lowest_voltage": number(one, "V")} for one in volts]
    occasions = tuple(
        Occasion(ref, 0.0, 30.0, None, "", one, Circumstances({}, "low_rpm"), {condition: low}, late) for one in numbers
    )
    state = State.SEEN if volts else State.NOT_SEEN
    own = FlightSymptom(state, "", None, {}, occasions, {condition: (360.0, 3600.0)}, 1.0, (), ())
    return ExaminedFlight(ref, None, 1.0, 14, "battery", (13.4, 14.5), False, {}, 1300.0, (), {LIGHT: own})


@pytest.mark.parametrize(
    ("levels", "beside"),
    [
        ([12.4, 12.5, 12.3, 12.4, 12.5, 12.4, 12.3, 12.4, 12.4], Beside.USUAL),
        ([12.4, 12.5, 12.3, 12.4, 12.5, 12.4, 12.3, 12.4, 11.6], Beside.WORSE),
        ([None, None, None, None, None, None, None, None, 12.4], Beside.SELDOM),
        ([12.4], Beside.TOO_FEW),
    ],
)
def test_a_light_at_idle_stands_beside_what_is_usual_there(levels: list[float | None], beside: Beside) -> None:
    flights = [flight(day, *([] if level is None else [level])) for day, level in enumerate(levels)]
    idling = idling_of(load_symptoms()[LIGHT], flights)
    assert idling.beside == beside
    assert idling.flights == sum(level is not None for level in levels)
    assert idling.of == len(levels)
    assert idling.outside_h == pytest.approx(0.9 * len(levels))  # 3240 s of each hour


def test_an_alternator_switched_on_late_is_told_from_idle() -> None:
    symptom = load_symptoms()[LIGHT]
    assert verdict_of(symptom, [flight(1, 12.4, late=True)]).only == OnlyWhere.LATE_START
    assert verdict_of(symptom, [flight(1, 12.4), flight(2, 12.4, late=True)]).only == OnlyWhere.LOW_RPM
    assert verdict_of(symptom, [flight(1, 12.4, low=0.2)]).only is None


def test_a_circumstance_is_answered_by_occasions_and_hours_in_it_and_elsewhere() -> None:
    named = understand("ALT light flickered in the pattern").named
    flights = [
        flight(1, 12.4, 12.5, condition=NEAR),
        flight(2, 12.3, low=0.0, condition=NEAR),
        flight(3, condition=NEAR),
    ]
    (one,) = answers(LIGHT, flights, named)
    assert (one.condition, one.recorded, one.inside, one.outside) == (NEAR, True, 2, 1)
    assert (one.inside_h, one.outside_h) == pytest.approx((0.3, 2.7))  # three times 360 s and 3240 s


def test_where_height_is_not_recorded_the_pattern_is_told_by_low_rpm_and_else_said_not_to_be_told() -> None:
    named = understand("ALT light flickered in the pattern").named
    (by_rpm,) = answers(LIGHT, [flight(1, 12.4)], named)
    assert (by_rpm.condition, by_rpm.recorded, by_rpm.inside) == (LOW, True, 1)
    bare = flight(1, 12.4)
    bare = replace(bare, symptoms={LIGHT: replace(bare.symptoms[LIGHT], exposure={})})
    (untold,) = answers(LIGHT, [bare], named)
    assert not untold.recorded


def test_a_flight_whose_ammeter_looks_like_another_kind_denies_nothing() -> None:
    plain = FlightSymptom(State.NOT_SEEN, "no discharge", None, {}, (), {}, 1.0, (), ())
    flights = [replace(flight(day), symptoms={"ammeter_discharge": plain}) for day in range(3)]
    odd = replace(flights[0], ammeter="alternator")
    kept = across_flights([odd, *flights]).kept
    states = [one.symptoms["ammeter_discharge"].state for one in kept]
    assert states == [State.NOT_OBSERVABLE, State.NOT_SEEN, State.NOT_SEEN, State.NOT_SEEN]
    assert kept[0].symptoms["ammeter_discharge"].reason == Reason(Unobservable.AMMETER_KIND_APART, more="alternator")
