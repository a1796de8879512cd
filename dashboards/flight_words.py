"""How a flight is put into words on the pages."""

from __future__ import annotations

from datetime import date

from analyzer.phrases import day
from analyzer.reports import wording
from analyzer.results import clock_at
from analyzer.review import FlightReview

#: Measures by what they tell of, in the order of a flight.
GROUPS = (
    ("Battery at rest", ("resting_voltage", "resting_charge", "prestart_discharge")),
    ("Start", ("cranking_voltage", "cranking_time", "start_attempts")),
    (
        "Recharge",
        (
            "recharge_peak_current",
            "recharge_time_constant",
            "recharge_settling_time",
            "recharge_returned",
            "maintenance_current",
        ),
    ),
    (
        "Regulation",
        (
            "regulated_voltage",
            "regulation_scatter",
            "regulation_slope",
            "regulation_droop",
            "highest_voltage",
            "bus_load",
        ),
    ),
    ("Battery alone", ("offline_time", "offline_discharge", "battery_resistance", "endurance")),
)


def day_words(moment: date | None) -> str:
    """A day, "2026-05-09"."""
    return day(moment) if moment else "day unknown"


def when_words(review: FlightReview) -> str:
    """When the flight was: day and clock, or the place in its log."""
    flight = review.flight
    begins, ends = (clock_at(flight.clock_start, seconds) for seconds in (flight.from_s, flight.to_s))
    minutes = round((flight.to_s - flight.from_s) / 60.0)
    if begins is None or ends is None:
        return f"{minutes} min, from minute {flight.from_s / 60.0:.0f} of a log without a clock"
    return f"{day_words(begins)}, {begins:%H:%M} to {ends:%H:%M} ({minutes} min)"


def ammeter_words(kind: str) -> str:
    """What the ammeter senses."""
    return {
        "battery": "battery ammeter (charge and discharge)",
        "alternator": "alternator ammeter (load)",
        "none": "no ammeter recorded",
    }.get(kind, "ammeter of unknown kind")


def finding_label(name: str, *, over_many: bool = False) -> str:
    """Title of a finding of a flight, or of one over many flights."""
    if over_many and name == "regulator_drift":
        return "Regulated voltage drifts"
    return wording.finding_label(name)
