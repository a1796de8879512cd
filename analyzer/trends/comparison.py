"""Did it help: each maintenance entry's flights before and after, by the measures that it can change.

One robust model spans both sides: the level at which the aircraft was brought in (carried on along a drift that had
been seen by then), the change at the entry, and the weather and load as far as the tail's earlier flights have taught
them. A change counts when it is sure and larger than innocent causes may leave, as everywhere in the trends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.series import Floats
from analyzer.trends.detection import Alarm, Stretch
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.found_around import FoundAround, found_around
from analyzer.trends.regression import design_of, robust_fit
from analyzer.trends.series import BY_MEASURE, Matrix, Series
from analyzer.trends.tail import FollowedTail, student_95

#: After work on the meter the same aircraft reads differently: that is neither better nor worse.
OF_THE_METER = "instrument_replaced"
Verdict = Literal["helped", "worse", "changed", "no change", "too few flights yet"]
Together = Literal[
    "helped",
    "changed",
    "did not help",
    "not found again",
    "no change",
    "too few flights yet",
    "nothing to compare",
]


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
    amiss: bool = False  # it had been seen to move, or lay past its limit, when the work was done


@dataclass(frozen=True, slots=True)
class Comparison:
    """One entry and what came of it."""

    entry: Entry
    verdict: Together
    measures: tuple[Compared, ...]
    findings: tuple[FoundAround, ...]

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
            "findings": [one.document() for one in self.findings],
        }


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 3)


def compare_entries(tail: FollowedTail) -> tuple[Comparison, ...]:
    """Compare the flights before and after each entry, up to the entries next to it of the same measure.

    Flights without a clock cannot be set against a date and are on neither side.
    """
    return tuple(_compare(tail, entry) for entry in tail.history.entries)


def _compare(tail: FollowedTail, entry: Entry) -> Comparison:
    measures = [name for name in BY_MEASURE if name in kinds()[entry.kind].resets]
    dated = len(tail.history.begun)
    compared = tuple(_measure(tail, entry, name) for name in measures if (tail.series[name].flight < dated).any())
    found = found_around(tail.history, entry)
    return Comparison(entry, _with_findings(taken_together(compared), found), compared, found)


def _with_findings(verdict: Together, found: tuple[FoundAround, ...]) -> Together:
    """Where no measure tells, let the findings tell that were made before the work."""
    ended = [one for one in found if one.lately]
    if verdict not in ("no change", "nothing to compare") or not ended:
        return verdict
    if min(one.flights_after for one in ended) < limit_value("trend_fewest_step"):
        return "too few flights yet"
    if all(one.chance < limit_value("trend_ended_chance") for one in ended):
        return "helped"
    return "did not help" if any(one.after for one in ended) else "not found again"


def taken_together(compared: tuple[Compared, ...]) -> Together:
    """One verdict by the measures; "did not help" where something was amiss and is still, or something grew worse."""
    verdicts = {one.verdict for one in compared}
    if not compared:
        return "nothing to compare"
    if verdicts == {"too few flights yet"}:
        return "too few flights yet"
    if "helped" in verdicts:
        return "changed" if "worse" in verdicts else "helped"
    if "worse" in verdicts or any(one.amiss and one.verdict == "no change" for one in compared):
        return "did not help"
    if any(one.amiss and one.verdict == "too few flights yet" for one in compared):
        return "too few flights yet"
    return "changed" if "changed" in verdicts else "no change"


def _measure(tail: FollowedTail, entry: Entry, measure: str) -> Compared:
    """Compare the latest flights before an entry, and since the measure last stepped, with the first ones after it."""
    series, stretches = tail.series[measure], tail.followed[measure].stretches
    at = int(np.searchsorted(series.flight, tail.history.first_from(entry.when)))
    dated = int(np.searchsorted(series.flight, len(tail.history.begun)))
    before = next((one for one in stretches if one.end == at), None)
    after = next((one for one in stretches if one.first == at), None)
    flights = (
        0 if before is None else max(0, min(at, dated) - before.first),
        0 if after is None else min(after.end, dated) - at,
    )
    if before is None or after is None or min(flights) < limit_value("trend_fewest_step"):
        amiss = before is not None and _was_amiss(tail, series, before, at)
        return Compared(
            measure, "too few flights yet", flights_before=flights[0], flights_after=flights[1], amiss=amiss
        )
    return _judged(tail, entry, series, before, replace(after, end=min(after.end, dated)))


def _judged(tail: FollowedTail, entry: Entry, series: Series, before: Stretch, after: Stretch) -> Compared:
    """Fit both sides at once; of a tail's own weather what ``after`` begins with is known."""
    at, recent = after.first, int(limit_value("trend_recent"))
    first = max(before.first, at - (recent if before.drift is None else 2 * recent))
    end = min(after.end, at + 2 * recent)
    part = replace(series.part(first, end), prior_mean=after.series.prior_mean, prior_sd=after.series.prior_sd)
    drifts = (
        None if before.drift is None else float(series.hours[before.drift.began]),
        # along a drift that goes on through the work the two sides are told apart by their levels alone
        None if after.drift is None or before.drift is not None else float(series.hours[after.drift.began]),
    )
    design, mean, sd = _both_sides(part, at - first, drifts)
    coefficients, covariance = robust_fit(part, design, mean, sd)
    usual = np.where(part.of_the_air, 0.0, np.median(part.covariates, axis=0))
    effects = coefficients[design.shape[1] - usual.size :]
    level, change = float(coefficients[0] + usual @ effects), float(coefficients[1])
    half = student_95(part.n - design.shape[1]) * float(np.sqrt(covariance[1, 1]))
    moved = _seen_to_move(tail, series, before)
    ends = (level, level + change)
    shown = np.array([*ends, change, change - half, change + half])
    shown = np.exp(shown) if series.kind.logarithmic else shown
    verdict: Verdict = "no change"
    if abs(change) > max(half, float(series.moved[at - 1])):
        verdict = "changed" if entry.kind == OF_THE_METER else _verdict(tail, series, ends, moved)
    amiss = moved is not None or _past_limit(tail, series, float(shown[0]))
    told = dict(zip(("before", "after", "change", "low", "high"), shown.tolist(), strict=True))
    return Compared(
        series.kind.measure, verdict, **told, flights_before=at - first, flights_after=end - at, amiss=amiss
    )


def _both_sides(
    part: Series, count: int, drifts_from_h: tuple[float | None, float | None]
) -> tuple[Matrix, Floats, Floats]:
    """Give the design of a stretch with an entry after its first ``count`` points, and what is known beforehand.

    Columns: level just before the entry, change at it, the drift up to it if there was one, that after it if there
    is one, covariates.
    """
    design, mean, sd = design_of(part, with_slope=False)
    since = (np.arange(part.n) >= count).astype(np.float64)
    columns, spreads = [since], [sd[0]]
    slope = limit_value("trend_slope_spread") * float(part.moved[0]) / 100.0
    earlier, later = drifts_from_h
    if earlier is not None:
        last = part.hours[count - 1]
        columns.append(np.minimum(np.maximum(part.hours, earlier) - last, 0.0))
        spreads.append(slope)
    if later is not None:
        columns.append(np.maximum(part.hours - later, 0.0))
        spreads.append(slope)
    return (
        np.column_stack([design[:, :1], *columns, design[:, 1:]]),
        np.insert(mean, 1, np.zeros(len(columns))),
        np.insert(sd, 1, spreads),
    )


def _seen_to_move(tail: FollowedTail, series: Series, before: Stretch) -> float | None:
    """How far the measure had been seen to move for the worse, by drift or step, when the work was done."""
    steps = [one for one in tail.followed[series.kind.measure].steps if one.began == before.first]
    alarms: list[Alarm] = [*steps, *([] if before.drift is None else [before.drift])]
    moved = sum(one.moved for one in alarms)
    for_the_worse = bool(alarms) and (series.kind.worse == 0 or moved * series.kind.worse > 0.0)
    return moved if for_the_worse else None


def _was_amiss(tail: FollowedTail, series: Series, before: Stretch, at: int) -> bool:
    """Whether a measure had been seen to move for the worse, or its latest values lay past their limit."""
    latest = float(np.median(series.value[max(before.first, at - int(limit_value("trend_recent"))) : at]))
    shown = float(np.exp(latest)) if series.kind.logarithmic else latest
    return _seen_to_move(tail, series, before) is not None or _past_limit(tail, series, shown)


def _past_limit(tail: FollowedTail, series: Series, level: float) -> bool:
    up, down = series.kind.limit_up, series.kind.limit_down
    return (up is not None and level > tail.limits[up]) or (down is not None and level < tail.limits[down])


def _verdict(tail: FollowedTail, series: Series, ends: tuple[float, float], moved: float | None) -> Verdict:
    """Whether a sure change was for the better.

    A voltage that may be neither high nor low is better when it comes into its band or most of the way to it, or
    inside the band undoes most of what it had been seen to move; otherwise one setting there is as good as another.
    """
    change = ends[1] - ends[0]
    if series.kind.worse:
        return "helped" if change * series.kind.worse < 0.0 else "worse"
    low, high = tail.limits["regulated_low"], tail.limits["regulated_high"]
    outside = [max(low - end, end - high, 0.0) for end in ends]
    if outside[1] > outside[0]:
        return "worse"
    if outside[0] > 0.0:
        return "helped" if outside[1] <= 0.5 * outside[0] else "changed"
    if moved is None:
        return "changed"
    if change * moved > 0.0:
        return "worse"
    return "helped" if abs(change) >= 0.5 * abs(moved) else "changed"
