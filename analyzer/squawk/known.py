"""What is known of each symptom (``symptoms.toml``), and the function that looks for it in a flight."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from analyzer.shipped_tables import read_table

SYMPTOMS_FILE = Path(__file__).with_name("symptoms.toml")
#: Every symptom, in the order in which they are listed.
SYMPTOMS = (
    "charging_light",
    "ammeter_discharge",
    "ammeter_high",
    "breaker_opened",
    "slow_crank",
    "dead_battery",
    "noise_or_pulsing",
    "voltage_high",
    "battery_heat",
    "gauge_jumps",
)


@dataclass(frozen=True, slots=True)
class ToMeasure:
    """One thing to measure first, and what to expect."""

    what: str
    expected: Mapping[int, str]  # nominal voltage -> value in words, {band} the regulated voltage's
    tells: str
    source: str


@dataclass(frozen=True, slots=True)
class Symptom:
    """One symptom of the file."""

    name: str
    title: str
    said: tuple[str, ...]  # how pilots write it, a few ways
    needs: str
    findings: frozenset[str]  # that are about it
    causes_of: str  # entry of causes.toml
    own_causes: bool  # weighed for a flight with a finding about it too
    headline: Mapping[str, str]  # number, pick ("lowest" or "highest"), words
    indirect: bool  # no log shows it, only signs of it
    at_low_rpm: str | None  # what is said of one that came at low engine speed only
    innocent: tuple[str, ...]
    before: str | None  # what comes before any measuring
    measure_first: tuple[ToMeasure, ...]
    check: tuple[str, ...]


def band_words(low: float, high: float) -> str:
    """The band of the regulated voltage [V] in words."""
    return f"{low:.1f} to {high:.1f} V"


@cache
def load_symptoms() -> Mapping[str, Symptom]:
    """Read ``symptoms.toml``."""
    document: dict[str, Any] = read_table(SYMPTOMS_FILE)
    return {name: _symptom(name, document[name]) for name in SYMPTOMS}


def _symptom(name: str, entry: dict[str, Any]) -> Symptom:
    return Symptom(
        name,
        entry["title"],
        tuple(entry["said"]),
        entry["needs"],
        frozenset(entry["findings"]),
        entry["causes_of"],
        entry.get("own_causes", False),
        entry["headline"],
        entry.get("indirect", False),
        entry.get("at_low_rpm"),
        tuple(entry["innocent"]),
        entry.get("before"),
        tuple(
            ToMeasure(one["what"], {14: one["at_14"], 28: one["at_28"]}, one["tells"], one["source"])
            for one in entry["measure_first"]
        ),
        tuple(entry["check"]),
    )
