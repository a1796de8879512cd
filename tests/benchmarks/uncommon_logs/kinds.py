"""The kinds of uncommon logs and how often each is drawn."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tests.benchmarks.uncommon_logs.amps_only import amps_only, amps_only_lost, amps_only_never_settles, amps_only_stuck
from tests.benchmarks.uncommon_logs.boundaries import (
    clock_set,
    joined_downloads,
    long_gap,
    no_clock,
    power_off_dip,
    reboot_in_air,
    rest_after,
    twin_both_lost,
    twin_shutdown,
)
from tests.benchmarks.uncommon_logs.cases import Case
from tests.benchmarks.uncommon_logs.columns import (
    columns_false_time,
    columns_height,
    columns_repeated_header,
    columns_second_bus,
    columns_setting,
    columns_still_current,
)
from tests.benchmarks.uncommon_logs.mixtures import MIXTURES
from tests.benchmarks.uncommon_logs.plain import plain
from tests.benchmarks.uncommon_logs.recorders import HABITS
from tests.benchmarks.uncommon_logs.running import (
    idle_sags,
    loads_before_start,
    lost_with_steps,
    running_never_settles,
    running_settled,
    running_settling_hour,
    running_slow,
    running_taper,
)
from tests.benchmarks.uncommon_logs.scenes import Draw
from tests.benchmarks.uncommon_logs.sources import (
    backup_battery,
    contactor_open,
    dc_generator,
    lithium,
    permanent_magnet,
    switch_never,
    switch_off_on,
    turbine,
)
from tests.benchmarks.uncommon_logs.tails import tail_dead_volts, tail_resistance, tail_without_clock
from tests.benchmarks.uncommon_logs.usage import USES
from tests.benchmarks.uncommon_logs.voltmeters import (
    bus_dies,
    dead_volts,
    high_voltmeter,
    low_voltmeter,
    output_gone,
    path_resistance,
    voltmeter_dies,
)

KINDS: dict[str, Callable[[Draw], Case]] = {
    function.__name__: function
    for function in (
        running_taper,
        running_settled,
        running_never_settles,
        running_slow,
        running_settling_hour,
        idle_sags,
        loads_before_start,
        lost_with_steps,
        columns_setting,
        columns_height,
        columns_still_current,
        columns_false_time,
        columns_repeated_header,
        columns_second_bus,
        dead_volts,
        bus_dies,
        voltmeter_dies,
        output_gone,
        twin_shutdown,
        twin_both_lost,
        clock_set,
        reboot_in_air,
        joined_downloads,
        power_off_dip,
        long_gap,
        no_clock,
        rest_after,
        low_voltmeter,
        high_voltmeter,
        path_resistance,
        lithium,
        backup_battery,
        turbine,
        permanent_magnet,
        dc_generator,
        contactor_open,
        switch_never,
        switch_off_on,
        amps_only,
        amps_only_lost,
        amps_only_never_settles,
        amps_only_stuck,
        tail_dead_volts,
        tail_without_clock,
        tail_resistance,
        plain,
        *HABITS,
        *USES,
        *MIXTURES,
    )
}
#: How often a kind comes in a round; others come once.
OFTEN = {
    "running_taper": 4,
    "idle_sags": 3,
    "lithium": 4,
    "plain": 8,
    "amps_only": 2,
    "permanent_magnet": 2,
    "low_voltmeter": 2,
}
ROUND = [name for name in KINDS for _ in range(OFTEN.get(name, 1))]


def draw_case(seed: int, number: int) -> Case:
    """The log of a number; the same seed and number give the same log."""
    name = ROUND[number % len(ROUND)]
    made = KINDS[name](np.random.default_rng([seed, number, *name.encode()]))
    made.kind, made.number = name, number
    return made
