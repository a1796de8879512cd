"""An endurance plan as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from analyzer.measures.planning import Case, Preset
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.text import Style, wrapped
from analyzer.reports.wording import interval_words, value_words


def plan_text(head: str, given: Preset, cases: Iterable[Case], style: Style) -> str:
    """The plan: each case with its load, what to plan on and the interval; then where the numbers come from."""
    lines = [style.paint(head, "head")]
    for one in cases:
        if one.lasts.value is None:
            lines += wrapped(f"{one.words}: not measurable, {one.lasts.because}", "  ")
            continue
        lines += wrapped(
            f"{one.words:<34} {one.load:5.1f} A   plan on {value_words(one.lasts)}, {interval_words(one.lasts)}", "  "
        )
    for sentence in given.basis.values():
        lines += wrapped(sentence, "  ")
    return "\n".join([*lines, *wrapped(CAUTIONS[1], "  ")]) + "\n"
