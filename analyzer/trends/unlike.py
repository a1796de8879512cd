"""Flights unlike the tail's own: no rule fits, yet several measures stand where they never stood before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from analyzer.trends.tail import FollowedTail


@dataclass(frozen=True, slots=True)
class Unlike:
    """One flight that departs from its tail's history, and the measures that stand out."""

    flight: int
    start: datetime
    score: float
    measures: tuple[tuple[str, float], ...]  # measure, standard deviations from the tail's own

    def document(self) -> dict[str, Any]:
        """The entry for the JSON result."""
        return {
            "flight": self.flight,
            "start": self.start.isoformat(),
            "score": round(self.score, 2),
            "measures": [{"measure": name, "deviations": round(away, 1)} for name, away in self.measures],
        }


def unlike_itself(tail: FollowedTail) -> tuple[Unlike, ...]:
    """Give the flights without findings that depart from their tail's history."""
    return ()
