"""What is left of a battery's charge at a moment of a flight: the rest before the start, less what is not back yet.

Nothing is credited beyond what was drawn in this flight: what an alternator put back of older discharge is not to be
told from what turned into gas.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.battery_life import Share
from analyzer.measures.endurance import charge_less, charge_share, charge_unknown
from analyzer.measures.measure import Measure
from analyzer.measures.recharge import tau_interval
from analyzer.series import Z95, Floats

NO_LOAD_KNOWN = "no reading shows what was drawn while the alternator gave nothing"


class ChargeUnknownError(Exception):
    """The charge cannot be told; the text is a reason that can follow 'because'."""


def charge_now(flight: Flight, measures: Mapping[str, Measure], row: int, condition: Share) -> tuple[Share, str]:
    """Give the charge at a row, as shares of what the battery holds, and a sentence of what it rests on.

    Parameters
    ----------
    condition : share of its rated capacity that the battery has; the less it has, the more each ampere-hour drawn costs

    Raises
    ------
    ChargeUnknownError
        Where the charge before the start, or what was drawn since, is not known.
    """
    rest = measures["resting_charge"]
    unknown = charge_unknown(flight, rest) or (rest.because if rest.value is None else None)
    if unknown is not None:  # a log that begins running leaves open what its start still owes, so nothing is assumed
        raise ChargeUnknownError(f"the battery's charge is not known: {unknown}")
    begun, _ = charge_share(flight, rest)
    missing, how = _missing(flight, measures["bus_load"], row)
    left = charge_less(flight, begun, missing, condition)
    if flight.alternator_online[:row].any():
        left = Share(left.value, left.low, 1.0)  # charged meanwhile, how far is not known
    most = "less than 0.1 Ah" if missing.high < 0.05 else f"{missing.value:.1f} Ah (up to {missing.high:.1f} Ah)"
    told = f"{most} not yet put back, {how}"
    return left, f"Charge: {100.0 * begun.value:.0f} % at rest before the start; {told}."


def _missing(flight: Flight, load: Measure, row: int) -> tuple[Share, str]:
    """Charge drawn in this flight and not back at a row [Ah], and what told it."""
    rows = slice(0, row + 1)
    flow = flight.trace.battery_current
    if flow is not None and not flight.ammeter.charge_at_rest:
        known = np.isfinite(flow[rows])
        if known.mean() >= limit_value("known_share_least"):
            time = flight.trace.time[rows]
            return _by_ammeter(flight, np.interp(time, time[known], flow[rows][known])), "by the battery ammeter"
    return _by_load(flight, load, row), "by the loads and the charging current's taper"


def _by_ammeter(flight: Flight, flow: Floats) -> Share:
    """By a ledger of the battery's current [A] that never stands above its beginning."""
    error, efficiency = Z95 * limit_value("ammeter_zero_error"), limit_value("charge_efficiency_least")

    def still_missing(amps: Floats, credited: float, starter: float) -> float:
        moved = np.where(amps > 0.0, credited * amps, amps)
        moved = _with_starter(flight, moved, starter) * flight.trace.seconds[: flow.size] / 3600.0
        ledger = np.cumsum(moved)
        return float(max(0.0, ledger.max()) - ledger[-1])

    most = still_missing(flow - error, efficiency, flight.limits["starter_draw_most"])
    return Share(still_missing(flow, 1.0, flight.limits["starter_draw"]), 0.0, most)


def _with_starter(flight: Flight, amps: Floats, starter: float) -> Floats:
    """Currents [A] with the starter's, which few ammeters show; an unseen crank has a usual length."""
    amps = np.where(flight.crank[: amps.size], -starter, amps)
    start = flight.run.start
    if not flight.crank.any() and not flight.begins_running and start < amps.size:
        amps[start] -= starter * limit_value("crank_usual") / max(float(flight.trace.seconds[start]), 1e-9)
    return amps


def _by_load(flight: Flight, load: Measure, row: int) -> Share:
    """By what the loads take while the alternator gives nothing; what goes back shows in the fitted decay alone."""
    size, on = row + 1, flight.alternator_on_row
    off = ~flight.alternator_online[:size]
    before = off & ~flight.running[:size]
    alone = off & flight.running[:size]
    if alone.any() and load.value is None:
        raise ChargeUnknownError(NO_LOAD_KNOWN)
    first = np.arange(size) < (size if on is None else on)

    def drawn(standing: float, running: float, starter: float) -> tuple[float, float]:
        amps = _with_starter(flight, np.where(before, -standing, np.where(alone, -running, 0.0)), starter)
        taken = -amps * flight.trace.seconds[:size] / 3600.0
        return float(taken[first].sum()), float(taken[~first].sum())

    amps, panel = load.value or 0.0, limit_value("rest_load_most")
    start, later = drawn(0.5 * panel, amps, flight.limits["starter_draw"])
    start_most, later_most = drawn(
        panel, (load.high or 0.0) * limit_value("offline_load_most"), flight.limits["starter_draw_most"]
    )
    share, share_most, taper = _not_returned(flight, float(flight.trace.time[row]))
    most = max(start_most, taper) * share_most + later_most
    return Share(min(start * share + later, most), 0.0, most)


def _not_returned(flight: Flight, at: float) -> tuple[float, float, float]:
    """Share of the recharge still to come, the same at the slowest, and the whole of what it returns [Ah]."""
    found = flight.recharge
    if found is None or found.decay is None or at < found.origin_s:
        return 1.0, 1.0, 0.0
    fit, since = found.decay, at - found.origin_s
    slowest = tau_interval(flight, fit)[1]
    amplitude = fit.amplitude + Z95 * fit.amplitude_error
    return float(np.exp(-since / fit.tau)), float(np.exp(-since / slowest)), amplitude * slowest / 3600.0
