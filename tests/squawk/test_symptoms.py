"""Each symptom with flights in which it is true, false and not observable, in both systems."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from msgspec import structs

from analyzer.aircraft import Aircraft
from analyzer.review import FlightReview, review_log
from analyzer.simulator import SimulatedFlight, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import (
    alternator_check,
    cold_morning,
    engine_already_running,
    gear_and_flaps,
    ground_radio,
    healthy,
    hot_day,
    low_idle,
    night,
    short_hop,
    strobes,
    temperature_compensated,
    touch_and_goes,
)
from analyzer.simulator.scenarios import (
    alternator_lost,
    alternator_never_on,
    full_field,
    left_low,
    loose_output,
    never_settles,
    output_fading,
    regulator_high,
    regulator_hunting,
    slow_recharge,
    trip_with_reset,
    volts_dropouts,
    volts_offset,
    volts_path,
    volts_spikes,
    worn_battery,
)
from analyzer.simulator.simulate import Scenario
from analyzer.squawk.examine import LOOKS
from analyzer.squawk.known import SYMPTOMS
from analyzer.squawk.sentences import reason_words
from analyzer.squawk.symptom_result import State, SymptomResult
from tests.flown import judged, with_table

Maker = Callable[..., Scenario]


def looked(symptom: str, flown: Scenario | SimulatedFlight | FlightReview) -> SymptomResult:
    return LOOKS[symptom](flown if isinstance(flown, FlightReview) else judged(flown))


def every(scenario: Scenario, seconds: float) -> Scenario:
    return replace(scenario, recorder=replace(scenario.recorder, period_s=seconds))


def without_volts_running(scenario: Scenario) -> SimulatedFlight:
    """The voltmeter's channel goes blank as the engine starts."""
    start = scenario.times.engine_start_s
    blank = pl.when(pl.col("time_s") < start).then(pl.col("bus_voltage")).otherwise(None)
    return with_table(simulate(scenario), bus_voltage=blank)


def on_external_power(scenario: Scenario) -> SimulatedFlight:
    """A cart holds the bus and charges the battery until after the start."""
    start = scenario.times.engine_start_s
    before = pl.col("time_s") < start
    factor = scenario.nominal_voltage / 14
    volts = pl.when(before).then(14.2 * factor - pl.col("time_s") * 0).otherwise(pl.col("bus_voltage"))
    return with_table(
        simulate(scenario),
        bus_voltage=volts,
        battery_current=pl.when(before).then(3.0).otherwise(pl.col("battery_current")),
    )


SHOWN: list[tuple[str, Maker]] = [
    ("charging_light", alternator_lost),
    ("charging_light", touch_and_goes),
    ("charging_light", loose_output),
    ("charging_light", alternator_never_on),
    ("ammeter_discharge", alternator_lost),
    ("ammeter_discharge", trip_with_reset),
    ("ammeter_high", never_settles),
    ("breaker_opened", alternator_lost),
    ("breaker_opened", trip_with_reset),
    ("slow_crank", worn_battery),
    ("dead_battery", left_low),
    ("noise_or_pulsing", regulator_hunting),
    ("noise_or_pulsing", loose_output),
    ("voltage_high", regulator_high),
    ("voltage_high", full_field),
    ("battery_heat", never_settles),
    ("gauge_jumps", volts_spikes),
    ("gauge_jumps", volts_dropouts),
    ("gauge_jumps", loose_output),
]
NOT_SHOWN: list[tuple[str, Maker]] = [
    ("charging_light", healthy),
    ("charging_light", night),
    ("ammeter_discharge", healthy),
    ("ammeter_discharge", strobes),
    ("ammeter_high", healthy),
    ("ammeter_high", low_idle),
    ("breaker_opened", output_fading),  # sinks slowly
    ("breaker_opened", touch_and_goes),  # leaves the bus at idle only
    ("slow_crank", healthy),
    ("slow_crank", cold_morning),
    ("dead_battery", healthy),
    ("dead_battery", hot_day),
    ("noise_or_pulsing", healthy),
    ("noise_or_pulsing", strobes),
    ("voltage_high", healthy),
    ("voltage_high", temperature_compensated),
    ("gauge_jumps", healthy),
    ("gauge_jumps", gear_and_flaps),
]


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(("symptom", "maker"), SHOWN, ids=lambda one: getattr(one, "__name__", one))
def test_a_symptom_that_is_there_is_seen_with_its_window_and_numbers(symptom: str, maker: Maker, volts: int) -> None:
    review = judged(maker(3, volts, "battery"))
    found = looked(symptom, review)
    assert found.state == State.SEEN
    for occasion in found.occasions:
        assert 0 <= occasion.first < occasion.end <= review.flight.trace.time.size
        assert occasion.says
        assert all(np.isfinite(one.value) for one in occasion.numbers.values())


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(("symptom", "maker"), NOT_SHOWN, ids=lambda one: getattr(one, "__name__", one))
def test_a_symptom_that_is_not_there_is_not_seen_and_numbers_say_so(symptom: str, maker: Maker, volts: int) -> None:
    found = looked(symptom, maker(3, volts, "battery"))
    assert found.state == State.NOT_SEEN
    assert found.numbers
    assert any(character.isdigit() for character in found.says)


UNOBSERVABLE: list[tuple[str, Callable[[], Scenario | SimulatedFlight], str]] = [
    ("charging_light", lambda: every(healthy(3), 6.0), "one reading every 6 s"),
    ("charging_light", lambda: without_volts_running(healthy(3)), "no bus voltage"),
    ("ammeter_discharge", lambda: healthy(3, 14, "none"), "no ammeter"),
    ("ammeter_high", lambda: healthy(3, 14, "none"), "no ammeter"),
    ("ammeter_high", lambda: short_hop(3), "after the alternator came on"),
    ("breaker_opened", lambda: without_volts_running(healthy(3)), "no bus voltage"),
    ("slow_crank", lambda: engine_already_running(3), "already running"),
    ("slow_crank", lambda: every(healthy(3), 6.0), "reading"),
    ("dead_battery", lambda: engine_already_running(3), "already running"),
    ("noise_or_pulsing", lambda: every(healthy(3), 6.0), "slower than pulsing"),
    ("noise_or_pulsing", lambda: alternator_never_on(3), "never carried the bus"),
    ("voltage_high", lambda: volts_offset(1), "V off"),
    ("voltage_high", lambda: without_volts_running(healthy(3)), "no bus voltage"),
    ("battery_heat", lambda: healthy(3), "temperature is not recorded"),
    ("gauge_jumps", lambda: every(healthy(3), 6.0), "one reading every 6 s"),
]


@pytest.mark.parametrize(("symptom", "make", "because"), UNOBSERVABLE)
def test_what_a_recording_cannot_show_is_said_to_be_so_with_the_reason(
    symptom: str, make: Callable[[], Scenario | SimulatedFlight], because: str
) -> None:
    found = looked(symptom, make())
    assert found.state == State.NOT_OBSERVABLE
    assert found.reason is not None
    assert because in reason_words(found.reason)


@pytest.mark.parametrize("kind", ["battery", "alternator", "none"])
@pytest.mark.parametrize("maker", [healthy, cold_morning, hot_day, gear_and_flaps], ids=lambda one: one.__name__)
def test_a_sound_aircraft_shows_none_of_the_symptoms(maker: Maker, kind: str) -> None:
    for seed in (5, 6):
        review = judged(maker(seed, 28 if seed % 2 else 14, kind))
        assert {name: LOOKS[name](review).state for name in SYMPTOMS if LOOKS[name](review).state == State.SEEN} == {}


def test_a_lost_alternator_lights_the_light_when_and_as_low_as_it_did() -> None:
    scenario = alternator_lost(3)
    flown = simulate(scenario)
    (occasion,) = looked("charging_light", flown).occasions
    lost_s = scenario.times.cruise_s + 1000.0
    review = judged(flown)
    below = flown.table.filter((pl.col("time_s") > lost_s) & (pl.col("bus_voltage") < 13.0))
    assert review.flight.trace.time[occasion.first] == pytest.approx(below["time_s"][0], abs=2.0)
    while_running = below.filter(pl.col("time_s") < scenario.times.engine_stop_s - 6.0)
    assert occasion.numbers["lowest_voltage"].value == pytest.approx(while_running["bus_voltage"].min(), abs=0.11)


def test_a_light_that_comes_and_goes_is_called_a_flicker() -> None:
    says = [occasion.says for occasion in looked("charging_light", loose_output(3)).occasions]
    assert any("a flicker" in one for one in says)


def test_the_aircrafts_own_light_counts_where_the_fleet_file_tells_it() -> None:
    log = as_log(simulate(touch_and_goes(3)))
    (usual,), (own,) = (review_log(log, aircraft).flights for aircraft in (Aircraft(), Aircraft(low_voltage=11.0)))
    assert "13.0 V (assumed)" in looked("charging_light", usual).says
    found = looked("charging_light", own)
    assert found.state == State.NOT_SEEN
    assert found.says.endswith("light at 11.0 V")


def test_a_check_of_the_alternator_on_the_ground_is_no_light_that_came_on() -> None:
    found = looked("charging_light", alternator_check(1))
    assert found.state == State.NOT_SEEN
    assert "look like the alternator switched off for a check on the ground" in found.says


def test_a_voltmeter_that_reads_low_while_the_alternator_carries_on_says_nothing_of_the_light() -> None:
    for seed, kind in ((1, "battery"), (3, "battery")):
        review = judged(volts_path(seed, 14, kind))
        if (review.flight.trace.bus_voltage[review.flight.rpm_sufficient] < 13.0).any():
            assert looked("charging_light", review).state == State.NOT_OBSERVABLE
        else:
            assert looked("charging_light", review).state == State.NOT_SEEN


def test_what_circuits_took_and_gave_back_is_no_dead_battery() -> None:
    assert looked("dead_battery", touch_and_goes(3)).state == State.NOT_SEEN


def test_an_alternator_ammeter_at_zero_is_confirmed_by_the_bus() -> None:
    found = looked("ammeter_discharge", alternator_lost(3, 14, "alternator"))
    assert found.state == State.SEEN
    assert "the bus shows it too, at 12.3 V" in found.says


def test_an_ammeter_of_unknown_kind_near_zero_says_nothing() -> None:
    review = judged(healthy(3, 14, "alternator"))
    trace = review.flight.trace
    untyped = trace.with_channels(ammeter_current=trace.alternator_current, alternator_current=None)
    unknown = structs.replace(review, flight=structs.replace(review.flight, trace=untyped))
    found = looked("ammeter_discharge", unknown)
    assert found.state == State.NOT_OBSERVABLE
    assert found.reason is not None
    assert "kind is unknown" in reason_words(found.reason)


def test_a_high_charge_after_a_long_wait_on_the_battery_is_said_to_be_earned() -> None:
    found = looked("ammeter_high", ground_radio(1))
    assert found.state == State.SEEN
    assert "explains a long recharge" in found.says


def test_a_recharge_that_is_slow_to_settle_counts_as_an_ammeter_that_stays_high() -> None:
    assert looked("ammeter_high", slow_recharge(1)).state == State.SEEN


def test_a_loss_of_the_alternator_never_names_the_breaker() -> None:
    assert "look alike" in looked("breaker_opened", alternator_lost(3)).says


def test_loads_that_went_off_are_counted_where_the_load_is_recorded() -> None:
    found = looked("breaker_opened", night(3, 14, "alternator"))
    assert found.state == State.NOT_SEEN
    assert found.numbers["load_falls"].value >= 1
    assert "cannot be told" in found.says


def test_a_start_on_external_power_is_told_from_one_on_a_battery_that_gives_current() -> None:
    carted = on_external_power(healthy(3))
    assert "external power" in looked("dead_battery", carted).says
    drained = with_table(carted, battery_current=pl.lit(-4.0) + 0.0 * pl.col("time_s"))
    assert looked("dead_battery", drained).state == State.NOT_SEEN


def test_a_voltage_is_called_transient_or_lasting() -> None:
    assert "(lasting)" in looked("voltage_high", regulator_high(3)).says
    assert "(transient)" in looked("voltage_high", trip_with_reset(3)).says


def test_a_jump_without_an_answer_in_the_current_is_the_instruments() -> None:
    assert "the instrument or its wiring" in looked("gauge_jumps", volts_spikes(3)).says


def test_a_hot_battery_is_only_ever_spoken_of_indirectly() -> None:
    assert looked("battery_heat", never_settles(3)).says.startswith("Indirectly")
    quiet = looked("battery_heat", healthy(3))
    assert quiet.numbers["late_current"].value < 2.5
    assert quiet.reason is not None
    assert "A into the battery" in reason_words(quiet.reason)


def with_a_dip(scenario: Scenario, volts: float, amps: float) -> SimulatedFlight:
    """For two rows of a settled cruise the bus lies lower, and the ammeter's reading moves with it."""
    flown = simulate(scenario)
    since = pl.col("time_s") - scenario.times.engine_start_s - 1500.0
    dip = since.is_between(-0.1, 1.9)
    moved = {
        name: pl.when(dip).then(pl.col(name) + amps).otherwise(pl.col(name))
        for name in ("battery_current", "alternator_current")
        if name in flown.table.columns
    }
    bus = pl.when(dip).then(pl.col("bus_voltage") - volts).otherwise(pl.col("bus_voltage"))
    return with_table(flown, bus_voltage=bus, **moved)


@pytest.mark.parametrize(
    ("ammeter", "amps", "says"),
    [
        ("battery", -8.0, "moved with it by -8.0 A: a connection or a heavy load rather than the gauge"),
        ("alternator", 12.0, "the alternator gave 12.0 A more: a heavy load rather than the gauge"),
        ("alternator", 0.0, "did not move with it by more than"),
    ],
)
def test_what_the_current_did_while_the_voltage_jumped_is_said(ammeter: str, amps: float, says: str) -> None:
    found = looked("gauge_jumps", with_a_dip(healthy(3, 14, ammeter), 1.2, amps))
    assert found.state == State.SEEN
    assert says in found.says
    assert "jumped by 1.2 V for 2 rows (2 s)" in found.says


def test_a_settled_battery_ammeter_cannot_tell_a_jump_of_the_bus_from_one_of_the_gauge() -> None:
    found = looked("gauge_jumps", with_a_dip(healthy(3, 14, "battery"), 1.2, 0.0))
    assert found.state == State.SEEN
    assert "cannot tell the bus from the gauge" in found.says


def test_a_bus_that_slides_down_and_back_has_not_jumped() -> None:
    flown = simulate(healthy(3))
    away = (pl.col("time_s") - healthy(3).times.engine_start_s - 1500.0).abs()
    slid = pl.col("bus_voltage") - (1.6 - 0.4 * away).clip(0.0)
    assert looked("gauge_jumps", with_table(flown, bus_voltage=slid)).state == State.NOT_SEEN


def low_for(scenario: Scenario, spans: list[tuple[float, float]]) -> SymptomResult:
    """The light in a cruise in which the battery carries the bus at 12.4 V in some spans [s after 25 min]."""
    begins = scenario.times.engine_start_s + 1500.0
    low = pl.lit(False)
    for first, last in spans:
        low = low | pl.col("time_s").is_between(begins + first, begins + last - 0.5)
    volts = pl.when(low).then(12.4).otherwise(pl.col("bus_voltage"))
    amps = pl.when(low).then(-8.0).otherwise(pl.col("battery_current"))
    return looked("charging_light", with_table(simulate(scenario), bus_voltage=volts, battery_current=amps))


def test_a_light_that_was_on_for_minutes_with_short_breaks_is_no_flicker() -> None:
    (occasion,) = low_for(healthy(3), [(0, 100), (105, 200), (210, 400)]).occasions
    assert "Bus at 12.4 V for 6.4 min within 6.7 min" in occasion.says
    assert "flicker" not in occasion.says


@pytest.mark.parametrize(("seconds", "kind"), [(3, "a flicker"), (9, "it came and went")])
def test_short_falls_are_a_flicker_and_longer_ones_a_light_that_came_and_went(seconds: float, kind: str) -> None:
    (occasion,) = low_for(healthy(3), [(0, seconds), (28, 28 + seconds), (56, 56 + seconds)]).occasions
    assert "3 times within" in occasion.says
    assert occasion.says.endswith(kind)


def test_a_discharge_of_moments_that_the_bus_does_not_show_is_no_discharge() -> None:
    flown = simulate(healthy(3))
    since = pl.col("time_s") - healthy(3).times.engine_start_s - 1500.0
    for seconds, state in ((4.0, State.NOT_SEEN), (20.0, State.SEEN)):
        amps = pl.when(since.is_between(0.0, seconds)).then(-5.0).otherwise(pl.col("battery_current"))
        assert looked("ammeter_discharge", with_table(flown, battery_current=amps)).state == state
