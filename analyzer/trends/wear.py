"""When a measure that wears comes to its limit: ways to wear, weighed by how well each tells the flights so far.

Wear may go on at one pace, quicken, slow down, begin late, or bend; and what went evenly so far may bend next week.
Each of these ways says which share of the way to the limit is worn off at each share of the part's life. So a way and
a life together foretell every flight, but for the level at the first one, which is a linear term with a wide normal
prior. Every way is tried with every life; each pair is weighed by its marginal likelihood, and the weights of the lives
are the chance that the limit is reached by a time: Bayesian model averaging (Hoeting et al. 1999, Statistical Science
14; Gelman et al., Bayesian Data Analysis, 3rd ed., ch. 14; formulas from memory).

Beforehand a life of L is believed as 1 / L^2 is: the last flight lies anywhere in it alike. What weather and load do
is not known for sure and may look like wear, or hide it; so it is left open beside every way, and not taken as found.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from analyzer.corrections import rests_on_corrections
from analyzer.limits import limit_value
from analyzer.series import Floats, middle
from analyzer.trends.regression import scatter_of

Matrix = np.ndarray[tuple[int, int], np.dtype[np.float64]]

#: Time left that is tried, in times the flown time. Points of a sum and no thresholds, so nothing for anybody to tune:
#: twice as many, or half, move an end of the interval by about a hundredth.
LEFT = np.geomspace(0.005, 30.0, 200)
#: Shares of the flown time at which the ways are worked out; flights between two count to both.
_NODES = np.linspace(0.0, 1.0, 49)


@dataclass(frozen=True, slots=True)
class Way:
    """One way to wear, by shares of the part's life."""

    kind: str  # the limit that says how much it is believed beforehand, shared by all of a kind
    power: float = 1.0  # how the part that grows does, since it begins
    rate: float = 0.0  # if not 0 it grows exponentially instead
    lost: float = 0.0  # if not 0 it grows as the rest is loaded by what is lost, of which so much is lost in the end
    begins: float = 0.0  # share of the life at which it begins to grow
    steady: float = 0.0  # share that goes at one pace from the first flight on

    def worn(self, life: Floats) -> Floats:
        """Give the share of the way to the limit at some shares of the life, of any shape: 0 at 0, 1 at 1."""
        since = np.maximum(life - self.begins, 0.0) / (1.0 - self.begins)
        if self.lost:
            grown = np.log1p(-self.lost * since) / np.log1p(-self.lost)
        else:
            grown = np.expm1(self.rate * since) / np.expm1(self.rate) if self.rate else since**self.power
        return np.asarray(self.steady * life + (1.0 - self.steady) * grown)


def _bent(begins: float, faster: float) -> Way:
    """One pace, and from some share of the life on so many times that pace."""
    return Way("wear_bent", begins=begins, steady=1.0 / (1.0 + (faster - 1.0) * (1.0 - begins)))


#: The net that is cast over the shapes of each kind. Not for tuning: how much a kind is believed is in the limits and
#: is shared by its ways, so a way that is moved, added or taken out for one part shifts the belief in all of them.
#: It is held as a whole to made wear whose end is known, of shapes that are not in it as well.
WAYS: tuple[Way, ...] = (
    Way("wear_even"),
    *(Way("wear_quickening", power=power) for power in (1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.4, 2.6, 3.0)),
    *(Way("wear_quickening", rate=rate) for rate in (0.75, 1.1, 1.5, 1.9, 2.4, 3.0, 3.6)),
    *(Way("wear_quickening", lost=lost) for lost in (0.5, 0.65, 0.75, 0.82, 0.88, 0.93, 0.96)),
    *(Way("wear_quickening", power=power, steady=0.2 * part) for power in (2.0, 3.0, 4.0, 6.0) for part in range(1, 5)),
    *(Way("wear_quickening", power=power, begins=0.1 * part) for power in (1.5, 2.0, 3.0) for part in range(1, 4)),
    *(Way("wear_slowing", power=power) for power in (0.5, 0.7)),
    *(Way("wear_begun_late", begins=0.05 * part) for part in range(1, 20)),
    *(_bent(0.08 * part, faster) for part in range(3, 13) for faster in (2.0, 3.0, 4.5, 7.0)),
)


@dataclass(frozen=True, slots=True)
class Reach:
    """The chance that a limit is reached within so many engine hours from the last flight."""

    hours: Floats  # (m,) rising, from 0
    chance: Floats  # (m,) rising, 0 to 1; below 1 at the end where it may never be reached
    flown: float  # hours that the flights span

    def within(self, chance: float) -> float:
        """Give the hours within which the limit is reached with this chance, infinite where it may never be."""
        if self.chance[-1] < chance:
            return float("inf")
        return float(np.interp(chance, self.chance, self.hours))

    @property
    def stated(self) -> float:
        """The one number [h]: as often near the truth as can be, less what being late costs.

        It is the t for which P(truth within ``projection_fair`` of t), a share of it replaced by P(within
        ``projection_near``), is most, less ``projection_late_cost`` for P(t later than ``projection_late`` times the
        truth) and again for P(t later than ``projection_very_late`` times it): the later, the worse. None lies before a
        chance of ``projection_soonest``: where hardly anything is known no time hits, and none at all is never late.
        The share is ``projection_near_worth``, and ``projection_near_worth_early`` as far as less than
        ``projection_early`` of the part's life may have been flown.
        """
        tried = self.hours[self.chance >= limit_value("projection_soonest")]
        if not tried.size:
            return float("inf")
        near, fair = (self._within(limit_value(one), tried) for one in ("projection_near", "projection_fair"))
        early = 1.0 - float(self._by(np.array(self.flown * (1.0 / limit_value("projection_early") - 1.0))))
        usual = limit_value("projection_near_worth")
        worth = usual + early * (limit_value("projection_near_worth_early") - usual)
        late, very = (self._by(tried / limit_value(one)) for one in ("projection_late", "projection_very_late"))
        cost = limit_value("projection_late_cost") * (late + very)
        return float(tried[np.argmax(fair + worth * (near - fair) - cost)])

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
    """The flights as the ways are held to them."""

    flown: Floats  # (n,) share of the flown time, 0 to 1
    left: Floats  # (n,) room to the limit at each flight
    unsure: Unsure

    def besides(self, left: Floats, noise: Floats) -> Floats:
        """Give what weather and load make of what a way leaves unsaid, ``left`` (n,)."""
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
        best = int(np.argmax(weight))
        told = room[best] * np.interp(seen.flown, _NODES, _unworn()[best])
        told = told + seen.besides(drawn_in.left - told, noise)
        scale, lag = scatter_of((seen.left - told) / sd, settled=3, belief=limit_value("wear_scatter_belief"))
        noise = sd * scale * np.sqrt((1.0 + lag) / (1.0 - lag))
        reach = limit_value("trend_outlier") * noise
        drawn_in = replace(seen, left=told + np.clip(seen.left - told, -reach, reach))
        weight, room = _weighed(drawn_in, noise, believed)
    chance = _in_fits((np.exp(weight - weight.max())).reshape(len(WAYS), LEFT.size).sum(axis=0))
    ahead = LEFT * span
    foretold = ahead <= limit_value("trend_horizon")
    return Reach(np.concatenate([[0.0], ahead[foretold]]), np.concatenate([[0.0], chance[foretold]]), span)


@lru_cache
def _unworn() -> Matrix:
    """What is left of the way to the limit: a row each way and time left, a column each node."""
    life = _NODES / (1.0 + LEFT[:, None])
    return np.concatenate([1.0 - way.worn(life) for way in WAYS])


@lru_cache
def _unworn_squared() -> Matrix:
    return _unworn() ** 2


def _believed() -> Floats:
    """Logarithm of how much each way and time left is believed beforehand; all of a kind share what its limit says."""
    of_a_kind = Counter(way.kind for way in WAYS)
    of_ways = np.log([limit_value(way.kind) / of_a_kind[way.kind] for way in WAYS])
    of_lives = np.gradient(LEFT) / (1.0 + LEFT) ** 2
    of_lives[-1] += 1.0 / (1.0 + LEFT[-1])  # and all that are longer still
    flown = 1.0 / (1.0 + LEFT)
    ahead = np.array([way.kind == "wear_bent" for way in WAYS])[:, None] & (
        np.array([way.begins for way in WAYS])[:, None] > flown
    )
    table = of_ways[:, None] + np.log(of_lives) + np.where(ahead, np.log(limit_value("wear_bends_later")), 0.0)
    return np.asarray(table.ravel())


def _weighed(seen: _Seen, noise: Floats, believed: Floats) -> tuple[Floats, Floats]:
    """Give the logarithm of each way's and life's weight, and the room from first level to limit that fits it best.

    ``left`` is the room at each flight, and the way says which share of the whole that is: a normal conjugate fit of
    one term (Gelman et al., section 14.8; from memory), the effects of weather and load integrated out by the Schur
    complement of the information. No part wears as smoothly as a formula, so all flights together leave
    ``wear_course_doubt`` of the room open.
    """
    flown, left = seen.flown, seen.left
    first = middle(left[: max(3, left.size // 5)])
    certain = 1.0 / (noise**2 + noise.size * (limit_value("wear_course_doubt") * first) ** 2)
    prior = 1.0 / (limit_value("wear_room_doubt") * abs(first) + middle(noise)) ** 2
    information = _unworn_squared() @ _at_nodes(flown, certain) + prior
    vector = _unworn() @ _at_nodes(flown, certain * left) + prior * first
    weighed = seen.unsure.columns * certain[:, None]
    if weighed.size:
        covariance = _inverse(seen.unsure, weighed)
        cross = _unworn() @ np.column_stack([_at_nodes(flown, column) for column in weighed.T])
        information = information - np.einsum("ij,jk,ik->i", cross, covariance, cross, optimize=True)
        vector = vector - cross @ (covariance @ (weighed.T @ left))
    room = vector / information
    return np.asarray(0.5 * vector * room - 0.5 * np.log(information) + believed), np.asarray(room)


def _inverse(unsure: Unsure, weighed: Matrix) -> Matrix:
    """Covariance of the effects, where the wear is known; ``weighed`` are their columns over the values' variance."""
    return np.asarray(np.linalg.inv(np.diag(1.0 / unsure.sd**2) + unsure.columns.T @ weighed))


def _at_nodes(flown: Floats, amount: Floats) -> Floats:
    """Share out amounts at shares of the flown time to the nodes on either side."""
    place = flown * (_NODES.size - 1)
    before = np.minimum(place.astype(np.int64), _NODES.size - 2)
    part = place - before
    first = np.bincount(before, amount * (1.0 - part), _NODES.size)
    return np.asarray(first + np.bincount(before + 1, amount * part, _NODES.size))


def _in_fits(weight: Floats) -> Floats:
    """Chance that the limit is reached by each time left, from the weights of these times (m,)."""
    return np.asarray(_reached() @ (weight / weight.sum()))


@rests_on_corrections
@lru_cache
def _reached() -> Matrix:
    """Chance that the limit is reached by each time left (row) where it is foretold for another (column).

    No part wears as smoothly as a formula: by fits that add up as a random walk does, ``wear_fits`` of the way to the
    limit over a life, so that the time left spreads by ``wear_fits * sqrt(life / time left)`` of itself.
    """
    from scipy.special import ndtr

    step = float(np.log(LEFT[1] / LEFT[0]))
    spread = np.hypot(limit_value("wear_fits") * np.sqrt(1.0 + 1.0 / LEFT), step / 2.0)
    return np.asarray(ndtr(np.log(LEFT[:, None] / LEFT) / spread))
