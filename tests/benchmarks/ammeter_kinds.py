"""Learns what each observation of an untyped ammeter says of its kind, and tries it on flights drawn afterwards.

    python tests/benchmarks/ammeter_kinds.py --learn [--cases FOLDER ...]     writes the evidence table
    python tests/benchmarks/ammeter_kinds.py [--first 910000]               accuracy, by stratum

Each drawn flight is flown once with both kinds of ammeter and judged as each of them, with its voltmeter and
without. The log odds of all observations' classes are learned together, by logistic regression with a ridge, so
that observations that repeat each other are not counted twice; an observation that is not seen says nothing.
Flights for learning and for trying have different numbers, and so nothing in common.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from drawn_flights import scenario_of
from msgspec import structs

from analyzer.flights.ammeter import EVIDENCE_FILE, kind_by, load_evidence
from analyzer.flights.cut import cut_flights
from analyzer.logs import Refusal, find_logs, read_log
from analyzer.logs.readings import Readings
from analyzer.simulator import Ammeter, SimulatedFlight, simulate
from analyzer.simulator.as_log import as_log

KINDS = ("battery", "alternator")
#: Prior standard deviation of one class's log odds: a class seen in few flights stays near nothing.
SPREAD = 2.5


@dataclass(frozen=True, slots=True)
class Example:
    """One flight, judged as one kind of ammeter."""

    kind: str  # true
    found: str
    stratum: tuple[str, ...]
    volts: bool
    values: dict[str, float]  # scaled observations


def flown(number: int) -> tuple[SimulatedFlight, tuple[str, ...]]:
    """One drawn flight with both ammeters, each with its own instrument's errors; and the roles not recorded."""
    _, _, scenario, without = scenario_of(number)
    rng = np.random.default_rng([number, 7])

    def ammeter(kind: str) -> Ammeter:
        return Ammeter(
            kind=kind,  # type: ignore[arg-type]
            resolution_a=float(rng.choice([0.1, 0.1, 0.5, 1.0])),
            offset_a=float(rng.choice([0.0, rng.uniform(-0.4, 0.4), rng.uniform(-0.8, 0.8)])),
            noise_a=rng.uniform(0.05, 0.4),
            lag_s=rng.uniform(0.0, 0.8),
        )

    return simulate(replace(scenario, ammeters=tuple(ammeter(kind) for kind in KINDS))), without


def examples(number: int) -> list[Example]:
    """Up to four: each kind, with its voltmeter and without."""
    flight, without = flown(number)
    found = []
    for kind in KINDS:
        other = f"{KINDS[1 - KINDS.index(kind)]}_current"
        for volts in (True, False):
            left_out = (*without, other, *(() if volts else ("bus_voltage",)))
            log = as_log(flight, without=left_out)
            log = structs.replace(log, readings=Readings.of(log.table.rename({f"{kind}_current": "ammeter_current"})))
            cut = cut_flights(log)
            if len(cut) == 1 and cut[0].ammeter.observations:
                period = flight.scenario.recorder.period_s
                stratum = (
                    f"{flight.scenario.nominal_voltage} V",
                    kind,
                    "volts" if volts else "no volts",
                    "rpm" if "engine_speed" not in without else "no rpm",
                    f"{'to 1' if period <= 1 else '2 to 6'} s",
                )
                values = {one.name: one.value for one in cut[0].ammeter.observations}
                found.append(Example(kind, kind_by(cut[0].ammeter.observations)[0], stratum, volts, values))
    return found


def of_cases(folder: Path) -> list[Example]:
    """The flights of a folder of public cases with one ammeter, as if its header did not tell its kind."""
    found = []
    for name, truth in json.loads((folder / "truth.json").read_text("utf-8"))["flights"].items():
        log = read_log(next(iter(find_logs([folder / name]))))
        if isinstance(log, Refusal) or truth["ammeter"] not in KINDS:
            continue
        currents = [column for column in log.table.columns if column.endswith("_current")]
        for volts in (True, False) if len(currents) == 1 else ():
            table = log.table.rename({currents[0]: "ammeter_current"})
            cut = cut_flights(structs.replace(log, readings=Readings.of(table if volts else table.drop("bus_voltage"))))
            if len(cut) == 1 and cut[0].ammeter.observations:
                stratum = (f"{truth['nominal_voltage']} V", truth["ammeter"], "volts" if volts else "no volts")
                values = {one.name: one.value for one in cut[0].ammeter.observations}
                found.append(Example(truth["ammeter"], kind_by(cut[0].ammeter.observations)[0], stratum, volts, values))
    return found


def learned(seen: list[Example]) -> dict[str, list[float]]:
    """Log odds of each class of each observation, from flights of known kind."""
    evidence = load_evidence()
    places = dict.fromkeys(evidence, 0)
    width = 0
    for name, entry in evidence.items():
        places[name], width = width, width + len(entry.edges) + 1
    design, battery = np.zeros((len(seen), width)), np.zeros(len(seen))
    for row, example in enumerate(seen):
        battery[row] = example.kind == "battery"
        for name, value in example.values.items():
            design[row, places[name] + int(np.searchsorted(evidence[name].edges, value))] = 1.0
    odds = np.zeros(width)
    for _ in range(30):  # Newton's steps on the penalised likelihood
        chance = 1.0 / (1.0 + np.exp(-design @ odds))
        gradient = design.T @ (battery - chance) - odds / SPREAD**2
        curvature = (design * (chance * (1.0 - chance))[:, None]).T @ design + np.eye(width) / SPREAD**2
        odds += np.linalg.solve(curvature, gradient)
    return {
        name: [round(float(one), 2) for one in odds[places[name] : places[name] + len(entry.edges) + 1]]
        for name, entry in evidence.items()
    }


def write(seen: list[Example], source: str) -> None:
    """Put the learned log odds into the evidence table; its words and edges stay."""
    tables = [learned([one for one in seen if one.volts is volts]) for volts in (True, False)]
    lines = []
    name = ""
    for line in EVIDENCE_FILE.read_text("utf-8").splitlines():
        if line.startswith("[observations."):
            name = line[len("[observations.") : -1]
        for key, table in zip(("with_volts", "without_volts"), tables, strict=True):
            if line.startswith(f"{key} ="):
                line = f"{key} = {table[name]}"
        if line.startswith("source ="):
            line = f'source = "{source}"'
        lines.append(line)
    EVIDENCE_FILE.write_text("\n".join(lines) + "\n", "utf-8")


def table(seen: list[Example]) -> Iterator[str]:
    """Accuracy by stratum."""
    groups: dict[str, list[Example]] = defaultdict(list)
    for example in seen:
        groups["all"].append(example)
        for part in example.stratum:
            groups[part].append(example)
        groups[" ".join(example.stratum[:3])].append(example)
    yield f"{'flights':32s} {'n':>6s} {'right':>6s} {'wrong':>6s} {'unknown':>8s}"
    for name, group in sorted(groups.items()):
        right = sum(one.found == one.kind for one in group)
        unknown = sum(one.found == "unknown" for one in group)
        wrong = len(group) - right - unknown
        yield f"{name:32s} {len(group):6d} {right / len(group):6.3f} {wrong:6d} {unknown:8d}"


def main() -> None:
    """Learn, or try."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--learn", action="store_true")
    parser.add_argument("--first", type=int)
    parser.add_argument("--flights", type=int)
    parser.add_argument("--cases", type=Path, nargs="*", default=[], help="folders of public cases with their truth")
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    first = asked.first if asked.first is not None else 700000 if asked.learn else 910000
    count = asked.flights or (800 if asked.learn else 400)
    with ProcessPoolExecutor(asked.jobs) as pool:
        seen = [one for some in pool.map(examples, range(first, first + count), chunksize=8) for one in some]
    seen += [one for folder in asked.cases for one in of_cases(folder)]
    if asked.learn:
        also = " and the public cases" if asked.cases else ""
        write(seen, f"ours: {len(seen)} looks at drawn flights, numbers {first} to {first + count - 1},{also}")
    print("\n".join(table(seen)))


if __name__ == "__main__":
    main()
