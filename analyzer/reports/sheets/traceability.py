"""Where a number comes from: the flight, the window of it, and the place of its formula in the reference."""

from __future__ import annotations

import numpy as np

from analyzer.findings.finding import Finding
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import BRIEF, LATE_START, OFFLINE
from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.measures.resistance import discharging
from analyzer.results import FlightResult
from analyzer.review import FlightReview
from analyzer.series import Mask

#: Measures that are worked from the rows in which the regulator holds the bus after the recharge.
_OF_REGULATED_ROWS = (
    "maintenance_current",
    "regulated_voltage",
    "regulation_scatter",
    "regulation_slope",
    "regulation_droop",
    "bus_load",
)
#: What the names beside numbers are for.
EXPLAINED = "the name under which the reference tells formula, limits and sources"
REFERENCES = (
    "Where a number comes from: the flight named above it, the window of that flight by the log's clock, and "
    f"{EXPLAINED}. Values in brackets are 95 % intervals; weights of causes are judgement, not counted statistics."
)


def measure_windows(review: FlightReview) -> dict[str, tuple[float, float]]:
    """The stretch that holds every row a measure is worked from, for each measure [s from the log's first row].

    The whole flight for what every row has a part in, and for what could not be measured.
    """
    flight = review.flight
    windows = dict.fromkeys(MEASURES, (flight.from_s, flight.to_s))
    crank_s = float(flight.trace.time[flight.first_crank])
    rested_s = min(crank_s, flight.from_s + limit_value("rest_window"))
    windows |= dict.fromkeys(("resting_voltage", "resting_charge"), (flight.from_s, rested_s))
    windows["prestart_discharge"] = (flight.from_s, crank_s)
    windows |= dict.fromkeys(("cranking_voltage", "cranking_time", "start_attempts"), _hull(flight, flight.crank))
    regulated = _hull(flight, flight.regulated)
    windows |= dict.fromkeys(_OF_REGULATED_ROWS, regulated)
    lost = np.zeros(flight.trace.time.size, dtype=np.bool_)
    for outage in flight.outages:
        lost[outage.first : outage.end] |= outage.kind in (OFFLINE, LATE_START, BRIEF)
    windows |= dict.fromkeys(("offline_time", "offline_discharge"), _hull(flight, lost))
    windows["battery_resistance"] = _hull(flight, discharging(flight))
    return windows | _recharge_windows(review)


def _hull(flight: Flight, rows: Mask) -> tuple[float, float]:
    """From the first to the end of the last of some rows, the whole flight where there are none."""
    found = np.flatnonzero(rows)
    if not found.size:
        return flight.from_s, flight.to_s
    time = flight.trace.time
    return float(time[found[0]]), float(time[min(found[-1] + 1, time.size - 1)])


def _recharge_windows(review: FlightReview) -> dict[str, tuple[float, float]]:
    """Of the fit, and of what a battery ammeter shows by itself: that reaches to the level late in the recharge."""
    flight, found = review.flight, review.flight.recharge
    if found is None or found.decay is None:
        return {}
    fitted = (found.knee_s, min(found.origin_s + found.decay.span, flight.to_s))
    windows = dict.fromkeys(("recharge_peak_current", "recharge_time_constant"), fitted)
    until = fitted[1]
    if flight.trace.battery_current is not None:
        until = min(found.on_s + limit_value("recharge_window"), flight.stop_s)
    return windows | dict.fromkeys(("recharge_settling_time", "recharge_returned"), (found.on_s, until))


def window_words(flight: FlightResult, from_s: float, to_s: float) -> str:
    """A window by the clock, "10:34:21 to 10:35:16", or in minutes into a log without one."""
    first, last = (moment_words(flight, seconds) for seconds in (from_s, to_s))
    if flight.clock_start is None:
        return f"{first.removesuffix(' min')} to {last}"
    return first if first == last else f"{first} to {last}"


def moment_words(flight: FlightResult, seconds: float) -> str:
    """A moment by the clock, or the minutes from the log's first row."""
    at = flight.clock(seconds)
    return f"{seconds / 60.0:.1f} min" if at is None else f"{at:%H:%M:%S}"


def origin_words(flight: FlightResult, finding: Finding) -> str:
    """The origin of the numbers of a finding of a flight whose title stands above them."""
    return f"From {window_words(flight, finding.from_s, finding.to_s)}; reference: {finding.name}."
