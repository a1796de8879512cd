"""Where a number comes from: the flight, the window of it, and the place of its formula in the reference."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

#: Phases of the flight that a measure is taken from; the whole flight where none is named or none was flown.
PHASES_OF: dict[str, tuple[str, ...]] = {
    "resting_voltage": ("before_start",),
    "resting_charge": ("before_start",),
    "prestart_discharge": ("before_start",),
    "cranking_voltage": ("cranking",),
    "cranking_time": ("cranking",),
    "start_attempts": ("cranking",),
    "recharge_peak_current": ("recharge",),
    "recharge_time_constant": ("recharge",),
    "recharge_settling_time": ("recharge",),
    "recharge_returned": ("recharge",),
    "maintenance_current": ("steady",),
    "regulated_voltage": ("steady",),
    "regulation_scatter": ("steady",),
    "regulation_slope": ("steady",),
    "regulation_droop": ("steady",),
    "bus_load": ("steady",),
    "offline_time": ("alternator_offline",),
    "offline_discharge": ("alternator_offline",),
}
REFERENCES = (
    "Where a number comes from: the flight named above it, the window of that flight by the log's clock, and the name "
    "under which the reference explains its formula, limits and sources. Values in brackets are 95 % intervals."
)


def window_of(measure: str, flight: Mapping[str, Any]) -> tuple[float, float]:
    """From the first to the last of the phases that a measure is taken from [s from the log's first row]."""
    own = [phase for phase in flight["phases"] if phase["phase"] in PHASES_OF.get(measure, ())]
    if not own:
        return flight["from_s"], flight["to_s"]
    return own[0]["from_s"], own[-1]["to_s"]


def window_words(flight: Mapping[str, Any], from_s: float, to_s: float) -> str:
    """A window by the clock, "10:34:21 to 10:35:16", or in minutes into a log without one."""
    first, last = (moment_words(flight, seconds) for seconds in (from_s, to_s))
    if flight["start"] is None:
        return f"{first.removesuffix(' min')} to {last}"
    return first if first == last else f"{first} to {last}"


def moment_words(flight: Mapping[str, Any], seconds: float) -> str:
    """A moment by the clock, or the minutes from the log's first row."""
    if flight["start"] is None:
        return f"{seconds / 60.0:.1f} min"
    at = datetime.fromisoformat(flight["start"]) + timedelta(seconds=seconds - flight["from_s"])
    return f"{at:%H:%M:%S}"


def origin_words(flight: Mapping[str, Any], from_s: float, to_s: float, name: str) -> str:
    """The whole origin of a number in one phrase."""
    began = f"of {flight['start'].replace('T', ' ')[:19]}" if flight["start"] else "without a clock"
    return f"From: flight {began}, {window_words(flight, from_s, to_s)}; reference: {name}."
