"""How often work that nobody logged is asked about where it was done, and where it was not.

    .venv/bin/python -m tests.benchmarks.unlogged --tails 60 --seed 700

A line a kind of made tail: those asked about, and of these the share whose days hold the true stand. ``step`` is a set
point that jumped by itself: flights cannot tell it from one that somebody moved, so that its lines are apart.
"""

from __future__ import annotations

import argparse

from analyzer.trends.followed_tail import follow_tail, trends_of
from analyzer.trends.history import History
from analyzer.trends.judging import judge_tail
from analyzer.trends.unlogged import Unlogged, unlogged_work
from tests.trends.made_histories import FAULTY, HEALTHY, made
from tests.trends.made_replacements import CHANGED, UNCHANGED, changed


def asked(history: History) -> tuple[Unlogged, ...]:
    tail = follow_tail(history)
    return unlogged_work(tail, judge_tail(tail, trends_of(tail)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tails", type=int, default=60)
    parser.add_argument("--seed", type=int, default=700)
    given = parser.parse_args()
    seeds = range(given.seed, given.seed + given.tails)
    for kind in CHANGED:
        wanted = "regulator_replaced" if kind == "regulator" else "battery_replaced"
        tails = [changed(kind, seed) for seed in seeds]
        found = [(tail, one) for tail in tails for one in asked(tail.history) if one.kind == wanted]
        held = sum(one.earliest <= tail.between[0] < tail.between[1] <= one.latest for tail, one in found)
        print(f"{kind:<20} asked {len(found) / len(tails):.2f}, within its days {held / max(1, len(found)):.2f}")
    quiet, false = 0, 0
    for kind in (*UNCHANGED, *HEALTHY, *FAULTY):
        own = [asked((changed if kind in UNCHANGED else made)(kind, seed).history) for seed in seeds]
        print(f"{kind:<20} asked {sum(map(len, own)) / len(own):.2f}")
        if kind != "step":
            quiet, false = quiet + len(own), false + sum(map(len, own))
    print(f"{'all but step':<20} asked falsely {false / quiet:.4f} a tail, {false} of {quiet}")


if __name__ == "__main__":
    main()
