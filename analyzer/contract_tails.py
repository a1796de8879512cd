"""The JSON of the contract for aircraft over their flights: what ``taper trend`` prints.

As in ``contract.py``, numbers are rounded here and only here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from msgspec import Struct

from analyzer import CONTRACT
from analyzer.contract import CauseEntry, QuantityEntry, cause_entry, iso, quantity_entry, rounded
from analyzer.findings.finding import FindingName, Severity
from analyzer.quantity import Quantity
from analyzer.trends.cold import ColdOutlook, ColdStart, ToldBy
from analyzer.trends.comparison import Compared, Comparison, MeasureVerdict, WorkVerdict
from analyzer.trends.followed_tail import LevelStep, SecondOpinion, Trend
from analyzer.trends.foretold import Came, Forecast
from analyzer.trends.found_around import FoundAround
from analyzer.trends.history import FlightFinding, FlightSpan
from analyzer.trends.judging import Shift, TrendFinding
from analyzer.trends.open_findings import Condition, OfFlight
from analyzer.trends.standing import Standing
from analyzer.trends.tail_result import TailResult
from analyzer.trends.unlike import Unlike
from analyzer.trends.unlogged import Unlogged
from analyzer.trends.work_done import WorkOfDay


class SecondOpinionEntry(Struct, frozen=True):
    """What rank statistics say of a measure."""

    mann_kendall_p: float
    theil_sen_per_100h: float


class ChangeEntry(Struct, frozen=True, rename={"before": "from", "after": "to"}):
    """A step of a measure."""

    start: str | None
    flight: int
    before: float
    after: float
    pettitt_p: float


class ForecastEntry(Struct, frozen=True):
    """One earlier forecast of the limit; engine hours count from its own flight."""

    flight: int
    start: str | None
    reaches_limit_in_h: float | None  # None where it was too unsure for one number
    earliest_h: float
    latest_h: float
    came: Came


class TrendEntry(Struct, frozen=True, kw_only=True):
    """One measure over a tail's flights."""

    state: Literal["measured", "not_measurable"]
    because: str | None
    unit: str
    points: int
    points_since_anew: int
    level: float | None
    slope_per_100h: float | None
    low: float | None
    high: float | None
    limit: float | None
    reaches_limit_in_h: float | None  # None too where it is too unsure for one number
    earliest_h: float | None
    latest_h: float | None
    one_in_ten_h: float | None
    one_in_two_h: float | None
    nine_in_ten_h: float | None
    second_opinion: SecondOpinionEntry | None
    changes: tuple[ChangeEntry, ...]
    forecasts: tuple[ForecastEntry, ...]


class RaisedEntry(Struct, frozen=True):
    """A flight at which a finding was raised again."""

    flight: int
    at: str | None


class TrendFindingEntry(Struct, frozen=True, kw_only=True):
    """One finding over many flights."""

    finding: FindingName
    severity: Severity
    start: str | None
    start_flight: int
    end: str | None
    evidence: Mapping[str, Any]  # numbers, and what was counted
    quantities: Mapping[str, QuantityEntry]
    says: str
    likely: tuple[CauseEntry, ...]
    check: tuple[str, ...]
    raised_at: str | None
    raised_flight: int
    raised_again: tuple[RaisedEntry, ...]
    lapsed_at: str | None
    lapsed_flight: int | None
    lapsed_by: str | None


class LatestEntry(Struct, frozen=True):
    """A finding of one of the latest flights."""

    start: str | None
    flight: int
    finding: FindingName
    severity: Severity


class SpanEntry(Struct, frozen=True):
    """Some flights: how many, and the start of the first and of the last."""

    count: int
    first: str
    last: str


class SidesEntry(Struct, frozen=True):
    """The flights on both sides of work."""

    before: SpanEntry | None
    after: SpanEntry | None


class ComparedEntry(Struct, frozen=True, kw_only=True):
    """One measure before and after work."""

    measure: str
    unit: str
    verdict: MeasureVerdict
    before: float | None
    after: float | None
    change: float | None
    low: float | None
    high: float | None
    flights_before: int
    flights_after: int
    flights: SidesEntry
    change_is: Literal["difference", "factor"]


class FoundAroundEntry(Struct, frozen=True):
    """In how many flights one finding was made before and after work."""

    finding: FindingName
    before: int
    flights_before: int
    after: int
    flights_after: int


class ComparisonEntry(Struct, frozen=True, omit_defaults=True, kw_only=True):
    """One maintenance entry and what came of it."""

    when: str
    kind: str
    words: str
    verdict: WorkVerdict
    measures: tuple[ComparedEntry, ...]
    findings: tuple[FoundAroundEntry, ...]
    symptoms: tuple[Mapping[str, Any], ...] | None = None


class DeviationEntry(Struct, frozen=True):
    """How far a measure lies from its forecast [standard deviations]."""

    measure: str
    deviations: float


class UnlikeEntry(Struct, frozen=True):
    """A flight unlike its tail's others."""

    flight: int
    start: str | None
    score: float
    measures: tuple[DeviationEntry, ...]


class ColdStartEntry(Struct, frozen=True):
    """One start at some air temperature, foretold."""

    air_degc: float
    cranking_voltage: float
    low: float
    high: float
    chance_of_a_good_start: float


class SeenStartEntry(Struct, frozen=True):
    """A start that was recorded."""

    start: str | None
    flight: int
    air_degc: float
    cranking_voltage: float


class WinterEntry(Struct, frozen=True):
    """The coldest morning of a usual winter, and the last winter's starts over again."""

    told_by: ToldBy
    coldest: ColdStartEntry
    good_starts_of_last_winter: float | None
    starts: int


class ForetoldEntry(Struct, frozen=True):
    """What the other starts foretell for the coldest one."""

    cranking_voltage: float
    low: float
    high: float


class ColdEntry(Struct, frozen=True, omit_defaults=True):
    """Starts in the cold, foretold."""

    starts: tuple[ColdStartEntry, ...]
    limit: float
    flights: int
    coldest: SeenStartEntry
    coldest_foretold: ForetoldEntry | None = None
    winter: WinterEntry | None = None


class StandingEntry(Struct, frozen=True, omit_defaults=True, kw_only=True):
    """What the battery loses while the aircraft stands, or why that cannot be told."""

    state: Literal["measured", "not_measurable"]
    because: str | None = None
    stands: int | None = None
    days: float | None = None
    percent_per_day: float | None = None
    low: float | None = None
    high: float | None = None
    weeks_until_doubtful: float | None = None
    low_ma: float | None = None
    high_ma: float | None = None


class SteppedEntry(Struct, frozen=True, rename={"before": "from", "after": "to"}):
    """One measure on both sides of work that nobody logged."""

    measure: str
    unit: str
    before: float
    after: float


class UnloggedEntry(Struct, frozen=True):
    """Work that may have been done and that nobody logged."""

    kind: str
    earliest: str
    latest: str
    flight: int
    measures: tuple[SteppedEntry, ...]


class TailEntry(Struct, frozen=True, omit_defaults=True, kw_only=True):
    """One entry of the result's ``tails``."""

    tail: str
    flights: int
    hours: float
    nominal_voltage: int | None
    condition: Condition
    without_clock: int
    order: tuple[str, ...]
    in_latest_flights: tuple[LatestEntry, ...]
    trends: Mapping[str, TrendEntry]
    findings: tuple[TrendFindingEntry, ...]
    entries: tuple[ComparisonEntry, ...]
    unlike_itself: tuple[UnlikeEntry, ...]
    cold_outlook: ColdEntry | None = None
    standing: StandingEntry | None = None
    unlogged: tuple[UnloggedEntry, ...] = ()
    stale_flights: int = 0


class TailsEntry(Struct, frozen=True):
    """What ``taper trend --json`` prints."""

    contract: int
    tails: tuple[TailEntry, ...]


def tails_entry(results: Iterable[TailResult]) -> TailsEntry:
    """Some tails as the contract has them."""
    return TailsEntry(CONTRACT, tuple(tail_entry(one) for one in results))


def tail_entry(result: TailResult) -> TailEntry:
    """One tail as the contract has it."""
    return TailEntry(
        tail=result.tail,
        flights=result.flights,
        hours=round(result.hours, 2),
        nominal_voltage=result.nominal_voltage,
        condition=result.condition,
        without_clock=result.without_clock,
        order=result.order,
        in_latest_flights=tuple(latest_entry(one) for one in result.in_latest_flights),
        trends={measure: trend_entry(trend) for measure, trend in result.trends.items()},
        findings=tuple(trend_finding_entry(one) for one in result.findings),
        entries=tuple(comparison_entry(one) for one in result.comparisons),
        unlike_itself=tuple(_unlike(one) for one in result.unlike),
        cold_outlook=None if result.cold is None else _cold(result.cold),
        standing=_standing(result.standing),
        unlogged=tuple(unlogged_entry(one) for one in result.unlogged),
        stale_flights=result.stale_flights,
    )


def _cold(outlook: ColdOutlook) -> ColdEntry:
    seen, expected, winter = outlook.coldest, outlook.coldest_foretold, outlook.winter
    coldest = SeenStartEntry(iso(seen.at.start), seen.at.flight, round(seen.air, 1), round(seen.voltage, 2))
    again = None if winter is None or winter.again is None else round(winter.again, 2)
    return ColdEntry(
        tuple(_cold_start(one) for one in outlook.starts),
        outlook.limit,
        outlook.flights,
        coldest,
        None if expected is None else ForetoldEntry(*_with_ends(expected)),
        None if winter is None else WinterEntry(winter.told_by, _cold_start(winter.coldest), again, winter.starts),
    )


def _cold_start(one: ColdStart) -> ColdStartEntry:
    return ColdStartEntry(one.air, *_with_ends(one.voltage), round(one.good, 2))


def _with_ends(one: Quantity) -> tuple[float, float, float]:
    return round(one.value, 2), round(one.low or 0.0, 2), round(one.high or 0.0, 2)


def _standing(standing: Standing) -> StandingEntry | None:
    loss = standing.loss
    if loss is None:
        return None if standing.because is None else StandingEntry(state="not_measurable", because=standing.because)
    low, high = loss.milliamperes or (None, None)
    return StandingEntry(
        state="measured",
        stands=loss.stands,
        days=round(loss.days, 1),
        percent_per_day=round(loss.per_day, 2),
        low=round(loss.low, 2),
        high=round(loss.high, 2),
        weeks_until_doubtful=round(loss.weeks, 1),
        low_ma=None if low is None else round(low, 1),
        high_ma=None if high is None else round(high, 1),
    )


def unlogged_entry(one: Unlogged) -> UnloggedEntry:
    """Work that nobody logged as the contract has it."""
    stepped = [SteppedEntry(own.measure, own.unit, round(own.before, 4), round(own.after, 4)) for own in one.measures]
    return UnloggedEntry(one.kind, one.earliest.isoformat(), one.latest.isoformat(), one.flight, tuple(stepped))


def latest_entry(one: OfFlight[FlightFinding]) -> LatestEntry:
    """A finding of one of the latest flights as the contract has it."""
    return LatestEntry(iso(one.start), one.flight, one.finding.name, one.finding.severity)


def trend_entry(trend: Trend) -> TrendEntry:
    """One measure over a tail's flights as the contract has it."""
    now, reach = trend.now, trend.projection
    slope = None if now is None else now.slope
    return TrendEntry(
        state="not_measurable" if slope is None else "measured",
        because=trend.because,
        unit=trend.unit,
        points=trend.points,
        points_since_anew=trend.points_since,
        level=None if now is None else round(now.level, 4),
        slope_per_100h=None if slope is None else round(slope.per_100_h, 4),
        low=None if slope is None else round(slope.low, 4),
        high=None if slope is None else round(slope.high, 4),
        limit=None if now is None else now.limit,
        reaches_limit_in_h=None if reach is None else rounded(reach.likely, 1),
        earliest_h=None if reach is None else round(reach.earliest, 1),
        latest_h=None if reach is None else round(reach.latest, 1),
        one_in_ten_h=None if reach is None else round(reach.one_in_ten, 1),
        one_in_two_h=None if reach is None else round(reach.one_in_two, 1),
        nine_in_ten_h=None if reach is None else round(reach.nine_in_ten, 1),
        second_opinion=None if now is None or now.second_opinion is None else _second_opinion(now.second_opinion),
        changes=tuple(change_entry(one) for one in trend.changes),
        forecasts=tuple(_forecast(one) for one in trend.record.forecasts) if trend.record else (),
    )


def _forecast(one: Forecast) -> ForecastEntry:
    return ForecastEntry(
        flight=one.at.flight,
        start=iso(one.at.start),
        reaches_limit_in_h=rounded(one.likely, 1),
        earliest_h=round(one.earliest, 1),
        latest_h=round(one.latest, 1),
        came=one.came,
    )


def _second_opinion(one: SecondOpinion) -> SecondOpinionEntry:
    return SecondOpinionEntry(_two_digits(one.mann_kendall_p), round(one.theil_sen_slope, 4))


def change_entry(one: LevelStep) -> ChangeEntry:
    """A step as the contract has it."""
    before, after = round(one.before, 4), round(one.after, 4)
    return ChangeEntry(iso(one.start), one.flight, before, after, _two_digits(one.pettitt_p))


def _two_digits(chance: float) -> float:
    return float(f"{chance:.2g}")


def trend_finding_entry(one: TrendFinding) -> TrendFindingEntry:
    """A finding over many flights as the contract has it."""
    return TrendFindingEntry(
        finding=one.name,
        severity=one.severity,
        start=iso(one.began),
        start_flight=one.began_flight,
        end=iso(one.lapsed_at),
        evidence=trend_evidence(one),
        quantities={} if one.shift is None else _quantities(one.shift),
        says=one.says,
        likely=tuple(cause_entry(cause) for cause in one.likely),
        check=one.check,
        raised_at=iso(one.raised_at),
        raised_flight=one.raised_flight,
        raised_again=tuple(RaisedEntry(again.flight, iso(again.start)) for again in one.again),
        lapsed_at=iso(one.lapsed_at),
        lapsed_flight=one.lapsed_flight,
        lapsed_by=iso(one.lapsed_by),
    )


def trend_evidence(one: TrendFinding) -> dict[str, object]:
    """The numbers behind a finding over many flights, and what was counted, by the contract."""
    shift, told = one.shift, {}
    if shift is not None and shift.of is not None:
        told = {
            "measure": shift.of.measure,
            "from": round(shift.of.start.value, 3),
            "to": round(shift.of.end.value, 3),
            "moved": round(shift.moved.value, 4),
            "low": rounded(shift.moved.low, 4),
            "high": rounded(shift.moved.high, 4),
            "shape": shift.shape,
            "since_flight": shift.since_flight,
            "over_hours": round(shift.of.over.value, 1),
        }
    elif shift is not None:
        told = {"moved": round(shift.moved.value, 3), "since_flight": shift.since_flight, "shape": shift.shape}
    return told | ({"flights": list(one.flights), "count": len(one.flights)} if one.flights else {})


def _quantities(shift: Shift) -> dict[str, QuantityEntry]:
    told = {"moved": shift.moved}
    if shift.of is not None:
        told |= {"from": shift.of.start, "to": shift.of.end, "over_hours": shift.of.over}
    return {name: quantity_entry(one, 4) for name, one in told.items()}


def comparison_entry(one: Comparison, symptoms: Iterable[Mapping[str, Any]] | None = None) -> ComparisonEntry:
    """A maintenance entry and what came of it as the contract has it; with its symptoms before and after, if given."""
    return ComparisonEntry(
        when=one.entry.when.isoformat(),
        kind=one.entry.kind,
        words=one.entry.words,
        verdict=one.verdict,
        measures=tuple(_compared(own) for own in one.measures),
        findings=tuple(_found_around(own) for own in one.findings),
        symptoms=None if symptoms is None else tuple(symptoms),
    )


def _compared(one: Compared) -> ComparedEntry:
    moved = one.difference
    return ComparedEntry(
        measure=one.measure,
        unit=one.unit,
        verdict=one.verdict,
        before=None if moved is None else round(moved.before.value, 3),
        after=None if moved is None else round(moved.after.value, 3),
        change=None if moved is None else round(moved.change.value, 3),
        low=None if moved is None else rounded(moved.change.low, 3),
        high=None if moved is None else rounded(moved.change.high, 3),
        flights_before=one.flights_before,
        flights_after=one.flights_after,
        flights=SidesEntry(_span(one.before), _span(one.after)),
        change_is="factor" if one.by_ratio else "difference",
    )


def _span(one: FlightSpan | None) -> SpanEntry | None:
    return None if one is None else SpanEntry(one.count, one.first.isoformat(), one.last.isoformat())


def _found_around(one: FoundAround) -> FoundAroundEntry:
    return FoundAroundEntry(one.finding, one.before, one.flights_before, one.after, one.flights_after)


def _unlike(one: Unlike) -> UnlikeEntry:
    away = tuple(DeviationEntry(name, round(value, 1)) for name, value in one.measures.items())
    return UnlikeEntry(one.flight, iso(one.start), round(one.score, 2), away)


class WorkOfDayEntry(Struct, frozen=True):
    """What ``taper trend --entry --json`` prints."""

    contract: int
    tail: str
    when: str
    entries: tuple[ComparisonEntry, ...]


def work_entry(work: WorkOfDay) -> WorkOfDayEntry:
    """The work of a day as the contract has it."""
    entries = tuple(comparison_entry(one.comparison, one.symptoms) for one in work.entries)
    return WorkOfDayEntry(CONTRACT, work.tail, work.when.isoformat(), entries)
