"""Times of a log on a figure's axis: its clock where it has one, minutes from its first row otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from analyzer.series import Floats

EPOCH = datetime(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """Seconds from a log's first row, to and from a figure's axis."""

    start: datetime | None  # clock at the log's first row, without a zone

    @property
    def title(self) -> str:
        """What stands at the axis."""
        return "clock of the log" if self.start else "minutes from the start of the log"

    @property
    def kind(self) -> str:
        """Plotly's type of axis."""
        return "date" if self.start else "linear"

    @property
    def unit(self) -> float:
        """How much one second is on the axis (milliseconds, or minutes)."""
        return 1000.0 if self.start else 1.0 / 60.0

    def place(self, seconds: float | Floats) -> float | Floats:
        """Place on the axis; numbers, which travel smaller than dates in words."""
        origin = (self.start - EPOCH) / timedelta(milliseconds=1) if self.start else 0.0
        return (
            origin + np.asarray(seconds, dtype=np.float64) * self.unit
            if np.ndim(seconds)
            else (origin + float(seconds) * self.unit)
        )

    def has(self, place: float | str) -> bool:
        """Whether a place is one of this axis: of minutes, a date in words is none."""
        return self.start is not None or not isinstance(place, str)

    def seconds(self, place: float | str) -> float:
        """Seconds from the log's first row of a place as the browser reports it (a number, or a date in words)."""
        if self.start is None:
            return float(place) / self.unit
        if isinstance(place, str):
            moment = datetime.fromisoformat(place.strip().replace(" ", "T"))
            return (moment.replace(tzinfo=None) - self.start).total_seconds()
        return (float(place) - float(self.place(0.0))) / self.unit

    def words(self, seconds: float) -> str:
        """A moment for a person: "09:14:05", or "12.3 min"."""
        if self.start is None:
            return f"{seconds / 60.0:.1f} min"
        return f"{self.start + timedelta(seconds=seconds):%H:%M:%S}"
