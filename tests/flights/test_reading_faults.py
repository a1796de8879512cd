"""Readings that are at fault, on courses without noise; the borders are those of the table of limits."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analyzer.flights.reading_faults import ReadingFault, clean, still_ammeters, without_power
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats

LIMITS = Limits(14, {})
ROWS, AT = 1200, 600
STEADY = np.full(ROWS, 14.0)


def moment(course: Floats, value: float, rows: int = 1, at: int = AT) -> Floats:
    """The course with another value for some rows."""
    changed = course.copy()
    changed[at : at + rows] = value
    return changed


def lively(level: float, step: float) -> Floats:
    """A course of four values, another in each row."""
    return level + step * (np.arange(ROWS) * 7 % 4)


def flight(bus: Floats, step_s: float = 1.0, **channels: Any) -> Trace:
    engine = {"engine_speed": np.full(bus.size, 2300.0)}
    return Trace(time=step_s * np.arange(bus.size), bus_voltage=bus, **engine | channels)


def found(trace: Trace) -> list[ReadingFault]:
    """The faults, each of which is also taken out of its channel and nothing else."""
    cleaned, faults = clean(trace, LIMITS, np.zeros(trace.time.size, dtype=np.bool_))
    for channel in ("bus_voltage", "battery_current"):
        before, after = getattr(trace, channel), getattr(cleaned, channel)
        if before is not None:
            lost = np.isfinite(before) & ~np.isfinite(after)
            told = np.zeros(lost.size, dtype=np.bool_)
            for one in faults:
                if one.channel == channel:
                    told |= (trace.time >= one.from_s) & (trace.time <= one.to_s)
            assert not (lost & ~told).any()
    return faults


def kinds(trace: Trace) -> list[str]:
    return [one.kind for one in found(trace)]


@pytest.mark.parametrize(
    ("value", "rows", "told"),
    [
        (15.4, 1, False),  # a jump of a volt and a half stands out
        (15.6, 1, True),
        (15.6, 2, True),
        (15.6, 3, False),  # as long as that a surge lasts
        (9.6, 1, False),  # lower is what a loose connection does, until a battery makes it impossible
        (9.4, 1, True),
        (25.5, 5, True),  # no bus reads this, however long
    ],
)
def test_a_reading_that_jumps_alone_is_a_spike_with_its_value(value: float, rows: int, told: bool) -> None:
    faults = found(flight(moment(STEADY, value, rows), battery_current=np.full(ROWS, 2.0)))
    assert [(one.kind, one.times, one.from_s, one.to_s, one.value) for one in faults] == (
        [("spike", 1, AT, AT + rows - 1, value)] if told else []
    )


@pytest.mark.parametrize(("value", "told"), [(15.9, False), (16.1, True)])
def test_without_an_ammeter_a_surge_below_what_trips_the_protection_may_be_the_bus_s_own(
    value: float, told: bool
) -> None:
    assert kinds(flight(moment(STEADY, value))) == (["spike"] if told else [])


@pytest.mark.parametrize(("answer", "told"), [(3.9, True), (4.1, False), (-4.1, False)])
def test_a_jump_that_a_current_answers_by_four_amperes_is_the_bus_s_own(answer: float, told: bool) -> None:
    flow = moment(np.full(ROWS, 2.0), 2.0 + answer)
    assert kinds(flight(moment(STEADY, 17.0), battery_current=flow)) == (["spike"] if told else [])


@pytest.mark.parametrize(("beside", "told"), [(14.7, True), (14.8, False)])
def test_the_readings_beside_a_spike_are_calm_within_half_of_its_least(beside: float, told: bool) -> None:
    bus = moment(moment(STEADY, beside), 17.0, at=AT + 1)
    assert kinds(flight(bus, battery_current=np.full(ROWS, 2.0))) == (["spike"] if told else [])


def test_the_worst_of_several_spikes_is_told_with_their_number() -> None:
    bus = moment(moment(moment(STEADY, 16.0, at=100), 18.0, at=500), 8.0, at=900)
    (fault,) = found(flight(bus, battery_current=np.full(ROWS, 2.0)))
    assert (fault.times, fault.value, fault.from_s, fault.to_s) == (3, 8.0, 100.0, 900.0)


@pytest.mark.parametrize(
    ("amps", "volts", "told"),
    [(61.0, 14.0, False), (63.0, 14.0, True), (-59.0, 14.0, True), (63.0, 13.75, True), (63.0, 13.65, False)],
)
def test_a_current_that_nothing_on_board_draws_while_the_bus_stands_still_is_a_spike(
    amps: float, volts: float, told: bool
) -> None:
    # 60 A from the 2 A beside it; the bus answers by 0.3 V
    bus = moment(STEADY, volts)
    faults = found(flight(bus, battery_current=moment(np.full(ROWS, 2.0), amps)))
    assert [(one.channel, one.value) for one in faults] == ([("battery_current", amps)] if told else [])


@pytest.mark.parametrize(("step", "told"), [(5.0, True), (5.4, False)])
def test_a_noisy_ammeter_s_spikes_stand_out_of_its_noise(step: float, told: bool) -> None:
    # down for one row of three: of its steps each third is 0 and the others are one ``step``, a noise of 1.048 of it;
    # 66 A are twelve times that of a step of 5.25 A
    flow = 2.0 + step * (np.arange(ROWS) % 3 > 0)
    faults = found(flight(STEADY, battery_current=moment(flow, 68.0 + step)))
    assert [(one.kind, one.value) for one in faults] == ([("spike", 68.0 + step)] if told else [])


@pytest.mark.parametrize(("away", "told"), [(10, False), (12, True)])
def test_a_current_within_ten_seconds_of_a_crank_is_the_starter_s(away: int, told: bool) -> None:
    cranked = np.zeros(ROWS, dtype=np.bool_)
    cranked[AT - away] = True
    trace = flight(STEADY, battery_current=moment(np.full(ROWS, 2.0), -90.0))
    assert bool(clean(trace, LIMITS, cranked)[1]) is told


def test_a_spike_of_the_current_far_from_the_starter_is_told_without_the_starter_s() -> None:
    cranked = np.zeros(ROWS, dtype=np.bool_)
    cranked[100] = True
    flow = moment(moment(np.full(ROWS, 2.0), -90.0, at=104), -80.0)
    (fault,) = clean(flight(STEADY, battery_current=flow), LIMITS, cranked)[1]
    assert (fault.times, fault.value, fault.from_s) == (1, -80.0, float(AT))


@pytest.mark.parametrize(
    ("step_s", "rows", "told"), [(1.0, 14, False), (1.0, 15, True), (6.0, 2, False), (6.0, 3, True)]
)
def test_a_blank_of_fifteen_seconds_and_three_rows_is_a_dropout(step_s: float, rows: int, told: bool) -> None:
    flow = moment(lively(2.0, 0.1), np.nan, rows)
    faults = found(flight(STEADY, step_s, battery_current=flow))
    assert [(one.kind, one.channel, one.from_s, one.to_s) for one in faults] == (
        [("dropout", "battery_current", step_s * AT, step_s * (AT + rows))] if told else []
    )


@pytest.mark.parametrize(("volts", "rows", "told"), [(3.9, 1, True), (4.1, 1, True), (0.0, 5, True), (4.1, 5, False)])
def test_a_bus_that_reads_nothing_while_its_engine_and_ammeter_go_on_is_a_meter_s_dropout(
    volts: float, rows: int, told: bool
) -> None:
    # below 4 V at once; a lone reading at 4.1 V is impossible too, and a spike
    faults = kinds(flight(moment(STEADY, volts, rows), battery_current=np.full(ROWS, 5.0)))
    assert bool(faults) is told
    assert ("dropout" in faults) is (volts < 4.0)


@pytest.mark.parametrize(("rows", "told"), [(10, True), (11, False)])
def test_a_current_that_goes_with_the_bus_for_ten_seconds_says_that_the_bus_is_gone(rows: int, told: bool) -> None:
    bus, flow = moment(STEADY, 0.0, rows), moment(np.full(ROWS, 5.0), 0.0, rows)
    assert ("dropout" in kinds(flight(bus, battery_current=flow))) is told


@pytest.mark.parametrize(("left", "gone"), [(1.3, True), (1.5, False)])
def test_a_current_is_gone_that_no_meter_shows_clear_of_its_zero(left: float, gone: bool) -> None:
    bus, flow = moment(STEADY, 0.0, 60), moment(np.full(ROWS, 5.0), left, 60)
    assert ("dropout" in kinds(flight(bus, battery_current=flow))) is not gone


@pytest.mark.parametrize(("rows", "told"), [(600, True), (599, False)])
def test_an_ammeter_that_never_moves_in_ten_minutes_is_stuck_where_no_voltmeter_tells(rows: int, told: bool) -> None:
    trace = Trace(
        time=np.arange(700.0), bus_voltage=np.full(700, np.nan), battery_current=np.full(700, 4.2),
        alternator_current=np.arange(700.0) % 3,
    )  # fmt: skip
    running = np.arange(700) < rows
    left, faults = still_ammeters(trace, running)
    assert [(one.channel, one.value, one.to_s) for one in faults] == ([("battery_current", 4.2, 699.0)] if told else [])
    assert (left.battery_current is None) is told
    assert left.alternator_current is not None


@pytest.mark.parametrize(("rows", "told"), [(90, False), (92, True)])
def test_a_lively_meter_that_shows_one_value_for_a_minute_and_a_half_is_stuck(rows: int, told: bool) -> None:
    # the run begins with the row that repeats the one before: 92 rows of one value are 91 repeats over 90 s
    bus = moment(lively(14.0, 0.05), 14.5, rows)
    faults = found(flight(bus, battery_current=lively(2.0, 0.1)))
    assert [(one.kind, one.value, one.from_s, one.to_s) for one in faults] == (
        [("stuck", 14.5, AT, AT + rows - 1)] if told else []
    )
    if told:
        assert (
            faults[0].because == "it shows one value for 2 min though it moves by 0.05 and more elsewhere in the flight"
        )


@pytest.mark.parametrize(("values", "told"), [(2, False), (3, True)])
def test_a_meter_of_two_values_a_minute_is_too_coarse_to_be_stuck(values: int, told: bool) -> None:
    bus = moment(14.0 + 0.1 * (np.arange(ROWS) % values), 14.5, 300)
    assert ("stuck" in kinds(flight(bus, battery_current=lively(2.0, 0.1)))) is told


@pytest.mark.parametrize(("amps", "told"), [(0.6, False), (0.8, True)])
def test_an_ammeter_that_rests_on_zero_is_no_stuck_one(amps: float, told: bool) -> None:
    faults = kinds(flight(lively(14.0, 0.05), battery_current=moment(lively(2.0, 0.1), amps, 200)))
    assert faults == (["stuck"] if told else [])


@pytest.mark.parametrize(
    ("amps", "away", "absurd"), [(59.0, 1, False), (-61.0, 1, True), (61.0, 2, True), (61.0, 3, False)]
)
def test_a_current_that_jumps_as_power_goes_off_is_the_meter_s_going_off(amps: float, away: int, absurd: bool) -> None:
    trace = Trace(
        time=np.arange(float(ROWS)), bus_voltage=moment(STEADY, 3.9, 50),
        battery_current=moment(np.full(ROWS, 0.0), amps, at=AT - away),
    )  # fmt: skip
    rows = np.flatnonzero(without_power(trace)).tolist()
    assert rows == [*([AT - away] if absurd else []), *range(AT, AT + 50)]
