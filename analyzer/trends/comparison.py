"""Did it help: each maintenance entry's flights before and after, by the measures that it can change."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import Any, Literal

import numpy as np

from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.series import step_noise
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.series import BY_MEASURE, Series
from analyzer.trends.tail import FollowedTail, freed, student_95

Verdict = Literal["helped", "worse", "changed", "no change", "too few flights yet"]


@dataclass(frozen=True, slots=True)
class Compared:
    """One measure before and after an entry, weather and load taken out."""

    measure: str
    verdict: Verdict
    before: float | None = None
    after: float | None = None
    change: float | None = None  # with its 95 % interval; a factor where the measure is worked in logarithms
    low: float | None = None
    high: float | None = None
    flights_before: int = 0
    flights_after: int = 0


@dataclass(frozen=True, slots=True)
class Comparison:
    """One entry and what came of it."""

    entry: Entry
    verdict: Literal["helped", "changed", "did not help", "too few flights yet", "nothing to compare"]
    measures: tuple[Compared, ...]

    def document(self) -> dict[str, Any]:
        """The entry for the JSON result."""
        return {
            "when": self.entry.when.isoformat(),
            "kind": self.entry.kind,
            "words": self.entry.words,
            "verdict": self.verdict,
            "measures": [
                {
                    "measure": one.measure,
                    "unit": MEASURES[one.measure],
                    "verdict": one.verdict,
                    "before": _round(one.before),
                    "after": _round(one.after),
                    "change": _round(one.change),
                    "low": _round(one.low),
                    "high": _round(one.high),
                    "flights_before": one.flights_before,
                    "flights_after": one.flights_after,
                }
                for one in self.measures
            ],
        }


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def compare_entries(tail: FollowedTail) -> tuple[Comparison, ...]:
    """Compare the flights before and after each entry, up to the entries next to it of the same measure."""
    return tuple(_compare(tail, entry) for entry in tail.history.entries)


def _compare(tail: FollowedTail, entry: Entry) -> Comparison:
    measures = [name for name in BY_MEASURE if name in kinds()[entry.kind].resets]
    compared = tuple(_measure(tail, entry, name) for name in measures if tail.series[name].n)
    verdicts = {one.verdict for one in compared}
    if not compared:
        return Comparison(entry, "nothing to compare", compared)
    if verdicts <= {"too few flights yet"}:
        return Comparison(entry, "too few flights yet", compared)
    if "worse" in verdicts or not verdicts & {"helped", "changed"}:
        return Comparison(entry, "did not help", compared)
    return Comparison(entry, "helped" if "helped" in verdicts else "changed", compared)


def _measure(tail: FollowedTail, entry: Entry, measure: str) -> Compared:
    series = tail.series[measure]
    flights = tail.history.flights
    starts = [flights[int(place)].start for place in series.flight]
    others = [e.when for e in tail.history.entries if e is not entry and measure in kinds()[e.kind].resets]
    since = max((when for when in others if when < entry.when), default=None)
    until = min((when for when in others if when > entry.when), default=None)
    at = sum(start < entry.when for start in starts)
    window = 2 * int(limit_value("trend_recent"))
    first = max(at - window, 0 if since is None else sum(start < since for start in starts))
    end = min(at + window, len(starts) if until is None else sum(start < until for start in starts))
    if min(at - first, end - at) < limit_value("trend_fewest_step"):
        return Compared(measure, "too few flights yet", flights_before=at - first, flights_after=end - at)
    return _judged(tail, series, first, at, end)


def _judged(tail: FollowedTail, series: Series, first: int, at: int, end: int) -> Compared:
    """Compare the last points before ``at`` with those from it up to ``end``.

    The last ones, since what drifted before the work was done is what the work was for. The error is that of
    two medians, 1.2533 sigma / sqrt(n) each, sigma from one flight to the next.
    """
    kind = series.kind
    values = freed(series)
    last, since = values[max(first, at - int(limit_value("trend_recent"))) : at], values[at:end]
    before = float(np.median(last))
    change = float(np.median(since)) - before
    noise = max(step_noise(values[first:at]), step_noise(since))
    reach = student_95(end - first - 2 - series.covariates.shape[1])
    half = reach * 1.2533 * noise * float(np.sqrt(1.0 / last.size + 1.0 / since.size))
    verdict = _verdict(tail, kind.worse, (before, before + change), half)
    numbers = [before, before + change, change, change - half, change + half]
    if kind.logarithmic:
        numbers = [exp(number) for number in numbers]
    before, after, change, low, high = numbers
    return Compared(kind.measure, verdict, before, after, change, low, high, at - first, end - at)


def _verdict(tail: FollowedTail, worse: int, ends: tuple[float, float], half: float) -> Verdict:
    """Helped when the change for the better is sure.

    A voltage that may be neither high nor low is better when it comes nearer to its band; inside the band one
    setting is as good as another.
    """
    if abs(ends[1] - ends[0]) <= half:
        return "no change"
    better = -(ends[1] - ends[0]) * worse
    if worse == 0:
        low, high = tail.limits["regulated_low"], tail.limits["regulated_high"]
        outside = [max(low - end, end - high, 0.0) for end in ends]
        better = outside[0] - outside[1]
    if better == 0.0:
        return "changed"
    return "helped" if better > 0.0 else "worse"
