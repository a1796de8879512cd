"""The JSON of the contract for the digest: what ``taper digest`` prints. Numbers are rounded here and only here."""

from __future__ import annotations

from typing import Any, Literal

from msgspec import UNSET, Struct, UnsetType

from analyzer import CONTRACT
from analyzer.contract import CauseEntry, cause_entry, iso, rounded
from analyzer.contract_tails import (
    ComparedEntry,
    FoundAroundEntry,
    RaisedEntry,
    comparison_entry,
)
from analyzer.findings.finding import FindingName, Severity
from analyzer.records.digest_flights import FlightsFound
from analyzer.records.verdicts import Disposed
from analyzer.service.digest_result import (
    CalledFixed,
    Digest,
    Helped,
    Lapsed,
    LogsToLookAt,
    NewFinding,
    OpenFinding,
    Soon,
    WorseFinding,
    WorseTrendOf,
)
from analyzer.trends.comparison import Comparison, MeasureVerdict, WorkVerdict
from analyzer.trends.followed_tail import Present, Projection
from analyzer.trends.judging import TrendFinding


class FlightRefEntry(Struct, frozen=True):
    """A flight that is kept."""

    id: int
    start: str


class DispositionEntry(Struct, frozen=True):
    """What a person said of a finding."""

    verdict: Disposed
    who: str
    words: str


class WorkEntry(Struct, frozen=True):
    """Work that was done because of a finding, and whether it helped."""

    when: str
    kind: str
    words: str
    verdict: WorkVerdict


class FindingItemEntry(Struct, frozen=True, omit_defaults=True, kw_only=True):
    """A finding that the digest tells of; what a part does not tell is left out."""

    what: Literal["finding"] | UnsetType = UNSET
    how: Literal["lapsed"] | UnsetType = UNSET
    at: str | UnsetType = UNSET
    tail: str | None
    over: Literal["many flights", "single flights"]
    finding: FindingName
    severity: Severity
    raised_at: str | UnsetType | None = UNSET
    raised_flight: int | UnsetType = UNSET
    raised_again: tuple[RaisedEntry, ...] | UnsetType = UNSET
    lapsed_at: str | UnsetType | None = UNSET
    says: str
    likely: tuple[CauseEntry, ...]
    check: tuple[str, ...]
    flights: tuple[FlightRefEntry, ...] | UnsetType = UNSET
    severity_then: Severity | UnsetType = UNSET
    disposition: DispositionEntry | UnsetType | None = UNSET
    work: WorkEntry | UnsetType | None = UNSET


class PresentEntry(Struct, frozen=True):
    """Where a measure stands and goes."""

    level: float | None
    slope_per_100h: float | None
    reaches_limit_in_h: float | None  # None too where it is too unsure for one number: the ends are given then
    earliest_h: float | None
    latest_h: float | None


class WorseTrendEntry(Struct, frozen=True, kw_only=True):
    """A trend that is worse than it was."""

    what: Literal["trend"] = "trend"
    tail: str
    measure: str
    way: str
    unit: str
    limit: float | None
    then: PresentEntry
    now: PresentEntry


class CalledFixedEntry(Struct, frozen=True, kw_only=True):
    """A finding that a person called fixed."""

    how: Literal["called fixed"] = "called fixed"
    at: str
    tail: str
    finding: str
    raised_at: str
    who: str
    words: str


class HelpedEntry(Struct, frozen=True, kw_only=True):
    """A maintenance entry that helped."""

    how: Literal["entry helped"] = "entry helped"
    at: str
    tail: str
    kind: str
    words: str
    findings: tuple[FoundAroundEntry, ...]
    measures: tuple[ComparedEntry, ...]


class WeeksEntry(Struct, frozen=True):
    """When a limit is reached in weeks."""

    likely: float | None
    earliest: float
    latest: float


class SoonEntry(Struct, frozen=True, kw_only=True):
    """A limit that may be reached soon."""

    tail: str
    hours_a_week: float | None
    level: float
    limit: float
    unit: str
    reaches_limit_in_h: float | None  # None where it is too unsure for one number
    earliest_h: float
    latest_h: float
    measure: str
    weeks: WeeksEntry | None
    past: bool


class NotFlownEntry(Struct, frozen=True):
    """An aircraft without a flight since."""

    tail: str
    last_flight: str | None
    days: int | None


class AddedLateEntry(Struct, frozen=True):
    """Flights from before the date that were added since."""

    tail: str | None
    flights: int
    earliest: str


class NamelessEntry(Struct, frozen=True):
    """A log that names no aircraft."""

    id: int
    source: str
    start: str | None
    added_at: str


class RefusedEntry(Struct, frozen=True):
    """A log that was refused."""

    source: str
    because: str
    at: str


class LogsEntry(Struct, frozen=True):
    """Logs and flights with which something is to be done."""

    without_tail: tuple[NamelessEntry, ...]
    refused: tuple[RefusedEntry, ...]
    without_clock: int
    dated_later: int


class DigestEntry(Struct, frozen=True, kw_only=True):
    """What ``taper digest --json`` prints."""

    contract: int
    since: str
    as_of: str
    tails: int
    flights: int
    hours: float
    added_late: tuple[AddedLateEntry, ...]
    new: tuple[FindingItemEntry, ...]
    worse: tuple[Struct, ...]  # findings, then trends
    fixed: tuple[Struct, ...]  # in order of time
    soon: tuple[SoonEntry, ...]
    still_open: tuple[FindingItemEntry, ...]
    not_flown: tuple[NotFlownEntry, ...]
    logs: LogsEntry


def digest_entry(digest: Digest) -> DigestEntry:
    """The digest as the contract has it."""
    return DigestEntry(
        contract=CONTRACT,
        since=digest.since.isoformat(),
        as_of=digest.as_of.isoformat(),
        tails=digest.tails,
        flights=digest.flights,
        hours=round(digest.hours, 1),
        added_late=tuple(AddedLateEntry(one.tail, one.flights, one.earliest.isoformat()) for one in digest.added_late),
        new=tuple(_new(one) for one in digest.new),
        worse=tuple(_worse(one) if isinstance(one, WorseFinding) else _worse_trend(one) for one in digest.worse),
        fixed=tuple(_fixed(one) for one in digest.fixed),
        soon=tuple(_soon(one) for one in digest.soon),
        still_open=tuple(_still_open(one) for one in digest.still_open),
        not_flown=tuple(NotFlownEntry(one.tail, iso(one.last_flight), one.days) for one in digest.not_flown),
        logs=_logs(digest.logs),
    )


def _item(tail: str | None, about: TrendFinding | FlightsFound, **more: Any) -> FindingItemEntry:
    """What the digest says of a finding in every part."""
    if isinstance(about, TrendFinding):
        more |= {
            "over": "many flights",
            "raised_at": iso(about.raised_at),
            "raised_flight": about.raised_flight,
            "raised_again": tuple(RaisedEntry(one.flight, iso(one.start)) for one in about.again),
            "lapsed_at": iso(about.lapsed_at),
        }
    else:
        more |= {"over": "single flights", "flights": _flights(about)}
    return FindingItemEntry(
        tail=tail,
        finding=about.name,
        severity=about.severity,
        says=about.says,
        likely=tuple(cause_entry(cause) for cause in about.likely),
        check=about.check,
        **more,
    )


def _flights(found: FlightsFound | None) -> tuple[FlightRefEntry, ...]:
    return () if found is None else tuple(FlightRefEntry(one.id, one.start.isoformat()) for one in found.flights)


def _new(one: NewFinding) -> FindingItemEntry:
    said = one.disposition
    told = None if said is None else DispositionEntry(said.verdict, said.who, said.words)
    return _item(one.tail, one.about, flights=_flights(one.flights), disposition=told)


def _worse(one: WorseFinding) -> FindingItemEntry:
    return _item(one.tail, one.about, what="finding", severity_then=one.severity_then)


def _worse_trend(one: WorseTrendOf) -> WorseTrendEntry:
    trend = one.trend
    return WorseTrendEntry(
        tail=one.tail,
        measure=trend.measure,
        way=trend.way,
        unit=trend.unit,
        limit=trend.now.limit,
        then=_present(trend.then),
        now=_present(trend.now),
    )


def _present(now: Present | None) -> PresentEntry:
    if now is None:
        return PresentEntry(None, None, None, None, None)
    reached = (None, None, None) if now.ahead is None else _rounded(now.ahead)
    slope = None if now.slope is None else round(now.slope.per_100_h, 4)
    return PresentEntry(round(now.level, 4), slope, *reached)


def _fixed(one: Lapsed | CalledFixed | Helped) -> FindingItemEntry | CalledFixedEntry | HelpedEntry:
    if isinstance(one, Lapsed):
        return _item(one.tail, one.finding, how="lapsed", at=one.at.isoformat())
    if isinstance(one, CalledFixed):
        said = one.said
        return CalledFixedEntry(
            at=said.made_at, tail=said.tail, finding=said.finding, raised_at=said.at, who=said.who, words=said.words
        )
    entry = comparison_entry(one.comparison)
    return HelpedEntry(
        at=entry.when,
        tail=one.tail,
        kind=entry.kind,
        words=entry.words,
        findings=entry.findings,
        measures=tuple(own for own in entry.measures if own.verdict is MeasureVerdict.HELPED),
    )


def _soon(one: Soon) -> SoonEntry:
    limit, weeks = one.coming.limit, one.coming.weeks
    likely, earliest, latest = _rounded(limit.reached)
    return SoonEntry(
        tail=one.tail,
        hours_a_week=None if one.hours_a_week is None else round(one.hours_a_week, 2),
        level=round(one.coming.level, 4),
        limit=limit.limit,
        unit=limit.unit,
        reaches_limit_in_h=likely,
        earliest_h=earliest,
        latest_h=latest,
        measure=limit.measure,
        weeks=None if weeks is None else WeeksEntry(*_rounded(weeks)),
        past=limit.reached.past,
    )


def _rounded(reached: Projection) -> tuple[float | None, float, float]:
    return rounded(reached.likely, 1), round(reached.earliest, 1), round(reached.latest, 1)


def _still_open(one: OpenFinding) -> FindingItemEntry:
    return _item(one.tail, one.about, work=None if one.work is None else _work(one.work))


def _work(one: Comparison) -> WorkEntry:
    return WorkEntry(one.entry.when.isoformat(), one.entry.kind, one.entry.words, one.verdict)


def _logs(logs: LogsToLookAt) -> LogsEntry:
    nameless = tuple(NamelessEntry(one.id, one.source, one.start, one.added_at) for one in logs.without_tail)
    refused = tuple(RefusedEntry(one.source, one.because, one.at) for one in logs.refused)
    return LogsEntry(nameless, refused, logs.without_clock, logs.dated_later)
