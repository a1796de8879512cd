"""What a stand is said to cost the battery, against simulated tails whose parked drain and self-discharge are known.

    .venv/bin/python -m tests.benchmarks.standing [--tails 80] [--first 1]

Tails drawn over wide ranges: both voltages, batteries new and worn, parked drains from none to a tenth of an ampere,
self-discharge from little to much, stands of five days to two months among short ones, cold and warm, with ammeters of
any kind or none, voltmeters and recorders as ever. Told are the interval of the charge lost in a day, the same in
milliamperes, and the weeks until a start is doubtful (held where the battery truly lasts that long from where a
recharge left it). Nobody charges it meanwhile. Not part of the normal test run.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from analyzer.aircraft import Aircraft
from analyzer.limits import limit_value
from analyzer.review import review_log
from analyzer.simulator import Scenario, simulate
from analyzer.simulator.as_log import as_log
from analyzer.trends.history import history_of, summarize
from analyzer.trends.standing import StandingLoss, standing_of
from tests.benchmarks.drawn_flights import DURING, Draw, aircraft, rated_for_its_loads

HABITS = ("night", "strobes", "gear", "pitot heat")
LEAST_LEFT = 0.35  # charge below which nobody starts: the stand ends before


@dataclass(frozen=True, slots=True)
class Stood:
    """A tail, and what was said of it."""

    name: str
    said: StandingLoss | None
    because: str | None
    per_day: float  # share of its charge that it truly lost in a day [%]
    milliamperes: float  # the same as a steady current [mA]
    weeks: float  # from where the recharges left it until a start is doubtful


def tail(seed: int) -> Stood:
    """Draw a tail, fly and park it, and ask."""
    rng = np.random.default_rng([seed, *b"standing"])
    base, drain_a = _aircraft(rng, seed), float(np.exp(rng.uniform(np.log(0.001), np.log(0.1))))
    without = tuple(role for role in ("outside_air_temperature", "engine_speed") if rng.random() < 0.2)
    begins, charge = base.begins, base.battery.charge
    summaries, lost, left, stood = [], 0.0, [], 0.0
    settled: list[float] = []
    for number in range(int(rng.integers(4, 9))):
        scenario = _flight(base, rng, number)
        battery = replace(scenario.battery, charge=charge, recent_fraction=0.3 if number == 0 else 0.0)
        scenario = replace(scenario, begins=begins, battery=battery)
        flight = simulate(scenario)
        profile = Aircraft(battery_capacity=battery.capacity_ah)
        (review, *_) = review_log(as_log(flight, without=without), profile).flights
        summaries.append(summarize(review))
        left.append(float(flight.course.charge[-1]))
        if summaries[-1].readings.get("recharge_settling_time") is not None:
            settled.append(left[-1])
        days = float(rng.uniform(5.0, 60.0)) if rng.random() < 0.6 else float(rng.exponential(2.0)) + 0.2
        rate = 24.0 * drain_a / battery.full_ah + battery.self_discharge_per_day * left[-1]
        days = min(days, max(0.3, (left[-1] - LEAST_LEFT) / rate))
        discharged = battery.self_discharge_per_day
        charge = (left[-1] - 24.0 * drain_a * days / battery.full_ah) * (1.0 - discharged) ** days
        lost, stood = lost + left[-1] - charge, stood + days
        begins = begins + timedelta(seconds=round(flight.course.time_s[-1]), days=days)
    found = standing_of(replace(history_of(base.tail, summaries), aircraft=profile))
    per_day, full = 100.0 * lost / stood, base.battery.full_ah
    usable = 100.0 * float(np.mean(settled or left)) - limit_value("stand_start_charge")
    name = f"{seed}: {base.nominal_voltage} V, {1000.0 * drain_a:.0f} mA of {base.battery.capacity_ah:.0f} Ah, health "
    name += f"{base.battery.health:.2f}, left at {np.mean(settled or left):.2f}, least {min(left):.2f}"
    return Stood(name, found.loss, found.because, per_day, 10.0 * per_day * full / 24.0, usable / per_day / 7.0)


def _aircraft(rng: Draw, seed: int) -> Scenario:
    scenario = aircraft(rng, seed)
    health = float(rng.choice([1.0, rng.uniform(0.4, 1.0)]))
    battery = replace(
        scenario.battery,
        health=health,
        resistance_factor=rng.uniform(1.0, 1.0 / health),
        peukert_exponent=rng.uniform(1.05, 1.3),
        self_discharge_per_day=float(np.exp(rng.uniform(np.log(0.0007), np.log(0.008)))),
    )
    recorder = replace(scenario.recorder, period_s=max(1.0, scenario.recorder.period_s), begins="master_on")
    return replace(scenario, battery=battery, recorder=recorder)


def _flight(base: Scenario, rng: Draw, number: int) -> Scenario:
    """One flight of the tail, in that day's weather and with that day's loads."""
    plan = replace(
        base.plan,
        outside_c=float(np.clip(base.plan.outside_c + rng.normal(0.0, 5.0), -15.0, 40.0)),
        cruise_min=rng.uniform(15.0, 90.0),
        before_start_s=rng.uniform(12.0, 150.0),
    )
    scenario = replace(base, seed=1000 * base.seed + number, plan=plan, loads=replace(base.loads, events=()))
    for name in HABITS:
        if rng.random() < 0.2:
            scenario = DURING[name](scenario, rng)
    return rated_for_its_loads(scenario)


def show(every: list[Stood]) -> None:
    """Print coverage, widths and the worst overstatement."""
    told = [(one, one.said) for one in every if one.said is not None]
    print(f"{len(every)} tails, {len(told)} told")
    held = [said.low <= one.per_day <= said.high for one, said in told]
    above = sum(one.per_day > said.high for one, said in told)
    widths = np.array([said.high - said.low for _, said in told])
    print(
        f"lost a day: held {np.mean(held):.3f}, truth above {above}, below {len(told) - sum(held) - above}; width "
        f"middle {np.median(widths):.2f}, most {widths.max():.2f} % a day"
    )
    amps = [(one.milliamperes, *said.milliamperes) for one, said in told if said.milliamperes is not None]
    print(
        f"as a current: held {np.mean([low <= true <= high for true, low, high in amps]):.3f}, truth above "
        f"{sum(true > high for true, _, high in amps)}, below {sum(true < low for true, low, _ in amps)}; "
        f"high - low middle {np.median([high - low for _, low, high in amps]):.0f} mA"
    )
    shares = np.array([said.weeks / one.weeks if one.weeks > 0.0 else np.inf for one, said in told])
    print(
        f"weeks: no more than true {np.mean(shares <= 1.0):.3f}, worst {shares.max():.2f} times; told / true: "
        + ", ".join(f"{one:.2f}" for one in np.quantile(shares, (0.1, 0.5, 0.9)))
    )
    for (one, said), ratio in zip(told, shares, strict=True):
        low, high = said.milliamperes or (0.0, np.inf)
        if not said.low <= one.per_day <= said.high or not low <= one.milliamperes <= high or ratio > 1.0:
            print(
                f"  {one.name}: {said.low:.2f} to {said.high:.2f} % a day said, {one.per_day:.2f} true; {low:.0f} to "
                f"{high:.0f} mA, {one.milliamperes:.0f} true; {said.weeks:.1f} weeks, {one.weeks:.1f} true"
            )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tails", type=int, default=80)
    parser.add_argument("--first", type=int, default=1)
    given = parser.parse_args()
    every = [tail(seed) for seed in range(given.first, given.first + given.tails)]
    show(every)
    reasons = [one.because for one in every if one.because is not None]
    for reason in sorted(set(reasons), key=reasons.count, reverse=True)[:5]:
        print(f"{reasons.count(reason):4d}  {reason}")


if __name__ == "__main__":
    main()
