"""How measures and findings are named and written for a person."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from analyzer.findings.finding import Cause
from analyzer.measures.measure import Measure, after_loss, taken_words
from analyzer.phrases import fixed

#: Label of each measure.
MEASURE_LABELS = {
    "resting_voltage": "Resting voltage",
    "resting_charge": "State of charge at rest",
    "prestart_discharge": "Drawn before start",
    "cranking_voltage": "Lowest cranking voltage",
    "cranking_time": "Cranking time",
    "start_attempts": "Start attempts",
    "recharge_peak_current": "Initial charging current",
    "recharge_time_constant": "Recharge time constant",
    "recharge_settling_time": "Charging settled after",
    "recharge_returned": "Charge returned",
    "maintenance_current": "Settled charging current",
    "regulated_voltage": "Regulated voltage",
    "regulation_scatter": "Regulation scatter",
    "regulation_slope": "Regulation slope",
    "regulation_droop": "Voltage drop under load",
    "highest_voltage": "Highest voltage",
    "bus_load": "Bus load",
    "offline_time": "No alternator above idle",
    "offline_discharge": "Drawn without alternator",
    "battery_resistance": "Battery and cable resistance",
    "endurance": "Endurance to plan on",
}
#: Measures of which the lower end is told first, since who counts on the middle is let down half of the time.
LOWER_END = ("endurance",)
#: Title of each finding.
FINDING_LABELS = {
    "overvoltage_trip": "Overvoltage trip",
    "overvoltage": "Overvoltage",
    "alternator_offline": "Alternator off line",
    "regulator_high": "Regulated voltage high",
    "regulator_low": "Regulated voltage low",
    "regulator_drift": "Regulated voltage drifting",
    "regulator_hunting": "Regulator hunting",
    "slow_recharge": "Slow recharge",
    "recharge_never_settles": "Charging current never settles",
    "weak_cranking": "Weak cranking",
    "low_resting_voltage": "Low resting voltage",
    "output_short": "Low alternator output",
    "unsteady_connection": "Intermittent connection",
    "battery_offline": "Battery off the bus",
    "reading_fault": "Sensor or instrument fault",
}
#: Title of each finding over many flights that no single flight can have.
TREND_FINDING_LABELS = {
    "recharge_slowing": "Recharge slowing",
    "cranking_weakening": "Cranking voltage declining",
    "resting_voltage_falling": "Resting voltage falling",
    "maintenance_current_rising": "Settled charging current rising",
    "regulation_loosening": "Regulation deteriorating",
    "battery_resistance_rising": "Battery and cable resistance rising",
}


def system_words(nominal_voltage: int | None) -> str:
    """The system's voltage for a person."""
    return "system voltage not known" if nominal_voltage is None else f"{nominal_voltage} V system"


def printable(words: str) -> str:
    """Words without control characters; line ends become spaces, all else unprintable a replacement character."""
    return "".join(
        character if character.isprintable() else " " if character.isspace() else "\N{REPLACEMENT CHARACTER}"
        for character in words
    )


def finding_label(name: str) -> str:
    """The title of a finding, of one flight or of many."""
    return FINDING_LABELS.get(name) or TREND_FINDING_LABELS[name]


_DIGITS = {"V": 2, "%": 0, "Ah": 2, "s": 0, "1": 0, "A": 1, "min": 1, "V/h": 2, "mohm": 1}
_SHOWN_UNIT = {"1": "", "mohm": "mΩ"}


def number(value: float, unit: str, *, whole: bool = False) -> str:
    """A value with the digits that its unit deserves, or none; no unit."""
    return fixed(value, 0 if whole else _DIGITS[unit])


def unit_shown(unit: str) -> str:
    """The unit as a person writes it."""
    return _SHOWN_UNIT[unit] if unit in _SHOWN_UNIT else unit.replace("degC", "°C")


def with_unit(value: float, unit: str) -> str:
    """A value with its unit, "13.98 V"."""
    return f"{number(value, unit)} {unit_shown(unit)}".rstrip()


def _known(measure: Measure) -> tuple[float, float, float, bool]:
    """Value and ends of a measure that has them, and whether its interval is too wide for decimals."""
    if measure.value is None or measure.low is None or measure.high is None:
        raise ValueError(f"{measure.name} was not measured: {measure.because}")
    return measure.value, measure.low, measure.high, measure.high - measure.low >= 10.0


def value_words(measure: Measure) -> str:
    """A measured value with its unit, "13.98 V".

    An interval ten units wide bears no decimals, which would say what nobody knows: "202 min".
    """
    value, low, _, whole = _known(measure)
    told = low if measure.name in LOWER_END else value
    shown = f"{number(told, measure.unit, whole=whole)} {unit_shown(measure.unit)}".rstrip()
    return shown + taken_words(measure)


def interval_words(measure: Measure) -> str:
    """The ends of the 95 % interval with the unit, "13.95 to 14.01 V"."""
    return f"{_ends(measure)} {unit_shown(measure.unit)}".rstrip()


def _ends(measure: Measure) -> str:
    _, low, high, whole = _known(measure)
    return f"{number(low, measure.unit, whole=whole)} to {number(high, measure.unit, whole=whole)}"


def measure_words(measure: Measure) -> str:
    """A measured value with its interval and unit, "13.98 V (13.95 to 14.01)"."""
    taken = taken_words(measure)
    value = value_words(measure).removesuffix(taken)
    if measure.low == measure.high:
        return value + taken
    if measure.name in LOWER_END:
        _, _, high, whole = _known(measure)
        return f"{value} (up to {number(high, measure.unit, whole=whole)}){taken}"
    return f"{value} ({_ends(measure)}){taken}"


def unmeasured_label(measure: Measure) -> str:
    """A measure that has no value, with what bounds it, "charge returned (at least 6.9 Ah)"."""
    bounds = [
        f"{words} {number(bound, measure.unit)} {unit_shown(measure.unit)}".strip()
        for words, bound in (("at least", measure.at_least), ("at most", measure.at_most))
        if bound is not None
    ]
    return MEASURE_LABELS[measure.name].lower() + (f" ({', '.join(bounds)})" if bounds else "")


def clock_words(moment: datetime | None, from_s: float) -> str:
    """When something happened: the clock's time, or minutes into the log."""
    return f"{moment:%Y-%m-%d %H:%M:%S}" if moment else f"{from_s / 60.0:.1f} min into the log"


def minutes_of(from_s: float, to_s: float) -> str:
    """How long a stretch lasts, "49 min"."""
    return f"{(to_s - from_s) / 60.0:.0f} min"


def condition_words(condition: str) -> str:
    """An aircraft's condition; "nothing found" where nothing is open, which is no word on its health."""
    return {"good": "nothing found", "unknown": "not known"}.get(condition, condition)


def ammeter_words(kind: str) -> str:
    """The ammeter by its kind."""
    return {"none": "no ammeter", "unknown": "ammeter of unknown kind"}.get(kind, f"{kind} ammeter")


def measure_label(measure: Measure) -> str:
    """The label of a taken measure: an endurance from before a loss of the alternator is nothing to plan on now."""
    return "Endurance before this flight" if after_loss(measure) else MEASURE_LABELS[measure.name]


def reasons_of(missing: Iterable[Measure]) -> dict[str, list[str]]:
    """Reasons why something has no value, each with the measures that it concerns."""
    reasons: dict[str, list[str]] = {}
    for measure in missing:
        reasons.setdefault(measure.because or "", []).append(unmeasured_label(measure))
    return reasons


def notes_of(measured: Iterable[Measure]) -> dict[str, list[str]]:
    """What to know of values, each with the measures that it concerns."""
    notes: dict[str, list[str]] = {}
    for measure in measured:
        if measure.note:
            notes.setdefault(measure.note, []).append(measure_label(measure).lower())
    return notes


def share_words(cause: Cause) -> str:
    """The weight of a cause as a person reads it, "16 %"."""
    return f"{100.0 * cause.weight:.0f} %"


def causes_of(likely: Iterable[Mapping[str, Any]]) -> list[Cause]:
    """Likely causes out of a document."""
    return [Cause(one["key"], one["cause"], one["weight"], tuple(one["why"]), tuple(one["check"])) for one in likely]


def copies_words(copies: int) -> str:
    """That copies of flights were left out, empty when none was."""
    if not copies:
        return ""
    if copies == 1:
        return "1 flight came in two files; the longer copy counts"
    return f"{copies} copies of flights that came in other files too are left out; of each the longest copy counts"


def stale_words(flights: int) -> str:
    """What is said of kept flights that were judged by something else than today's program, limits and profile."""
    are = "1 flight was" if flights == 1 else f"{flights} flights were"
    return f"{are} analysed by an earlier version, or with other limits or settings"
