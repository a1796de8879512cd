"""What findings say of the battery's capacity: whether one that is worn explains them."""

from __future__ import annotations

from collections.abc import Iterable

from analyzer.limits import limit_value

#: Causes in which the battery has lost capacity.
LOST_CAPACITY = ("battery_worn", "battery_cell")


def shows_wear(likely: Iterable[Iterable[tuple[str, float]]]) -> bool:
    """Whether a battery that lost capacity is likely enough behind one of some findings.

    ``likely`` are each finding's causes, by key, with their shares of the weight. The share of a lost capacity is held
    against ``worn_likely``: an endurance that is too long costs more than one that is too short.
    """
    lost = (sum(weight for key, weight in causes if key in LOST_CAPACITY) for causes in likely)
    return any(share >= limit_value("worn_likely") for share in lost)
