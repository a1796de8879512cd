"""How a page asks again and again how far something has come: the next question waits for the last answer."""

from __future__ import annotations

from typing import Any

from dash import Output

#: While an answer is awaited a clock stands [ms]: an hour, so that a lost answer does not stop it for ever.
STANDS_MS = 3_600_000


def once_answered(clock: str, every_ms: float) -> list[tuple[Any, Any, Any]]:
    """What a callback that a clock drives does with it while it runs (Dash's ``running``).

    Dash lays an answer aside when the same question is asked anew before it came. Asked more often than it is
    answered, over a slow line or beside much work, a page would never show anything.
    """
    return [(Output(clock, "interval"), STANDS_MS, every_ms)]
