"""Did it help, in full: one day's maintenance entries with the flights that were compared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from analyzer.trends.chart import ChartPoint, chart_points
from analyzer.trends.history import History
from analyzer.trends.series import BY_MEASURE
from analyzer.trends.tail import FollowedTail, follow_tail


def entry_document(history: History, document: Mapping[str, Any], when: datetime) -> dict[str, Any]:
    """The entries of a day, or of a moment when the time of day is given, compared.

    Parameters
    ----------
    history : the tail's flights and entries
    document : the tail's entry of ``taper trend --json``
    when : midnight means the whole day

    Returns
    -------
    ``tail``, ``when`` and ``entries``: each entry as in the trends' document, each of its measures with
    ``flights``: of ``before`` and ``after`` the ``count`` worked from, ``first`` and ``last`` start, or null; and
    ``change_is``: "difference", or "factor" for a measure that is compared by its ratio. ``entries`` is empty
    when nothing was done then.
    """
    tail = follow_tail(history)
    wanted = [entry for entry in document["entries"] if _meant(datetime.fromisoformat(entry["when"]), when)]
    return {
        "tail": document["tail"],
        "when": when.isoformat(),
        "entries": [
            entry | {"measures": [_measure(tail, entry, one) for one in entry["measures"]]} for entry in wanted
        ],
    }


def _meant(at: datetime, when: datetime) -> bool:
    return at == when or (when.time() == datetime.min.time() and at.date() == when.date())


def _measure(tail: FollowedTail, entry: Mapping[str, Any], one: Mapping[str, Any]) -> dict[str, Any]:
    flights = compared_flights(chart_points(tail, one["measure"]), entry, one)
    return dict(one) | {
        "flights": flights,
        "change_is": "factor" if BY_MEASURE[one["measure"]].logarithmic else "difference",
    }


def compared_flights(
    points: Sequence[ChartPoint], entry: Mapping[str, Any], one: Mapping[str, Any]
) -> dict[str, dict[str, Any] | None]:
    """Count, first and last of the flights that the values before and after an entry were worked from."""
    when = datetime.fromisoformat(entry["when"])
    starts = [point.start for point in points if point.start is not None]
    before = [start for start in starts if start < when]
    after = [start for start in starts if start >= when][: one["flights_after"]]
    before = before[max(0, len(before) - one["flights_before"]) :]
    return {"before": span_of(before), "after": span_of(after)}


def span_of(starts: Sequence[datetime]) -> dict[str, Any] | None:
    """How many flights, and the start of the first and of the last, by the document; None for none."""
    if not starts:
        return None
    return {"count": len(starts), "first": starts[0].isoformat(), "last": starts[-1].isoformat()}
