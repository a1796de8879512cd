"""How well flights are judged: recall, false alarms and intervals over flights drawn at random.

    python tests/benchmarks/judgement.py [--flights 480] [--first 0] [--kinds lost ...] [--jobs 2] [--list]

Each flight is simulated, judged by the whole pipeline and compared with what the simulator knows. Seeds are
fixed, so a figure can be repeated. A fault counts toward recall only where the log can show it (``shown``);
a finding is a false alarm when neither a drawn fault nor the physics of the flight accounts for it
(``accounted``). Not part of the normal test run: it takes a minute or two.
"""

from __future__ import annotations

import argparse
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np
from drawn_flights import Drawn, drawn, kind_of

from analyzer.findings.finding import OF_ONE_FLIGHT
from analyzer.limits import Limits, limit_value
from analyzer.measures.measure import MEASURES
from analyzer.review import LogReview, review_log
from analyzer.simulator.electrical import LIMITED
from analyzer.simulator.faults import ContactSteps, Offset, Stuck
from analyzer.simulator.system_faults import LooseOutput, RisingTrip
from analyzer.simulator.truth import KnownFault, windows

#: How far apart in time a finding and a fault may lie and still be the same [s].
APART_S = 30.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """One flight, compared with its truth."""

    number: int
    kind: str
    habits: tuple[str, ...]
    without: tuple[str, ...]
    setting: str
    ammeter: tuple[str, str]  # true, found
    volts: tuple[int, int]
    flights: int
    hits: tuple[str, ...]
    missed: tuple[str, ...]
    false: tuple[str, ...]
    found: tuple[str, ...]
    measures: tuple[tuple[str, str], ...]  # name, "within" | "outside" | "refused" | "claimed"


def _crank_level(flown: Drawn) -> float:
    """Typical bus voltage while the starter turned [V]."""
    course, times = flown.flight.course, flown.flight.scenario.times
    turning = np.zeros(course.time_s.size, dtype=np.bool_)
    for begin, end in times.cranks:
        turning |= (course.time_s > begin + 0.3) & (course.time_s < end)
    return float(np.median(course.bus_v[turning]))


def _crank_expected(flown: Drawn) -> float:
    limits = Limits(flown.flight.scenario.nominal_voltage, {})
    cold = max(0.0, limits["crank_reference"] - flown.flight.scenario.plan.outside_c)
    return limits["crank_lowest"] - limits["crank_for_cold"] * cold


def _rise_logged(flown: Drawn, fault: KnownFault) -> bool:
    """Whether a row of the log shows the bus going up before a trip, or the truth lets the loss alone count."""
    table, scale = flown.flight.table, flown.flight.scenario.nominal_voltage / 14
    time, volts = table["time_s"].to_numpy(), table["bus_voltage"].to_numpy()
    near = volts[(time > fault.from_s - 20.0) & (time <= fault.from_s + flown.flight.truth.sample_period_s)]
    climbs = [one.to_s - one.from_s for one in flown.flight.scenario.faults if isinstance(one, RisingTrip)]
    apart = max([20.0, *climbs])
    before = volts[(time > fault.from_s - apart - 180.0) & (time < fault.from_s - apart)]
    rise = float(near.max() - np.median(before)) if near.size and before.size else 0.0
    return rise > 0.6 * scale or "alternator_offline" in fault.accepted


def _reading_shown(flown: Drawn) -> bool:
    scenario = flown.flight.scenario
    scale, meter = scenario.nominal_voltage / 14, scenario.voltmeter
    for fault in scenario.faults:
        if isinstance(fault, Stuck):  # a meter that never moves by itself cannot be seen to be stuck
            return meter.noise_v > 0.35 * meter.resolution_v
        if isinstance(fault, Offset) and fault.channel == "bus_voltage":  # told by rest and regulation together
            return scenario.recorder.begins == "master_on" and abs(fault.amount) > 1.3 * scale
        if isinstance(fault, Offset):
            return scenario.recorder.begins == "master_on"
    return True


def shown(flown: Drawn, fault: KnownFault) -> bool:
    """Whether this log can show the fault to anyone: the channel, the sampling and the strength are there."""
    flight, truth = flown.flight, flown.flight.truth
    from_start = flight.scenario.recorder.begins == "master_on"
    kinds = {ammeter.kind for ammeter in flight.scenario.ammeters}
    scale = flight.scenario.nominal_voltage / 14
    carried_s = (truth.engine_stop_s or 0.0) - (truth.alternator_on_s or 0.0)
    match fault.finding:
        case "slow_recharge":
            tau = truth.measures["recharge_time_constant"].value
            settling = truth.measures["recharge_settling_time"].value  # one that settles in time is not slow
            late = tau is not None and tau > 8.0 and settling is not None and settling > 10.0
            return from_start and bool(kinds) and late and carried_s > 2400.0
        case "recharge_never_settles":
            kept = truth.measures["maintenance_current"].value
            return "battery" in kinds and kept is not None and kept > 5.0 and carried_s > 2400.0
        case "weak_cranking":
            long_enough = sum(end - begin for begin, end in flight.scenario.times.cranks) > 2 * truth.sample_period_s
            return from_start and long_enough and _crank_level(flown) < _crank_expected(flown) - 0.3 * scale
        case "low_resting_voltage":
            return from_start
        case "unsteady_connection":
            lasts = [f.open_s for f in flight.scenario.faults if isinstance(f, LooseOutput)]
            lasts += [0.25 * f.lasts_s for f in flight.scenario.faults if isinstance(f, ContactSteps)]
            return truth.sample_period_s <= 0.7 * min(lasts, default=9.0)
        case "regulator_high" | "regulator_low":
            held = truth.measures["regulated_voltage"].value
            cold = max(0.0, 15.0 - flight.scenario.plan.outside_c) * 0.018
            if held is None:
                return False
            return held / scale > 14.6 + cold if fault.finding == "regulator_high" else held / scale < 13.3
        case "overvoltage_trip":
            return fault.to_s - fault.from_s > 20.0 and _rise_logged(flown, fault)
        case "reading_fault":
            return _reading_shown(flown)
        case "alternator_offline" | "overvoltage" | "output_short":
            return fault.to_s - fault.from_s > max(20.0, 4 * truth.sample_period_s)
        case "regulator_drift":
            return fault.to_s - fault.from_s > 600.0
        case "regulator_hunting":
            return fault.to_s - fault.from_s > max(110.0, 25.0 * truth.sample_period_s)
    return True


def _accounted(flown: Drawn) -> set[str]:
    """Findings that are right without a drawn fault, by what really happened on the bus."""
    flight, names = flown.flight, set()
    course, scale = flight.course, flight.scenario.nominal_voltage / 14
    if "late alternator" in flown.habits:
        names.add("alternator_offline")
    short = (course.fed_by == LIMITED) & (course.battery_a < -0.5)
    if any(True for _ in windows(course.time_s, short, 20.0)):
        names.add("output_short")
    above = course.bus_v > Limits(flight.scenario.nominal_voltage, {})["overvoltage"]
    if any(True for _ in windows(course.time_s, above, limit_value("overvoltage_lasting"))):
        names.add("overvoltage")  # whatever raised it, and however little
    cranked = sum(end - begin for begin, end in flight.scenario.times.cranks)
    if _crank_level(flown) < _crank_expected(flown) + 0.3 * scale or cranked > 22.0:
        names.add("weak_cranking")
    held = flight.truth.measures["regulated_voltage"].value
    if held is not None:
        names |= {"regulator_high"} if held / scale > 14.45 else set()
        names |= {"regulator_low"} if held / scale < 13.45 else set()
    if any(fault.finding == "overvoltage_trip" and not _rise_logged(flown, fault) for fault in flight.truth.faults):
        names.add("alternator_offline")  # the loss is all that the log shows of the trip
    if any(ammeter.kind == "battery" and abs(ammeter.offset_a) > 2.5 for ammeter in flight.scenario.ammeters):
        names.add("reading_fault")
    return names


def _measures(flown: Drawn, review: LogReview) -> Iterator[tuple[str, str]]:
    if len(review.flights) != 1:
        return
    for name in MEASURES:
        true, got = flown.flight.truth.measures.get(name), review.flights[0].measures[name]
        if true is None or true.ambiguous:  # a matter of words: an interrupted recharge has no one settling time
            continue
        if true.value is None or true.low is None or true.high is None:
            if got.value is not None:
                yield name, "claimed"
        elif got.value is None or got.low is None or got.high is None:
            yield name, "refused"
        else:
            yield name, "within" if got.low <= true.high and got.high >= true.low else "outside"


def judge(number: int) -> Outcome:
    """Fly, judge and compare one flight."""
    flown = drawn(number)
    try:
        review = review_log(flown.log)
    except Exception as problem:
        raise RuntimeError(f"flight {number}: {problem!r}") from problem
    truth = flown.flight.truth
    found = [finding for flight in review.flights for finding in flight.findings]
    hits, missed = [], []
    by_name: dict[str, list[KnownFault]] = defaultdict(list)
    for fault in truth.faults:
        if shown(flown, fault):
            by_name[fault.finding].append(fault)
    for name, faults in by_name.items():
        right = any(
            finding.name in (name, *fault.accepted)
            and finding.from_s <= fault.to_s + APART_S
            and finding.to_s >= fault.from_s - APART_S
            for fault in faults
            for finding in found
        )
        (hits if right else missed).append(name)
    allowed = truth.allowed | _accounted(flown)
    scenario = flown.flight.scenario
    fitted = [ammeter.kind for ammeter in scenario.ammeters]
    main = max(review.flights, key=lambda flight: flight.flight.rows, default=None)
    return Outcome(
        number=number,
        kind=flown.kind,
        habits=flown.habits,
        without=flown.without,
        setting=(
            f"{scenario.nominal_voltage} V, {'+'.join(fitted) or 'no ammeter'}, {scenario.recorder.period_s:g} s, "
            f"{scenario.voltmeter.resolution_v:g} V, {scenario.plan.outside_c:.0f} degC, {scenario.recorder.begins}"
        ),
        ammeter=(fitted[0] if fitted else "none", main.flight.ammeter.kind if main else "no flight"),
        volts=(scenario.nominal_voltage, main.flight.nominal_voltage if main else 0),
        flights=len(review.flights),
        hits=tuple(hits),
        missed=tuple(missed),
        false=tuple(sorted({finding.name for finding in found} - allowed)),
        found=tuple(finding.name for finding in found),
        measures=tuple(_measures(flown, review)),
    )


def _table(outcomes: list[Outcome]) -> Iterator[str]:
    hits = Counter(name for outcome in outcomes for name in outcome.hits)
    missed = Counter(name for outcome in outcomes for name in outcome.missed)
    false = Counter(name for outcome in outcomes for name in outcome.false)
    total, right = sum(hits.values()) + sum(missed.values()), sum(hits.values())
    sound = [outcome for outcome in outcomes if outcome.kind == "sound"]
    yield (
        f"{len(outcomes)} flights: recall {right / max(total, 1):.3f} ({right} of {total}), false alarms "
        f"{100 * sum(false.values()) / len(outcomes):.1f} per 100; sound flights with one: "
        f"{sum(bool(o.false) for o in sound)} of {len(sound)}"
    )
    kinds = [outcome for outcome in outcomes if outcome.ammeter[0] != outcome.ammeter[1]]
    volts = [outcome for outcome in outcomes if outcome.volts[0] != outcome.volts[1]]
    yield (
        f"ammeter kind right {1 - len(kinds) / len(outcomes):.3f} "
        f"(unknown {sum(outcome.ammeter[1] == 'unknown' for outcome in kinds)}), "
        f"nominal voltage right {1 - len(volts) / len(outcomes):.3f}, "
        f"not one flight {sum(outcome.flights != 1 for outcome in outcomes)}"
    )
    yield f"{'finding':24s} {'shown':>5s} {'hit':>5s} {'recall':>6s} {'false':>5s} {'/100':>5s}"
    for name in OF_ONE_FLIGHT:
        count = hits[name] + missed[name]
        recall = f"{hits[name] / count:.2f}" if count else "-"
        each = 100 * false[name] / len(outcomes)
        yield f"{name:24s} {count:5d} {hits[name]:5d} {recall:>6s} {false[name]:5d} {each:5.1f}"
    yield f"{'measure':24s} {'truth':>5s} {'got':>5s} {'within':>6s} {'claimed though it cannot be known':>5s}"
    states = Counter(state for outcome in outcomes for state in outcome.measures)
    for name in MEASURES:
        got = states[name, "within"] + states[name, "outside"]
        share = f"{states[name, 'within'] / got:.2f}" if got else "-"
        yield f"{name:24s} {got + states[name, 'refused']:5d} {got:5d} {share:>6s} {states[name, 'claimed']:5d}"


def _strata(outcomes: list[Outcome]) -> Iterator[str]:
    """Recall and false alarms by what the aircraft and its recorder are."""
    by: dict[str, list[Outcome]] = defaultdict(list)
    for outcome in outcomes:
        rpm = "without rpm" if "engine_speed" in outcome.without else "with rpm"
        for stratum in (*outcome.setting.split(", ")[:3], rpm):
            by[stratum].append(outcome)
    for stratum in sorted(by):
        hits, missed = (sum(len(getattr(o, name)) for o in by[stratum]) for name in ("hits", "missed"))
        false, count = sum(len(o.false) for o in by[stratum]), len(by[stratum])
        recall = f"{hits / (hits + missed):.3f}" if hits + missed else "-"
        each = 100.0 * false / count
        yield f"{stratum:20s} {count:5d} flights, {hits + missed:4d} shown, recall {recall}, false {each:.1f} per 100"


def _listed(outcome: Outcome) -> str:
    return (
        f"#{outcome.number} {outcome.kind} [{outcome.setting}] habits {', '.join(outcome.habits) or '-'}; "
        f"without {', '.join(outcome.without) or '-'}; missed {', '.join(outcome.missed) or '-'}; "
        f"false {', '.join(outcome.false) or '-'}; found {', '.join(outcome.found) or '-'}; "
        f"ammeter {outcome.ammeter[0]} taken for {outcome.ammeter[1]}; flights {outcome.flights}"
    )


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--flights", type=int, default=480)
    parser.add_argument("--first", type=int, default=0, help="number of the first flight; other numbers, other flights")
    parser.add_argument("--kinds", nargs="+", default=[], help="only these faults, or sound: of the same numbers")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--list", action="store_true", help="list every flight that was misjudged")
    asked = parser.parse_args()
    numbers = range(asked.first, asked.first + asked.flights)
    if asked.kinds:
        numbers = [number for number in numbers if kind_of(number) in asked.kinds]
    with ProcessPoolExecutor(asked.jobs) as pool:
        outcomes = list(pool.map(judge, numbers, chunksize=8))
    print("\n".join([*_table(outcomes), *_strata(outcomes)]))
    if asked.list:
        for outcome in outcomes:
            odd = outcome.missed or outcome.false or outcome.ammeter[0] != outcome.ammeter[1]
            if odd or outcome.flights != 1:
                print(_listed(outcome))


if __name__ == "__main__":
    main()
