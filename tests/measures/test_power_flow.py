"""Where the power goes at each step of drawn flights, against what the simulator knows went where."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from msgspec import structs

from analyzer.aircraft import Aircraft
from analyzer.flights.outage_kinds import VOLTMETER_ONLY
from analyzer.limits import limit_value
from analyzer.measures.power_flow import (
    BY_DIFFERENCE,
    BY_TAPER,
    GIVES_NOTHING,
    STANDS_STILL,
    Current,
    Feeder,
    PowerFlow,
    _load,
    power_flow,
)
from analyzer.quantity import Quantity
from analyzer.reports.flow_words import current_label, current_words, flow_line, flow_sentence, instruments
from analyzer.reports.story import Sentence, story
from analyzer.review import FlightReview, review_log
from analyzer.simulator import SimulatedFlight, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY
from tests.flown import judged

#: An ammeter's own error, and what moves within the moment [A].
METER = 2.0


def steps(flown: SimulatedFlight) -> list[tuple[Sentence, PowerFlow]]:
    review = judged(flown)
    step = review.flight.trace.step_s
    return [(one, power_flow(review.flight, review.measures, one.settled_s(step))) for one in story(review)]


def wrong(flown: SimulatedFlight) -> list[tuple[object, ...]]:
    """What is said of a current and is not so."""
    course, found = flown.course, []
    for sentence, flow in steps(flown):
        at = flow.at_s + flown.log_begins_s
        source = course.fed_by[int(np.argmin(np.abs(course.time_s - at)))]
        rows = (np.abs(course.time_s - at) <= limit_value("moment_half")) & (course.fed_by == source)
        for name in ("alternator", "battery", "load"):
            said: Current | None = getattr(flow, name)
            true = float(np.median(getattr(course, f"{name}_a")[rows]))
            if said is None:
                continue
            low = said.amps.value if said.amps.low is None else said.amps.low
            high = said.amps.value if said.amps.high is None else said.amps.high
            if not low - METER <= true <= high + METER:
                found.append((name, said, round(true, 1), sentence.says))
    return found


@pytest.mark.parametrize("kind", ["alternator", "battery"])
@pytest.mark.parametrize("nominal", [14, 28])
@pytest.mark.parametrize("seed", range(720, 725))
def test_every_current_of_a_sound_flight_is_right_at_every_step(seed: int, nominal: int, kind: str) -> None:
    flown = simulate(healthy(seed, nominal, kind))
    assert wrong(flown) == []
    told = steps(flown)
    assert len(told) >= 5
    recorded = [getattr(flow, kind) for _, flow in told if flow.feeder is not Feeder.STARTER]
    assert all(one is not None for one in recorded), "what the ammeter shows is always told"


FEEDS = {
    "alternator_lost": Feeder.BATTERY,
    "alternator_never_on": Feeder.BATTERY,
    "output_fading": Feeder.BOTH,
    "overloaded": Feeder.BOTH,
    "repeated_trips": Feeder.BATTERY,
}


@pytest.mark.parametrize("name", FEEDS)
@pytest.mark.parametrize("kind", ["alternator", "battery"])
def test_with_a_fault_the_currents_stay_right_and_the_feeder_is_named(name: str, kind: str) -> None:
    flown = simulate(FAULTY[name](731, 14, kind))
    assert wrong(flown) == []
    assert FEEDS[name] in {flow.feeder for sentence, flow in steps(flown) if sentence.finding}


def one_step(flown: SimulatedFlight, begins: str) -> PowerFlow:
    return next(flow for sentence, flow in steps(flown) if sentence.says.startswith(begins))


def test_before_the_start_the_battery_feeds_and_while_cranking_nobody_can_say_how_much() -> None:
    flown = simulate(healthy(720, 14, "battery"))
    rest, crank = one_step(flown, "Power on"), one_step(flown, "Engine started")
    assert (rest.feeder, rest.running) == (Feeder.BATTERY, False)
    assert rest.alternator == Current(Quantity(0.0, "A", assumed=True), STANDS_STILL)
    assert rest.load is not None
    assert rest.battery is not None
    assert rest.load.amps.value == pytest.approx(-rest.battery.amps.value)
    assert crank.feeder is Feeder.STARTER
    assert (crank.battery, crank.load) == (None, None)
    assert crank.bus is not None
    assert rest.bus is not None
    assert crank.bus.value < rest.bus.value - 1.0


def test_behind_an_alternator_ammeter_charge_is_told_by_the_taper_and_the_load_by_the_rest() -> None:
    flown = simulate(healthy(720, 14, "alternator"))
    flow = one_step(flown, "Recharge done")
    assert flow.alternator is not None
    assert flow.battery is not None
    assert flow.load is not None
    assert (flow.alternator.basis, flow.battery.basis, flow.load.basis) == ("", BY_TAPER, BY_DIFFERENCE)
    assert flow.load.amps.value == pytest.approx(flow.alternator.amps.value - flow.battery.amps.value, abs=0.11)
    assert flow.load.amps.low == pytest.approx(flow.alternator.amps.value - flow.battery.amps.high, abs=0.11)
    assert all(one.amps.assumed for one in (flow.battery, flow.load))


def reviewed(aircraft: Aircraft) -> FlightReview:
    (review,) = review_log(as_log(simulate(FAULTY["alternator_lost"](731, 14, "battery"))), aircraft).flights
    return review


def test_the_light_comes_on_below_its_own_voltage_and_a_usual_one_is_assumed() -> None:
    review = reviewed(Aircraft())
    lost = next(one for one in story(review) if one.finding == "alternator_offline")
    at = lost.settled_s(review.flight.trace.step_s)
    flow = power_flow(review.flight, review.measures, at)
    assert flow.bus is not None
    assert flow.light_on is (flow.bus.value < 13.0)
    assert flow.light_at == Quantity(13.0, "V", assumed=True)
    for threshold in (flow.bus.value + 0.1, flow.bus.value - 0.1):
        again = reviewed(Aircraft(low_voltage=threshold))
        own = power_flow(again.flight, again.measures, at)
        assert own.light_at == Quantity(threshold, "V")
        assert own.light_on is (flow.bus.value < threshold)


def test_a_battery_that_is_charged_with_the_engine_stopped_has_power_from_outside() -> None:
    flown = simulate(healthy(720, 14, "battery"))
    amps = flown.table["battery_current"]
    rest = flown.table["time_s"] < 20.0
    charged = flown.table.with_columns(battery_current=pl.when(rest).then(8.0).otherwise(amps))
    review = judged(replace(flown, table=charged))
    flow = power_flow(review.flight, review.measures, 8.0)
    assert (flow.feeder, flow.load) == (Feeder.OUTSIDE, None)
    assert "external power feeds the bus" in flow_sentence(flow)


def test_where_only_the_voltmeter_reads_low_nothing_is_said_of_who_feeds() -> None:
    for kind in ("battery", "alternator"):
        review = judged(simulate(FAULTY["volts_path"](733, 14, kind)))
        found = [one for one in review.flight.outages if one.kind == VOLTMETER_ONLY]
        for one in found:
            at = float(review.flight.trace.time[(one.first + one.end) // 2])
            flow = power_flow(review.flight, review.measures, at)
            assert (flow.feeder, flow.light_on) == (Feeder.UNKNOWN, None)


def test_a_load_that_would_give_current_is_not_told() -> None:
    alternator, battery = Current(Quantity(5.0, "A")), Current(Quantity(9.0, "A"))
    assert _load(alternator, battery) is None
    assert _load(battery, alternator) == Current(Quantity(4.0, "A"), BY_DIFFERENCE)


def test_a_moment_outside_the_flight_is_its_nearest_end() -> None:
    review = reviewed(Aircraft())
    flight = review.flight
    assert power_flow(flight, review.measures, -1e9).at_s == flight.from_s
    assert power_flow(flight, review.measures, 1e9).at_s == flight.to_s


AMPS = Quantity(8.4, "A", 6.0, 10.6, True)
FLOW = PowerFlow(
    60.0, Feeder.ALTERNATOR, Quantity(14.06, "V"), Current(Quantity(22.3, "A")), Current(AMPS, BY_TAPER),
    Current(Quantity(13.9, "A", 11.7, 16.3, True), BY_DIFFERENCE), False, Quantity(13.0, "V", assumed=True), True,
)  # fmt: skip


@pytest.mark.parametrize(
    ("flow", "said"),
    [
        (FLOW, "The alternator at 14.1 V is above battery voltage, so it feeds the bus and puts about 8 A into"),
        (structs.replace(FLOW, battery=Current(Quantity(-0.4, "A"))), "and the battery takes next to nothing."),
        (
            structs.replace(FLOW, battery=Current(Quantity(0.4, "A"), BY_TAPER)),
            "next to nothing, judged from the charging current's taper",
        ),
        (structs.replace(FLOW, battery=Current(Quantity(-1.4, "A"))), "while the battery still gives 1 A."),
        (structs.replace(FLOW, battery=None), "what the battery takes is not recorded."),
        (
            structs.replace(FLOW, feeder=Feeder.STARTER, battery=None),
            "hundreds of amperes from the battery, and the bus dips",
        ),
        (
            structs.replace(FLOW, feeder=Feeder.BATTERY, battery=Current(Quantity(-9.0, "A"))),
            "The alternator gives nothing, so the battery at 14.1 V feeds the bus, 9 A.",
        ),
        (
            structs.replace(FLOW, feeder=Feeder.BATTERY, running=False, battery=None),
            "The alternator is not turning, so",
        ),
        (
            structs.replace(FLOW, feeder=Feeder.BOTH, battery=Current(Quantity(-5.0, "A"))),
            "the battery adds the rest, 5 A.",
        ),
        (
            structs.replace(FLOW, feeder=Feeder.OUTSIDE, running=False, load=None),
            "yet the battery is charging: external power feeds",
        ),
        (structs.replace(FLOW, feeder=Feeder.UNKNOWN, bus=None), "No reading shows what feeds the bus."),
    ],
)
def test_the_sentence_says_why_the_current_goes_that_way(flow: PowerFlow, said: str) -> None:
    assert said in flow_sentence(flow)


def test_labels_and_lines_give_sign_interval_and_what_they_rest_on() -> None:
    assert current_label(FLOW.alternator) == "22 A"
    assert current_label(FLOW.battery) == "≈ 8 A"
    assert current_label(None) == "?"
    assert current_words(FLOW.battery) == "+8.4 A (6 to 11 A), from the charging current's taper"
    assert current_words(Current(Quantity(-3.0, "A"))) == "−3.0 A"
    assert current_words(Current(Quantity(0.0, "A", assumed=True), GIVES_NOTHING)).startswith("0.0 A, ")
    assert flow_line(structs.replace(FLOW, load=None)).endswith("; loads not recorded.")
    assert instruments(FLOW) == [
        ("Voltmeter", "14.1 V"),
        ("Alternator ammeter", "+22.3 A"),
        ("Low-voltage light", "off (comes on below 13.0 V, assumed)"),
    ]
    dark = structs.replace(FLOW, bus=None, light_on=None, alternator=None, battery=Current(Quantity(-9.1, "A")))
    assert instruments(dark) == [("Voltmeter", "not recorded"), ("Battery ammeter", "−9.1 A")]
