"""All flights of a tail once more, from what is kept."""

from __future__ import annotations

from datetime import datetime

from analyzer.records.kept import fleet_kept
from analyzer.records.replay import ReplayedFlight, kept_readings, replay_log
from analyzer.records.store import Store


def replay(
    store: Store, tail: str, since: datetime | None = None, until: datetime | None = None
) -> list[ReplayedFlight]:
    """A tail's flights of a period, judged as today, in order of time."""
    aircraft = fleet_kept(store).of(tail)
    return [flight for kept in kept_readings(store, tail, since, until) for flight in replay_log(kept, aircraft)]
