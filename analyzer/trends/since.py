"""What changed in one tail since a moment: findings that are new, trends that are worse, what is fixed, what is near.

Two results are compared: the present one, and the one that the same analysis gives of the flights begun and the
entries made before the moment (``as_of``), which is what was known then. New and lapsed findings need no second
result: each carries the flight at which it was raised and lapsed, from that flight and those before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from analyzer.findings.finding import FindingName, Severity
from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.trends.comparison import Comparison, WorkVerdict, compare_entries
from analyzer.trends.fleet_result import NextLimit
from analyzer.trends.followed_tail import Present, Projection, Trend, follow_tail, trend_of
from analyzer.trends.history import History
from analyzer.trends.judging import OF_THE_VOLTMETER, TrendFinding, judge_tail
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_followed
from analyzer.trends.tracked_series import BY_MEASURE, TRACKED

_MOMENT = timedelta(microseconds=1)


class Way(StrEnum):
    """How a trend can be worse, the worst first."""

    PAST = "past its limit"
    HEADS = "now heads for its limit"
    STEEPER = "steeper"
    NEARER = "nearer"

    @property
    def place(self) -> int:
        """Place among the ways, the worst first."""
        return list(Way).index(self)


@dataclass(frozen=True, slots=True)
class WorseTrend:
    """A trend that is worse than it was."""

    measure: str
    way: Way
    then: Present | None  # None where nothing could be said then
    now: Present

    @property
    def unit(self) -> str:
        """Unit of the measure."""
        return MEASURES[self.measure]


@dataclass(frozen=True, slots=True)
class Risen:
    """A finding that is more severe than it was."""

    finding: TrendFinding
    severity_then: Severity


@dataclass(frozen=True, slots=True)
class ComingLimit:
    """A limit that may be reached soon, and in how many weeks at the aircraft's own rate of flying."""

    limit: NextLimit
    level: float
    weeks: Projection | None  # None where the aircraft is not flying


@dataclass(frozen=True, slots=True)
class Then:
    """What was known of some measures of a tail at a moment, as far as it is compared with what is known now."""

    trends: Mapping[str, Trend]
    findings: tuple[TrendFinding, ...]


def known_at(history: History, moment: datetime) -> TailResult:
    """Give the result of what was known at a moment: flights begun and entries made up to it.

    Without the odd flights ("unlike itself"), which nothing here compares.
    """
    return tail_result(review_followed(follow_tail(history.until(moment))))


def as_of(history: History, since: datetime, measures: Set[str]) -> Then:
    """Give what was known of some measures just before a moment.

    Of those in which the present result can be worse (see ``telling``): following a measure takes the most time.
    """
    chosen = [kind for kind in TRACKED if kind.measure in measures]
    tail = follow_tail(history.until(_just_before(since)), chosen)
    trends = {kind.measure: trend_of(tail, kind) for kind in chosen}
    return Then(trends, judge_tail(tail, trends))


def _just_before(moment: datetime) -> datetime:
    """The moment before another; of the calendar's first it is that itself, before which nothing can lie."""
    return max(moment, datetime.min + _MOMENT) - _MOMENT


def telling(result: TailResult, since: datetime) -> set[str]:
    """Give the measures in which the present result can be worse than an earlier one.

    Those whose slope surely leads the worse way or comes to a limit, those of findings that stood open before, and
    all that raise the same findings or that one voltmeter shows, since these are judged together.
    """
    wanted = {m for m, trend in result.trends.items() if trend.ahead is not None or _worsening(trend) is not None}
    names = {BY_MEASURE[m].finding for m in wanted} | {one.name for one in still_open(result, since)}
    return wanted | {kind.measure for kind in TRACKED if kind.finding in names} | set(OF_THE_VOLTMETER)


def may_be_worse(result: TailResult, since: datetime) -> bool:
    """Whether anything can be worse than it was: an older finding stands open, or a limit nears or is passed.

    Where this is not so, nothing need be worked out as of the moment.
    """
    older = any(one.open and not _raised_from(one, since) for one in result.findings)
    return older or any(trend.ahead is not None for trend in result.trends.values())


def raised(result: TailResult, since: datetime) -> list[TrendFinding]:
    """Give the findings over many flights that were raised from the moment on and still stand open."""
    return _told_once(one for one in result.findings if _raised_from(one, since) and one.open)


def _raised_from(finding: TrendFinding, since: datetime) -> bool:
    """Whether a finding was raised, or came back, from a moment on; not known, and so not told, without a clock."""
    last = finding.raisings[-1].start
    return last is not None and last >= since


def lapsed(result: TailResult, since: datetime) -> list[TrendFinding]:
    """Give the findings over many flights that lapsed from the moment on, whenever they were raised.

    One that lapsed only because work started its measure anew is among them where that work helped.
    """
    ended = (one for one in result.findings if _lapsed_from(one, since))
    return _told_once(
        one for one in ended if (work := work_of(result, one)) is None or work.verdict is WorkVerdict.HELPED
    )


def _lapsed_from(finding: TrendFinding, since: datetime) -> bool:
    return finding.lapsed_at is not None and finding.lapsed_at >= since


def worked_on(result: TailResult, since: datetime) -> list[TrendFinding]:
    """Give the findings that lapsed because work was done of which it is not known that it helped (``work_of``).

    Those of work with too few flights yet, and those that lapsed from the moment on.
    """
    found = [(one, work) for one in result.findings if (work := work_of(result, one)) is not None]
    return _told_once(
        one
        for one, work in found
        if work.verdict is WorkVerdict.TOO_FEW or (work.verdict is not WorkVerdict.HELPED and _lapsed_from(one, since))
    )


def work_of(result: TailResult, finding: TrendFinding) -> Comparison | None:
    """Give the entry because of which a finding lapsed, None where none was; the likeliest of one moment."""
    done = [one for one in result.comparisons if one.entry.when == finding.lapsed_by]
    return min(done, key=lambda one: one.verdict is not WorkVerdict.HELPED, default=None)


def helped_then(history: History, moment: datetime) -> dict[datetime, list[str]]:
    """Give the entries that were known to have helped just before a moment: when -> kinds of work."""
    known: dict[datetime, list[str]] = {}
    for one in compare_entries(follow_tail(history.until(_just_before(moment)))):
        if one.verdict is WorkVerdict.HELPED:
            known.setdefault(one.entry.when, []).append(one.entry.kind)
    return known


def still_open(result: TailResult, since: datetime) -> list[TrendFinding]:
    """Give the findings over many flights that were raised before the moment, or without a clock, and stand open."""
    return _told_once(one for one in result.findings if not _raised_from(one, since) and one.open)


def _told_once(findings: Iterable[TrendFinding]) -> list[TrendFinding]:
    """Findings, each name and moment once: two measures may raise the same finding at the same flight."""
    return list({(one.name, one.key): one for one in findings}.values())


def risen(now: Iterable[TrendFinding], then: Iterable[TrendFinding]) -> list[Risen]:
    """Give the findings that stand open, stood open then, and are more severe now."""
    known: dict[tuple[FindingName, datetime | None], TrendFinding] = {
        (one.name, one.raised_at): one for one in then if one.open and one.raised_at is not None
    }
    worse: dict[tuple[str, str], Risen] = {}
    for finding in now:
        before = known.get((finding.name, finding.raised_at))
        if before is not None and finding.open and finding.severity.rank > before.severity.rank:
            worse[finding.name, finding.key] = Risen(finding, before.severity)
    return list(worse.values())


def worse_trends(trends: Mapping[str, Trend], then: Mapping[str, Trend]) -> list[WorseTrend]:
    """Give the trends that are steeper, or nearer their limit, than they were then; each measure once.

    The way is the worst of ``Way`` that holds: the limit is passed that was not; a trend to the limit where there was
    none; a slope, sure both times, that has grown by the share ``digest_steeper``; fewer engine hours left until it is
    as likely as not at the limit, and a level closer to it.
    """
    found = []
    for measure, now in trends.items():
        before = then.get(measure)
        if before is not None and now.now is not None and (way := _way(before, now)) is not None:
            found.append(WorseTrend(measure, way, before.now, now.now))
    return sorted(found, key=lambda one: one.way.place)


def _way(then: Trend, now: Trend) -> Way | None:
    ahead, had = now.ahead, then.ahead
    if ahead is not None:
        if had is None:
            return Way.PAST if ahead.past else Way.HEADS
        if ahead.past and not had.past:
            return Way.PAST
    if now.now is None or then.now is None:
        return None
    rate, rate_then = _worsening(now), _worsening(then)
    if rate and rate_then and rate / rate_then > 1.0 + limit_value("digest_steeper"):
        return Way.STEEPER
    limit = now.now.limit
    if ahead is None or had is None or limit is None or limit != then.now.limit:
        return None
    closer = abs(limit - now.now.level) < abs(limit - then.now.level)
    return Way.NEARER if closer and ahead.one_in_two < had.one_in_two else None


def _worsening(trend: Trend) -> float | None:
    """A slope that surely leads the way that is worse for its measure, None for any other.

    As a share of the level where the measure is worked in logarithms, for there a sound line is a curve.
    """
    now, kind = trend.now, BY_MEASURE[trend.measure]
    if now is None or now.slope is None or not now.slope.sure:
        return None
    slope = now.slope.per_100_h
    if kind.worse and slope * kind.worse < 0.0:
        return None
    return slope / now.level if kind.logarithmic else slope


def coming_limits(trends: Mapping[str, Trend], hours_a_week: float | None) -> list[ComingLimit]:
    """Give the limits that are passed or may be reached soon: in engine hours, or weeks at the tail's rate of flying.

    Soon is when the earliest end of the projection lies within ``trend_soon`` or ``digest_soon``.
    """
    found = []
    for measure, trend in trends.items():
        if trend.now is None or trend.now.limit is None or (reached := trend.now.ahead) is None:
            continue
        weeks = None
        if hours_a_week:
            weeks = reached.at_pace(hours_a_week)
        near = reached.earliest <= limit_value("trend_soon")
        if near or (weeks is not None and weeks.earliest <= limit_value("digest_soon")):
            found.append(ComingLimit(NextLimit(measure, trend.now.limit, reached), trend.now.level, weeks))
    return sorted(found, key=lambda one: one.limit.reached.earliest)
