"""Where a recharge begins, when it has settled, and which fits say nothing, by hand; a row a second."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from analyzer.decay import Decay
from analyzer.flights.recharge import (
    _averaged,
    _between_loads,
    _flat_from,
    _limited_until,
    _lowest_levels,
    _regulated_until,
    _restless,
    _typical,
    _why_not,
    _why_not_from_middle,
)
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.series import Floats

#: A battery of 24 Ah: a settled current is at most 3 A and is flat within 0.24 A; a decay begins above 1.56 A.
LIMITS = Limits(14, {"battery_capacity": 24.0})


def trace_of(bus: Floats, **channels: Any) -> Trace:
    return Trace(time=np.arange(float(bus.size)), bus_voltage=bus, **channels)


#: 5 A that fall by 300 s, watched for 600 s: it stands out by far.
DECAY = Decay(300.0, 250.0, 360.0, 5.0, 0.1, 1.0, 0.1, (), (), 0.2, 600.0, False)
ENDS = "the log ends before the charging current has settled enough to be judged"
NEVER_ABOVE = "the charging current never stood clearly above its settled level"
TOO_FAST = "the charging current fell faster than the log can show"


@pytest.mark.parametrize(
    ("changed", "because"),
    [
        ({}, None),
        ({"amplitude": 1.19}, NEVER_ABOVE),  # 1.2 A
        ({"amplitude": 1.21}, None),
        ({"amplitude_error": 1.7}, NEVER_ABOVE),  # three standard errors
        ({"amplitude_error": 1.6}, None),
        ({"span": 359.0}, ENDS),  # 1.2 time constants
        ({"span": 361.0}, None),
        ({"tau": 20.0, "at_edge": True}, TOO_FAST),
        ({"tau": 20.0}, None),
        ({"tau": 30.0, "at_edge": True}, None),
    ],
)
def test_a_fit_is_too_small_too_short_or_too_fast_to_say_anything(changed: dict[str, Any], because: str | None) -> None:
    assert _why_not(replace(DECAY, **changed)) == because


@pytest.mark.parametrize(
    ("changed", "because"),
    [
        ({}, None),
        ({"amplitude": 1.55}, NEVER_ABOVE),  # 0.065 A for each of 24 Ah
        ({"amplitude": 1.57}, None),
        ({"residual": 1.26}, NEVER_ABOVE),  # four times what the fit leaves
        ({"residual": 1.24}, None),
        ({"amplitude_error": 1.7}, NEVER_ABOVE),
        ({"span": 299.0}, ENDS),  # one time constant
        ({"span": 301.0}, None),
    ],
)
def test_from_its_middle_a_decay_must_stand_out_further_and_may_be_watched_for_less(
    changed: dict[str, Any], because: str | None
) -> None:
    assert _why_not_from_middle(replace(DECAY, **changed), LIMITS) == because


@pytest.mark.parametrize(("runs_away", "end"), [(200, 170), (121, 91), (120, 400), (400, 400)])
def test_a_recharge_ends_half_a_minute_before_the_bus_runs_away_unless_too_little_is_left(
    runs_away: int, end: int
) -> None:
    # a minute and a half from the first row to the last that counts
    bus = np.where(np.arange(400) < runs_away, 14.0, 16.2)
    assert _regulated_until(trace_of(bus), 0, 400, LIMITS) == end


@pytest.mark.parametrize(
    ("climbs_s", "late", "until"),
    [
        (60, 20.0, 160),  # the current stays high while the bus climbs to a quarter of a volt below what is held
        (60, 12.2, 160),  # 60 % of its first height
        (60, 11.8, 100),
        (22, 20.0, 100),  # too short
    ],
)
def test_a_current_that_stays_high_while_the_bus_climbs_is_an_alternator_at_its_limit(
    climbs_s: int, late: float, until: int
) -> None:
    bus, flow = np.full(600, 14.1), np.full(600, 2.0)
    climb = slice(100, 100 + climbs_s)
    bus[:100], flow[:100] = 12.5, -3.0
    bus[climb] = np.linspace(13.0, 13.8, climbs_s)
    flow[climb] = np.where(np.arange(climbs_s) < climbs_s // 2, 20.0, late)
    online = np.arange(600) >= 100
    found = _limited_until(trace_of(bus, engine_speed=np.full(600, 2300.0)), 100, 600, online, flow, LIMITS)
    assert found == pytest.approx(until, abs=2)


@pytest.mark.parametrize(
    ("rows", "falls", "told"),
    [
        (1200, 0.0, True),  # twenty minutes
        (1198, 0.0, False),
        (1500, 0.33, True),  # of which two thirds lie between the middles of the first third and the last
        (1500, 0.39, False),
    ],
)
def test_a_current_is_flat_that_moves_by_a_quarter_of_an_ampere_over_twenty_minutes(
    rows: int, falls: float, told: bool
) -> None:
    flow = 1.0 - falls * np.arange(rows) / rows
    found = _flat_from(trace_of(np.full(rows, 14.0)), flow, np.ones(rows, dtype=np.bool_), LIMITS)
    assert (found is not None) is told


def test_it_was_flat_from_where_it_last_came_within_an_ampere_of_its_end() -> None:
    flow = np.concatenate([np.linspace(5.0, 1.0, 400), np.full(2000, 1.0)])
    # 2 A is passed after three quarters of the fall
    found = _flat_from(trace_of(np.full(2400, 14.0)), flow, np.ones(2400, dtype=np.bool_), LIMITS)
    assert found == pytest.approx(300.0, abs=2.0)


def test_a_level_leaves_outliers_out_and_is_finer_than_a_coarse_meter_s_step() -> None:
    toggles = np.array([1.0, 2.0, 1.0, 1.0] * 10)
    assert _typical(toggles) == 1.25
    assert _typical(np.append(toggles, 40.0)) == 1.25


def test_blocks_are_levelled_by_the_mean_of_their_lowest_quarter() -> None:
    # two blocks of 8 s: a load of 6 A comes on for half of each
    amps = np.array([10.0, 10.2, 16.0, 16.0, 10.4, 10.6, 16.0, 16.0, 9.0, 15.0, 9.2, 15.0, 9.4, 15.0, 9.6, 15.0])
    time, level = _lowest_levels(100.0 + np.arange(16.0), amps, 8.0)
    assert time.tolist() == [103.5, 111.5]
    assert level == pytest.approx([10.1, 9.1])


@pytest.mark.parametrize(("step", "parts"), [(0.35, [(1, 23)]), (0.45, [(1, 11), (13, 23)])])
def test_a_course_of_levels_is_parted_by_a_load_s_step_of_four_tenths_of_an_ampere(
    step: float, parts: list[tuple[int, int]]
) -> None:
    # 24 blocks; those at the ends of a part, which a step may cut, are left out, and eight are the fewest
    amps = np.where(np.arange(24) < 12, 10.0, 10.0 + step)
    found = _between_loads(np.arange(24.0), amps, 0.1)
    assert [(int(time[0]), int(time[-1]) + 1) for time, _ in found] == parts
    assert not _between_loads(np.arange(9.0), np.full(9, 10.0), 0.1)


@pytest.mark.parametrize(("swings", "restless"), [(0.040, False), (0.0412, True)])
def test_a_held_bus_is_restless_that_swings_by_more_than_a_sound_regulator_lets_it(
    swings: float, restless: bool
) -> None:
    # To and fro about its level, each reading as far: 1.4826 times that against 0.055 V and, squares added, 0.6 of the
    # voltmeter's step, which is as large. At 0.0406 V both are 0.0602 V.
    bus = 14.0 + swings * np.where(np.arange(301) % 2, 1.0, -1.0)
    bus[::10] = 14.0
    assert bool(_restless(bus, trace_of(bus), LIMITS)[100:200].all()) is restless


def test_readings_are_averaged_over_stretches_that_grow_with_the_time() -> None:
    # two seconds up to 200 s, a hundredth of the time up to 800 s, then eight
    t = np.arange(2000.0)
    means, same = _averaged(t, t)
    assert means == pytest.approx(same)
    apart = np.diff(means)
    assert apart[1:80] == pytest.approx(np.full(79, 2.0))
    assert apart[-100:-1] == pytest.approx(np.full(99, 8.0))
    middle = int(np.argmin(np.abs(means - 500.0)))
    assert apart[middle] == pytest.approx(5.0, abs=1.0)
