"""Learns what a stretch without the alternator may be, and holds the chances given against flights drawn afterwards.

    python -m tests.benchmarks.outage_alternatives --learn [--first 50000000] [--flights 2000]   writes the table
    python -m tests.benchmarks.outage_alternatives [--first 51000000] [--flights 1000]           tries it

Of stretches whose second explanation was given a chance of one in four, it should be the true one in about a quarter.
What is true of a stretch is what fed the bus for most of it. Each flight counts once, however many stretches it has.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import chain, pairwise

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from analyzer.flights.alternatives import EVIDENCE_FILE, EXPLANATIONS, load_evidence
from analyzer.flights.cut import cut_flights
from analyzer.flights.outage_kinds import Alternative, Clue
from analyzer.logs.log import Log
from analyzer.logs.readings import Readings
from analyzer.simulator.electrical import BATTERY, LIMITED
from analyzer.simulator.flight_plan import profile
from tests.benchmarks.drawn_flights import Drawn, drawn

#: Prior standard deviation of one class's score: a class seen in few flights stays near nothing.
SPREAD = 1.0
#: Where the classes of given chances part.
CLASSES = (0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.95, 0.98, 1.0001)


@dataclass(frozen=True, slots=True)
class Example:
    """One stretch of a drawn flight."""

    number: int
    kind: str  # by which it is acted on
    true: int  # place of its explanation
    clues: tuple[Clue, ...]
    told: tuple[Alternative, ...]
    ammeter: str


def _true(flown: Drawn) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.float64]]:
    """Grid times [s from the log's first row], the explanation that is true of each, and how long each lasts [s]."""
    flight, course = flown.flight, flown.flight.course
    scenario = flight.scenario
    engine = profile(scenario.plan, course.time_s, np.random.default_rng([scenario.seed, *b"engine"]))
    could = scenario.alternator.output_limit(engine.rpm, engine.outside_c) > course.load_a + 2.0
    true = np.full(course.time_s.size, 3)
    true[~could | (course.fed_by == LIMITED)] = 2
    true[could & (course.fed_by == LIMITED) & (course.battery_a < -0.5)] = 1
    true[could & (course.fed_by == BATTERY)] = 0
    return course.time_s - flight.log_begins_s, true, np.diff(course.time_s, append=course.time_s[-1])


def examples(number: int) -> list[Example]:
    """Every stretch of a drawn flight in which the alternator seems not to carry the bus."""
    flown = drawn(number)
    return _examples(flown, flown.log)


def to_learn(number: int) -> list[Example]:
    """The same, and those of one with a fault again as if it had no ammeter: few drawn flights have none."""
    flown = drawn(number)
    currents = [name for name in flown.log.table.columns if name.endswith("_current")]
    seen = _examples(flown, flown.log)
    if currents and flown.kind != "sound":
        seen += _examples(flown, replace(flown.log, readings=Readings.of(flown.log.table.drop(currents))))
    return seen


def _examples(flown: Drawn, log: Log) -> list[Example]:
    number, flights = flown.number, cut_flights(log)
    if len(flights) != 1:
        return []
    flight, (time, true, lasts), found = flights[0], _true(flown), []
    for outage in flight.outages:
        from_s, to_s = flight.trace.time[outage.first], flight.trace.time[min(outage.end, flight.trace.time.size - 1)]
        inside = (time >= from_s) & (time < to_s)
        if not inside.any() or not outage.alternatives:
            continue
        whole = np.bincount(true[inside], weights=lasts[inside], minlength=len(EXPLANATIONS))
        found.append(
            Example(number, outage.kind, int(whole.argmax()), outage.clues, outage.alternatives, flight.ammeter.kind)
        )
    return found


def _weights(seen: Sequence[Example]) -> NDArray[np.float64]:
    count = Counter((one.number, one.kind, one.ammeter) for one in seen)
    return np.array([1.0 / count[one.number, one.kind, one.ammeter] for one in seen])


def learned(seen: Sequence[Example]) -> dict[str, list[list[float]]]:
    """Scores of each class of each observation, by logistic regression with a ridge."""
    evidence, places, width = load_evidence(), {}, 0
    for name, entry in evidence.items():
        places[name], width = width, width + len(entry.edges) + 1
    design, true = np.zeros((len(seen), width)), np.zeros((len(seen), len(EXPLANATIONS)))
    for row, example in enumerate(seen):
        true[row, example.true] = 1.0
        for clue in example.clues:
            design[row, places[clue.name] + int(np.searchsorted(evidence[clue.name].edges, clue.value))] = 1.0
    weights, scores, count = _weights(seen), np.zeros((width, len(EXPLANATIONS))), len(EXPLANATIONS)
    for _ in range(25):  # Newton's steps on the penalised likelihood
        chance = np.exp(design @ scores - (design @ scores).max(axis=1, keepdims=True))
        chance /= chance.sum(axis=1, keepdims=True)
        gradient = design.T @ (weights[:, None] * (true - chance)) - scores / SPREAD**2
        curvature = np.eye(width * count) / SPREAD**2
        for a in range(count):
            for b in range(count):
                share = weights * chance[:, a] * ((a == b) - chance[:, b])
                block = design.T @ (share[:, None] * design)
                curvature[a * width : (a + 1) * width, b * width : (b + 1) * width] += block
        scores += np.linalg.solve(curvature, gradient.T.ravel()).reshape(count, width).T
    return {
        name: np.round(scores[places[name] : places[name] + len(entry.edges) + 1], 2).tolist()
        for name, entry in evidence.items()
    }


def write(scores: dict[str, list[list[float]]], source: str) -> None:
    """Put the learned scores into the evidence table; its edges stay."""
    lines, name = [], ""
    for line in EVIDENCE_FILE.read_text("utf-8").splitlines():
        if line.startswith("[observations."):
            name = line[len("[observations.") : -1]
        if line.startswith("source ="):
            line = f'source = "{source}"'
        if name and line.startswith("scores ="):
            rows = "".join(f"  {row},\n" for row in scores[name])
            lines.append(f"scores = [\n{rows}]")
        elif not name or not line.startswith(("  [", "]")):
            lines.append(line)
    EVIDENCE_FILE.write_text("\n".join(lines) + "\n", "utf-8")


def table(seen: Sequence[Example]) -> Iterator[str]:
    """Chances given against how often they came true, of the first explanation, of the second and of all."""
    weights = _weights(seen)
    yield f"{len(seen)} stretches of {len({one.number for one in seen})} flights"
    right = np.array([one.told[0].explanation == EXPLANATIONS[one.true] for one in seen])
    yield f"the likeliest is true: {np.average(right, weights=weights):.3f}"
    yield f"{'chance given':>14s} {'flights':>8s} {'given':>6s} {'true':>6s}   and of the second alone"
    for low, high in pairwise(CLASSES):
        cells = []
        for places in (range(len(EXPLANATIONS)), (1,)):
            pairs = [
                (one.told[place].chance, one.told[place].explanation == EXPLANATIONS[one.true], weight)
                for one, weight in zip(seen, weights, strict=True)
                for place in places
                if low <= one.told[place].chance < high
            ]
            count = sum(weight for *_, weight in pairs)
            given, true = (sum(pair[at] * pair[2] for pair in pairs) / count if count else np.nan for at in (0, 1))
            cells.append(f"{count:8.0f} {given:6.3f} {true:6.3f}")
        yield f"{low:5.2f} to {min(high, 1.0):5.2f} {cells[0]}        {cells[1]}"


def main() -> None:
    """Learn, or try."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--learn", action="store_true")
    parser.add_argument("--first", type=int)
    parser.add_argument("--flights", type=int)
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    first = asked.first if asked.first is not None else 50000000 if asked.learn else 51000000
    numbers = range(first, first + (asked.flights or (2000 if asked.learn else 1000)))
    with ProcessPoolExecutor(asked.jobs) as pool:
        some = list(pool.map(to_learn if asked.learn else examples, numbers, chunksize=8))
    seen = list(chain.from_iterable(some))
    if asked.learn:
        mix = "flights drawn with an invented mix of faults"
        whose = f"{mix}, numbers {first} to {numbers[-1]}, those with a fault also without their ammeters"
        write(learned(seen), f"ours: {len(seen)} stretches of {whose}")
        return
    print("\n".join(["all", *table(seen)]))
    for ammeter in ("battery", "alternator", "none"):
        part = [one for one in seen if one.ammeter == ammeter and one.kind != "low_rpm"]
        print("\n".join([f"engine fast enough as acted on, ammeter: {ammeter}", *table(part)]) if part else ammeter)


if __name__ == "__main__":
    main()
