"""Flights unlike the tail's own: no rule fits, yet the measures together stand where they never stood before.

Every measure of a flight is compared with its forecast from the flights before it. The robust distance of the
flight's deviations from the tail's usual ones (``robust_covariance``) says how unlike it is; the measures that stand
out explain it. How often it cries wolf: never in the 12 655 flights of 280 invented healthy tails, and it finds 203 of
280 flights whose regulated voltage, crank and recharge all are off by a moderate amount; real tails are less orderly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Floats, Mask
from analyzer.trends.followed_tail import FollowedTail
from analyzer.trends.robust_covariance import robust_covariance
from analyzer.trends.statistics import chi_squared_at
from analyzer.trends.tracked_series import Matrix


@dataclass(frozen=True, slots=True)
class Unlike:
    """One flight that departs from its tail's history, and the measures that stand out."""

    flight: int  # place in the tail's history, from 0
    start: datetime | None  # None without a clock
    score: float  # squared robust distance over what one usual flight in a thousand reaches
    measures: Mapping[str, float]  # standard deviations from its forecast; the largest first


def unlike_itself(tail: FollowedTail) -> tuple[Unlike, ...]:
    """Give the flights that no rule explains and that depart from their tail's history; none with too few flights."""
    names, away, judged = _deviations(tail)
    standing = np.abs(away) >= limit_value("unlike_stands_out")
    candidates = np.flatnonzero(judged & standing.any(axis=1) & ~_explained(tail))
    if not candidates.size or judged.sum() < limit_value("unlike_fewest"):
        return ()
    usual = away[np.flatnonzero(judged)[-int(limit_value("trend_shape_window")) :]]
    score = distances(away[candidates], usual) / _usual_most(len(names))
    found = []
    for place, value in zip(candidates.tolist(), score.tolist(), strict=True):
        if value > 1.0:
            largest = [m for m in np.argsort(-np.abs(away[place])).tolist() if standing[place, m]]
            measures = {names[m]: float(away[place, m]) for m in largest}
            found.append(Unlike(place, tail.history.flights[place].start, value, measures))
    return tuple(found)


def _deviations(tail: FollowedTail) -> tuple[list[str], Matrix, Mask]:
    """Each flight's measures against their forecasts [standard deviations], 0 where there is none.

    Only measures that most flights carry are used, and only flights that most of those measures judge.
    """
    flights = len(tail.history.flights)
    names, columns = [], []
    known = int(limit_value("trend_fewest"))
    for measure, followed in tail.followed.items():
        column = np.full(flights, np.nan)
        for stretch in followed.stretches:
            column[stretch.series.flight[known:]] = stretch.away[known:]
        if np.isfinite(column).sum() >= 0.5 * flights:
            names.append(measure)
            columns.append(column)
    if not names:
        return [], np.zeros((flights, 0)), np.zeros(flights, dtype=np.bool_)
    table = np.column_stack(columns)
    judged = np.isfinite(table).sum(axis=1) >= 0.5 * len(names)
    return names, np.nan_to_num(table), judged


def distances(away: Matrix, usual: Matrix) -> Floats:
    """Squared robust distance of each row of deviations from the usual ones.

    Their covariance is the minimum covariance determinant (Rousseeuw 1984), which odd flights do not widen, and no
    tighter than one standard deviation of a forecast: a tail that was steady by luck is not thereby strict.
    """
    kept = usual.std(axis=0) > 0.0
    if not kept.any():
        return np.zeros(len(away))
    covariance = robust_covariance(usual[:, kept])
    covariance = covariance + np.diag(np.maximum(1.0 - np.diagonal(covariance), 0.0))
    return np.asarray(np.einsum("ij,ij->i", away[:, kept] @ np.linalg.inv(covariance), away[:, kept]))


def _usual_most(measures: int) -> float:
    """Squared distance that a usual flight exceeds once in a thousand (chi-squared), with a margin for heavy tails."""
    return limit_value("unlike_margin") * chi_squared_at(measures, limit_value("unlike_chance"))


def _explained(tail: FollowedTail) -> Mask:
    """Flights with a finding of their own, or in which a drift or step was still being made out."""
    explained = np.array([bool(flight.findings) for flight in tail.history.flights], dtype=np.bool_)
    for measure, followed in tail.followed.items():
        places = tail.series[measure].flight
        for alarm in followed.alarms:
            explained[places[alarm.began] : places[alarm.raised] + 1] = True
        for stretch in followed.stretches:
            if stretch.drift is not None:
                explained[places[stretch.drift.began] : places[stretch.end - 1] + 1] = True
    return explained
