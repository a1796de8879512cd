"""Which current an ammeter senses, decided from its readings, and its error at zero.

A battery ammeter shows a discharge with the engine stopped, a rush of charge after the start and settles
near zero; an alternator ammeter shows zero with the engine stopped and never less, then load and charge
together (FAA-H-8083-25, chapter "Electrical System": the two kinds of meter). Each observation below
weighs for one kind or the other; the weights add up as log odds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.aircraft import Aircraft
from analyzer.decay import load_steps
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.trace import Trace
from analyzer.limits import limit_value
from analyzer.series import OUTLIER, Floats, Mask, median, resolution, robust_sigma, running_median


@dataclass(frozen=True, slots=True)
class Ammeter:
    """What the ammeter senses and how that is known."""

    kind: str  # "battery", "alternator", "none", "unknown"
    basis: str  # a plain phrase
    zero_error: float = 0.0  # [A], taken out of an alternator ammeter's readings
    charge_at_rest: float = 0.0  # [A] of charge that a battery ammeter shows with no source running, 0 for none


def sort_currents(
    trace: Trace, stopped: Mask, carried: Mask, aircraft: Aircraft
) -> tuple[Trace, Ammeter, list[ReadingFault]]:
    """Give the trace with its currents under the kind they are, the ammeter, and faults at zero.

    Parameters
    ----------
    trace : one flight, cleaned
    stopped : rows before the first crank or after the engine stopped, with the bus powered
    carried : rows in which the engine runs and the bus voltage alone says that the alternator carries it
    aircraft : the profile; its ``ammeter`` overrules the readings for an ammeter the header does not type
    """
    if trace.battery_current is None and trace.alternator_current is None:
        if trace.ammeter_current is None:
            return trace, Ammeter("none", "no ammeter is recorded"), []
        kind, basis = _kind_of(trace, stopped, carried, aircraft)
        if kind == "unknown":
            return trace, Ammeter(kind, basis), []
        trace = trace.with_channels(**{f"{kind}_current": trace.ammeter_current, "ammeter_current": None})
    elif trace.battery_current is not None:
        kind, basis = "battery", "its header says so"
    else:
        kind, basis = "alternator", "its header says so"
    return _zero(trace, kind, basis, stopped)


def _kind_of(trace: Trace, stopped: Mask, carried: Mask, aircraft: Aircraft) -> tuple[str, str]:
    if aircraft.ammeter is not None:
        return aircraft.ammeter, "the fleet file says so"
    signs = _signs(trace, stopped, carried)
    odds = sum(weight for weight, _ in signs)
    if abs(odds) < limit_value("ammeter_odds_enough"):
        return "unknown", "the readings fit both kinds of ammeter"
    kind = "battery" if odds > 0 else "alternator"
    told = sorted((sign for sign in signs if sign[0] * odds > 0), key=lambda sign: -abs(sign[0]))
    return kind, " and ".join(words for _, words in told[:2])


def _signs(trace: Trace, stopped: Mask, carried: Mask) -> list[tuple[float, str]]:
    """Observations as (log odds for a battery ammeter, words)."""
    current = trace.ammeter_current
    if current is None:
        return []
    sign, strong = limit_value("ammeter_sign"), limit_value("ammeter_strong_sign")
    small = limit_value("current_at_rest")
    signs: list[tuple[float, str]] = []
    rest = median(current[stopped])
    known = np.isfinite(rest)
    error_possible = known and abs(rest) < limit_value("zero_error_fault")
    if known and rest < -limit_value("zero_error_fault"):
        signs.append((limit_value("ammeter_sure_sign"), f"it shows {rest:.1f} A with the engine stopped"))
    elif known and rest < -limit_value("current_at_rest_clear"):
        signs.append((strong, f"it shows {rest:.1f} A with the engine stopped"))
    elif known and rest < -small:
        signs.append((limit_value("ammeter_weak_sign"), f"it shows {rest:.1f} A with the engine stopped"))
    elif known and rest < small:
        signs.append((-sign, f"it shows {rest:.1f} A with the engine stopped, which is about zero"))
    lowest = _lowest(current, stopped)
    floor = (rest if known else 0.0) - max(
        limit_value("current_at_rest_clear"), OUTLIER * robust_sigma(current[stopped]) if known else 0.0
    )
    if lowest < floor:
        than = "what it shows with the engine stopped" if known else "what an alternator can give"
        signs.append((strong, f"it falls to {lowest:.1f} A, below {than}"))
    late = current[carried][-max(1, int(carried.sum()) // 2) :]
    settled = median(late) - (rest if error_possible or (known and rest > 0.0) else 0.0)
    if settled > limit_value("alternator_load_likely"):
        signs.append((-sign, f"it stays at {median(late):.1f} A late in the flight"))
    elif settled < limit_value("battery_settled_likely"):
        signs.append((sign, f"it settles at {median(late):.1f} A"))
    steps = _steps_with_bus_held(trace, current, carried)
    if steps:
        weight = -sign * min(steps, 2)
        signs.append((weight, f"it steps {steps} times by a load's current while the bus holds"))
    return signs


def _lowest(current: Floats, stopped: Mask) -> float:
    """Lowest current that lasts, outside the rows with the engine stopped."""
    lasting = running_median(current, 7)
    lasting[stopped] = np.nan
    return float(np.nanmin(lasting)) if np.isfinite(lasting).any() else float("nan")


def _steps_with_bus_held(trace: Trace, current: Floats, carried: Mask) -> int:
    """How often the current steps by a load and stays there, in the second half of the carried time."""
    volts = running_median(trace.bus_voltage, 5)
    held = carried & (np.abs(volts - median(volts[carried])) < limit_value("held_closely"))
    rows = np.flatnonzero(held & np.isfinite(current))
    rows = rows[rows.size // 2 :]
    if rows.size < limit_value("load_step_fewest_rows"):
        return 0
    width = max(4, trace.rows_in(limit_value("load_step_lasting")))
    smallest = limit_value("load_step_telling")
    time = trace.time[rows]
    steps = load_steps(time, current[rows], smallest=smallest, width=width, most=8)
    seamless = np.diff(time, prepend=time[0]) < 3.0 * trace.step_s  # no step across rows left out
    return int(seamless[np.searchsorted(time, np.array(steps))].sum()) if steps else 0


def _zero(trace: Trace, kind: str, basis: str, stopped: Mask) -> tuple[Trace, Ammeter, list[ReadingFault]]:
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
        faults = _offset_fault(trace, name, stopped, rest, "no source runs, so it should show zero")
        return zeroed, Ammeter(kind, basis, error), faults
    if rest < max(limit_value("zero_error_smallest"), limit_value("zero_error_steps") * resolution(current)):
        return trace, Ammeter(kind, basis), []
    words = "no source runs, so the battery cannot be charging"
    faults = _offset_fault(trace, name, stopped, rest, words)
    return trace, Ammeter(kind, basis, charge_at_rest=float(rest)), faults


def _offset_fault(trace: Trace, name: str, stopped: Mask, rest: float, because: str) -> list[ReadingFault]:
    if abs(rest) < limit_value("zero_error_fault"):
        return []
    time = trace.time[stopped]
    return [ReadingFault("offset", name, float(time[0]), float(time[-1]), 1, float(rest), because)]
