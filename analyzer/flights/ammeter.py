"""Which current an ammeter senses, decided from its readings, and its error at zero.

A battery ammeter shows a discharge with the engine stopped, a rush of charge after the start and settles
near zero; an alternator ammeter shows zero with the engine stopped and never less, then load and charge
together (FAA-H-8083-25, chapter "Electrical System": the two kinds of meter). Each observation below falls into
a class, each class has log odds for one kind or the other, learned together from flights of known kind
(``ammeter_evidence.toml``); they add up over a flight, and over an aircraft's flights.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer.aircraft import Aircraft
from analyzer.decay import load_steps
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.series import MIDDLE_95, Floats, Mask, median, percentile, percentiles, resolution, running_median
from analyzer.shipped_tables import read_table

EVIDENCE_FILE = Path(__file__).with_name("ammeter_evidence.toml")


class Observation(Struct, frozen=True):
    """One thing that the current does, with what it says of the ammeter's kind."""

    name: str
    value: float  # scaled: see ``ammeter_evidence.toml``
    log_odds: float  # above zero for a battery ammeter
    words: str


class Ammeter(Struct, frozen=True):
    """What the ammeter senses and how that is known."""

    kind: str  # "battery", "alternator", "none", "unknown"
    basis: str  # a plain phrase
    zero_error: float = 0.0  # [A], taken out of an alternator ammeter's readings
    charge_at_rest: float = 0.0  # [A] of charge that a battery ammeter shows with no source running, 0 for none
    observations: tuple[Observation, ...] = ()  # what its readings say of its kind, where nothing else tells it

    @property
    def log_odds(self) -> float | None:
        """Log odds, from this flight's readings, that it is a battery ammeter; None where they were not asked."""
        return sum(one.log_odds for one in self.observations) if self.observations else None


class _Evidence(Struct, frozen=True):
    """What one observation says: its classes and the log odds of each, with and without a voltmeter."""

    edges: tuple[float, ...]
    with_volts: tuple[float, ...]  # one more than edges
    without_volts: tuple[float, ...]
    words: str  # {shown} is the value in amperes, or as it is

    def log_odds(self, value: float, volts: bool) -> float:
        return (self.with_volts if volts else self.without_volts)[int(np.searchsorted(self.edges, value))]


@cache
def load_evidence() -> Mapping[str, _Evidence]:
    """Every observation of ``ammeter_evidence.toml`` by name."""
    entries = read_table(EVIDENCE_FILE)["observations"]
    return {
        name: _Evidence(
            tuple(one["edges"]), tuple(one["with_volts"]), tuple(one["without_volts"]), one["words"],
        )
        for name, one in entries.items()
    }  # fmt: skip


def sort_currents(
    trace: Trace,
    stopped: Mask,
    alternator_online: Mask,
    running: Mask,
    aircraft: Aircraft,
    limits: Limits,
    *,
    seen_at_rest: bool,
) -> tuple[Trace, Ammeter, list[ReadingFault]]:
    """Give the trace with its currents under the kind they are, the ammeter, and faults at zero.

    Parameters
    ----------
    trace : one flight, cleaned
    stopped : rows before the first crank or after the engine stopped, with the bus powered
    alternator_online : rows in which the engine runs and the bus voltage alone says that the alternator carries it
    running : rows in which the engine runs
    aircraft : the profile; its ``ammeter`` overrules the readings for an ammeter the header does not type
    limits : the aircraft's
    seen_at_rest : whether the engine surely stands still in the stopped rows; an idling one may pass for that
    """
    seen: tuple[Observation, ...] = ()
    if trace.battery_current is None and trace.alternator_current is None:
        if trace.ammeter_current is None:
            return trace, Ammeter("none", "no ammeter is recorded"), []
        seen = observations(trace, stopped, alternator_online, running, limits)
        if aircraft.ammeter is not None:
            kind, basis = aircraft.ammeter, aircraft.ammeter_from
        else:
            kind, basis = kind_by(seen)
        if kind == "unknown":
            rest, words = median(trace.ammeter_current[stopped]), "no source runs, whichever current it senses"
            told = np.isfinite(rest) and rest > 0.0  # a battery that gives the panel's load shows less than zero
            faults = _offset_fault(trace, "ammeter_current", stopped, rest, words, seen_at_rest) if told else []
            return trace, Ammeter(kind, basis, observations=seen), faults
        trace = trace.with_channels(**{f"{kind}_current": trace.ammeter_current, "ammeter_current": None})
    elif trace.battery_current is not None:
        kind, basis = "battery", "its header says so"
    else:
        kind, basis = "alternator", "its header says so"
    trace, ammeter, faults = _zero(trace, kind, basis, stopped, seen_at_rest)
    return trace, replace(ammeter, observations=seen), faults


def kind_by(seen: Sequence[Observation]) -> tuple[str, str]:
    """The kind that some observations speak for together, and those that speak most, in words."""
    odds = sum(one.log_odds for one in seen)
    if abs(odds) < limit_value("ammeter_odds_enough"):
        return "unknown", "the readings fit both kinds of ammeter"
    told = sorted((one for one in seen if one.log_odds * odds > 0), key=lambda one: -abs(one.log_odds))
    shown = [one.words for one in told[:2] if abs(one.log_odds) >= abs(told[0].log_odds) / 4.0]
    return "battery" if odds > 0 else "alternator", " and ".join(shown)


def told_together(odds: Iterable[float | None]) -> tuple[str, str] | None:
    """The kind that an aircraft's flights tell together, with words; None of fewer than two that have a say.

    Each flight is its log odds, None where header or fleet file tell its kind. No flight counts for more than
    ``ammeter_odds_most``, so that one odd recording does not outvote a season.
    """
    most = limit_value("ammeter_odds_most")
    known = [max(-most, min(most, own)) for own in odds if own is not None]
    if len(known) < 2:
        return None
    total = math.fsum(known)
    if abs(total) < limit_value("ammeter_odds_enough"):
        return "unknown", f"the readings of {len(known)} flights together fit both kinds of ammeter"
    agree = sum(own * total > 0 for own in known)
    words = f"the readings of {len(known)} flights together say so, {agree} of them on their own"
    return "battery" if total > 0 else "alternator", words


def overturned(
    flights: Iterable[tuple[str, float | None]], by_all: tuple[str, str] | None = None
) -> tuple[str, str] | None:
    """What ``told_together`` gives of some flights, kind and log odds each, where one was judged as another kind.

    ``by_all`` is what more flights of the aircraft together say, where these are known.
    """
    known = [(kind, odds) for kind, odds in flights if odds is not None]
    told = by_all or told_together(odds for _, odds in known)
    return None if told is None or all(kind == told[0] for kind, _ in known) else told


def observations(
    trace: Trace, stopped: Mask, alternator_online: Mask, running: Mask, limits: Limits
) -> tuple[Observation, ...]:
    """What the untyped current does, each with its log odds for a battery ammeter; what is not seen is left out.

    Currents are scaled by the battery's capacity, here and nowhere else, so that small and large batteries and
    systems of 14 V and 28 V are judged alike. Without a voltmeter all the time with the engine running stands
    for the time in which the alternator carries the bus.
    """
    current = trace.ammeter_current
    if current is None or not np.isfinite(current[running]).any():
        return ()
    by_volts = bool(np.isfinite(trace.bus_voltage).any())
    scale = limits["battery_capacity"]
    seen = []
    for name, value in _values(trace, current, stopped, alternator_online if by_volts else running, running).items():
        entry = load_evidence()[name]
        if np.isfinite(value):
            scaled = value / scale if name in IN_AMPERES else value
            words = entry.words.format(shown=f"{value:.1f}", count=f"{value:.0f}")
            seen.append(Observation(name, round(scaled, 5), entry.log_odds(scaled, by_volts), words))
    return tuple(seen)


#: Observations in amperes, which are scaled by the battery's capacity [A/Ah]; the others have no unit.
IN_AMPERES = frozenset(("rest", "lowest", "fall", "settled", "late_lowest", "late_spread", "absent"))


def _values(trace: Trace, current: Floats, stopped: Mask, alternator_online: Mask, running: Mask) -> dict[str, float]:
    """Every observation by name, in amperes or without a unit; NaN what is not seen."""
    by_volts = bool(np.isfinite(trace.bus_voltage).any())
    known = np.isfinite(current)
    rest = median(current[stopped])
    lasting = running_median(current, 7)
    moving = lasting[running & known]
    lowest = float(moving.min()) if moving.size else float("nan")
    rows = np.flatnonzero(alternator_online & known)
    late = lasting[rows[rows.size // 2 :]]
    first = rows[trace.time[rows] <= trace.time[rows[0]] + limit_value("ammeter_first")] if rows.size else rows
    peak = percentile(lasting[first], limit_value("output_high_percentile")) if first.size else float("nan")
    settled = median(late)
    from_late = percentiles(late, MIDDLE_95) if late.size else np.full(2, np.nan)
    away = running & known & ~alternator_online
    away[: rows[0] if rows.size else away.size] = False
    found = {
        "rest": rest,
        "lowest": lowest,
        "fall": lowest - rest,
        "settled": settled,
        "late_lowest": float(from_late[0]),
        "late_spread": float(from_late[1] - from_late[0]),
        "settled_share": settled / peak if peak > limit_value("current_at_rest_clear") else float("nan"),
        "absent": median(lasting[away]) if by_volts and away.sum() >= limit_value("ammeter_absent_rows") else np.nan,
        "answer": _answer(trace, current, alternator_online) if by_volts else float("nan"),
    }
    steps = _late_steps(trace, current, alternator_online)
    found["steps"] = float(len(steps)) if steps is not None else float("nan")
    return found


def _answer(trace: Trace, current: Floats, alternator_online: Mask) -> float:
    """Correlation of the current with the bus voltage, both about their running medians, on a carried bus.

    A battery takes more where the bus stands higher; an alternator that gives more lets it droop.
    """
    width = trace.rows_in(limit_value("ammeter_answer_window"))
    rows = alternator_online & np.isfinite(current) & np.isfinite(trace.bus_voltage)
    if rows.sum() < limit_value("load_step_fewest_rows"):
        return float("nan")
    amps = (current - running_median(current, width))[rows]
    volts = (trace.bus_voltage - running_median(trace.bus_voltage, width))[rows]
    both = float(np.sqrt((amps**2).sum() * (volts**2).sum()))
    return float((amps * volts).sum() / both) if both > 0.0 else float("nan")


def _late_steps(trace: Trace, current: Floats, alternator_online: Mask) -> tuple[float, ...] | None:
    """When the current steps by a load and stays there, in the second half of the carried time, the bus held.

    None where too little is seen.
    """
    held = alternator_online & np.isfinite(current)
    if np.isfinite(trace.bus_voltage).any():
        volts = running_median(trace.bus_voltage, 5)
        held &= np.abs(volts - median(volts[alternator_online])) < limit_value("held_closely")
    rows = np.flatnonzero(held)
    rows = rows[rows.size // 2 :]
    if rows.size < limit_value("load_step_fewest_rows"):
        return None
    width = max(4, trace.rows_in(limit_value("load_step_lasting")))
    time = trace.time[rows]
    steps = load_steps(time, current[rows], smallest=limit_value("load_step_telling"), width=width, most=8)
    seamless = np.diff(time, prepend=time[0]) < 3.0 * trace.step_s  # no step across rows left out
    return tuple(at for at in steps if seamless[np.searchsorted(time, at)])


def _zero(
    trace: Trace, kind: str, basis: str, stopped: Mask, seen_at_rest: bool
) -> tuple[Trace, Ammeter, list[ReadingFault]]:
    """Find an error at zero from the readings with the engine stopped.

    An alternator ammeter's error is what it shows then, and is taken out. A battery ammeter cannot be
    zeroed so (the avionics draw an unknown current), but with no source running it cannot show charge.
    """
    name = f"{kind}_current"
    current: Floats = getattr(trace, name)
    readings = current[stopped]
    rest = median(readings)
    if np.isfinite(readings).sum() < limit_value("rest_fewest_rows") or not np.isfinite(rest):
        return trace, Ammeter(kind, basis), []
    if kind == "alternator":
        error = float(rest) if abs(rest) >= limit_value("zero_error_smallest") else 0.0
        zeroed = trace.with_channels(alternator_current=current - error)
        faults = _offset_fault(trace, name, stopped, rest, "no source runs, so it should show zero", seen_at_rest)
        return zeroed, Ammeter(kind, basis, error), faults
    if rest < max(limit_value("zero_error_smallest"), limit_value("zero_error_steps") * resolution(current)):
        return trace, Ammeter(kind, basis), []
    words = "no source runs, so the battery cannot be charging"
    faults = _offset_fault(trace, name, stopped, rest, words, seen_at_rest)
    return trace, Ammeter(kind, basis, charge_at_rest=float(rest)), faults


def _offset_fault(
    trace: Trace, name: str, stopped: Mask, rest: float, because: str, seen_at_rest: bool
) -> list[ReadingFault]:
    seen = "zero_error_fault_charge" if name == "battery_current" and rest > 0.0 else "zero_error_fault"
    least = limit_value(seen if seen_at_rest else "zero_error_unseen")
    loads = not seen_at_rest and name != "battery_current"  # an alternator that idles at its limit gives to its loads
    if loads or abs(rest) < least:
        return []
    time = trace.time[stopped]
    return [ReadingFault("offset", name, float(time[0]), float(time[-1]), 1, float(rest), because)]
