"""The courses that wear may take: at one pace, quickening, slowing down, begun late, bent at once or over a while.

A course says how much is worn off at each flown hour, a life where along it the limit lies. So a course is held to the
flights once for all lives, and a bend that has come has its place among the flights, not in a life that nobody knows
yet. What is believed of a course beforehand is said in shares of the life (wear bends anywhere in its last four
fifths), and each life brings that to flown hours.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np

from analyzer.series import Floats
from analyzer.trends.tracked_series import Matrix

#: Time left that is tried, in times the flown time. Points of a sum and no thresholds, so nothing for anybody to tune:
#: twice as many, or half, move an end of the interval by about a hundredth.
LEFT = np.geomspace(0.005, 30.0, 200)
#: Lives, in times the flown time.
LIVES = 1.0 + LEFT
#: Shares of the flown time at which the courses are worked out; flights between two count to both.
NODES = np.linspace(0.0, 1.0, 49)
#: Where among the flights, and beyond them, wear may begin or bend, in times the flown time.
_PLACES = np.concatenate([np.linspace(0.03, 0.98, 33), np.geomspace(1.05, 30.0, 6)])
#: Share of what can be lost that is not lost in any life: where nothing is left, it is not worn any further.
_LEAST_KEPT = 1e-4


@dataclass(frozen=True, slots=True)
class Course:
    """One course of wear, by times the flown time."""

    kind: str  # the limit that says how much it is believed beforehand, shared by all of a kind
    grown: Callable[[Floats], Floats]  # what is worn off, in any unit: 0 at 0
    share: Floats  # (m,) of the belief in its kind, at each life
    place: float = 0.0  # where it begins or bends


@dataclass(frozen=True, slots=True)
class Net:
    """All courses, worked out where they are held to the flights and where they may end."""

    courses: tuple[Course, ...]
    grown: Matrix  # (k, n) at the nodes
    grown_squared: Matrix
    per_end: Matrix  # (k, m) one over what is worn off at the end of each life, 0 where it never comes to one
    share: Matrix  # (k, m) logarithm of each course's share of its kind
    ahead: Floats  # (k,) 1 where the bend is still to come, else 0


def _power(flown: Floats, power: float, begins: float = 0.0) -> Floats:
    """Worn by a power of the time since it began."""
    return np.asarray(np.maximum(flown - begins, 0.0) ** power)


def _exponential(flown: Floats, rate: float) -> Floats:
    """Worn by the same share more in the same time."""
    return np.expm1(rate * flown)


def _loading(flown: Floats, loss: float | Matrix) -> Floats:
    """Worn as each part lost loads the rest: by the logarithm of what is left."""
    return np.asarray(-np.log(np.maximum(1.0 - loss * flown, _LEAST_KEPT)))


def _joined(flown: Floats, power: float, amount: float) -> Floats:
    """Worn at one pace, and beside it by a power of the time."""
    return np.asarray(flown + amount * flown**power)


def _bent(flown: Floats, bends: float, faster: float) -> Floats:
    """Worn at one pace, and from some time on at so many times that."""
    return np.asarray(flown + (faster - 1.0) * np.maximum(flown - bends, 0.0))


def _bent_over(flown: Floats, bends: float, faster: float, over: float) -> Floats:
    """The same, the pace changing over a while: by a logistic of that scale, whose integral this is."""
    since = np.logaddexp(0.0, (flown - bends) / over) - np.logaddexp(0.0, -bends / over)
    return np.asarray(flown + (faster - 1.0) * over * since)


def _shares(
    values: Floats, in_life: Callable[[Matrix, Floats], Matrix], between: tuple[float, float], part: float
) -> Matrix:
    """Share out a part of a kind's belief over the values of what shapes a course (k, m), for each life.

    What the value comes to ``in_life`` is believed to lie ``between`` two ends, anywhere alike, whatever the life.
    A beginning that stands for some of a life's end but lies beyond it never comes to one, and ``net`` leaves its share
    out: beyond the flown time, where places are few, a late beginning loses up to a quarter of its share in lives that
    end just before a place (of 23 to 30 times the flown time, for one).
    """
    low, high = between
    edges = np.concatenate([[0.0], (values[1:] + values[:-1]) / 2.0, [np.inf]])[:, None]
    below = np.clip((in_life(edges, LIVES) - low) / (high - low), 0.0, 1.0)
    return np.asarray(part * np.diff(below, axis=0))


def _by_powers(kind: str, powers: tuple[float, ...], part: float = 1.0) -> list[Course]:
    """Powers of the time: the same course whatever the life."""
    share = np.full(LIVES.size, part / len(powers))
    return [Course(kind, partial(_power, power=power), share) for power in powers]


def _by_rates(part: float) -> list[Course]:
    rates = np.geomspace(0.03, 4.0, 24)
    shares = _shares(rates, lambda rate, life: rate * life, (0.65, 4.0), part)
    return [
        Course("wear_quickening", partial(_exponential, rate=rate), share)
        for rate, share in zip(rates, shares, strict=True)
    ]


def _by_losses(part: float) -> list[Course]:
    losses = np.concatenate([np.geomspace(0.015, 0.5, 12), np.linspace(0.55, 0.95, 9)])
    shares = _shares(losses, lambda loss, life: _loading(life, loss), (0.5, 3.5), part)
    return [
        Course("wear_quickening", partial(_loading, loss=loss), share)
        for loss, share in zip(losses, shares, strict=True)
    ]


def _by_parts(power: float, part: float) -> list[Course]:
    amounts = np.geomspace(0.02, 10.0, 12)
    shares = _shares(
        amounts, lambda amount, life: 1.0 - 1.0 / (1.0 + amount * life ** (power - 1.0)), (0.1, 0.9), part
    )  # fmt: skip
    return [
        Course("wear_quickening", partial(_joined, power=power, amount=amount), share)
        for amount, share in zip(amounts, shares, strict=True)
    ]


def _begun(kind: str, power: float, between: tuple[float, float], part: float = 1.0) -> list[Course]:
    return [
        Course(kind, partial(_power, power=power, begins=place), share, place)
        for place, share in zip(_PLACES, _shares(_PLACES, np.divide, between, part), strict=True)
    ]


def _bends() -> list[Course]:
    """Bends to some paces.

    Half of the bends among the flights come at once, half over a twentieth of the flown time; of one still to come the
    two look alike.
    """
    paces = (1.8, 2.5, 3.5, 5.0, 7.5)
    found = []
    for faster in paces:
        for place, share in zip(_PLACES, _shares(_PLACES, np.divide, (0.2, 1.0), 1.0 / len(paces)), strict=True):
            ways = [partial(_bent, bends=place, faster=faster)]
            if place < 1.0:
                ways.append(partial(_bent_over, bends=place, faster=faster, over=0.05))
            found += [Course("wear_bent", grown, share / len(ways), place) for grown in ways]
    return found


@lru_cache
def net() -> Net:
    """Give the net that is cast over the courses of each kind.

    Not for tuning: how much a kind is believed is in the limits and is shared by its courses, so one that is moved,
    added or taken out for one part shifts the belief in all of them. It is held as a whole to made wear whose end is
    known, of shapes that are not in it as well.
    """
    courses = (
        *_by_powers("wear_even", (1.0,)),
        *_by_powers("wear_quickening", (1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.4, 2.6, 3.0), 0.2),
        *_by_rates(0.15),
        *_by_losses(0.15),
        *(one for power in (2.0, 3.0, 4.0, 6.0) for one in _by_parts(power, 0.08)),
        *(one for power in (1.5, 2.0, 3.0) for one in _begun("wear_quickening", power, (0.05, 0.35), 0.06)),
        *_by_powers("wear_slowing", (0.5, 0.7)),
        *_begun("wear_begun_late", 1.0, (0.0, 1.0)),
        *_bends(),
    )
    grown = np.stack([one.grown(NODES) for one in courses])
    end = np.stack([one.grown(LIVES) for one in courses])
    ends = end > 0.0
    share = np.where(ends, np.stack([one.share for one in courses]), 0.0)
    return Net(
        courses=courses,
        grown=grown,
        grown_squared=grown**2,
        per_end=np.divide(1.0, end, where=ends, out=np.zeros_like(end)),
        share=np.log(share, where=share > 0.0, out=np.full_like(share, -np.inf)),
        ahead=np.array([float(one.kind == "wear_bent" and one.place > 1.0) for one in courses]),
    )
