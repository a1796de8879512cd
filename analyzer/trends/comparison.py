"""Did it help: each maintenance entry's flights before and after, by the measures that it can change."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from typing import Any, Literal

import numpy as np

from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.series import BY_MEASURE, Series
from analyzer.trends.tail import FollowedTail, freed

Verdict = Literal["helped", "worse", "no change", "too few flights yet"]


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
    verdict: Literal["helped", "did not help", "too few flights yet", "nothing to compare"]
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
    helped = "helped" in verdicts and "worse" not in verdicts
    return Comparison(entry, "helped" if helped else "did not help", compared)


def _measure(tail: FollowedTail, entry: Entry, measure: str) -> Compared:
    series = tail.series[measure]
    flights = tail.history.flights
    starts = np.array([flights[int(place)].start for place in series.flight])
    others = [e.when for e in tail.history.entries if e is not entry and measure in kinds()[e.kind].resets]
    since = max((when for when in others if when < entry.when), default=None)
    until = min((when for when in others if when > entry.when), default=None)
    before = np.flatnonzero([(since is None or s >= since) and s < entry.when for s in starts])
    after = np.flatnonzero([s >= entry.when and (until is None or s < until) for s in starts])
    window = 2 * int(limit_value("trend_recent"))
    before, after = before[-window:], after[:window]
    if min(before.size, after.size) < limit_value("trend_fewest_step"):
        return Compared(measure, "too few flights yet", flights_before=before.size, flights_after=after.size)
    return _judged(tail, series, before, after)


def _judged(
    tail: FollowedTail,
    series: Series,
    before: np.ndarray[tuple[int], np.dtype[np.intp]],
    after: np.ndarray[tuple[int], np.dtype[np.intp]],
) -> Compared:
    kind = series.kind
    values = freed(series)
    ends = [float(np.median(values[rows])) for rows in (before, after)]
    errors = [_error(values[rows], series.variance[rows]) for rows in (before, after)]
    # Weather between the two stretches is taken out by what is known of its effect, which has its own doubt.
    apart = np.median(series.covariates[after], axis=0) - np.median(series.covariates[before], axis=0)
    doubt = float(np.sqrt(((apart * series.prior_sd) ** 2).sum()))
    change, half = ends[1] - ends[0], 1.96 * float(np.hypot(np.hypot(*errors), doubt))
    verdict = _verdict(tail, kind.worse, kind.measure, (ends[0], ends[1]), half)
    low, high = change - half, change + half
    if kind.logarithmic:
        ends, change, low, high = [exp(e) for e in ends], exp(change), exp(low), exp(high)
    return Compared(kind.measure, verdict, ends[0], ends[1], change, low, high, before.size, after.size)


def _error(values: np.ndarray[tuple[int], np.dtype[np.float64]], variance: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    scatter = 1.4826 * float(np.median(np.abs(values - np.median(values))))
    return float(1.2533 * max(scatter, np.sqrt(variance.mean()) / 2.0) / np.sqrt(values.size))


def _verdict(tail: FollowedTail, worse: int, measure: str, ends: tuple[float, float], half: float) -> Verdict:
    """Helped when the change for the better is sure; a voltage that may not be high or low: nearer its band's middle."""
    change = ends[1] - ends[0]
    if worse == 0:
        middle = (tail.limits["regulated_low"] + tail.limits["regulated_high"]) / 2.0
        better = abs(ends[0] - middle) - abs(ends[1] - middle)
    else:
        better = -change * worse
    if abs(change) <= half:
        return "no change"
    return "helped" if better > 0.0 else "worse"
