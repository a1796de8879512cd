"""Every verdict that the analysis gives has its words."""

from __future__ import annotations

from typing import get_args, get_type_hints

from analyzer.reports.entry_text import VERDICTS
from analyzer.trends.comparison import Comparison


def test_every_verdict_on_an_entry_has_words() -> None:
    assert set(VERDICTS) == set(get_args(get_type_hints(Comparison)["verdict"]))
