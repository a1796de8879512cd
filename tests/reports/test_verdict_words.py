"""Every verdict that the analysis gives has its words."""

from __future__ import annotations

from analyzer.reports.entry_text import VERDICTS
from analyzer.trends.comparison import WorkVerdict


def test_every_verdict_on_an_entry_has_words() -> None:
    assert set(VERDICTS) == set(WorkVerdict)
