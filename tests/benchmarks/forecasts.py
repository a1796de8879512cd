"""How right forecasts of a limit are on made wear whose end is known.

    .venv/bin/python -m tests.benchmarks.forecasts [--questions 60] [--seed 1] [--tails]

A row each kind of wear and share of its life at which it is asked: the share of questions that get an answer; of these
the share whose stated time lies within 20 % and within 35 % of the truth, that is later than 1.25 times the truth, and
whose interval holds the truth; and the middle of stated over true time. With ``--tails`` the same from whole flights of
aircraft, with seasons, scatter, gaps and flying rates from wide ranges, of shapes that the forecast was not set up on;
and of how many tails without wear nothing is foretold. Not part of the normal test run.
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
    """The answer to one question, in times the truth; None where there was none."""

    stated: float | None
    earliest: float = 0.0
    latest: float = 0.0


def of_series(kind: Wear, share: float, count: int, seed: int) -> list[Told]:
    """Answers from bare series."""
    ends = limit_value("projection_earliest"), limit_value("projection_latest")
    return [
        Told(*(one / asked_of.left_h for one in (asked_of.reach.stated, *map(asked_of.reach.within, ends))))
        if asked_of.reach.told
        else Told(None)
        for asked_of in asked(kind, share, count, seed)
    ]


def of_tails(kind: Wear, share: float, count: int, seed: int) -> list[Told]:
    """Answers from whole flights."""
    return [
        Told(None) if (ahead := one.ahead) is None
        else Told(*(hours / one.left_h for hours in (ahead.likely, ahead.earliest, ahead.latest)))
        for one in answers(kind, share, count, seed)
    ]  # fmt: skip


def row(told: list[Told]) -> tuple[float, ...]:
    """Shares: answered; of these within 20 %, within 35 %, late, held; and the middle of stated over true time."""
    given = [one for one in told if one.stated is not None]
    ratio = np.array([one.stated for one in given], dtype=np.float64)
    held = [one.earliest <= 1.0 <= one.latest for one in given]
    near = [float((np.abs(ratio - 1.0) <= share).mean()) for share in (0.2, 0.35)]
    return (
        len(given) / len(told), *near, float((ratio > 1.25).mean()), float(np.mean(held)), float(np.median(ratio))
    )  # fmt: skip


def show(name: str, share: float, told: list[Told]) -> None:
    """Print a row."""
    print(f"{name:15s} {share:.2f} " + "  ".join(f"{figure:4.2f}" for figure in row(told)), flush=True)


def table(kinds: Iterable[Wear], ask: Callable[[Wear, float, int, int], list[Told]], count: int, seed: int) -> None:
    """Print the rows of each kind and share, and those of all kinds together but knees."""
    print(f"{'kind':15s} life given  20 %  35 %  late  held  middle")
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
