"""The JSON of the contract for what falls due: what ``taper due`` prints. Numbers are rounded here and only here."""

from __future__ import annotations

from msgspec import Struct

from analyzer import CONTRACT
from analyzer.contract_tails import UnloggedEntry, unlogged_entry
from analyzer.service.due_result import (
    BrushesDue,
    CapacityTestDue,
    Due,
    DueKind,
    DueList,
    DueState,
    ForecastDue,
    Origin,
    Unknown,
)


class SinceEntry(Struct, frozen=True):
    """From when a time counts, and what tells it."""

    day: str
    origin: Origin


class DueEntry(Struct, frozen=True, omit_defaults=True, kw_only=True):
    """One thing that falls due."""

    tail: str
    what: DueKind
    state: DueState
    on: str | None
    because: Unknown | None
    since: SinceEntry | None
    tested: float | None = None
    hours_run: float | None = None
    hours_a_week: float | None = None
    measure: str | None = None
    limit: float | None = None
    unit: str | None = None
    earliest_h: float | None = None


class AskedEntry(Struct, frozen=True):
    """A battery that may have been replaced and that nobody logged."""

    tail: str
    work: UnloggedEntry


class DueDocument(Struct, frozen=True, omit_defaults=True):
    """What falls due."""

    contract: int
    as_of: str
    tails: tuple[str, ...]
    due: tuple[DueEntry, ...]
    asked: tuple[AskedEntry, ...] = ()


def due_entry(due: DueList) -> DueDocument:
    """The list as the contract has it."""
    asked = tuple(AskedEntry(one.tail, unlogged_entry(one.work)) for one in due.asked)
    return DueDocument(CONTRACT, due.as_of.isoformat(), due.tails, tuple(_entry(one) for one in due.items), asked)


def _entry(one: Due) -> DueEntry:
    since = None if isinstance(one, ForecastDue) or one.since is None else one.since
    rate = one.hours_a_week if isinstance(one, BrushesDue | ForecastDue) else None
    forecast = one.coming if isinstance(one, ForecastDue) else None
    run = one.run if isinstance(one, BrushesDue) else None
    return DueEntry(
        tail=one.tail,
        what=one.kind,
        state=one.state,
        on=None if one.on is None else one.on.isoformat(),
        because=one.unknown,
        since=None if since is None else SinceEntry(since.day.isoformat(), since.origin),
        tested=one.low if isinstance(one, CapacityTestDue) else None,
        hours_run=None if run is None else round(run, 1),
        hours_a_week=None if rate is None else round(rate, 2),
        measure=None if forecast is None else forecast.measure,
        limit=None if forecast is None else round(forecast.limit, 4),
        unit=None if forecast is None else forecast.unit,
        earliest_h=None if forecast is None else round(forecast.reached.earliest, 1),
    )
