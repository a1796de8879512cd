"""What stands open of an aircraft: findings of its trends and of its last flights that nobody has settled."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from analyzer.findings.finding import SEVERITIES
from analyzer.records.changing import Disposition

#: Flights back from the last one in which a flight's own finding still counts as open.
STILL_OPEN = 3
#: Dispositions after which a finding no longer stands open.
SETTLED = ("not found on inspection", "accepted", "fixed")


@dataclass(frozen=True, slots=True)
class Standing:
    """The worst finding that stands open, None when none does."""

    worst: dict[str, Any] | None
    others: int  # kinds of findings that stand open beside it
    flight_id: int | None = None  # the flight that shows the worst one, None when it is one over many flights

    @property
    def more(self) -> str:
        """How many more there are, "And 2 more."; empty when there is none."""
        return f"And {self.others} more." if self.others else ""


def standing(
    over_many: Iterable[dict[str, Any]],
    latest: Sequence[tuple[int, str, Iterable[dict[str, Any]]]],
    dispositions: Iterable[Disposition],
) -> Standing:
    """What stands open.

    Parameters
    ----------
    over_many : findings of the trends by the contract
    latest : id, start and findings of the latest flights, the latest last
    dispositions : what people said of this aircraft's findings
    """
    settled = {(one.finding, one.at) for one in dispositions if one.verdict in SETTLED}
    found: list[tuple[dict[str, Any], int | None]] = [
        (one, None)
        for one in over_many
        if one["lapsed_at"] is None and (one["finding"], one["raised_at"]) not in settled
    ]
    for flight_id, start, own in reversed(latest[-STILL_OPEN:]):
        found += [(one, flight_id) for one in own if (one["finding"], start) not in settled]
    if not found:
        return Standing(None, 0)
    worst, flight_id = max(found, key=lambda one: SEVERITIES.index(one[0]["severity"]))
    return Standing(worst, len({one["finding"] for one, _ in found}) - 1, flight_id)
