"""Fourteen reports whose cause was found in the end, flown from the physics, and what was found.

Each flight shows what the report says that the readings showed. ``found`` are the keys of ``causes.toml`` that say
the cause; several where the report leaves open which part of the wiring it was.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import polars as pl

from analyzer.review import FlightReview
from analyzer.simulator import (
    Alternator,
    Ammeter,
    OvervoltageProtection,
    Scenario,
    SimulatedFlight,
    Starting,
    simulate,
)
from analyzer.simulator.faults import LeftLow, ReadingFault, Worn
from analyzer.simulator.healthy import healthy, night
from analyzer.simulator.system_faults import (
    FieldOpen,
    FullField,
    Hunting,
    LooseOutput,
    NuisanceTrip,
    OutputFade,
    SetPoint,
)
from tests.flown import judged, with_table


def planned(scenario: Scenario, **changes: object) -> Scenario:
    return replace(scenario, plan=replace(scenario.plan, **changes))  # type: ignore[arg-type]


def two_alternators() -> SimulatedFlight:
    """A 28 V twin: one alternator's current falls to nothing twice for minutes, the bus stays up on the other."""
    scenario = replace(healthy(11, 28), ammeters=(Ammeter(kind="battery"), Ammeter(kind="alternator")))
    seconds, output = pl.col("time_s"), pl.col("alternator_current")
    lost = seconds.is_between(1500, 2100) | seconds.is_between(3000, 3300)
    half = (0.5 * output).round(1)
    return with_table(
        simulate(scenario),
        alternator_current=pl.when(lost).then(output).otherwise(half),
        alternator_current_2=pl.when(lost).then(0.0).otherwise(half),
    )


def dead_battery() -> Scenario:
    """Started by hand with a dead battery: the current stays at the alternator's limit, then nothing, in one row."""
    scenario = planned(healthy(12), starting=Starting(attempts_s=(0.3,)), outside_c=18.0)
    scenario = replace(
        scenario, alternator=Alternator(rated_a=60.0), battery=replace(scenario.battery, capacity_ah=34.0)
    )
    off = scenario.times.engine_start_s + 1300.0
    return scenario.with_fault(LeftLow(charge=0.12), FieldOpen(from_s=off))


def drops_before_the_loss() -> Scenario:
    """Drops of volts and amperes for an hour, then the alternator is gone for good."""
    scenario = planned(healthy(13), cruise_min=60.0)
    cruise = scenario.times.cruise_s
    loose = LooseOutput(from_s=cruise, to_s=cruise + 2400.0, every_s=70.0, open_s=2.5)
    return scenario.with_fault(loose, FieldOpen(from_s=cruise + 2500.0))


def clean_step() -> Scenario:
    """14 V to 12 V in one step at steady speed, nothing rose before, nothing came back."""
    scenario = healthy(14)
    return scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 1000.0))


def sinking_output() -> Scenario:
    """Night and rain: the alternator's current falls slowly at steady speed and the bus sags."""
    scenario = night(15, 14, "alternator")
    fade = OutputFade(from_s=scenario.times.cruise_s + 300.0, to_fraction=0.08, over_s=1200.0)
    return scenario.with_fault(fade)


def low_and_ragged() -> Scenario:
    """Low and ragged at cruise speed while some charge flows; a new battery changed nothing."""
    scenario = healthy(16)
    ragged = Hunting(from_s=scenario.times.engine_start_s, volts=0.25, period_s=9.0, restless=True)
    return scenario.with_fault(SetPoint(volts=-0.85), ragged)


def cold_start() -> Scenario:
    """Cold: the bus falls far under the starter, 13.9 V from taxi speed up, a sag at 640 rpm."""
    cold = planned(
        healthy(17), outside_c=-4.0, idle_rpm=640.0, starting=Starting(attempts_s=(4.0, 3.0), turning_ohm=0.045)
    )
    return cold.with_fault(Worn(health=0.4, resistance_factor=2.0))


def volts_alone() -> Scenario:
    """Volts alone are recorded: one step down, then a slow sag."""
    scenario = healthy(18, 14, "none")
    return scenario.with_fault(FieldOpen(from_s=scenario.times.take_off_s + 400.0))


def slow_cranking() -> Scenario:
    """The engine turns slowly for half a minute while the bus stays high, and the alternator never takes the bus."""
    slow = planned(healthy(19), starting=Starting(attempts_s=(9.5, 10.0, 11.0), turning_ohm=0.095, stalled_ohm=0.06))
    return slow.with_fault(FieldOpen())


def volts_with_speed() -> Scenario:
    """The bus follows engine speed far above the set point and the current stays high."""
    scenario = replace(healthy(20), protection=OvervoltageProtection(works=False))
    return scenario.with_fault(FullField(from_s=scenario.times.take_off_s))


#: When the alternator of ``spent_battery`` is lost, after take-off [s].
SPENT_AFTER_S = 500.0


def spent_battery() -> Scenario:
    """The alternator is lost early, and the complaint comes at the end of the battery, hours later."""
    scenario = planned(healthy(21, 28), cruise_min=110.0)
    scenario = replace(scenario, battery=replace(scenario.battery, capacity_ah=17.0))
    return scenario.with_fault(FieldOpen(from_s=scenario.times.take_off_s + SPENT_AFTER_S))


@dataclass(frozen=True, slots=True, kw_only=True)
class BadContact(ReadingFault):
    """The supply of the reading sinks for moments under its own small load."""

    def distort(
        self, readings: dict[str, np.ndarray], channel: str, time_s: np.ndarray, rng: np.random.Generator
    ) -> None:
        """Sink it."""
        for begin in (1500.0, 2200.0, 2900.0, 3400.0):
            rows = (time_s >= begin) & (time_s < begin + 45.0)
            sag = np.interp(time_s[rows], [begin, begin + 25.0, begin + 45.0], [2.5, 8.5, 1.5])
            readings[channel][rows] -= np.round(sag + rng.normal(0.0, 0.5, int(rows.sum())), 1)


def wandering_volts() -> Scenario:
    """The recorder's supply sinks from 28 to 19 V for moments; battery and aircraft do not notice."""
    return healthy(22, 28).with_fault(BadContact())


def low_from_the_start() -> Scenario:
    """A flat battery and no charge from the first minute on."""
    return planned(healthy(23), cruise_min=10.0).with_fault(LeftLow(charge=0.3), FieldOpen())


def resets_bring_it_back() -> Scenario:
    """Abrupt full loss from a normal voltage, back within seconds of a reset, three times."""
    scenario = replace(healthy(24), protection=OvervoltageProtection(resets_after_s=(12.0, 20.0, 15.0)))
    cruise = scenario.times.cruise_s
    return scenario.with_fault(*(NuisanceTrip(from_s=cruise + at) for at in (300.0, 900.0, 1500.0)))


@dataclass(frozen=True, slots=True)
class FieldReport:
    """What the readings showed, where the cause belongs, and what it was."""

    flown: Callable[[], Scenario | SimulatedFlight]
    findings: tuple[str, ...]  # of these the flight's first is the one whose cause was found
    found: frozenset[str]


def _report(flown: Callable[[], Scenario | SimulatedFlight], findings: str, found: str) -> FieldReport:
    return FieldReport(flown, tuple(findings.split()), frozenset(found.split()))


REPORTS: dict[str, FieldReport] = {
    "brushes": _report(two_alternators, "alternator_offline", "brushes"),
    "breaker under recharge": _report(dead_battery, "alternator_offline", "breaker_under_recharge"),
    "output terminal": _report(drops_before_the_loss, "alternator_offline", "output_terminal"),
    "field terminal": _report(clean_step, "alternator_offline", "field_wire"),
    "wet belt": _report(sinking_output, "output_short", "belt"),
    "regulator's plug": _report(low_and_ragged, "regulator_low", "regulator_plug"),
    "worn battery": _report(cold_start, "weak_cranking", "battery_worn"),
    "output fuse": _report(volts_alone, "alternator_offline", "output_fuse"),
    "ground strap": _report(slow_cranking, "alternator_offline", "engine_ground"),
    "no regulation": _report(volts_with_speed, "overvoltage", "regulator_full_field"),
    "charging wiring": _report(
        spent_battery, "alternator_offline", "field_wire output_terminal regulator_ground regulator_plug"
    ),
    "meter's supply": _report(wandering_volts, "unsteady_connection reading_fault", "meter_path"),
    "regulator's ground": _report(low_from_the_start, "alternator_offline", "regulator_ground"),
    "protection's sensor": _report(resets_bring_it_back, "alternator_offline overvoltage_trip", "overvoltage_sensor"),
}


@cache
def reviewed(name: str) -> FlightReview:
    """The review of a report's flight."""
    return judged(REPORTS[name].flown())


def causes_told(name: str) -> tuple[str, ...]:
    """Keys of the causes under the finding that the report is about, best first; none where it is not found."""
    about = [finding for finding in reviewed(name).findings if finding.name in REPORTS[name].findings]
    return tuple(cause.key for cause in about[0].likely) if about else ()


def rank(name: str) -> int | None:
    """Place of what was found among the causes told, 1 for the first; None where it is not among them."""
    found = REPORTS[name].found
    return next((place for place, key in enumerate(causes_told(name), 1) if key in found), None)
