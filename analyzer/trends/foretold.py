"""A forecast of a limit as it was made once, and what it came to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from analyzer.trends.history import FlightAt


class Came(StrEnum):
    """What a forecast came to."""

    HELD = "held"  # the limit came within its interval
    SOONER = "sooner"  # before the interval's early end
    LATER = "later"  # not by its late end, whether it came since or not
    OPEN = "open"  # nothing can be said yet, work ended the wait, or nobody saw on which side of an end it came


@dataclass(frozen=True, slots=True)
class Forecast:
    """One forecast as it was made; engine hours count from its own flight [h]."""

    at: FlightAt
    likely: float | None  # None where it was too unsure for one number
    earliest: float
    latest: float
    came: Came


@dataclass(frozen=True, slots=True)
class ForecastRecord:
    """The forecasts of one measure, in order."""

    forecasts: tuple[Forecast, ...]

    def count(self, came: Came) -> int:
        """How many came to that."""
        return sum(one.came == came for one in self.forecasts)
