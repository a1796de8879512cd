"""When a measure that wears comes to its limit: courses of wear, weighed by how well each tells the flights so far.

Wear may go on at one pace, quicken, slow down, begin late, or bend; and what went evenly so far may bend next week
(``courses.py``). A course and a life together foretell every flight, but for the level at the first one, which is a
linear term with a wide normal prior. Every course is tried with every life; each pair is weighed by its marginal
likelihood, and the weights of the lives are the chance that the limit is reached by a time: Bayesian model averaging
(Hoeting et al. 1999, Statistical Science 14; Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 14; formulas from
memory).

Beforehand a life of L is believed as 1 / L^2 is: the last flight lies anywhere in it alike. What weather and load do
is not known for sure and may look like wear, or hide it; so it is left open beside every course, not taken as found.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from analyzer.corrections import rests_on_corrections
from analyzer.limits import limit_value
from analyzer.series import Floats, middle
from analyzer.trends.courses import LEFT, LIVES, NODES, net
from analyzer.trends.regression import scatter_of
from analyzer.trends.statistics import normal_below
from analyzer.trends.tracked_series import Matrix


@dataclass(frozen=True, slots=True)
class Reach:
    """The chance that a limit is reached within so many engine hours from the last flight."""

    hours: Floats  # (m,) rising, from 0
    chance: Floats  # (m,) rising, 0 to 1; below 1 at the end where it may never be reached
    flown: float  # hours that the flights span
    little_worn: float = 0.0  # the chance that less than ``projection_little_worn`` of the way is worn

    def within(self, chance: float) -> float:
        """Give the hours within which the limit is reached with this chance, infinite where it may never be."""
        if self.chance[-1] < chance:
            return float("inf")
        return float(np.interp(chance, self.chance, self.hours))

    def stated(self, flown_since: float = 0.0) -> float | None:
        """The one number [h], worth most of all times; None where even that is worth too little to be told.

        That is worth less than ``projection_least_worth``: any number would mislead, and the interval alone is told. A
        choice that may be refused errs less often than one that must be made (Chow 1970, IEEE Transactions on
        Information Theory 16, 41-46; from memory). Where even the late end, less the hours flown since the last flight
        that tells of it, is within ``projection_at_hand`` it is told whatever it is worth. None is tried before a
        chance of ``projection_soonest``: where hardly anything is known no time hits, and none at all is never late.
        """
        tried = self.hours[self.chance >= limit_value("projection_soonest")]
        if not tried.size:
            return None
        worth = self._worth(tried)
        best = int(np.argmax(worth))
        at_hand = self.within(limit_value("projection_latest")) - flown_since <= limit_value("projection_at_hand")
        return float(tried[best]) if at_hand or worth[best] >= limit_value("projection_least_worth") else None

    def _worth(self, tried: Floats) -> Floats:
        """What telling each of some hours is worth: as often near the truth as can be, less what being late costs.

        It is P(truth within ``projection_fair`` of t), a share of it replaced by P(within ``projection_near``), less
        ``projection_late_cost`` for P(t later than ``projection_late`` times the truth) and again for P(t later than
        ``projection_very_late`` times it): the later, the worse. The share and the cost are ``projection_near_worth``
        and ``projection_late_cost``, and those with ``_early`` as far as less than ``projection_early`` of the part's
        life may have been flown; the cost is ``projection_late_cost_little_worn`` as far as little may be worn, where
        what is still to come shows least.
        """
        near, fair = (self._within(limit_value(one), tried) for one in ("projection_near", "projection_fair"))
        worth = self._by_age("projection_near_worth", "projection_near_worth_early")
        cost = self._by_age("projection_late_cost", "projection_late_cost_early")
        cost += self.little_worn * (limit_value("projection_late_cost_little_worn") - cost)
        late, very = (self._by(tried / limit_value(one)) for one in ("projection_late", "projection_very_late"))
        return np.asarray(fair + worth * (near - fair) - cost * (late + very))

    def _by_age(self, usual: str, early: str) -> float:
        """A limit, drawn towards that for parts early in their life as far as this one may be early in its own."""
        early_yet = 1.0 - float(self._by(np.array(self.flown * (1.0 / limit_value("projection_early") - 1.0))))
        return limit_value(usual) + early_yet * (limit_value(early) - limit_value(usual))

    @property
    def told(self) -> bool:
        """Whether it tells anything: its late end is known, and near itself or not many times its early one.

        Near is within ``trend_soon``, many ``projection_widest``: shortly before the limit both ends are small, and
        then their ratio says nothing, for all of the interval asks for the same.
        """
        earliest, latest = (self.within(limit_value(f"projection_{end}")) for end in ("earliest", "latest"))
        widest = max(limit_value("projection_widest") * earliest, limit_value("trend_soon"))
        return latest < float("inf") and latest <= widest

    def _within(self, share: float, tried: Floats) -> Floats:
        """Chance that the truth lies within a share of it of some hours."""
        return self._by(tried / (1.0 - share)) - self._by(tried / (1.0 + share))

    def _by(self, hours: Floats) -> Floats:
        return np.asarray(np.interp(hours, self.hours, self.chance))


@dataclass(frozen=True, slots=True)
class Unsure:
    """What weather and load may have moved the values by, beside what was believed beforehand and taken out of them."""

    columns: Matrix  # (n, p) what one unit of each effect adds to a value
    sd: Floats  # (p,) how far each effect may lie from what was taken out, as a standard deviation


@dataclass(frozen=True, slots=True)
class _Seen:
    """The flights as the courses are held to them."""

    flown: Floats  # (n,) share of the flown time, 0 to 1
    left: Floats  # (n,) room to the limit at each flight
    unsure: Unsure

    def besides(self, left: Floats, noise: Floats) -> Floats:
        """Give what weather and load make of what a course leaves unsaid, ``left`` (n,)."""
        weighed = self.unsure.columns / noise[:, None] ** 2
        covariance = _inverse(self.unsure, weighed)
        return np.asarray(self.unsure.columns @ (covariance @ (weighed.T @ left)))


def reach_of(hours: Floats, values: Floats, sd: Floats, limit: float, unsure: Unsure | None = None) -> Reach:
    """Give when a limit is reached, from values freed of weather and load.

    Parameters
    ----------
    hours : engine hours of each flight, rising, not all the same (n,) [h]
    values : the measure (n,), in its unit and not its logarithm
    sd : standard deviation of one value, usual scatter included (n,)
    limit : value at which the measure is worn
    unsure : what is not known for sure of weather and load; None where they move nothing
    """
    span = float(hours[-1] - hours[0])
    open_to = unsure or Unsure(np.zeros((hours.size, 0)), np.zeros(0))
    seen = _Seen((hours - hours[0]) / span, limit - values, open_to)
    noise, believed, drawn_in = sd, _believed(), seen
    weight, room = _weighed(drawn_in, noise, believed)
    for _ in range(2):  # with outliers drawn in and the noise as it is
        told = _told(seen.flown, weight, room)
        told = told + seen.besides(drawn_in.left - told, noise)
        scale, lag = scatter_of((seen.left - told) / sd, settled=3, belief=limit_value("wear_scatter_belief"))
        noise = sd * scale * np.sqrt((1.0 + lag) / (1.0 - lag))
        reach = limit_value("trend_outlier") * noise
        drawn_in = replace(seen, left=told + np.clip(seen.left - told, -reach, reach))
        weight, room = _weighed(drawn_in, noise, believed)
    weight -= weight.max()
    np.exp(weight, out=weight)
    of_lives = weight.sum(axis=0)
    chance = _in_fits(of_lives)
    ahead = LEFT * span
    foretold = ahead <= limit_value("trend_horizon")
    little = float(np.vdot(weight, _little_worn()) / of_lives.sum())
    return Reach(np.concatenate([[0.0], ahead[foretold]]), np.concatenate([[0.0], chance[foretold]]), span, little)


def _told(flown: Floats, weight: Matrix, room: Matrix) -> Floats:
    """What is left to the limit at each flight, by the course and the life that weigh most."""
    course, life = np.unravel_index(int(np.argmax(weight)), weight.shape)
    worn = np.interp(flown, NODES, net().grown[course]) * net().per_end[course, life]
    return np.asarray(room[course, life] * (1.0 - worn))


@rests_on_corrections
@lru_cache
def _believed() -> Matrix:
    """Logarithm of how much each course and life is believed beforehand."""
    kinds = [one.kind for one in net().courses]
    of_kinds = np.log([limit_value(kind) for kind in kinds]) + net().ahead * np.log(limit_value("wear_bends_later"))
    of_lives = np.gradient(LEFT) / LIVES**2
    of_lives[-1] += 1.0 / LIVES[-1]  # and all that are longer still
    return np.asarray(net().share + of_kinds[:, None] + np.log(of_lives))


def _weighed(seen: _Seen, noise: Floats, believed: Matrix) -> tuple[Matrix, Matrix]:
    """Give the logarithm of each course's and life's weight, and the room from first level to limit that fits it best.

    ``left`` is the room at each flight, and the two say which share of the whole that is: 1 less what is worn off over
    what is at the life's end. So sums over the flights, a few for each course, serve all lives. A normal conjugate fit
    of one term (Gelman et al., section 14.8; from memory), the effects of weather and load integrated out by the Schur
    complement of the information. No part wears as smoothly as a formula, so all flights together leave
    ``wear_course_doubt`` of the room open.
    """
    left, cast = seen.left, net()
    first = middle(left[: max(3, left.size // 5)])
    certain = 1.0 / (noise**2 + noise.size * (limit_value("wear_course_doubt") * first) ** 2)
    prior = 1.0 / (limit_value("wear_room_doubt") * abs(first) + middle(noise)) ** 2
    at_nodes = np.column_stack([_at_nodes(seen.flown, certain), _at_nodes(seen.flown, certain * left)])
    of_one, of_left = certain.sum(), certain @ left
    (grown, grown_left), squared = (cast.grown @ at_nodes).T, cast.grown_squared @ at_nodes[:, 0]
    weighed = seen.unsure.columns * certain[:, None]
    if weighed.size:
        covariance = _inverse(seen.unsure, weighed)
        effects, total = covariance @ (weighed.T @ left), weighed.sum(axis=0)
        cross = cast.grown @ np.column_stack([_at_nodes(seen.flown, column) for column in weighed.T])
        of_one, of_left = of_one - total @ covariance @ total, of_left - total @ effects
        grown, grown_left = grown - cross @ (covariance @ total), grown_left - cross @ effects
        squared = squared - ((cross @ covariance) * cross).sum(axis=1)
    information = squared[:, None] * cast.per_end  # each table is made once: together they are larger than they seem
    information -= 2.0 * grown[:, None]
    information *= cast.per_end
    information += of_one + prior
    vector = grown_left[:, None] * cast.per_end
    np.subtract(of_left + prior * first, vector, out=vector)
    room = vector / information
    weight = np.multiply(0.5, vector, out=vector)
    weight *= room
    weight -= np.multiply(0.5, np.log(information, out=information), out=information)
    weight += believed
    return weight, room


def _inverse(unsure: Unsure, weighed: Matrix) -> Matrix:
    """Covariance of the effects, where the wear is known; ``weighed`` are their columns over the values' variance."""
    return np.asarray(np.linalg.inv(np.diag(1.0 / unsure.sd**2) + unsure.columns.T @ weighed))


def _at_nodes(flown: Floats, amount: Floats) -> Floats:
    """Share out amounts at shares of the flown time to the nodes on either side."""
    place = flown * (NODES.size - 1)
    before = np.minimum(place.astype(np.int64), NODES.size - 2)
    part = place - before
    first = np.bincount(before, amount * (1.0 - part), NODES.size)
    return np.asarray(first + np.bincount(before + 1, amount * part, NODES.size))


def _in_fits(weight: Floats) -> Floats:
    """Chance that the limit is reached by each time left, from the weights of these times (m,)."""
    return np.asarray(_reached() @ (weight / weight.sum()))


@rests_on_corrections
@lru_cache
def _little_worn() -> Matrix:
    """1 for each course and life by which little of the way to the limit is worn at the last flight, else 0."""
    return np.asarray(net().grown[:, -1:] * net().per_end < limit_value("projection_little_worn"), dtype=np.float64)


@rests_on_corrections
@lru_cache
def _reached() -> Matrix:
    """Chance that the limit is reached by each time left (row) where it is foretold for another (column).

    No part wears as smoothly as a formula: by fits that add up as a random walk does, ``wear_fits`` of the way to the
    limit over a life, so that the time left spreads by ``wear_fits * sqrt(life / time left)`` of itself.
    """
    step = float(np.log(LEFT[1] / LEFT[0]))
    spread = np.hypot(limit_value("wear_fits") * np.sqrt(1.0 + 1.0 / LEFT), step / 2.0)
    return normal_below(np.log(LEFT[:, None] / LEFT) / spread)
