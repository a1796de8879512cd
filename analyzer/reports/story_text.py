"""A flight's story as text for a terminal: when, what the meters did, and on demand why."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime

from analyzer.reports.story import Sentence
from analyzer.reports.text import Style, wrapped


def story_text(told: Iterable[Sentence], clock: Callable[[float], datetime | None], style: Style, *, why: bool) -> str:
    """The story, a paragraph a moment; ``clock`` gives the time of day of a time in the log, ``why`` adds reasons."""
    lines = [style.paint("What the meters did", "head")]
    for one in told:
        at = clock(one.from_s)
        when = f"{at:%H:%M:%S}" if at else f"{one.from_s / 60.0:5.1f} min"
        severity = f"{one.severity.upper()}: " if one.severity else ""
        lines += wrapped(f"{when:<9} {severity}{one.says}", "  ", " " * 10)
        if why and one.why:
            lines += [style.paint(line, "faint") for line in wrapped(one.why, " " * 12, "")]
    return "\n".join(lines) + "\n"
