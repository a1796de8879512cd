"""Invented repairs with known answers: flights before and after work, with faults, stray findings and scatter."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
from made_histories import made

from analyzer.findings.finding import FindingName, Severity
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.found_around import SHOWN_BY
from analyzer.trends.history import FlightFinding, FlightSummary, History, Reading, history_of

#: What came of the work -> verdicts that are right.
RIGHT = {
    "cured": {"helped"},
    "in vain": {"did not help"},
    "new": {"new after the work"},
    "back": {"helped, then came back"},
    "sound": {"no change", "changed", "nothing to compare", "not found again"},
}
#: Share of flights with a finding that has nothing to do with the fault, each kind [1].
STRAYS = 0.005
WORKS = ("regulator_replaced", "alternator_overhauled", "connection_repaired", "battery_replaced")


@dataclass(frozen=True, slots=True)
class Repair:
    """One repair, and what truly came of it."""

    history: History
    came: str


def repair(came: str, seed: int) -> Repair:
    """One repair: flights, faults, their share of the flights and the strays drawn from wide ranges."""
    rng = np.random.default_rng([seed, *came.encode()])
    before, after = int(rng.integers(14, 40)), int(rng.integers(18, 40))
    sound = made("plain", int(rng.integers(1, 10_000)), before + after).history
    kind = str(rng.choice(WORKS))
    ends = sorted(kinds()[kind].ends)
    fault = FindingName(str(rng.choice(ends)))
    often, clean = rng.uniform(0.6, 1.0), int(rng.integers(6, 12))
    begun = int(rng.integers(0, before - 13))
    chance = np.zeros(before + after)
    if came in ("cured", "in vain", "back"):
        chance[begun:before] = often
    if came in ("in vain", "new"):
        chance[before:] = often
    if came == "back":
        chance[before + clean :] = often
    strays = rng.random((before + after, len(ends))) < STRAYS
    usual: dict[str, Reading] = {}
    flights = []
    for place, flight in enumerate(sound.flights):
        names = {fault} if rng.random() < chance[place] else set()
        names |= {FindingName(name) for name, stray in zip(ends, strays[place], strict=True) if stray and name != fault}
        usual |= flight.readings
        flights.append(_with(flight, fault, names, usual, rng))
    entry = Entry(sound.tail, flights[before].start - timedelta(hours=1), kind, "")
    return Repair(history_of(sound.tail, flights, [entry]), came)


def _with(
    flight: FlightSummary,
    fault: FindingName,
    names: set[FindingName],
    usual: dict[str, Reading],
    rng: np.random.Generator,
) -> FlightSummary:
    """A flight with findings; hunting and a loose connection are seen in the droop that is fitted under them.

    A measure that would show one of them and that the flight does not carry is as in the flight before.
    """
    readings = dict(flight.readings)
    for name in (fault, *names):  # each flight would have shown the fault
        for measure in SHOWN_BY[name][:1]:
            readings.setdefault(measure, usual.get(measure, Reading(1.0, 0.9, 1.1)))
    droop = readings.get("regulation_droop")
    if droop is not None and {"regulator_hunting", "unsteady_connection"} & names:
        moved = float(rng.normal(0.0, 4.0))
        readings["regulation_droop"] = Reading(droop.value + moved, droop.low + moved - 3.0, droop.high + moved + 3.0)
    found = tuple(FlightFinding(name, Severity.CAUTION) for name in sorted(names))
    return replace(flight, readings=readings, findings=found)
