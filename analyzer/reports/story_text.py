"""A flight's story as text for a terminal: when, what the meters did, and on demand why."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from itertools import zip_longest

from analyzer.measures.power_flow import PowerFlow
from analyzer.reports.flow_words import flow_line, flow_sentence, instruments
from analyzer.reports.story import Sentence
from analyzer.reports.text import Style, wrapped


def story_text(
    told: Iterable[Sentence],
    clock: Callable[[float], datetime | None],
    style: Style,
    *,
    why: bool,
    flows: Iterable[PowerFlow] = (),
) -> str:
    """The story, a paragraph a moment; ``clock`` gives the time of day of a time in the log, ``why`` adds reasons.

    ``flows``, where the power goes at each moment, are told below it where they are given.
    """
    lines = [style.paint("What the meters did", "head")]
    for one, flow in zip_longest(told, flows):
        at = clock(one.from_s)
        when = f"{at:%H:%M:%S}" if at else f"{one.from_s / 60.0:5.1f} min"
        severity = f"{one.severity.upper()}: " if one.severity else ""
        lines += wrapped(f"{when:<9} {severity}{one.says}", "  ", " " * 10)
        if why and one.why:
            lines += [style.paint(line, "faint") for line in wrapped(one.why, " " * 12, "")]
        if flow is not None:
            shown = "; ".join(f"{name.lower()} {value}" for name, value in instruments(flow))
            for words in (flow_sentence(flow), flow_line(flow), f"Instruments: {shown}."):
                lines += wrapped(words, " " * 12, "")
    return "\n".join(lines) + "\n"
