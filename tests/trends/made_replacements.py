"""Invented tails whose battery or regulator was changed and nobody logged it, and others that only look a little so.

The flights are those of ``made_histories``; a battery's wear and what takes it away are put on top. Constants are drawn
a tail, and are not those that the analysis believes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from analyzer.trends.entries import Entry
from analyzer.trends.history import FlightSummary, History, Reading, history_of
from tests.trends.made_histories import made

#: Something was changed and not logged.
CHANGED = ("battery", "battery_no_air", "regulator")
#: Nothing was, or it was logged.
UNCHANGED = ("none", "no_air", "worn", "charged_once", "charger_since", "logged", "stood_long", "new_voltmeter")


@dataclass(frozen=True)
class Changed:
    """A history and the stand in which something was changed: the flight before it ended, the one after began."""

    history: History
    kind: str
    between: tuple[datetime, datetime]


def changed(kind: str, seed: int, flights: int | None = None) -> Changed:
    """One tail of a kind."""
    rng = np.random.default_rng([seed, 7, *kind.encode()])
    base = "no_air" if kind in ("no_air", "battery_no_air") else "plain"
    told = made(base, int(rng.integers(1, 100_000)), flights or int(rng.integers(30, 70))).history
    at = int(rng.integers(8, len(told.flights) - 7))
    if kind == "stood_long":
        told = _without_a_season(told, at)
    n = len(told.flights)
    stood = timedelta(days=float(rng.uniform(1.0, 20.0)))
    moved = [one if i < at else _later(one, stood) for i, one in enumerate(told.flights)]
    wear = rng.uniform(0.35, 1.1) * (0.3 + 0.7 * np.arange(n) / max(1, at)) if kind != "none" else np.zeros(n)
    if kind in ("battery", "battery_no_air", "logged"):
        wear[at:] = rng.uniform(0.0, 0.05)
    charge = np.zeros(n)
    if kind == "charged_once":
        charge[at : at + int(rng.integers(1, 3))] = 1.0
    if kind == "charger_since":
        charge[at:] = 1.0
    volts = np.zeros(n)
    if kind == "regulator":
        volts[at:] = rng.choice([-1.0, 1.0]) * rng.uniform(0.15, 0.3)
    warmer = np.zeros(n)
    if kind == "stood_long":
        warmer[at:] = rng.uniform(10.0, 20.0)
    meter = np.zeros(n)
    if kind == "new_voltmeter":
        meter[at:] = rng.choice([-1.0, 1.0]) * rng.uniform(0.15, 0.4)
    ohms = rng.uniform(8.0, 16.0) * np.exp(rng.normal(0.0, 0.06, n))
    per_degc = rng.uniform(0.006, 0.014)
    has_ohms = rng.random() < 0.7
    worn = [
        _as(one, wear[i], charge[i], volts[i], meter[i], ohms[i] if has_ohms else None, per_degc)
        for i, one in enumerate(moved)
    ]
    first = worn[at].start
    entries = [Entry(told.tail, first - timedelta(hours=2), "battery_replaced", "")] if kind == "logged" else []
    return Changed(history_of(told.tail, worn, entries), kind, (worn[at - 1].end, first))


def _without_a_season(told: History, at: int) -> History:
    """The same without the 120 days from a flight on: another season's weather behind a long stand."""
    stops = told.flights[at].start
    flown = [one for one in told.flights if not stops <= one.start < stops + timedelta(days=120)]
    return history_of(told.tail, flown if len(flown) > at + 6 else told.flights)


def _later(flight: FlightSummary, by: timedelta) -> FlightSummary:
    return replace(flight, start=flight.start + by, end=flight.end + by)


def _as(
    flight: FlightSummary, wear: float, charge: float, volts: float, meter: float,
    ohms: float | None, per_degc: float,
) -> FlightSummary:  # fmt: skip
    """A flight with a battery so worn and so charged, a regulator, air and a voltmeter that are off by so much."""
    scale = flight.nominal_voltage / 14
    air = 15.0 if flight.air_start is None else flight.air_start
    slower = (1.0 + 1.5 * wear**1.3) * np.exp(-0.15 * charge)
    moves = {
        "cranking_voltage": (1.0, scale * (-1.9 * wear**1.3 + 0.12 * charge + meter)),
        "resting_voltage": (1.0, scale * (-0.17 * wear + 0.12 * charge + meter)),
        "regulated_voltage": (1.0, scale * (volts + meter)),
        "maintenance_current": (1.0, 0.5 * wear),
        "recharge_time_constant": (slower, 0.0),
        "recharge_settling_time": (slower * np.exp(-0.5 * charge), 0.0),
    }
    readings = dict(flight.readings)
    for name, (factor, plus) in moves.items():
        if name in readings:
            one = readings[name]
            readings[name] = Reading(*(factor * value + plus for value in (one.value, one.low, one.high)))
    if ohms is not None:
        shown = scale * ohms * (1.0 + 0.8 * wear) * np.exp(-per_degc * (air - 15.0)) * (1.0 - 0.03 * charge)
        readings["battery_resistance"] = Reading(shown, 0.88 * shown, 1.12 * shown)
    return replace(flight, readings=readings)
