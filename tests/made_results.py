"""Results over many flights with known contents, without flights behind them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from analyzer.findings.finding import Cause, FindingName, Severity
from analyzer.measures.measure import MEASURES
from analyzer.quantity import Quantity
from analyzer.trends.comparison import Compared, Comparison, Difference, MeasureVerdict, WorkVerdict
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import LevelStep, Present, Projection, SecondOpinion, Slope, Trend
from analyzer.trends.found_around import FoundAround
from analyzer.trends.history import FlightSpan
from analyzer.trends.judging import TrendFinding
from analyzer.trends.tracked_series import BY_MEASURE

DAY = datetime(2026, 5, 6, 12, 0)
#: When a limit is reached: never, and already.
NEVER, PASSED = None, (0.0, 0.0, 0.0)


def present(
    level: float = 14.2,
    slope: float = 0.2,
    low: float = 0.1,
    high: float = 0.3,
    limit: float | None = 14.5,
    ends: tuple[float | None, float, float] | None = (150.0, 100.0, 300.0),
    past: bool = False,
) -> Present:
    """Where a measure goes; ``ends`` is when the limit is reached, likely, earliest and latest [h].

    It is as likely as not by the likely time, or without one by the middle of the ends.
    """
    middle = None if ends is None else (ends[1] + ends[2]) / 2.0 if ends[0] is None else ends[0]
    return Present(
        level,
        Slope(slope, low, high),
        limit,
        Projection(*ends, ends[1], middle, ends[2]) if ends else None,
        SecondOpinion(1.0, 0.0),
        past,
    )


def trend(measure: str = "regulated_voltage", changes: tuple[LevelStep, ...] = (), **more: Any) -> Trend:
    return Trend(measure, 30, now=present(**more), changes=changes, points_since=30)


def untold(because: str, measure: str = "regulated_voltage") -> Trend:
    """A trend of which nothing can be said."""
    return Trend(measure, 3, because=because)


def trend_finding(
    name: str = "regulator_drift",
    severity: str = "caution",
    raised_at: datetime | None = DAY,
    raised_flight: int = 8,
    lapsed_at: datetime | None = None,
    lapsed_flight: int | None = None,
    says: str = "",
    **more: Any,
) -> TrendFinding:
    if lapsed_at is not None and lapsed_flight is None:
        lapsed_flight = raised_flight + 11
    return TrendFinding(
        FindingName(name), Severity(severity), raised_flight, raised_at, lapsed_flight, lapsed_at, raised_at, 3, says,
        likely=(Cause("loose_terminal", "a loose terminal", 1.0, ()),), check=("Pull on the field terminal.",), **more,
    )  # fmt: skip


def span(count: int) -> FlightSpan | None:
    return FlightSpan(count, DAY, DAY) if count else None


def compared(
    measure: str,
    verdict: str,
    ends: tuple[float, float] | None = None,
    change: tuple[float, float, float] = (0.0, 0.0, 0.0),
    after: int = 9,
) -> Compared:
    """A measure before and after work; ``change`` with its interval."""
    unit = MEASURES[measure]
    by = Quantity(change[0], "1" if BY_MEASURE[measure].logarithmic else unit, *change[1:])
    moved = None if ends is None else Difference(Quantity(ends[0], unit), Quantity(ends[1], unit), by)
    return Compared(measure, MeasureVerdict(verdict), span(10), span(after), moved)


def work(
    verdict: str,
    measures: tuple[Compared, ...] = (),
    findings: tuple[FoundAround, ...] = (),
    kind: str = "regulator_replaced",
    words: str = "",
    when: datetime = DAY,
) -> Comparison:
    return Comparison(Entry("N012AB", when, kind, words), WorkVerdict(verdict), measures, findings)
