"""The JSON of the contract for the fleet: what ``taper fleet`` prints. Numbers are rounded here and only here."""

from __future__ import annotations

from msgspec import Struct

from analyzer import CONTRACT
from analyzer.contract import iso, rounded
from analyzer.contract_tails import (
    LatestEntry,
    TrendFindingEntry,
    change_entry,
    latest_entry,
    trend_finding_entry,
)
from analyzer.findings.finding import FindingName
from analyzer.trends.comparison import Comparison, WorkVerdict
from analyzer.trends.fleet_result import FleetResult, FleetRow, Happened, Happening, MeasureStep, NextLimit, Spread
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import Condition


class NextLimitEntry(Struct, frozen=True):
    """The limit that may be reached first."""

    measure: str
    limit: float
    unit: str
    reaches_limit_in_h: float | None  # None where it is too unsure for one number
    earliest_h: float
    latest_h: float


class HappeningEntry(Struct, frozen=True, omit_defaults=True, kw_only=True, rename={"before": "from", "after": "to"}):
    """One thing that changed."""

    when: str
    what: Happened
    finding: FindingName | None = None
    measure: str | None = None
    before: float | None = None
    after: float | None = None
    kind: str | None = None
    verdict: WorkVerdict | None = None


class FleetRowEntry(Struct, frozen=True, omit_defaults=True, kw_only=True):
    """One aircraft of the fleet."""

    tail: str
    condition: Condition
    flights: int
    hours: float
    last_flight: str | None
    worst_finding: TrendFindingEntry | LatestEntry | None
    open_findings: tuple[FindingName, ...]
    in_latest_flights: tuple[LatestEntry, ...]
    next_limit: NextLimitEntry | None
    stale_flights: int
    changed: tuple[HappeningEntry, ...] | None = None


class SpreadEntry(Struct, frozen=True):
    """A measure's present level over aircraft of one system voltage."""

    nominal_voltage: int | None
    measure: str
    tails: int
    median: float
    deviation: float
    apart: tuple[str, ...]


class FleetEntry(Struct, frozen=True):
    """What ``taper fleet --json`` prints."""

    contract: int
    since: str | None
    tails: tuple[FleetRowEntry, ...]
    spread: tuple[SpreadEntry, ...]


def fleet_entry(fleet: FleetResult) -> FleetEntry:
    """The fleet as the contract has it."""
    rows, spread = tuple(_row(one) for one in fleet.rows), tuple(_spread(one) for one in fleet.spread)
    return FleetEntry(CONTRACT, iso(fleet.since), rows, spread)


def _row(row: FleetRow) -> FleetRowEntry:
    return FleetRowEntry(
        tail=row.tail,
        condition=row.result.condition,
        flights=row.result.flights,
        hours=round(row.result.hours, 2),
        last_flight=iso(row.last_flight),
        worst_finding=_worst(row),
        open_findings=tuple(one.name for one in row.stands.over_many),
        in_latest_flights=tuple(latest_entry(one) for one in row.stands.of_flights),
        next_limit=None if row.next_limit is None else _next_limit(row.next_limit),
        stale_flights=row.result.stale_flights,
        changed=None if row.changed is None else tuple(_happening(one) for one in row.changed),
    )


def _worst(row: FleetRow) -> TrendFindingEntry | LatestEntry | None:
    worst, shown = row.stands.worst, row.stands.shown_by
    if isinstance(worst, TrendFinding):
        return trend_finding_entry(worst)
    return None if shown is None else latest_entry(shown)


def _next_limit(one: NextLimit) -> NextLimitEntry:
    reached = one.reached
    likely, earliest, latest = rounded(reached.likely, 1), round(reached.earliest, 1), round(reached.latest, 1)
    return NextLimitEntry(one.measure, one.limit, one.unit, likely, earliest, latest)


def _happening(one: Happening) -> HappeningEntry:
    about, when = one.about, one.when.isoformat()
    if isinstance(about, MeasureStep):
        step = change_entry(about.change)
        return HappeningEntry(when=when, what=one.what, measure=about.measure, before=step.before, after=step.after)
    if isinstance(about, Comparison):
        return HappeningEntry(when=when, what=one.what, kind=about.entry.kind, verdict=about.verdict)
    return HappeningEntry(when=when, what=one.what, finding=about.name)


def _spread(one: Spread) -> SpreadEntry:
    return SpreadEntry(
        one.nominal_voltage, one.measure, one.tails, round(one.median, 4), round(one.deviation, 4), one.apart
    )
