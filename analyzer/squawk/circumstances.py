"""The circumstances that a report names, answered: how often a symptom came in them, and how often elsewhere."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from analyzer.squawk.conditions import OF_FLIGHT, SymptomCondition
from analyzer.squawk.examine import ExaminedFlight
from analyzer.squawk.symptom_result import State
from analyzer.squawk.understanding import Circumstance


@dataclass(frozen=True, slots=True)
class CircumstanceAnswer:
    """One circumstance that a report names, and what the recordings say of it."""

    words: str  # as the report has them
    condition: SymptomCondition
    recorded: bool  # whether any flight tells it
    inside: int = 0  # occasions in it; of a whole flight's condition, flights with the symptom
    outside: int = 0
    inside_h: float = 0.0  # [h] in it in which the symptom would have shown; of a whole flight's condition, flights
    outside_h: float = 0.0


def answers(
    name: str, flights: Sequence[ExaminedFlight], named: Sequence[Circumstance]
) -> Iterator[CircumstanceAnswer]:
    """Answer each circumstance that a condition of the recordings stands for; each condition once."""
    told: set[SymptomCondition] = set()
    for one in named:
        condition = _recorded(name, flights, [SymptomCondition(condition) for condition in one.conditions])
        if condition is None or condition in told:
            continue
        told.add(condition)
        answer = _of_flights if condition in OF_FLIGHT else _within_flights
        yield answer(name, flights, one.words, condition)


def _recorded(
    name: str, flights: Sequence[ExaminedFlight], conditions: Sequence[SymptomCondition]
) -> SymptomCondition | None:
    """The best condition that some flight tells; where none does, the best, and None without any."""
    told = {condition for flight in flights for condition in (*flight.conditions, *flight.symptoms[name].exposure)}
    return next((one for one in conditions if one in told), conditions[0] if conditions else None)


def _within_flights(
    name: str, flights: Sequence[ExaminedFlight], words: str, condition: SymptomCondition
) -> CircumstanceAnswer:
    known = [own for flight in flights if condition in (own := flight.symptoms[name]).exposure]
    parts = [one.within.get(condition, 0.0) for own in known for one in own.occasions if own.state == State.SEEN]
    inside_s = sum(own.exposure[condition][0] for own in known)
    whole_s = sum(own.exposure[condition][1] for own in known)
    inside = sum(part > 0.5 for part in parts)
    return CircumstanceAnswer(
        words, condition, bool(known), inside, len(parts) - inside, inside_s / 3600.0, (whole_s - inside_s) / 3600.0
    )


def _of_flights(
    name: str, flights: Sequence[ExaminedFlight], words: str, condition: SymptomCondition
) -> CircumstanceAnswer:
    known = [
        (flight.conditions[condition], flight.symptoms[name].state == State.SEEN)
        for flight in flights
        if condition in flight.conditions and flight.symptoms[name].state != State.NOT_OBSERVABLE
    ]
    inside, outside = (sum(seen for held, seen in known if held is side) for side in (True, False))
    under = sum(held for held, _ in known)
    return CircumstanceAnswer(words, condition, bool(known), inside, outside, float(under), float(len(known) - under))
