"""What is said to follow if the alternator quit, against the same flights flown with it quitting at that minute."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest
from msgspec import structs

from analyzer.aircraft import Aircraft
from analyzer.measures.alternator_quit import AlternatorQuits, Light, alternator_quits
from analyzer.measures.battery_facts import temperature_factor
from analyzer.measures.battery_life import UNKNOWN_BATTERY, BatteryKnown, Share, battery_life
from analyzer.measures.charge_now import charge_now
from analyzer.measures.endurance import battery_temperature
from analyzer.measures.measure import not_measurable
from analyzer.measures.planning import ESSENTIAL_ONLY
from analyzer.reports.quit_words import MASTER_OFF, case_rows, quit_notes, quit_sentences
from analyzer.review import FlightReview, review_log
from analyzer.simulator import Scenario, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.faults import Worn
from analyzer.simulator.healthy import ground_radio, healthy
from analyzer.simulator.system_faults import FieldOpen
from tests.benchmarks.alternator_quits import drawn, flown

TODAY = datetime(2026, 11, 1)
WHOLE = Share(1.0, 1.0, 1.0)


@pytest.mark.long(keep=15)
@pytest.mark.parametrize("seed", range(4000, 4030))
def test_no_battery_lasts_less_than_what_to_plan_on(seed: int) -> None:
    """Both voltages and ammeters, sound, worn and low batteries, from the start of the engine to the end of cruise."""
    one = drawn(seed)
    lasts = one.said.cases[0].lasts
    assert lasts.low is not None
    assert lasts.low <= one.minutes, one
    assert one.said.charge is not None
    assert one.said.charge.low <= one.charge
    assert one.said.bus is not None
    assert one.said.bus.high is not None
    assert one.first_minute[1] <= one.said.bus.high + 0.05
    assert one.said.light is not Light.WITHIN_A_MINUTE or one.first_minute[0] < one.said.flow.light_at.value


def reviewed(scenario: Scenario, aircraft: Aircraft | None = None) -> FlightReview:
    (review,) = review_log(as_log(simulate(scenario)), aircraft or Aircraft(battery_capacity=34.0)).flights
    return review


def said_at(
    review: FlightReview, at_s: float, known: BatteryKnown = UNKNOWN_BATTERY, **asked: object
) -> AlternatorQuits:
    return alternator_quits(review.flight, review.measures, known, TODAY, at_s, **asked)  # type: ignore[arg-type]


RADIO = ground_radio(811, 14, "alternator")
BATTERY = healthy(812, 14, "battery")


@pytest.fixture(scope="module")
def radio() -> FlightReview:
    return reviewed(RADIO)


@pytest.fixture(scope="module")
def battery() -> FlightReview:
    return reviewed(BATTERY, Aircraft(battery_capacity=34.0, essential_load=7.0))


def test_while_it_still_recharges_less_is_there(radio: FlightReview) -> None:
    start = RADIO.times.engine_start_s
    soon, later = (said_at(radio, start + after).charge for after in (120.0, 2400.0))
    assert soon is not None
    assert later is not None
    assert soon.value < later.value - 0.02
    assert soon.low < later.low - 0.05


def test_the_minutes_are_those_of_the_one_formula(radio: FlightReview) -> None:
    said = said_at(radio, RADIO.times.cruise_s)
    assert said.load is not None
    assert said.charge is not None
    condition, degrees = Share(0.8, 0.5, 1.0), float(np.median(radio.flight.trace.outside_air_temperature))
    ends = [battery_life(load, 34.0, said.charge, degrees, condition, None) for load in (said.load.high, said.load.low)]
    lasts = said.cases[0].lasts
    assert lasts.low == pytest.approx(ends[0].low, rel=1e-6)
    assert lasts.high == pytest.approx(ends[1].high, rel=1e-6)


@pytest.mark.parametrize("condition", [1.0, 0.5])
def test_what_was_drawn_is_the_larger_share_of_a_worn_battery(battery: FlightReview, condition: float) -> None:
    """By the ammeter: charge drawn until just before the alternator, with the starter's at 5 A/Ah."""
    flight = battery.flight
    on = flight.alternator_on_row
    assert on is not None
    row = on - 1
    charge, _ = charge_now(flight, battery.measures, row, structs.replace(WHOLE, value=condition, low=condition))
    seconds, crank = flight.trace.seconds[: row + 1], flight.crank[: row + 1]
    flow, cold = flight.trace.battery_current[: row + 1], max(1.0, temperature_factor(battery_temperature(flight)))

    def drawn_ah(starter: float, error: float) -> float:
        return -float((np.where(crank, -starter * 34.0, flow - error) * seconds).sum()) / 3600.0

    rest = battery.measures["resting_charge"]
    assert rest.value is not None
    assert rest.low is not None
    assert crank.any()
    holds = 34.0 * condition / cold
    assert charge.value == pytest.approx(rest.value / 100.0 - drawn_ah(5.0, 0.0) / holds, abs=2e-4)
    assert charge.low == pytest.approx(rest.low / 100.0 - drawn_ah(10.0, 1.96 * 0.25) / holds, abs=2e-4)


def test_what_was_drawn_in_an_outage_behind_an_alternator_ammeter_is_missing_after_it() -> None:
    cruise = RADIO.times.cruise_s
    review = reviewed(RADIO.with_fault(FieldOpen(from_s=cruise + 300.0, to_s=cruise + 1200.0)))
    load = review.measures["bus_load"].value
    assert load is not None
    before, after = (said_at(review, cruise + at).charge for at in (200.0, 1500.0))
    assert before is not None
    assert after is not None
    assert before.value - after.value > 0.8 * load * 0.25 / 34.0 / 0.8
    assert before.low - after.low > load * 0.25 / 34.0 / 0.5 - 0.02


def test_what_an_alternator_puts_back_beyond_what_was_drawn_is_not_credited() -> None:
    low = replace(BATTERY, battery=replace(BATTERY.battery, charge=0.5))
    review = reviewed(low)
    rest = review.measures["resting_charge"]
    said = said_at(review, low.times.cruise_end_s, UNKNOWN_BATTERY)
    charge, _ = charge_now(review.flight, review.measures, int(low.times.cruise_end_s), Share(0.8, 0.5, 1.0))
    assert rest.value is not None
    assert charge.value <= rest.value / 100.0 + 1e-9
    assert charge.high == 1.0
    assert said.because == "no reading shows the load, and the aircraft's settings give none"


def test_each_case_stands_with_its_load_and_the_master_off_only_puts_it_later(radio: FlightReview) -> None:
    said = said_at(radio, RADIO.times.cruise_s, night=["strobes"], shed=["sockets"], master_off=20.0)
    words = [one.words for one in said.cases]
    assert words == [
        "At this load", "At this load, after shedding", "Night loads added", "Night loads added, after shedding",
        "At this load, after shedding, master off for 20 min of the way",
    ]  # fmt: skip
    assert said.load is not None
    loads = [one.load for one in said.cases]
    assert loads == pytest.approx([said.load.value + more for more in (0.0, -3.0, 5.0, 2.0, -3.0)])
    shed, off = said.cases[1].lasts, said.cases[-1].lasts
    for end in ("value", "low", "high"):
        assert getattr(off, end) == pytest.approx(getattr(shed, end) + 20.0)
    assert MASTER_OFF in quit_notes(said)
    assert [row[0] for row in case_rows(said)] == words


def test_a_worn_battery_is_planned_with_its_wear(radio: FlightReview) -> None:
    sound, worn = (said_at(radio, RADIO.times.cruise_s, BatteryKnown(worn=one)).cases[0].lasts for one in (False, True))
    assert worn.low is not None
    assert sound.low is not None
    assert worn.low < 0.7 * sound.low


def test_behind_a_battery_ammeter_the_essential_load_is_not_called_as_flown(battery: FlightReview) -> None:
    said = said_at(battery, BATTERY.times.cruise_s, night=["strobes"])
    assert [one.words for one in said.cases] == ["At the essential load", "Night loads added"]
    assert said.load == Share(7.0, 7.0, 7.0)
    assert any(ESSENTIAL_ONLY in sentence for sentence in said.basis)


def test_with_the_engine_stopped_or_a_charge_unknown_nothing_is_told(radio: FlightReview) -> None:
    stopped = said_at(radio, 5.0)
    assert stopped.because == "the engine is not running at that moment"
    assert stopped.cases == ()
    assert "is not known: the engine" in quit_sentences(stopped)[0]
    unknown = dict(radio.measures) | {"resting_charge": not_measurable("resting_charge", "a cell may be dead")}
    said = alternator_quits(radio.flight, unknown, UNKNOWN_BATTERY, TODAY, RADIO.times.cruise_s)
    assert said.because == "the battery's charge is not known: a cell may be dead"


@pytest.mark.parametrize(
    ("light", "at"), [(Light.WITHIN_A_MINUTE, 13.3), (Light.PERHAPS_LATER, 12.5), (Light.WITH_THE_BATTERY, 11.0)]
)
def test_the_light_is_told_by_where_it_comes_on(light: Light, at: float) -> None:
    review = reviewed(RADIO, Aircraft(battery_capacity=34.0, low_voltage=at))
    said = said_at(review, RADIO.times.cruise_s)
    assert said.light is light
    assert f"({at:.1f} V)" in quit_sentences(said)[1]


def test_a_made_overstatement_would_be_seen() -> None:
    """The benchmark's own measure sees a plan that is longer than the battery."""
    worn = RADIO.with_fault(Worn(health=0.5, resistance_factor=2.0))
    one = flown(worn, RADIO.times.cruise_s, "worn")
    assert not one.overstated
    lasts = one.said.cases[0].lasts
    longer = structs.replace(lasts, low=one.minutes + 1.0, value=one.minutes + 2.0, high=one.minutes + 3.0)
    case = structs.replace(one.said.cases[0], lasts=longer)
    assert replace(one, said=structs.replace(one.said, cases=(case,))).overstated
