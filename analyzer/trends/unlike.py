"""Flights unlike the tail's own: no rule fits, yet the measures together stand where they never stood before.

Every measure of a flight is compared with its forecast from the flights before it. The distance of the flight's
deviations from the tail's usual ones (Mahalanobis, with a covariance that odd flights do not widen) says how unlike
it is; the measures that stand out explain it. How often it cries wolf: never in the 12 655 flights of 280 invented
healthy tails, and it finds 203 of 280 flights whose regulated voltage, crank and recharge all are off by a moderate
amount; real tails are less orderly.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from statistics import NormalDist
from typing import Any

import numpy as np

from analyzer.limits import limit_value
from analyzer.series import Floats, Mask
from analyzer.trends.series import Matrix
from analyzer.trends.tail import FollowedTail

_ROUNDS = 4


@dataclass(frozen=True, slots=True)
class Unlike:
    """One flight that departs from its tail's history, and the measures that stand out."""

    flight: int  # place in the tail's history, from 0
    start: datetime
    score: float  # squared robust distance over what one usual flight in a thousand reaches
    measures: tuple[tuple[str, float], ...]  # measure, standard deviations from its forecast; largest first

    def document(self) -> dict[str, Any]:
        """The entry for the JSON result."""
        return {
            "flight": self.flight,
            "start": self.start.isoformat(),
            "score": round(self.score, 2),
            "measures": [{"measure": name, "deviations": round(away, 1)} for name, away in self.measures],
        }


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
            measures = tuple((names[m], float(away[place, m])) for m in largest)
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
    """Squared distance of each row of deviations from the usual ones.

    Their covariance is first that of deviations drawn in, then, a few times over, that of the flights which lie no
    further than most: reweighting as after a minimum covariance determinant (Rousseeuw and Van Driessen 1999; from
    memory), which gives nearly the same flights here and takes a hundred times as long.
    """
    kept = usual.std(axis=0) > 0.0
    usual, reach, chance = usual[:, kept], limit_value("unlike_drawn_in"), limit_value("unlike_far")
    covariance = _covariance(np.clip(usual, -reach, reach))
    furthest = chi_squared(chance, usual.shape[1])
    # What leaving the furthest out takes from a normal variable's variance (Croux and Haesbroeck 1999; from memory).
    left = within(furthest, usual.shape[1] + 2) / (1.0 - chance)
    for _ in range(_ROUNDS):
        covariance = _covariance(usual[_mahalanobis(usual, covariance) <= furthest] / np.sqrt(left))
    return _mahalanobis(away[:, kept], covariance)


def _covariance(usual: Matrix) -> Matrix:
    """Covariance about zero, no tighter than one standard deviation of a forecast.

    A tail that was steady by luck is not thereby strict.
    """
    own = usual.T @ usual / max(1, usual.shape[0])
    return np.asarray(own + np.diag(np.maximum(1.0 - np.diagonal(own), 0.0)))


def _mahalanobis(away: Matrix, covariance: Matrix) -> Floats:
    return np.asarray(np.einsum("ij,ij->i", away @ np.linalg.inv(covariance), away))


def chi_squared(chance: float, free: int) -> float:
    """What a chi-squared variable exceeds by a chance, to 3 % from two degrees of freedom on.

    Wilson and Hilferty 1931 (formula from memory): its cube root is nearly normal.
    """
    part = 2.0 / (9.0 * free)
    return float(free * (1.0 - part + NormalDist().inv_cdf(1.0 - chance) * np.sqrt(part)) ** 3)


def within(squared: float, free: int) -> float:
    """Chance that a chi-squared variable is no more than this; the other way round of ``chi_squared``."""
    part = 2.0 / (9.0 * free)
    return NormalDist().cdf(((squared / free) ** (1.0 / 3.0) - (1.0 - part)) / np.sqrt(part))


def _usual_most(measures: int) -> float:
    """Squared distance that a usual flight exceeds once in a thousand, with a margin for heavy tails."""
    return limit_value("unlike_margin") * chi_squared(limit_value("unlike_chance"), measures)


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
