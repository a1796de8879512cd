"""The kinds of outage, and one outage of the alternator with what it shows."""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct

from analyzer.flights.limit_or_reading import Evidence


class OutageKind(StrEnum):
    """Why the alternator does not (fully) carry the bus."""

    LOW_RPM = "low_rpm"  # the engine turns too slowly, or the bus still climbs back from that or from a low battery
    OFFLINE = "offline"  # it gives nothing
    OUTPUT_LIMITED = "output_limited"  # it gives something but not enough
    GROUND_CHECK = "ground_check"  # switched off for a moment on the ground, or just before the engine
    LATE_START = "late_start"  # not yet on after start
    BRIEF = "brief"  # over before anyone could tell
    VOLTMETER_ONLY = "voltmeter_only"  # only the voltage says so, its output goes on


LOW_RPM, OFFLINE, OUTPUT_LIMITED, GROUND_CHECK, LATE_START, BRIEF, VOLTMETER_ONLY = OutageKind


class Clue(Struct, frozen=True):
    """One thing that an outage shows, with its score for each explanation of ``alternatives.EXPLANATIONS``."""

    name: str
    value: float  # scaled: see ``outage_evidence.toml``
    scores: tuple[float, ...]
    words: str


class Alternative(Struct, frozen=True):
    """One explanation of an outage with its chance; those of one outage add up to 1."""

    explanation: OutageKind
    chance: float


class AlternatorOutage(Struct, frozen=True):
    """A stretch, engine running, in which the alternator does not (fully) carry the bus; rows, end exclusive."""

    first: int
    end: int
    kind: OutageKind
    evidence: tuple[Evidence, ...] = ()  # on OUTPUT_LIMITED against VOLTMETER_ONLY, where both were possible
    rose: bool = False  # the bus ran up before it, as only a surge makes it
    clues: tuple[Clue, ...] = ()  # what it shows of its explanation
    alternatives: tuple[Alternative, ...] = ()  # by these, the likeliest first; none where nothing tells
