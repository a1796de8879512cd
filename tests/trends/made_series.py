"""One measure over an invented tail's flights: weather, load, luck that lasts, odd flights, and a drift or none.

What weather and load do to it is drawn from what is believed of it beforehand. ``wander`` lets it come and go within
what innocent causes may leave, over a year or two: no drift, and to be left alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import log

import numpy as np

from analyzer.aircraft import UNKNOWN_AIRCRAFT
from analyzer.trends.history import FlightSummary, Reading, history_of
from analyzer.trends.tracked_series import BY_MEASURE, Series, series_of

LIMITS = UNKNOWN_AIRCRAFT.limits(14)
#: Where a sound 14 V aircraft lies, in logarithms where a measure is worked so.
LEVELS = {
    "regulated_voltage": 14.1,
    "recharge_time_constant": log(3.0),
    "recharge_settling_time": log(8.0),
    "cranking_voltage": 9.5,
    "resting_voltage": 12.7,
    "maintenance_current": 1.0,
    "battery_resistance": log(12.0),
    "regulation_scatter": 0.05,
    "regulation_droop": 6.0,
}
HOURS = 1.1  # of a usual flight


@dataclass(frozen=True)
class Drift:
    """A drift from one flight on, so fast that it passes what innocent causes may leave in some usual flights."""

    onset: int
    flights_to_pass: float


def made_series(measure: str, seed: list[int], n: int, *, wander: float = 0.0, drift: Drift | None = None) -> Series:
    """The series of a measure; ``wander`` as a share of what innocent causes may leave, from end to end."""
    rng = np.random.default_rng([*seed, *measure.encode()])
    kind = BY_MEASURE[measure]
    days = rng.exponential(rng.uniform(3.0, 9.0), n).cumsum()
    first = datetime(2020, 1, 1) + timedelta(days=float(rng.integers(0, 360)))
    turn = 2.0 * np.pi * (days + first.timetuple().tm_yday - 20.0) / 365.25
    air = 12.0 - rng.uniform(7.0, 12.0) * np.cos(turn) + rng.normal(0.0, 3.5, n)
    hours = np.clip(rng.normal(HOURS, 0.35, n), 0.45, 2.5)
    load = rng.uniform(9.0, 14.0) + 7.0 * (rng.random(n) < 0.25) + rng.normal(0.0, 0.7, n)
    volts = 14.1 + rng.normal(0.0, 0.02, n)
    around = {
        "air_start": air - 15.0,
        "air_flight": air - rng.uniform(2.0, 6.0) - 15.0,
        "load": load - load.mean(),
        "volts": volts - 14.1,
        "brevity": 1.0 / hours - 1.0,
    }
    usual, innocent = LIMITS[kind.scatter], LIMITS[kind.innocent_move]
    half = 0.6 * usual
    value = LEVELS[measure] + _luck(rng, n) * np.hypot(usual, half / 1.96) * rng.uniform(0.7, 1.0)
    for known in kind.effects:
        value += rng.normal(LIMITS[known.prior_mean], LIMITS[known.prior_sd]) * around[known.of]
    value += wander * innocent / 2.0 * np.sin(2.0 * np.pi * (days / rng.uniform(300.0, 900.0) + rng.random()))
    if drift is not None:
        flown = hours.cumsum() - hours
        rate = (kind.worse or rng.choice([-1, 1])) * innocent / (drift.flights_to_pass * HOURS)
        value += rate * np.maximum(flown - flown[drift.onset], 0.0)
    starts = [first + timedelta(days=float(day)) for day in days]
    flights = []
    for i, start in enumerate(starts):
        own = (value[i], value[i] - half, value[i] + half)
        read = {"bus_load": Reading(load[i], load[i] - 1.0, load[i] + 1.0)}
        read["regulated_voltage"] = Reading(volts[i], volts[i] - 0.02, volts[i] + 0.02)
        read[measure] = Reading(*(np.exp(own) if kind.logarithmic else own))
        end, at_start, aloft = start + timedelta(hours=hours[i]), around["air_start"][i] + 15.0, around["air_flight"][i]
        flights.append(FlightSummary(start, end, hours[i], 14, "battery", at_start, aloft + 15.0, 0.3, read))
    return series_of(history_of("N0MADE", flights), kind)


def _luck(rng: np.random.Generator, n: int) -> np.ndarray:
    """Noise of spread 1 in which a flight's is like the last one's, one flight in a hundred four spreads off."""
    alike, fresh = rng.uniform(0.0, 0.4), rng.normal(size=n)
    luck = fresh.copy()
    for i in range(1, n):
        luck[i] = alike * luck[i - 1] + np.sqrt(1.0 - alike**2) * fresh[i]
    return luck + np.where(rng.random(n) < 0.01, rng.choice([-4.0, 4.0], n), 0.0)
