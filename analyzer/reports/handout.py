"""A lesson's questions from a flight's own steps, each with its answer: for a handout and its answer sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.measures.alternator_quit import AlternatorQuits, alternator_quits
from analyzer.measures.battery_life import BatteryKnown
from analyzer.measures.power_flow import Feeder, PowerFlow, power_flow
from analyzer.reports.flow_words import flow_sentence, instruments, next_to_nothing
from analyzer.reports.story import story
from analyzer.review import FlightReview
from analyzer.series import finite_of, median

#: Steps that one page has room for, and how near in time two may lie [s].
MOST_STEPS, APART_S = 5, 20.0


@dataclass(frozen=True, slots=True)
class Question:
    """One question, with the answer that this flight gives."""

    asks: str
    answer: str


@dataclass(frozen=True, slots=True)
class LessonStep:
    """One moment of the flight: when, what is told of it beforehand, and what is asked."""

    at_s: float
    setting: str
    readings: tuple[Question, ...]  # each with a short answer
    why: Question
    feeder: Feeder


def lesson_steps(review: FlightReview) -> list[LessonStep]:
    """The steps of a handout in the order of the flight.

    Those in which nothing recorded tells what feeds the bus ask nothing. Of more than fit, each thing that feeds the
    bus and each state of the light comes first.
    """
    step_s = review.flight.trace.step_s
    flows: list[PowerFlow] = []
    for sentence in story(review):
        flow = power_flow(review.flight, review.measures, sentence.settled_s(step_s))
        if flow.feeder is not Feeder.UNKNOWN and all(abs(flow.at_s - one.at_s) >= APART_S for one in flows):
            flows.append(flow)
    kept = _most_telling(sorted(flows, key=lambda flow: flow.at_s))
    return [_step(review.flight, flow) for flow in kept]


def quit_in_lesson(
    review: FlightReview, steps: Sequence[LessonStep], known: BatteryKnown, today: datetime
) -> AlternatorQuits | None:
    """What would follow if the alternator quit at the last step at which it feeds the bus; None where there is none."""
    at = next((one.at_s for one in reversed(steps) if one.feeder is Feeder.ALTERNATOR), None)
    if at is None:
        return None
    return alternator_quits(review.flight, review.measures, known, today, at)


def _most_telling(flows: Sequence[PowerFlow]) -> list[PowerFlow]:
    """As many as fit: of each kind the first, then whatever lies furthest in time from those."""
    first: dict[tuple[Feeder, bool | None], PowerFlow] = {}
    for flow in flows:
        first.setdefault((flow.feeder, flow.light_on), flow)
    chosen = list(first.values())[:MOST_STEPS]
    left = [flow for flow in flows if flow not in chosen]
    while left and len(chosen) < MOST_STEPS:
        furthest = max(left, key=lambda flow: min(abs(flow.at_s - one.at_s) for one in chosen))
        left.remove(furthest)
        chosen.append(furthest)
    return sorted(chosen, key=lambda flow: flow.at_s)


def _step(flight: Flight, flow: PowerFlow) -> LessonStep:
    shown = [f"{name.lower()} {value}" for name, value in instruments(flow) if name != "Low-voltage light"]
    meters = Question("The meters show", "; ".join(shown))
    at = "" if flow.light_at is None else f" ({flow.light_at.value:.1f} V)"
    light = Question(f"A low-voltage light{at} is", _light(flow))
    why = Question("Current flows from … to …, because", f"Current flows {current_way(flow)}. {flow_sentence(flow)}")
    return LessonStep(flow.at_s, _setting(flight, flow), (meters, light), why, flow.feeder)


def _setting(flight: Flight, flow: PowerFlow) -> str:
    if flow.feeder is Feeder.STARTER:
        return "starter turning"
    if not flow.running:
        return "engine stopped"
    speed = flight.trace.engine_speed
    near = np.abs(flight.trace.time - flow.at_s) <= 2.0 * flight.trace.step_s
    if speed is None or not finite_of(speed[near]).size:
        return "engine running"
    return f"engine at {round(median(speed[near]), -1):,.0f} rpm"


def current_way(flow: PowerFlow) -> str:
    """Which way the current flows, as an answer."""
    if flow.feeder is Feeder.STARTER:
        return "from the battery to the starter"
    if flow.feeder is Feeder.BATTERY:
        return "from the battery to the loads"
    if flow.feeder is Feeder.OUTSIDE:
        return "from outside the aircraft to the loads and into the battery"
    battery = flow.battery
    if flow.feeder is Feeder.BOTH or (battery and battery.amps.value < 0.0 and not next_to_nothing(battery)):
        return "from the alternator and the battery to the loads"
    if battery is None:
        return "from the alternator to the loads, and to the battery what it takes"
    if next_to_nothing(battery):
        return "from the alternator to the loads"
    return "from the alternator to the loads and into the battery"


def _light(flow: PowerFlow) -> str:
    if flow.light_on is None or flow.bus is None:
        return "not to be told: no voltage recorded"
    return f"{'on' if flow.light_on else 'off'}: the bus is at {flow.bus.value:.1f} V"
