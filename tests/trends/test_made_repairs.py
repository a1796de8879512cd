"""Did it help, on invented repairs with known answers: right nearly always, and never "helped" where it did not."""

from __future__ import annotations

from collections import Counter

import pytest
from made_repairs import RIGHT, repair

from analyzer.trends.comparison import compare_entries
from analyzer.trends.followed_tail import follow_tail

SEEDS = range(3000, 3024)


@pytest.fixture(scope="module")
def verdicts() -> dict[str, Counter[str]]:
    """What was said of each kind of repair."""
    said: dict[str, Counter[str]] = {came: Counter() for came in RIGHT}
    for came in RIGHT:
        for seed in SEEDS:
            (one,) = compare_entries(follow_tail(repair(came, seed).history))
            said[came][str(one.verdict)] += 1
    return said


def test_nearly_every_verdict_is_right(verdicts: dict[str, Counter[str]]) -> None:
    right = {came: sum(said[word] for word in RIGHT[came]) / len(SEEDS) for came, said in verdicts.items()}
    assert sum(right.values()) / len(right) >= 0.96, verdicts
    assert min(right.values()) >= 0.85, verdicts


@pytest.mark.parametrize("came", ["in vain", "new", "back", "sound"])
def test_work_that_did_not_help_is_not_said_to_have_helped(verdicts: dict[str, Counter[str]], came: str) -> None:
    assert verdicts[came]["helped"] == 0
