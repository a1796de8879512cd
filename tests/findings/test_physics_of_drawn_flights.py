"""What physics forbids, on drawn flights: told by charge, by level, by answer, and not by how it looks."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.flights.dips import find_dips
from analyzer.flights.limit_or_reading import limit_or_reading, odds
from analyzer.flights.outages import _answers_speed, _stays_lifted
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.review import FlightReview, review_log
from analyzer.simulator.simulate import SimulatedFlight
from tests.benchmarks.drawn_flights import drawn
from tests.flown import names

ROWS = 3600


def _seen(number: int) -> tuple[SimulatedFlight, FlightReview]:
    one = drawn(number)
    return one.flight, review_log(one.log).flights[0]


@pytest.mark.parametrize(
    ("number", "told", "not_told"),
    [
        (13000157, "alternator_offline", "recharge_never_settles"),  # losses took 6 Ah, which the battery takes back
        (13000143, "overvoltage", "slow_recharge"),  # a bus that runs away forces the current
        (13000072, "output_short", "reading_fault"),  # an output that fades, after an idle at which the bus was low
        (13000109, "alternator_offline", "output_short"),  # loads that go off are no answer to engine speed
        (14000027, "alternator_offline", "output_short"),
        (12000212, "reading_fault", "low_resting_voltage"),  # a battery so empty would take more charge
        (12000062, "unsteady_connection", "output_short"),  # an alternator with output to spare is not at its limit
        (12000219, "low_resting_voltage", "reading_fault"),  # amperes of an alternator: the engine runs
        (13000163, "regulator_high", "alternator_offline"),  # at its limit after idling, far above any battery
        (14000049, "low_resting_voltage", "regulator_drift"),  # a shorted cell takes all there is
    ],
)
def test_the_physical_cause_is_told_and_what_only_looks_like_another_is_not(number, told, not_told):
    found = names(_seen(number)[1])
    assert told in found
    assert not_told not in found


@pytest.mark.parametrize("number", [13000186, 13000245, 12000047])
def test_a_recharge_that_something_else_explains_is_no_slow_one(number):
    """Idling again and again, loads that come and go under an alternator's ammeter, a battery drawn low before."""
    assert names(_seen(number)[1]) == set()


def test_a_recharge_is_measured_up_to_an_overvoltage_and_not_through_it():
    flight, review = _seen(13000143)
    true, got = flight.truth.measures["recharge_time_constant"], review.measures["recharge_time_constant"]
    assert true.value is not None
    assert got.value == pytest.approx(true.value, rel=0.15)


def test_more_into_the_battery_than_the_alternator_gives_is_a_meter_off_at_zero():
    _, review = _seen(13000217)
    assert review.measures["maintenance_current"].value is None
    assert "more than the alternator gives" in (review.measures["maintenance_current"].because or "")
    assert "recharge_never_settles" not in names(review)


def test_the_engine_runs_from_where_an_alternator_gives():
    flight, review = _seen(12000219)
    run = review.flight.run
    assert review.flight.trace.time[run.start] == pytest.approx(flight.scenario.times.engine_start_s, abs=30.0)


def _lost(speed: np.ndarray, given: np.ndarray) -> Trace:
    return Trace(
        time=np.arange(ROWS, dtype=np.float64), bus_voltage=np.full(ROWS, 12.0), battery_current=-given,
        engine_speed=speed,
    )  # fmt: skip


def test_a_source_answers_the_throttle_both_ways_and_loads_that_go_off_do_not():
    waves = 1900.0 + 400.0 * np.sign(np.sin(np.arange(ROWS) / 60.0))
    answers = _lost(waves, 30.0 - 0.02 * (waves - 1500.0))
    assert _answers_speed(answers, 0, ROWS)
    assert not _answers_speed(answers.with_channels(battery_current=-answers.battery_current), 0, ROWS)
    steps = np.repeat([2300.0, 2100.0, 1900.0, 1700.0, 1500.0, 1300.0], ROWS // 6)
    going_off = _lost(steps, 10.0 + 0.02 * (2300.0 - steps))
    assert not _answers_speed(going_off, 0, ROWS)
    alike = _lost(np.full(ROWS, 2300.0) + 90.0 * (np.arange(ROWS) > 1800), np.where(np.arange(ROWS) > 1800, 20.0, 30.0))
    assert not _answers_speed(alike, 0, ROWS)


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(("level", "rest", "lifted"), [(13.1, 12.6, True), (12.7, 12.6, False), (13.1, 13.0, False)])
def test_a_bus_above_what_a_battery_holds_is_lifted_by_a_source(volts, level, rest, lifted):
    scale = volts / 14.0
    trace = Trace(time=np.arange(ROWS, dtype=np.float64), bus_voltage=np.full(ROWS, level * scale))
    assert _stays_lifted(trace, 100, 400, rest * scale, Limits(volts, {})) == lifted
    assert not _stays_lifted(trace, 100, 400, float("nan"), Limits(volts, {}))
    back = trace.bus_voltage.copy()
    back[100:200] = 12.4 * scale  # lost, and then back at its limit
    assert not _stays_lifted(trace.with_channels(bus_voltage=back), 100, 400, rest * scale, Limits(volts, {}))
    metered = trace.with_channels(battery_current=np.full(ROWS, -10.0))
    assert not _stays_lifted(metered, 100, 400, rest * scale, Limits(volts, {}))


def _told(output: np.ndarray, bus: np.ndarray, low: np.ndarray) -> float:
    trace = Trace(
        time=np.arange(ROWS, dtype=np.float64), bus_voltage=bus, alternator_current=output,
        engine_speed=np.full(ROWS, 2300.0),
    )  # fmt: skip
    return odds(limit_or_reading(trace, low, np.ones(ROWS, dtype=np.bool_), Limits(14, {})))


def test_an_output_that_sank_in_the_longest_low_stretch_is_a_weak_alternator():
    """A short dip before does not hide what the output was while the bus was held."""
    rng = np.random.default_rng(5)
    output, bus = np.full(ROWS, 30.0), np.full(ROWS, 14.0)
    output[1800:], bus[1800:], bus[100:160] = 4.0, np.linspace(12.5, 9.0, ROWS - 1800), 12.5
    low = bus < 13.0
    assert _told(output + rng.normal(0.0, 0.1, ROWS), bus, low) > 0.0


def test_an_output_that_stands_still_far_below_its_highest_is_not_at_its_limit():
    rng = np.random.default_rng(6)
    output, bus = np.full(ROWS, 20.0) + rng.normal(0.0, 0.1, ROWS), np.full(ROWS, 14.0)
    output[:300] += 12.0
    bus[1800:1900] -= 1.0
    bus[1900:2000] -= 2.0
    assert _told(output, bus, bus < 13.5) < 0.0


@pytest.mark.parametrize(("highest", "dips"), [(20.0, 0), (40.0, 10)])
def test_a_load_that_takes_the_output_to_its_limit_shows_on_the_bus_and_is_no_connection(highest, dips):
    """Ten pulses of eight seconds, 18.6 A before and 19 A in them: only where it can give more is the bus at fault."""
    rng = np.random.default_rng(7)
    output, bus = np.full(ROWS, 18.6), np.full(ROWS, 14.0)
    output[:300] = highest
    for row in range(600, 3000, 240):
        output[row : row + 8], bus[row : row + 8] = 19.0, 13.0
    trace = Trace(
        time=np.arange(ROWS, dtype=np.float64), bus_voltage=np.round(bus + rng.normal(0.0, 0.01, ROWS), 2),
        engine_speed=np.full(ROWS, 2300.0), alternator_current=output + rng.normal(0.0, 0.05, ROWS),
    )  # fmt: skip
    whole = np.ones(ROWS, dtype=np.bool_)
    assert len(find_dips(trace, whole, whole, 0, [], Limits(14, {}))) == dips
