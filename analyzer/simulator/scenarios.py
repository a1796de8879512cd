"""Named flights: each takes a seed, the system's voltage and the ammeter's kind, and gives a scenario.

``HEALTHY`` and ``FAULTY`` hold them all by name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from analyzer.simulator.alternator import OvervoltageProtection
from analyzer.simulator.faults import (
    Dropouts,
    LeftLow,
    NeverSettles,
    Offset,
    PathResistance,
    Spikes,
    Stuck,
    Sulphated,
    Worn,
)
from analyzer.simulator.flight_plan import Starting
from analyzer.simulator.healthy import (
    Kind,
    Volts,
    alternator_check,
    avionics_in_recharge,
    cold_morning,
    engine_already_running,
    gear_and_flaps,
    ground_radio,
    healthy,
    hot_day,
    late_alternator,
    low_idle,
    night,
    power_off_rows,
    short_hop,
    strobes,
    temperature_compensated,
    touch_and_goes,
)
from analyzer.simulator.simulate import Scenario
from analyzer.simulator.system_faults import (
    Drift,
    FieldOpen,
    FullField,
    Hunting,
    IntermittentField,
    LooseOutput,
    NuisanceTrip,
    OutputFade,
    Runaway,
    SenseResistance,
    SetPoint,
)

Maker = Callable[[int, Volts, Kind], Scenario]


# Batteries in trouble.


def slow_recharge(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A sulphated battery."""
    return healthy(seed, volts, ammeter).with_fault(Sulphated(slower=4.5))


def never_settles(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A softly shorted cell that takes current to the end."""
    return healthy(seed, volts, ammeter).with_fault(NeverSettles())


def worn_battery(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Capacity gone: sags deeply on a cold morning, three attempts, then takes little charge."""
    scenario = healthy(seed, volts, ammeter)
    starting = Starting(attempts_s=(4.2, 3.5, 5.1), turning_ohm=0.055)
    plan = replace(scenario.plan, outside_c=2.0, starting=starting)
    return replace(scenario, plan=plan).with_fault(Worn())


def left_low(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Rests at 30 % charge."""
    return healthy(seed, volts, ammeter).with_fault(LeftLow())


# Regulators in trouble.


def regulator_high(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Set 0.9 V too high."""
    return healthy(seed, volts, ammeter).with_fault(SetPoint(volts=0.9))


def regulator_low(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Set 0.9 V too low."""
    return healthy(seed, volts, ammeter).with_fault(SetPoint(volts=-0.9))


def regulator_drift(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Creeps upward from the climb on."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(Drift(volts_per_hour=1.0, from_s=scenario.times.take_off_s + 300.0))


def regulator_hunting(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Swings from the cruise on."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(Hunting(from_s=scenario.times.cruise_s, restless=seed % 2 == 0))


def full_field(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The regulator has shorted and protection does not act: the voltage follows engine speed."""
    scenario = healthy(seed, volts, ammeter)
    fault = FullField(from_s=scenario.times.cruise_s + 600.0)
    return replace(scenario, protection=OvervoltageProtection(works=False)).with_fault(fault)


def sense_wire(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """A corroded connector in the wire that feeds the field and tells the regulator the voltage."""
    scenario = night(seed, volts, ammeter)
    plan = replace(scenario.plan, idle_rpm=1250.0, taxi_rpm=1350.0)
    return replace(scenario, plan=plan).with_fault(SenseResistance(ohm=0.55))


# Overvoltage protection.


def trip_with_reset(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A run-up of seconds, a trip, and a reset after 50 s that holds."""
    scenario = healthy(seed, volts, ammeter)
    at = scenario.times.cruise_s + 700.0
    protection = OvervoltageProtection(resets_after_s=(50.0,))
    return replace(scenario, protection=protection).with_fault(Runaway(from_s=at, to_s=at + 30.0))


def repeated_trips(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Trips again after each of two resets, and stays off."""
    scenario = healthy(seed, volts, ammeter)
    fault = Runaway(from_s=scenario.times.cruise_s + 400.0, volts_per_s=0.25)
    return replace(scenario, protection=OvervoltageProtection(resets_after_s=(35.0, 70.0))).with_fault(fault)


def unlogged_spike(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A spike shorter than the time between two rows: only the loss is seen, and the reset."""
    scenario = healthy(seed, volts, ammeter)
    at = scenario.times.cruise_s + 900.2
    protection = OvervoltageProtection(resets_after_s=(80.0,))
    return replace(scenario, protection=protection).with_fault(FullField(from_s=at, to_s=at + 2.0))


def nuisance_trip(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A warm sensor that opens twice at a normal voltage."""
    scenario = healthy(seed, volts, ammeter)
    first = scenario.times.cruise_s + 500.0
    protection = OvervoltageProtection(resets_after_s=(25.0, 40.0))
    return replace(scenario, protection=protection).with_fault(
        NuisanceTrip(from_s=first), NuisanceTrip(from_s=first + 400.0)
    )


# Alternators in trouble.


def alternator_lost(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A field wire breaks in cruise."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 1000.0))


def alternator_never_on(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The bus stays at battery voltage from start to stop."""
    return healthy(seed, volts, ammeter).with_fault(FieldOpen())


def alternator_intermittent(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Worn brushes: off for a minute or two, well for some, off again."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(
        IntermittentField(from_s=scenario.times.take_off_s + 200.0, to_s=scenario.times.landing_s)
    )


def output_fading(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """A wet belt slips: the output sinks over twenty minutes."""
    scenario = night(seed, volts, ammeter)
    return scenario.with_fault(OutputFade(from_s=scenario.times.cruise_s + 200.0, to_fraction=0.12))


def overloaded(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """One diode pair gone: half the rated output from the start, and the lights are on."""
    return night(seed, volts, ammeter).with_fault(OutputFade(to_fraction=0.3, over_s=0.0))


def loose_output(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """A terminal on the output stud that arcs."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(LooseOutput(from_s=scenario.times.cruise_s, to_s=scenario.times.landing_s))


# Readings in trouble.


def volts_stuck(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The voltage reading freezes: through start and run-up by an odd seed, from cruise past the stop by an even."""
    scenario = healthy(seed, volts, ammeter)
    times = scenario.times
    early = Stuck(from_s=times.cranks[0][0] - 8.0, to_s=times.take_off_s)
    late = Stuck(from_s=times.cruise_s, to_s=times.master_off_s)
    return scenario.with_fault(early if seed % 2 else late)


def volts_spikes(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Single rows at 19.4 V (twice that on 28 V) with nothing in the current."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(
        Spikes(from_s=scenario.times.take_off_s, to_s=scenario.times.landing_s, value=19.4 * volts / 14)
    )


def volts_dropouts(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """Runs of three rows at zero."""
    scenario = healthy(seed, volts, ammeter)
    return scenario.with_fault(Dropouts(from_s=scenario.times.take_off_s, to_s=scenario.times.landing_s))


def volts_path(seed: int = 1, volts: Volts = 14, ammeter: Kind = "alternator") -> Scenario:
    """The voltmeter sits behind a bad joint: it reads low, the lower the more is switched on."""
    return night(seed, volts, ammeter).with_fault(PathResistance(ohm=0.06 * volts / 14))


def volts_offset(seed: int = 1, volts: Volts = 14, ammeter: Kind = "battery") -> Scenario:
    """The voltmeter reads 1.6 V low throughout, resting and running alike."""
    return healthy(seed, volts, ammeter).with_fault(Offset(amount=-1.6 * volts / 14))


HEALTHY: dict[str, Maker] = {
    maker.__name__: maker
    for maker in (
        healthy, cold_morning, hot_day, night, avionics_in_recharge, ground_radio, touch_and_goes, short_hop,
        low_idle, strobes, alternator_check, late_alternator, gear_and_flaps, engine_already_running,
        power_off_rows, temperature_compensated,
    )
}  # fmt: skip
FAULTY: dict[str, Maker] = {
    maker.__name__: maker
    for maker in (
        slow_recharge, never_settles, worn_battery, left_low, regulator_high, regulator_low, regulator_drift,
        regulator_hunting, full_field, sense_wire, trip_with_reset, repeated_trips, unlogged_spike,
        nuisance_trip, alternator_lost, alternator_never_on, alternator_intermittent, output_fading,
        overloaded, loose_output, volts_stuck, volts_spikes, volts_dropouts, volts_path, volts_offset,
    )
}  # fmt: skip
