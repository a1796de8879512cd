"""Over many flights: which conditions a symptom comes under, and which causes its flights speak for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from msgspec.structs import replace

from analyzer.findings.causes import MOST_CAUSES, MOST_CHECKS
from analyzer.findings.finding import Cause
from analyzer.limits import limit_value
from analyzer.squawk.conditions import OF_FLIGHT, WITHIN_FLIGHT, SymptomCondition
from analyzer.squawk.examine import ExaminedFlight, FlightSymptom
from analyzer.squawk.symptom_result import State


@dataclass(frozen=True, slots=True)
class ConditionShare:
    """How often a symptom came in a condition, held against how often the condition was there at all."""

    condition: SymptomCondition
    seen: int  # occasions in it; of a whole flight's condition, flights
    of: int
    part: float | None  # of the occasions' time [1]; None for a condition of whole flights
    exposure: float  # part of all time, or of all flights [1]
    threshold: float | None  # rpm below which it counts as low, minutes after start, degC of the air
    telling: bool  # more than chance gives
    too_few: bool  # flights, to say


def conditions(name: str, flights: Sequence[ExaminedFlight]) -> list[ConditionShare]:
    """Conditions under which a symptom came, each with its share of the occasions' time and of all time.

    Within a flight, the part of its occasions' time that lay in a condition is held against the part of the time in
    which the symptom would have shown; each flight counts once, since its occasions share their cause. Flights with
    the symptom are held against all in which it would have shown by the one-sided exact binomial test (any text on
    statistics); flights in a row count once, since a fault and the season last. Where even all flights in the
    condition could not pass, they are too few to say.
    """
    found = [_within_flight(name, condition, flights) for condition in WITHIN_FLIGHT]
    found += [_of_flights(name, condition, flights) for condition in OF_FLIGHT]
    return [one for one in found if one is not None]


def _within_flight(name: str, condition: SymptomCondition, flights: Sequence[ExaminedFlight]) -> ConditionShare | None:
    shown = [flight.symptoms[name] for flight in flights if flight.symptoms[name].state == State.SEEN]
    known = [own for own in shown if own.exposure.get(condition, (0.0, 0.0))[1] > 0.0 and own.occasions]
    if not known:
        return None
    inside = [one.within[condition] for own in known for one in own.occasions]
    mean = float(np.mean([_part_of_time(condition, own) for own in known]))
    by_time = [own.exposure[condition] for own in known]
    share = float(np.mean([seconds / whole for seconds, whole in by_time]))
    count = sum(one > 0.5 for one in inside)
    if not count:
        return None
    too_few, telling = more_than_chance(mean, len(known), share)
    return ConditionShare(condition, count, len(inside), mean, share, _threshold(condition, flights), telling, too_few)


def _threshold(condition: SymptomCondition, flights: Sequence[ExaminedFlight]) -> float | None:
    """What a condition is told by: rpm, minutes after start, or the air's temperature [degC]."""
    if condition == SymptomCondition.LOW_RPM:
        return usual_floor(flights)
    limits = {
        SymptomCondition.SOON_AFTER_START: "squawk_soon",
        SymptomCondition.COLD: "cold_start",
        SymptomCondition.HOT: "hot_air",
    }
    return limit_value(limits[condition]) if condition in limits else None


def _part_of_time(condition: SymptomCondition, own: FlightSymptom) -> float:
    """Part of the time of one flight's occasions in a condition [1]; an occasion of one row counts a second."""
    lasted = [max(1.0, one.lasted_s) for one in own.occasions]
    return float(np.average([one.within[condition] for one in own.occasions], weights=lasted))


def _of_flights(name: str, condition: SymptomCondition, flights: Sequence[ExaminedFlight]) -> ConditionShare | None:
    known = [flight for flight in flights if condition in flight.conditions]
    observed = [flight for flight in known if flight.symptoms[name].state != State.NOT_OBSERVABLE]
    with_it = [flight for flight in observed if flight.symptoms[name].state == State.SEEN]
    count = sum(flight.conditions[condition] for flight in with_it)
    runs = [list(own) for state, own in groupby(observed, lambda one: one.symptoms[name].state) if state == State.SEEN]
    mostly = sum(2 * sum(flight.conditions[condition] for flight in run) > len(run) for run in runs)
    if not count:
        return None
    share = sum(flight.conditions[condition] for flight in observed) / len(observed)
    too_few, telling = told_by_chance(mostly, len(runs), share)
    threshold = _threshold(condition, flights)
    return ConditionShare(condition, count, len(with_it), None, share, threshold, telling, too_few)


def told_by_chance(count: int, of: int, share: float) -> tuple[bool, bool]:
    """Whether flights are too few to say, and whether ``count`` of them is more than chance gives.

    Chance puts each of ``of`` flights into a condition with the probability ``share`` [1].
    """
    from scipy.stats import binomtest

    chance = limit_value("squawk_chance")
    if share**of > chance:
        return True, False
    return False, bool(binomtest(count, of, min(share, 1.0), alternative="greater").pvalue < chance)


def more_than_chance(mean: float, of: int, share: float) -> tuple[bool, bool]:
    """Whether flights are too few to say, and whether the part ``mean`` of their occasions' time is more than chance.

    Chance gives each of ``of`` flights a part of its own [1], wherever between 0 and 1, whose mean is ``share`` [1].
    The bound holds for every such law: Hoeffding, "Probability inequalities for sums of bounded random variables",
    Journal of the American Statistical Association 58 (1963), theorem 1 (from memory): a mean that large has at most
    the probability exp(-n D), D the relative entropy of the two shares.
    """
    from scipy.special import rel_entr

    chance = limit_value("squawk_chance")
    if share**of > chance:
        return True, False
    entropy = float(rel_entr(mean, share) + rel_entr(1.0 - mean, 1.0 - share))
    return False, mean > share and bool(np.exp(-of * entropy) < chance)


def usual_floor(flights: Sequence[ExaminedFlight]) -> float:
    """Engine speed below which it counts as low in most flights [rpm]."""
    floors = [flight.low_rpm_below for flight in flights if flight.low_rpm_below is not None]
    return 50.0 * round(float(np.median(floors)) / 50.0)


def causes(name: str, flights: Sequence[ExaminedFlight]) -> list[Cause]:
    """Causes by their mean weight over the flights that show a symptom, with what moved the weights and how often."""
    shown = [flight.symptoms[name] for flight in flights if flight.symptoms[name].state == State.SEEN]
    known: dict[str, Cause] = {}
    weights: dict[str, float] = {}
    reasons: dict[str, dict[str, int]] = {}
    for own in shown:
        for cause in own.likely:
            known[cause.key] = cause
            weights[cause.key] = weights.get(cause.key, 0.0) + cause.weight / len(shown)
            reasons.setdefault(cause.key, {})
        for key, why in dict.fromkeys((cause.key, why) for cause in own.likely for why in cause.why):
            reasons[key][why] = reasons[key].get(why, 0) + 1
    best = sorted(weights, key=lambda key: -weights[key])[:MOST_CAUSES]
    total = sum(weights[key] for key in best)
    return [replace(known[key], weight=weights[key] / total, why=_reasons(reasons[key], len(shown))) for key in best]


def _reasons(counts: Mapping[str, int], of: int) -> tuple[str, ...]:
    """What moved a weight, what was seen first, with how often."""
    ordered = sorted(counts.items(), key=lambda told: told[0].startswith("not seen"))
    return tuple(_reason(why, count, of) for why, count in ordered)


def _reason(why: str, count: int, of: int) -> str:
    return why if of == 1 else f"{why}, in {count} of {of} flights"


def checks(first: Sequence[str], name: str, flights: Sequence[ExaminedFlight]) -> list[str]:
    """Ground checks, once each: the likeliest cause's, the symptom's own, then the others of its flights' causes."""
    counts: dict[str, int] = {}
    for flight in flights:
        for check in flight.symptoms[name].check:
            counts[check] = counts.get(check, 0) + 1
    later = sorted(counts, key=lambda check: -counts[check])
    likeliest = [check for one in causes(name, flights)[:1] for check in one.check[:1]]
    return list(dict.fromkeys([*likeliest, *first, *later]))[:MOST_CHECKS]
