"""How right forecasts of a limit are on made wear whose end is known.

    .venv/bin/python -m tests.benchmarks.forecasts [--questions 60] [--seed 1] [--tails]

A row each kind of wear and share of its life at which it is asked: the share of questions that get an interval, and the
share of these that holds the truth; the share that gets one number as well, and of these the share within 20 % and
within 35 % of the truth, and later than 1.25 times the truth; and the middle of stated over true time. With ``--tails``
the same from whole flights of aircraft, with seasons, scatter, gaps and flying rates from wide ranges, of shapes that
the forecast was not set up on; and of how many tails without wear nothing is foretold. Not part of the normal test run.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from analyzer.limits import limit_value
from tests.trends.made_wear import ALL_KINDS, Wear, asked
from tests.trends.made_worn_tails import SMOOTH, answers, foretold_without_wear, knee

SHARES = (0.5, 0.7, 0.85, 0.95, 0.98)


@dataclass(frozen=True)
class Told:
    """The answer to one question, in times the truth; nothing where there was none."""

    interval: tuple[float, float] | None = None
    stated: float | None = None  # None too where it was too unsure for one number


def _told(left_h: float, interval: tuple[float, float], stated: float | None) -> Told:
    return Told((interval[0] / left_h, interval[1] / left_h), None if stated is None else stated / left_h)


def of_series(kind: Wear, share: float, count: int, seed: int) -> list[Told]:
    """Answers from bare series."""
    early, late = limit_value("projection_earliest"), limit_value("projection_latest")
    return [
        _told(one.left_h, (one.reach.within(early), one.reach.within(late)), one.reach.stated())
        if one.reach.told
        else Told()
        for one in asked(kind, share, count, seed)
    ]


def of_tails(kind: Wear, share: float, count: int, seed: int) -> list[Told]:
    """Answers from whole flights."""
    return [
        Told() if (ahead := one.ahead) is None else _told(one.left_h, (ahead.earliest, ahead.latest), ahead.likely)
        for one in answers(kind, share, count, seed)
    ]


def row(told: list[Told]) -> tuple[float, ...]:
    """Shares: foretold, of these held; with a number, of these within 20 %, within 35 %, late; and stated over true."""
    ends = [one.interval for one in told if one.interval is not None]
    held = float(np.mean([earliest <= 1.0 <= latest for earliest, latest in ends]))
    ratio = np.array([one.stated for one in told if one.stated is not None], dtype=np.float64)
    near = [float((np.abs(ratio - 1.0) <= share).mean()) for share in (0.2, 0.35)]
    numbered = ratio.size / len(told)
    return len(ends) / len(told), held, numbered, *near, float((ratio > 1.25).mean()), float(np.median(ratio))


def show(name: str, share: float, told: list[Told]) -> None:
    """Print a row."""
    print(f"{name:15s} {share:.2f} " + "  ".join(f"{figure:4.2f}" for figure in row(told)), flush=True)


def table(kinds: Iterable[Wear], ask: Callable[[Wear, float, int, int], list[Told]], count: int, seed: int) -> None:
    """Print the rows of each kind and share, and those of all kinds together but knees."""
    print(f"{'kind':15s} life told  held  number 20 %  35 %  late  middle")
    smooth: dict[float, list[Told]] = {share: [] for share in SHARES}
    for kind in kinds:
        for share in SHARES:
            told = ask(kind, share, count, seed)
            show(kind.__name__, share, told)
            smooth[share] += told if kind in SMOOTH else []
    for share, told in smooth.items():
        if told:
            show("all smooth", share, told)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--questions", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--tails", action="store_true", help="from whole flights of aircraft")
    given = parser.parse_args()
    if not given.tails:
        table(ALL_KINDS, of_series, given.questions, given.seed)
        return
    table((*SMOOTH, knee), of_tails, given.questions, given.seed)
    silent = [count == 0 for count in foretold_without_wear(given.questions, given.seed)]
    print(f"without wear: nothing foretold of {sum(silent)} tails of {len(silent)}")


if __name__ == "__main__":
    main()
