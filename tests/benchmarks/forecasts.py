"""How right forecasts of a limit are on made wear whose end is known.

    python tests/benchmarks/forecasts.py [--questions 60] [--seed 1]

A row each kind of wear and share of its life at which it is asked: the share of questions that get an answer, the share
whose stated time lies within 20 % and within 35 % of the truth, that is later than 1.25 times the truth, and whose
interval holds the truth. Not part of the normal test run.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

from analyzer.limits import limit_value

sys.path.insert(0, str(Path(__file__).parents[1] / "trends"))

from made_wear import ALL_KINDS, Asked, asked


def row(questions: list[Asked]) -> tuple[float, ...]:
    """Shares: answered; of these within 20 %, within 35 %, late, held; and the middle of stated over true time."""
    ends = limit_value("projection_earliest"), limit_value("projection_latest")
    given = [one for one in questions if one.reach.chance[-1] >= ends[1]]
    ratio = np.array([one.reach.stated / one.left_h for one in given])
    held = [one.reach.within(ends[0]) <= one.left_h <= one.reach.within(ends[1]) for one in given]
    near = [float((np.abs(ratio - 1.0) <= share).mean()) for share in (0.2, 0.35)]
    return (
        len(given) / len(questions), *near, float((ratio > 1.25).mean()), float(np.mean(held)), float(np.median(ratio))
    )  # fmt: skip


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--questions", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    print(f"{'kind':15s} life given  20 %  35 %  late  held  middle")
    for kind in ALL_KINDS:
        for share in (0.5, 0.7, 0.85):
            figures = row(asked(kind, share, given.questions, given.seed))
            print(f"{kind.__name__:15s} {share:.2f} " + "  ".join(f"{figure:4.2f}" for figure in figures))


if __name__ == "__main__":
    main()
