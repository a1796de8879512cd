"""What falls due, as text for a terminal."""

from __future__ import annotations

import sys

from analyzer.phrases import counted
from analyzer.reports.due_words import DEFERS, asked_words, due_words, not_known
from analyzer.reports.text import Style, cautions, wrapped
from analyzer.service.due_result import DueList, DueState

#: How what is due now and soon is painted on a terminal.
_PAINTED = {DueState.OVERDUE: "caution", DueState.SOON: "advisory"}


def due_text(due: DueList) -> str:
    """The list as text, the most urgent first."""
    style = Style.of(sys.stdout)
    if not due.tails:
        return "No flight is kept yet. Start with: taper add PATH\n"
    lines = [style.paint(f"{'aircraft':<10}{'when':<22}what", "head")]
    known = [one for one in due.items if one.state is not DueState.UNKNOWN]
    for one in known:
        told = due_words(one)
        when = f"{told.when:<22}"
        painted = style.paint(when, _PAINTED[one.state]) if one.state in _PAINTED else when
        lines.append(f"{one.tail:<10}{painted}{told.title}")
        lines += wrapped(told.why, " " * 32)
    if not known:
        lines.append("nothing that is known")
    for group in not_known(due.items):
        lines += ["", *wrapped(f"{group.title}, {', '.join(group.tails)}: {group.why}", "")]
    for asked in due.asked:
        lines += ["", *wrapped(f"{asked.tail}: {asked_words(asked)} taper trend {asked.tail} shows how to log it.", "")]
    lines += ["", *wrapped(f"{counted(len(due.tails), 'aircraft', 'aircraft')}. {DEFERS}", "", ""), ""]
    return "\n".join(lines) + "\n" + cautions(style)
