"""How well logs of uncommon aircraft, batteries and recorders are read and judged.

    python -m tests.benchmarks.uncommon [--seed 1] [--logs 110] [--jobs 2] [--kind NAME ...] [--write FOLDER]

Draws logs of many kinds from a seed with their truth, runs ``taper review --json`` and ``taper columns --json``
on each in this process, and prints ``musts N/M`` by kind and each miss. The physics is ``uncommon_logs.physics``, which
shares nothing with the simulator of the project. Not part of the normal test run: it takes some minutes.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import tempfile
import warnings
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from analyzer.cli import main as taper
from tests.benchmarks.uncommon_logs.cases import Case
from tests.benchmarks.uncommon_logs.files import file_name, written
from tests.benchmarks.uncommon_logs.kinds import KINDS, ROUND, draw_case
from tests.benchmarks.uncommon_logs.truth import Mark, mark, mark_trend


@dataclass(frozen=True, slots=True)
class Answer:
    """One log, marked."""

    number: int
    kind: str
    about: str
    source: str
    setting: str
    marks: tuple[Mark, ...]

    @property
    def points(self) -> tuple[int, int]:
        """Points earned and asked for."""
        return sum(one.missed is None for one in self.marks), len(self.marks)


def save(made: Case, folder: Path) -> tuple[list[Path], Path | None]:
    """Write a case's logs, the one that is marked last, and its fleet file where it has one."""
    paths = []
    for one in (*made.beside, made):
        paths.append(folder / file_name(one.tail, one.layout))
        paths[-1].write_text(written(one.record, one.layout), "utf-8")
    if not made.fleet:
        return paths, None
    fleet = folder / f"{made.tail}.toml"
    fleet.write_text("\n".join([f"[aircraft.{made.tail}]", *made.fleet]) + "\n", "utf-8")
    return paths, fleet


def ask(arguments: list[str]) -> tuple[dict[str, Any], str]:
    """A command's document, and what was wrong with the run."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            taper(arguments)
        except SystemExit:
            pass
        except Exception as fault:
            return {}, repr(fault)
    said = err.getvalue()
    trouble = said if "Traceback" in said or "Warning" in said else ""
    trouble = trouble or "; ".join(str(one.message) for one in told if one.category is RuntimeWarning)
    try:
        document: dict[str, Any] = json.loads(out.getvalue())
    except ValueError:
        return {}, said.strip() or "no document"
    return document, trouble


def examine(seed: int, number: int, keep: Path | None = None) -> Answer:
    """Draw a log, have it judged, mark it."""
    made = draw_case(seed, number)
    with tempfile.TemporaryDirectory() as scratch:
        folder = (keep or Path(scratch)) / f"{number:04d}-{made.kind}"
        folder.mkdir(exist_ok=True)
        paths, fleet = save(made, folder)
        more = ["--fleet", str(fleet)] if fleet else []
        document, trouble = ask(["review", *map(str, paths), "--json", *more])
        columns = ask(["columns", str(paths[-1]), "--json"])[0] if made.truth.roles else {}
        trend = ask(["trend", "--json", "--from", *map(str, paths), *more])[0] if made.truth.trend else {}
    entry = next((log for log in document.get("logs", ()) if log["source"] == str(paths[-1])), {})
    marks = mark(made.truth, entry, (columns.get("logs") or [{}])[0], trouble)
    marks += mark_trend(made.truth.trend, trend) if made.truth.trend else []
    period = made.record.time_s[1] - made.record.time_s[0]
    setting = f"{period:g} s, {', '.join(made.layout.names.values())}"
    return Answer(number, made.kind, made.truth.about, paths[-1].name, setting, tuple(marks))


def table(answers: list[Answer]) -> list[str]:
    """Points by kind, worst first, and the sum."""
    by_kind: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for answer in answers:
        got, of = answer.points
        row = by_kind[answer.kind]
        row[:] = row[0] + got, row[1] + of, row[2] + (got == of), row[3] + 1
    lines = [f"{'kind':26s} {'musts':>9s} {'clean logs':>10s}"]
    for kind, (got, of, clean, logs) in sorted(by_kind.items(), key=lambda one: one[1][0] / one[1][1]):
        lines.append(f"{kind:26s} {f'{got}/{of}':>9s} {f'{clean}/{logs}':>10s}")
    got, of = (sum(answer.points[i] for answer in answers) for i in (0, 1))
    lines.append(f"musts {got}/{of} ({100 * got / of:.1f} %)")
    return lines


def main() -> None:
    """Print each miss, then the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--logs", type=int, default=2 * len(ROUND))
    parser.add_argument("--first", type=int, default=0, help="number of the first log")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--kind", action="append", choices=list(KINDS), help="only this kind")
    parser.add_argument("--write", type=Path, metavar="FOLDER", help="keep the logs there")
    asked = parser.parse_args()
    if asked.write:
        asked.write.mkdir(parents=True, exist_ok=True)
    numbers = [
        number
        for number in range(asked.first, asked.first + asked.logs)
        if not asked.kind or ROUND[number % len(ROUND)] in asked.kind
    ]
    os.environ["COLUMNS"] = "200"
    with ProcessPoolExecutor(asked.jobs) as pool:
        answers = list(pool.map(partial(examine, asked.seed, keep=asked.write), numbers))
    for answer in answers:
        missed = [one for one in answer.marks if one.missed]
        shown = missed if answer.marks[0].missed is None else missed[:2]  # nothing else can be right unread
        for one in shown:
            print(f"miss {answer.kind}#{answer.number} [{answer.about}; {answer.setting}] {one.what}: {one.missed}")
        if len(missed) > len(shown):
            print(f"miss {answer.kind}#{answer.number} and {len(missed) - len(shown)} points more")
    print("\n".join(table(answers)))


if __name__ == "__main__":
    main()
