"""Before the first crank: what the battery rests at, and what was drawn from it."""

from __future__ import annotations

import numpy as np

from analyzer.flights.battery_kind import Chemistry
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import CHARGE_OF_VOLTAGE, lithium_charge, state_of_charge
from analyzer.measures.measure import Assumption, Measure, around, measured, not_measurable
from analyzer.series import Z95, Floats, median, resolution, step_noise

ALREADY_RUNNING = "the log begins with the engine already running"


def resting(flight: Flight, resistance: Measure) -> list[Measure]:
    """Resting voltage, the charge it implies, and the charge drawn before the first crank.

    ``resistance`` is ``resistance_at_rest``; where it is not measurable one is assumed.
    """
    voltage = _resting_voltage(flight, resistance)
    return [voltage, _resting_charge(flight, voltage), _prestart_discharge(flight)]


def _resting_voltage(flight: Flight, resistance: Measure) -> Measure:
    name = "resting_voltage"
    first = flight.first_crank
    if first == 0:
        return not_measurable(name, ALREADY_RUNNING)
    trace = flight.trace
    rows = trace.time[:first] <= trace.time[0] + limit_value("rest_window")
    rows &= trace.time[:first] <= trace.time[first] - trace.step_s
    volts = trace.bus_voltage[:first][rows]
    if not np.isfinite(volts).any():
        return not_measurable(name, "no bus voltage was recorded before the first crank")
    shown = median(volts)
    ohms, spread = flight.limits["assumed_battery_resistance"] / 1000.0, limit_value("resistance_spread")
    if resistance.value is not None and resistance.high is not None:
        ohms, spread = resistance.value / 1000.0, resistance.high / resistance.value - 1.0
    error = float(np.hypot(trace.voltage_step / np.sqrt(12.0), step_noise(volts)))
    error = float(np.hypot(error, flight.limits["rest_model_error"]))
    if trace.battery_current is not None and not flight.ammeter.charge_at_rest:
        drawn = -median(trace.battery_current[:first][rows])
        if np.isfinite(drawn):
            half = Z95 * error + spread * ohms * abs(drawn)
            return around(name, shown + ohms * max(drawn, 0.0), half, "corrected to no load")
    most = ohms * limit_value("rest_load_most")
    note = "under a small unknown load; at no load it may be as high as the interval's upper end"
    return measured(name, shown, shown - Z95 * error, shown + most + Z95 * error, note)


def _resting_charge(flight: Flight, voltage: Measure) -> Measure:
    name = "resting_charge"
    if not flight.voltmeter.tells:
        return not_measurable(name, flight.voltmeter.because)
    if voltage.value is None or voltage.low is None or voltage.high is None:
        return not_measurable(name, voltage.because or "")
    if any(fault.channel == "bus_voltage" and fault.kind == "offset" for fault in flight.reading_faults):
        return not_measurable(
            name, "the voltmeter is off by a constant amount, so the resting voltage does not show the charge"
        )
    if flight.battery.charge_unknown is not None:
        return not_measurable(name, flight.battery.charge_unknown)
    if flight.battery.chemistry is Chemistry.LITHIUM:
        return _lithium_charge(flight, voltage.low, voltage.high)
    cells = 12 if flight.nominal_voltage == 28 else 6
    empty = CHARGE_OF_VOLTAGE[0][0] * cells / 6.0
    if voltage.value < empty - flight.limits["dead_cell_margin"]:
        return not_measurable(
            name,
            f"{voltage.value:.2f} V is lower than an empty battery of {cells} cells rests at; a cell may be dead",
        )
    if voltage.low > flight.limits["rest_highest"]:
        return not_measurable(name, f"at {voltage.value:.1f} V it did not rest: a charger or the alternator fed it")
    air = flight.trace.outside_air_temperature
    known = air is not None and np.isfinite(air[: flight.first_crank]).any()
    degrees = median(air[: flight.first_crank]) if air is not None and known else None
    volts = (voltage.low, voltage.value, voltage.high)
    at = [state_of_charge(v, cells) if degrees is None else state_of_charge(v, cells, degrees) for v in volts]
    spread = limit_value("charge_table_spread")
    note = "reads too high shortly after a charger or a flight (surface charge)"
    notes = [Assumption.LEAD_ACID, note] if flight.battery.is_taken else [note]
    return measured(name, at[1], max(0.0, at[0] - spread), min(100.0, at[2] + spread), notes)


def _lithium_charge(flight: Flight, low: float, high: float) -> Measure:
    """The band of charge that a lithium battery's rest leaves open; its lower end is the value."""
    name = "resting_charge"
    flow = flight.trace.battery_current
    drawn = 0.0 if flow is None else -median(flow[: flight.first_crank])
    if drawn > flight.limits["lithium_rest_load_most"]:
        return not_measurable(name, f"a lithium battery's voltage under {drawn:.0f} A does not show its charge")
    band = lithium_charge(low, high, 8 if flight.nominal_voltage == 28 else 4)
    if band is None:
        return not_measurable(name, f"no lithium battery rests as high as {low:.2f} V: it was charged recently")
    note = f"the lower end of the {band[0]:.0f} to {band[1]:.0f} % that a lithium battery's resting voltage allows"
    note += "; valid an hour or more after charging"
    return measured(name, band[0], band[0], band[1], note)


def _prestart_discharge(flight: Flight) -> Measure:
    name = "prestart_discharge"
    first = flight.first_crank
    if first == 0:
        return not_measurable(name, ALREADY_RUNNING)
    if flight.trace.battery_current is None:
        return not_measurable(name, "no battery ammeter shows what is drawn")
    if flight.ammeter.charge_at_rest:
        return not_measurable(name, "the ammeter shows charge with the engine stopped")
    return drawn_charge(name, flight, slice(0, first))


def drawn_charge(name: str, flight: Flight, rows: slice) -> Measure:
    """Charge drawn from the battery over some rows [Ah], by the battery ammeter.

    The interval holds the ammeter's errors at zero and in scale, and one row at either end.
    """
    trace = flight.trace
    recorded = trace.battery_current[rows] if trace.battery_current is not None else np.full(1, np.nan)
    known = np.isfinite(recorded)
    seconds = trace.seconds[rows]
    share = float(seconds[known].sum() / max(seconds.sum(), 1e-9)) if known.size == seconds.size else 0.0
    if share < limit_value("known_share_least"):
        return not_measurable(name, "the battery ammeter is blank for much of that time")
    flow: Floats = recorded[known]
    drawn = -float((flow * seconds[known]).sum()) / share / 3600.0
    zero_error = Z95 * (limit_value("ammeter_zero_error") + limit_value("rounding_share") * resolution(flow))
    error = np.hypot(zero_error * float(seconds.sum()) / 3600.0, Z95 * limit_value("ammeter_scale_error") * drawn)
    edges = 2.0 * trace.step_s * float(np.abs(flow).max(initial=0.0)) / 3600.0
    return around(name, drawn, float(error) + edges)
