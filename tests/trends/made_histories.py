"""Invented tails as flight summaries: truth, weather, load and instruments, with the answer known.

Not through logs, for speed: a measure here is its truth plus what a season, the load, a coarse meter and luck
make of it, with the interval that the analysis would give. The constants are drawn per tail and are not those
that the analysis believes beforehand.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from analyzer.trends.entries import Entry
from analyzer.trends.history import FlightSummary, History, Reading, history_of

HEALTHY = ("season", "load_change", "regulator_adjusted", "battery_replaced", "instrument", "plain", "no_air")
FAULTY = ("drift_up", "drift_down", "step", "ageing", "loosening", "resting_down")


@dataclass(frozen=True)
class Made:
    """A history and what is true of it."""

    history: History
    kind: str
    begins: int | None  # flight at which a fault begins
    clear: int | None  # flight at which a careful person would see it
    slope: float | None  # true slope of the regulated voltage [V per 100 h]
    names: frozenset[str]  # findings that are right


def made(kind: str, seed: int, flights: int | None = None) -> Made:
    """One tail of a kind."""
    rng = np.random.default_rng([seed, *kind.encode()])
    n = flights or int(rng.integers(32, 60))
    scale = int(rng.choice([1, 2]))
    battery_kind = bool(rng.random() < 0.6)
    coarse = bool(rng.random() < 0.5)
    gaps = rng.exponential(rng.uniform(3.0, 9.0), n) + 0.05
    days = np.cumsum(gaps)
    first = datetime(2025, 1, 1) + timedelta(days=float(rng.integers(0, 360)))
    starts = [first + timedelta(days=float(d), minutes=float(rng.uniform(0, 300))) for d in days]
    starts.sort()
    year = np.array([s.timetuple().tm_yday for s in starts])
    air = 12.0 + rng.uniform(7.0, 12.0) * -np.cos(2 * np.pi * (year - 20) / 365.25) + rng.normal(0, 3.5, n)
    aloft = air - rng.uniform(2.0, 6.0, n)
    hours = np.clip(rng.normal(1.1, 0.35, n), 0.45, 2.5)
    flown = np.concatenate([[0.0], hours.cumsum()[:-1]])
    night = rng.random(n) < 0.25
    load = rng.uniform(9.0, 14.0) + 7.0 * night + rng.normal(0, 0.7, n)
    if kind == "load_change":
        load[int(n * rng.uniform(0.4, 0.7)) :] += rng.uniform(-4.0, 7.0)

    begins = clear = slope = None
    names: set[str] = set()
    entries: list[Entry] = []
    at = int(n * rng.uniform(0.35, 0.65))
    shift = np.zeros(n)
    age = np.zeros(n)
    droop_growth = np.zeros(n)
    offset = np.zeros(n)
    rest_fall = np.zeros(n)
    if kind in ("drift_up", "drift_down"):
        begins = int(rng.integers(0, 6))
        rate = rng.uniform(0.35, 1.1) * (1.0 if kind == "drift_up" else -1.0)
        shift = rate / 100.0 * np.maximum(flown - flown[begins], 0.0)
        seen = np.flatnonzero(np.abs(shift) > 0.14)
        clear = int(seen[0]) if seen.size else None
        slope, names = rate * scale, {"regulator_drift"}
    elif kind == "step":
        begins = clear = at
        shift[at:] = rng.choice([-1, 1]) * rng.uniform(0.22, 0.6)
        names = {"regulator_drift"}
    elif kind == "ageing":
        begins = int(n * rng.uniform(0.1, 0.35))
        age = np.maximum(np.arange(n) - begins, 0) / (n - begins) * rng.uniform(0.8, 1.2)
        clear = int(np.flatnonzero(age > 0.3)[0])
        names = {"recharge_slowing", "cranking_weakening", "resting_voltage_falling", "maintenance_current_rising"}
    elif kind == "loosening":
        begins = int(n * rng.uniform(0.1, 0.35))
        droop_growth = np.maximum(np.arange(n) - begins, 0) / (n - begins) * rng.uniform(25.0, 45.0)
        clear = int(np.flatnonzero(droop_growth > 12.0)[0])
        names = {"regulation_loosening", "regulator_drift"}
        battery_kind, coarse = False, False
    elif kind == "resting_down":
        begins = int(n * rng.uniform(0.1, 0.35))
        rest_fall = np.maximum(np.arange(n) - begins, 0) / (n - begins) * rng.uniform(0.35, 0.6)
        clear = int(np.flatnonzero(rest_fall > 0.2)[0])
        names = {"resting_voltage_falling", "cranking_weakening"}
    elif kind == "regulator_adjusted":
        shift[at:] = rng.choice([-1, 1]) * rng.uniform(0.15, 0.4)
        entries.append(_entry(starts[at], kind))
        slope = 0.0
    elif kind == "battery_replaced":
        age[:at] = 0.25
        entries.append(_entry(starts[at], kind))
        slope = 0.0
    elif kind == "instrument":
        offset[at:] = rng.choice([-1, 1]) * rng.uniform(0.2, 0.4)
    else:
        slope = 0.0

    per_degc = rng.choice([0.0, rng.uniform(-0.016, -0.002)])
    bay = np.clip(aloft + rng.uniform(10, 20), -5.0, 45.0)
    droop = rng.uniform(0.001, 0.007)
    path = droop_growth / 1000.0
    volts = rng.uniform(13.9, 14.25) + per_degc * (bay - 30.0) - (droop + path) * (load - 12.0) + shift
    volts += rng.normal(0, 0.018, n)
    old = 1.0 + 2.0 * age**1.3
    tau = rng.uniform(2.2, 3.6) * old * np.exp(-rng.uniform(0.01, 0.026) * (air - 15.0)) * np.exp(-0.5 * (volts - 14.1))
    tau *= np.exp(rng.normal(0, 0.09, n))
    cranking = rng.uniform(9.0, 9.8) - 1.9 * age**1.5 - 2.0 * rest_fall + rng.uniform(0.015, 0.04) * (air - 15.0)
    cranking += rng.normal(0, 0.25, n) + np.where(rng.random(n) < 0.12, rng.uniform(0.5, 2.5, n), 0.0)
    resting = rng.uniform(12.55, 12.8) - 0.17 * age - rest_fall + rng.normal(0, 0.025, n)
    kept = rng.uniform(0.4, 1.0) * np.exp(0.06 * (air - 15.0) * 0.6) + 0.25 / hours + 0.4 * age + rng.normal(0, 0.12, n)
    settle = np.maximum(tau * rng.uniform(2.0, 2.8, n) + rng.normal(0, 0.8, n), 0.5)
    scatter = np.abs(rng.normal(0.02, 0.004, n))

    step = 0.1 * scale if coarse else 0.01
    show = lambda true: np.round((true * scale + offset * scale) / step) * step  # noqa: E731
    half_volts = 0.6 * step if coarse else 0.02 * scale
    rows = {
        "regulated_voltage": _with(show(volts), half_volts),
        "cranking_voltage": _with(show(cranking), 0.6 * scale),
        "resting_voltage": _with(show(resting), max(0.08 * scale, 0.6 * step)),
        "regulation_scatter": _with(np.round(scatter * scale / step) * step, 0.02 if not coarse else 0.6 * step),
    }
    share = 0.17 if battery_kind else rng.uniform(0.25, 0.8, n)
    measured_tau = tau * np.exp(rng.normal(0, 0.03 if battery_kind else share / 3.0, n))
    rows["recharge_time_constant"] = _with(measured_tau, share * measured_tau)
    rows["recharge_settling_time"] = _with(settle, 0.25 * settle)
    if battery_kind:
        rows["maintenance_current"] = _with(kept, 0.49)
    else:
        rows["bus_load"] = _with(load + rng.normal(0, 0.3, n), 1.0)
        shown = 1000.0 * (droop + path) * scale + rng.normal(0, 1.2 * scale, n)
        rows["regulation_droop"] = _with(shown, 2.2 * scale)

    missing = {name: rng.random(n) < (0.15 if "recharge" in name else 0.03) for name in rows}
    summaries = [
        FlightSummary(
            start=starts[i],
            end=starts[i] + timedelta(minutes=float(60 * hours[i])),
            hours=float(hours[i]),
            nominal_voltage=14 * scale,
            ammeter="battery" if battery_kind else "alternator",
            air_start=None if kind == "no_air" else float(np.round(air[i])),
            air_flight=None if kind == "no_air" else float(np.round(aloft[i])),
            drawn_ah=0.3,
            readings={name: row[i] for name, row in rows.items() if not missing[name][i]},
        )
        for i in range(n)
    ]
    return Made(history_of(f"N0{seed % 1000:03d}T", summaries, entries), kind, begins, clear, slope, frozenset(names))


def _with(values: np.ndarray, half: np.ndarray | float) -> list[Reading]:
    halves = np.broadcast_to(half, values.shape)
    return [Reading(float(v), float(v - h), float(v + h)) for v, h in zip(values, halves, strict=True)]


def _entry(when: datetime, kind: str) -> Entry:
    return Entry("N0000T", when - timedelta(hours=2), kind, kind.replace("_", " "))
