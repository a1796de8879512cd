"""A symptom that came at low engine speed only, beside what is usual at that speed on this aircraft."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from analyzer.limits import Limits, limit_value
from analyzer.squawk.conditions import SymptomCondition
from analyzer.squawk.examine import ExaminedFlight
from analyzer.squawk.known import Symptom
from analyzer.squawk.symptom_result import State


class Beside(StrEnum):
    """How the latest flight with it stands beside the aircraft's other flights at that speed."""

    USUAL = "usual"
    WORSE = "worse"
    SELDOM = "seldom"  # most flights do not show it
    TOO_FEW = "too_few"  # flights to compare


@dataclass(frozen=True, slots=True)
class Idling:
    """A symptom at low rpm: in how many flights, and how the latest stands beside them."""

    beside: Beside
    flights: int  # with it
    of: int  # in which the engine idled and it would have shown
    outside_h: float  # [h] outside low rpm in which it would have shown, and never did


def idling_of(symptom: Symptom, flights: Sequence[ExaminedFlight]) -> Idling:
    """Hold the latest flight that shows a symptom at low rpm against the others that idled; in order of time."""
    name = symptom.name
    idled = [one for one in flights if one.symptoms[name].exposure.get(SymptomCondition.LOW_RPM, (0.0, 0.0))[0] > 0.0]
    shown = [one for one in idled if one.symptoms[name].state == State.SEEN]
    seconds = [own.exposure[SymptomCondition.LOW_RPM] for one in idled for own in [one.symptoms[name]]]
    outside = sum(whole - low for low, whole in seconds) / 3600.0
    return Idling(_beside(symptom, shown, len(idled)), len(shown), len(idled), outside)


def _beside(symptom: Symptom, shown: Sequence[ExaminedFlight], idled: int) -> Beside:
    if idled < limit_value("squawk_fewest_starts"):
        return Beside.TOO_FEW
    levels = [level for flight in shown if (level := _level(symptom, flight)) is not None]
    if len(levels) > 1 and _worse(symptom, levels, shown[-1].nominal_voltage):
        return Beside.WORSE
    return Beside.USUAL if len(shown) >= limit_value("squawk_idle_usual_share") * idled else Beside.SELDOM


def _level(symptom: Symptom, flight: ExaminedFlight) -> float | None:
    """The number that sums the symptom up in one flight."""
    wanted = symptom.headline["number"]
    told = [one.numbers[wanted] for one in flight.symptoms[symptom.name].occasions if wanted in one.numbers]
    pick = min if symptom.headline["pick"] == "lowest" else max
    return pick(one.value for one in told) if told and told[0].unit == "V" else None


def _worse(symptom: Symptom, levels: Sequence[float], nominal_voltage: int | None) -> bool:
    beyond = levels[-1] - float(np.median(levels[:-1]))
    beyond = -beyond if symptom.headline["pick"] == "lowest" else beyond
    return beyond > Limits(nominal_voltage, {})["squawk_idle_worse"]
