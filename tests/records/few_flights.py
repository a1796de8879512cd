"""A few flights of known moments and hours, kept without logs: small enough to count by hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

from analyzer.records.store import Store, open_records
from analyzer.trends.history import FlightSummary, History, Reading
from tests.records.kept_histories import keep_history


def flight(
    start: datetime | None, hours: float = 1.0, *, file: str = "", number: int = 1, **readings: float
) -> FlightSummary:
    """A flight with some measures, each with an interval of a hundredth to both sides."""
    told = {name: Reading(value, value - 0.01, value + 0.01) for name, value in readings.items()}
    end = None if start is None else start + timedelta(hours=hours)
    return FlightSummary(start, end, hours, 14, "battery", None, None, None, told, (), file, number)


def keep_as_given(store: Store, tail: str, flights: Sequence[FlightSummary]) -> None:
    """Keep flights in the order given, each a log of its own, copies as well."""
    keep_history(store, tail, History(tail, tuple(flights)))


@contextmanager
def kept_flights(folder: Path, flown: Mapping[str, Sequence[FlightSummary]]) -> Iterator[Store]:
    """Records of some tails with these flights, kept as given."""
    with open_records(folder / "few", create=True) as store:
        for tail, flights in flown.items():
            keep_as_given(store, tail, flights)
        yield store
