"""What a stretch on battery alone is said to show of the capacity, against batteries whose capacity is known.

    .venv/bin/python -m tests.benchmarks.capacity [--flights 200] [--first 1]

Flights drawn over wide ranges lose their alternator for some time or for good: new and worn batteries, full and low,
of all exponents, cold and warm, both voltages, loads by day and night, ammeters of any kind that may be off at zero and
in scale, recorders of any rate, some of which fall silent as the bus falls. Told are: "at least so much" (held where it
is no more than the battery truly gave in the whole flight, and no more than it holds at the one-hour rate and 25 degC),
and the interval of a battery that was run down. Not part of the normal test run.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from math import inf

import numpy as np
import polars as pl

from analyzer.aircraft import Aircraft
from analyzer.measures.capacity import CapacityShown, capacity_shown
from analyzer.review import review_log
from analyzer.simulator import Scenario, SimulatedFlight, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.system_faults import FieldOpen
from tests.benchmarks.drawn_flights import DURING, Draw, aircraft, rated_for_its_loads


@dataclass(frozen=True, slots=True)
class Shown:
    """A flight, and what was said of it."""

    name: str
    said: CapacityShown | None
    given: float  # what the battery truly gave without its alternator [Ah]
    capacity: float  # what it truly holds at the one-hour rate and 25 degC [Ah]
    metered: bool  # whether a battery ammeter was recorded


def scenario_of(seed: int) -> Scenario:
    """Draw a flight that loses its alternator."""
    rng = np.random.default_rng([seed, *b"capacity"])
    scenario = aircraft(rng, seed)
    for name in rng.choice(list(DURING), int(rng.integers(0, 3)), replace=False):
        scenario = DURING[str(name)](scenario, rng)
    scenario = rated_for_its_loads(_longer(scenario, float(np.exp(rng.uniform(np.log(10.0), np.log(300.0))))))
    health = rng.uniform(0.3, 1.0)
    battery = replace(
        scenario.battery,
        health=health,
        resistance_factor=rng.uniform(1.0, 1.0 / health),
        peukert_exponent=rng.uniform(1.05, 1.3),
        charge=rng.uniform(0.4, 0.93) if rng.random() < 0.15 else scenario.battery.charge,
    )
    ammeters = tuple(replace(one, gain=rng.uniform(0.98, 1.02)) for one in scenario.ammeters)
    scenario = replace(scenario, battery=battery, ammeters=ammeters)
    return scenario.with_fault(_loss(scenario, rng))


def _longer(scenario: Scenario, minutes: float) -> Scenario:
    """A longer cruise; what is on until the landing stays on."""
    late = scenario.times.landing_s - 300.0
    events = tuple(
        replace(one, to_s=one.to_s + 60.0 * minutes) if one.to_s > late else one for one in scenario.loads.events
    )
    plan = replace(scenario.plan, cruise_min=scenario.plan.cruise_min + minutes)
    return replace(scenario, plan=plan, loads=replace(scenario.loads, events=events))


def _loss(scenario: Scenario, rng: Draw) -> FieldOpen:
    times = scenario.times
    early = rng.random() < 0.3
    at = rng.uniform(times.engine_start_s, times.take_off_s) if early else rng.uniform(times.take_off_s, times.cruise_s)
    lasts = np.exp(rng.uniform(np.log(300.0), np.log(7200.0)))
    back = at + lasts if rng.random() < 0.4 else inf
    return FieldOpen(from_s=float(at), to_s=float(back))


def silent_below(flown: SimulatedFlight, volts: float) -> SimulatedFlight:
    """The same flight by a recorder that writes nothing more once the bus has fallen so low after its start."""
    course = flown.course
    low = (course.bus_v < volts) & (course.time_s > flown.scenario.times.engine_start_s + 60.0)
    if not low.any():
        return flown
    last = float(course.time_s[low.argmax()]) - flown.log_begins_s
    return replace(flown, table=flown.table.filter(pl.col("time_s") < last))


def flown(scenario: Scenario, silent_v: float = 0.0) -> Shown:
    """Fly it and ask."""
    flight = simulate(scenario)
    (loss,) = (one for one in scenario.faults if isinstance(one, FieldOpen))
    course, battery = flight.course, scenario.battery
    without = (course.time_s >= loss.from_s) & (course.time_s < min(loss.to_s, scenario.times.master_off_s))
    given = np.where(without, np.maximum(-course.battery_a, 0.0), 0.0)[:-1] @ np.diff(course.time_s) / 3600.0
    log = as_log(silent_below(flight, silent_v * scenario.nominal_voltage / 14))
    (review, *_) = review_log(log, Aircraft(battery_capacity=battery.capacity_ah)).flights
    metered = any(one.kind == "battery" for one in scenario.ammeters)
    name = f"{scenario.nominal_voltage} V, {scenario.plan.outside_c:.0f} degC, k {battery.peukert_exponent:.2f}"
    name += f", charge {battery.charge:.2f}, health {battery.health:.2f}, {scenario.recorder.begins}"
    said = capacity_shown(review.flight, review.measures["resting_charge"])
    return Shown(name, said, float(given), battery.capacity_ah * battery.health, metered)


def drawn(seed: int) -> Shown:
    """Draw a flight and ask."""
    rng = np.random.default_rng([seed, *b"silent"])
    silent_v = float(rng.choice([0.0, rng.uniform(8.0, 10.5)]))
    one = flown(scenario_of(seed), silent_v)
    return replace(one, name=f"{seed}: {one.name}")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--flights", type=int, default=200)
    parser.add_argument("--first", type=int, default=1)
    given = parser.parse_args()
    every = [drawn(seed) for seed in range(given.first, given.first + given.flights)]
    show(every)


def show(every: list[Shown]) -> None:
    """Print coverage, widths and the worst overstatement of both."""
    told = [(one, one.said) for one in every if one.said is not None]
    print(f"{len(every)} flights, {sum(one.metered for one in every)} with a battery ammeter, {len(told)} told")
    least = [(one, said) for one, said in told if said.capacity is None]
    for name, truths in (
        ("of what it gave", [one.given for one, _ in least]),
        ("of what it holds", [one.capacity for one, _ in least]),
    ):
        shares = np.array([said.given for _, said in least]) / np.array(truths)
        print(
            f"at least, {name}: {len(least)} told, held {np.mean(shares <= 1.0):.3f}, worst {shares.max():.2f} times, "
            f"told / true: " + ", ".join(f"{one:.2f}" for one in np.quantile(shares, (0.1, 0.5, 0.9)))
        )
    ran = [(one, said.capacity) for one, said in told if said.capacity is not None]
    below = sum(one.capacity < cap.low for one, cap in ran)
    above = sum(one.capacity > cap.high for one, cap in ran)
    widths = np.array([cap.high / cap.low for _, cap in ran])
    lows, values = (np.array([getattr(cap, end) / one.capacity for one, cap in ran]) for end in ("low", "value"))
    print(
        f"run down: {len(ran)} told, held {1.0 - (below + above) / len(ran):.3f}; truth below {below}, above {above}; "
        f"high / low middle {np.median(widths):.2f}, most {widths.max():.2f}; low end / true most {lows.max():.2f}; "
        "value / true: " + ", ".join(f"{one:.2f}" for one in np.quantile(values, (0.0, 0.1, 0.5, 0.9, 1.0)))
    )
    for one, cap in ran:
        if not cap.low <= one.capacity <= cap.high:
            print(f"  {one.name}: {cap.low:.1f} to {cap.high:.1f} Ah said, {one.capacity:.1f} true")
    for one, said in least:
        if said.given > min(one.given, one.capacity):
            print(f"  {one.name}: at least {said.given:.1f} Ah said, {one.given:.1f} given, {one.capacity:.1f} held")


if __name__ == "__main__":
    main()
