"""What is said to follow if the alternator quit, against the same flights flown with it quitting at that minute.

    python -m tests.benchmarks.alternator_quits --flights 80

Drawn flights at both voltages with both ammeters, sound and worn batteries, full and low, by day and by night, cold and
warm. The truth is the minutes until the bus falls below the limit ``knee_voltage``, and the bus in the first minute.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf

import numpy as np

from analyzer.aircraft import Aircraft
from analyzer.limits import limit_value, load_limits
from analyzer.measures.alternator_quit import AlternatorQuits, Light, alternator_quits
from analyzer.measures.battery_life import BatteryKnown
from analyzer.review import review_log
from analyzer.series import runs
from analyzer.simulator import Scenario, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.electrical import Course
from analyzer.simulator.faults import LeftLow, Worn
from analyzer.simulator.healthy import cold_morning, ground_radio, healthy, late_alternator, night, strobes
from analyzer.simulator.system_faults import FieldOpen

MAKERS = (healthy, cold_morning, ground_radio, late_alternator, night, strobes)
#: How much longer the flight is in which the battery is run down [min].
LONGER = 420.0
TODAY = datetime(2026, 11, 1)


@dataclass(frozen=True, slots=True)
class Quit:
    """One drawn moment: what was said and what came to pass."""

    name: str
    said: AlternatorQuits
    minutes: float  # until the bus fell below the limit voltage
    first_minute: tuple[float, float]  # lowest and highest bus of it [V], its first two seconds left out
    charge: float  # in the battery at that moment, a share of what it holds

    @property
    def overstated(self) -> bool:
        """Whether the battery lasted less than what to plan on."""
        lasts = self.said.cases[0].lasts if self.said.cases else None
        return lasts is not None and lasts.low is not None and self.minutes < lasts.low


def drawn(seed: int) -> Quit:
    """Draw a flight and a moment, and fly it on without the alternator."""
    draw = np.random.default_rng([seed, *b"quits"])
    make = MAKERS[int(draw.integers(len(MAKERS)))]
    nominal, kind = int(draw.choice([14, 28])), str(draw.choice(["battery", "alternator"]))
    scenario = make(seed, nominal, kind)  # type: ignore[arg-type]
    state = str(draw.choice(["sound", "worn", "low"], p=[0.4, 0.45, 0.15]))
    if state == "worn":
        health = float(draw.uniform(0.45, 0.9))
        scenario = scenario.with_fault(Worn(health=health, resistance_factor=1.0 / health))
    if state == "low":
        scenario = scenario.with_fault(LeftLow(charge=float(draw.uniform(0.4, 0.8))))
    times = scenario.times
    early = bool(draw.integers(2))
    at = float(draw.uniform(times.engine_start_s + 30.0, times.take_off_s if early else times.cruise_end_s))
    return flown(scenario, at, f"{seed} {make.__name__} {nominal} V {kind} {state}, {at / 60.0:.1f} min")


def flown(scenario: Scenario, at: float, name: str) -> Quit:
    """What is said of a moment of a scenario [s from the master going on], and what comes to pass after it."""
    seen = simulate(scenario)
    flying = (seen.course.time_s > scenario.times.take_off_s) & (seen.course.time_s < scenario.times.landing_s)
    load = float(
        np.median(seen.course.load_a[flying])
    )  # as the fleet file would say it; nothing else tells a battery ammeter's
    aircraft = Aircraft(battery_capacity=scenario.battery.capacity_ah, essential_load=load)
    (review,) = review_log(as_log(seen), aircraft).flights
    worn = any("battery" in one.name or one.name == "weak_cranking" for one in review.findings)
    known = BatteryKnown(worn=worn)
    said = alternator_quits(review.flight, review.measures, known, TODAY, at - seen.log_begins_s)
    course = simulate(_longer(scenario).with_fault(FieldOpen(from_s=at))).course
    minutes = _until_run_down(course, at, "at_28" if scenario.nominal_voltage == 28 else "at_14")
    first = course.bus_v[(course.time_s > at + 2.0) & (course.time_s < at + 60.0)]
    charge = float(np.interp(at, course.time_s, course.charge))
    return Quit(name, said, minutes, (float(first.min()), float(first.max())), charge)


def _until_run_down(course: Course, at: float, system: str) -> float:
    """Minutes from a time until the bus has fallen below the limit voltage and stays there."""
    knee: float = getattr(load_limits()["knee_voltage"], system)
    low = (course.time_s > at) & (course.bus_v < knee)
    for first, end in runs(low):
        if course.time_s[end - 1] - course.time_s[first] >= limit_value("knee_lasting"):
            return (float(course.time_s[first]) - at) / 60.0
    return inf


def _longer(scenario: Scenario) -> Scenario:
    """The same flight with a cruise in which any battery is run down; what is on until the landing stays on."""
    landing = scenario.times.landing_s - 300.0
    events = tuple(
        replace(one, to_s=one.to_s + 60.0 * LONGER) if one.to_s > landing else one for one in scenario.loads.events
    )
    plan = replace(scenario.plan, cruise_min=scenario.plan.cruise_min + LONGER)
    return replace(scenario, plan=plan, loads=replace(scenario.loads, events=events))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--flights", type=int, default=80)
    parser.add_argument("--first", type=int, default=4000)
    arguments = parser.parse_args()
    counts: Counter[str] = Counter()
    shares = []
    for seed in range(arguments.first, arguments.first + arguments.flights):
        one = drawn(seed)
        said = one.said
        if said.because is not None or said.cases[0].lasts.value is None:
            counts[f"not told: {said.because or said.cases[0].lasts.because}"] += 1
            continue
        lasts = said.cases[0].lasts
        assert lasts.low is not None
        assert lasts.high is not None
        counts["told"] += 1
        counts["overstated: shorter than what to plan on"] += one.overstated
        counts["longer than the interval"] += one.minutes > lasts.high
        shares.append(lasts.low / one.minutes)
        if said.bus is not None and said.bus.low is not None and said.bus.high is not None:
            counts["bus told"] += 1
            outside = one.first_minute[0] < said.bus.low - 0.05 or one.first_minute[1] > said.bus.high + 0.05
            counts["bus outside"] += outside
            if outside:
                print("bus", one.name, said.bus, one.first_minute)
        counts[said.light] += 1
        wrong = said.light is Light.WITHIN_A_MINUTE and one.first_minute[0] >= said.flow.light_at.value
        counts["light said and not on"] += wrong
        if one.overstated or one.minutes > lasts.high:
            print(f"{one.name}: {lasts.low:.0f} to {lasts.high:.0f} min said, {one.minutes:.0f} came; {said.basis}")
    for name, count in counts.items():
        print(f"{count:4d}  {name}")
    print(
        "planned over true minutes, quantiles 0, 0.1, 0.5, 0.9, 1:",
        np.round(np.quantile(shares, (0, 0.1, 0.5, 0.9, 1)), 2),
    )


if __name__ == "__main__":
    main()
