"""What is left of a battery's charge at a moment of a flight: the rest before the start, less what is not back yet.

Nothing is credited beyond what was drawn in this flight: what an alternator put back of older discharge is not to be
told from what turned into gas.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import LATE_START, OFFLINE, OUTPUT_LIMITED, OutageKind
from analyzer.limits import limit_value
from analyzer.measures.battery_life import Share
from analyzer.measures.endurance import charge_less, charge_share, charge_unknown
from analyzer.measures.measure import Measure
from analyzer.measures.recharge import tau_interval
from analyzer.series import Z95, Floats, Mask

NO_LOAD_KNOWN = "no reading shows what was drawn while the alternator gave nothing"
AT_ITS_LIMIT = "the alternator gave less than the loads took, and no battery ammeter shows what the battery gave"


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
    left = _left(flight, begun, missing, row, condition)
    most = "less than 0.1 Ah" if missing.high < 0.05 else f"{missing.value:.1f} Ah (up to {missing.high:.1f} Ah)"
    told = f"{most} not yet put back, {how}"
    return left, f"Charge: {100.0 * begun.value:.0f} % at rest before the start; {told}."


def charge_after(flight: Flight, measures: Mapping[str, Measure], begun: Share, condition: Share) -> tuple[Share, str]:
    """Charge at the end of a flight, and what a note says of it: less only where the alternator failed the battery.

    By a battery ammeter it did where more is missing at the end than taxiing takes. Without one, where the alternator
    was lost, came on late or gave less than the loads took, and was not back long enough to charge anew.

    Parameters
    ----------
    begun : charge before the start, a share of 1

    Raises
    ------
    ChargeUnknownError
        Where what was drawn since is not known.
    """
    row = min(flight.run.stop, flight.trace.time.size) - 1
    flow = _known_flow(flight, row)
    if flow is None and not _owed(flight, row, OFFLINE, OUTPUT_LIMITED, LATE_START):
        return begun, ""
    if flow is not None and _surely_missing(flight, flow) <= flight.limits["charge_owed_least"]:
        return begun, ""
    missing, _ = _missing(flight, measures["bus_load"], row)
    told = f"; the charge is what is left at the flight's end, {missing.value:.1f} Ah drawn and not put back"
    return _left(flight, begun, missing, row, condition), told


def _owed(flight: Flight, row: int, *kinds: OutageKind) -> bool:
    """Whether there was an outage of some kinds before a row, and no charging since that was long enough."""
    ends = [outage.end for outage in flight.outages if outage.kind in kinds and outage.first <= row]
    if not ends:
        return False
    back = flight.alternator_online[: row + 1].copy()
    back[: max(ends)] = False
    return float(flight.trace.seconds[: row + 1][back].sum()) < limit_value("recharge_window")


def _left(flight: Flight, begun: Share, missing: Share, row: int, condition: Share) -> Share:
    """A charge less what is missing; charged meanwhile, how far is not known, it may be full but for that."""
    if flight.alternator_online[:row].any():
        begun = Share(begun.value, begun.low, 1.0)
    return charge_less(flight, begun, missing, condition)


def _missing(flight: Flight, load: Measure, row: int) -> tuple[Share, str]:
    """Charge drawn in this flight and not back at a row [Ah], and what told it."""
    flow = _known_flow(flight, row)
    if flow is not None:
        return _by_ammeter(flight, flow), "by the battery ammeter"
    if _owed(flight, row, OUTPUT_LIMITED):  # the load may be larger than in steady flight: that is why it fell short
        raise ChargeUnknownError(AT_ITS_LIMIT)
    return _by_load(flight, load, row), "by the loads and the charging current's taper"


def _known_flow(flight: Flight, row: int) -> Floats | None:
    """The battery's current up to a row [A], gaps bridged; None where no ammeter tells it, or is blank for long."""
    flow = flight.trace.battery_current
    if flow is None or flight.ammeter.charge_at_rest:
        return None
    known, time = np.isfinite(flow[: row + 1]), flight.trace.time[: row + 1]
    if known.mean() < limit_value("known_share_least"):
        return None
    return np.asarray(np.interp(time, time[known], flow[: row + 1][known]))


def _still_missing(flight: Flight, amps: Floats, credited: float, starter: float) -> float:
    """Charge [Ah] that a ledger of currents [A] lacks at its end of the most that it held, or of its beginning."""
    moved = np.where(amps > 0.0, credited * amps, amps)
    ledger = np.cumsum(_with_starter(flight, moved, starter) * flight.trace.seconds[: amps.size] / 3600.0)
    return float(max(0.0, ledger.max()) - ledger[-1])


def _surely_missing(flight: Flight, flow: Floats) -> float:
    """Charge [Ah] that is missing even where the ammeter errs in the battery's favour and all that came in stays."""
    return _still_missing(flight, flow + Z95 * limit_value("ammeter_zero_error"), 1.0, flight.limits["starter_draw"])


def _by_ammeter(flight: Flight, flow: Floats) -> Share:
    """By a ledger of the battery's current [A] that never stands above its beginning."""
    error, efficiency = Z95 * limit_value("ammeter_zero_error"), limit_value("charge_efficiency_least")
    most = _still_missing(flight, flow - error, efficiency, flight.limits["starter_draw_most"])
    value = _still_missing(flight, flow, 1.0, flight.limits["starter_draw"])
    drawn = np.where(_alone_last(flight, flow.size), np.maximum(0.0, -flow - error), 0.0)
    return Share(value, min(value, _amp_hours(flight, drawn)), most)


def _alone_last(flight: Flight, size: int) -> Mask:
    """Of the first so many rows those since the alternator last carried the bus, the engine running."""
    online = np.flatnonzero(flight.alternator_online[:size])
    rows = flight.running[:size].copy()
    rows[: int(online[-1]) + 1 if online.size else 0] = False
    return rows


def _amp_hours(flight: Flight, amps: Floats) -> float:
    """Charge of currents [A] in the first rows of a log [Ah]."""
    return float((amps * flight.trace.seconds[: amps.size]).sum()) / 3600.0


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
    value = min(start * share + later, most)
    kept = limit_value("offline_load_least") * (load.low or 0.0)
    least = _amp_hours(flight, np.where(_alone_last(flight, size), kept, 0.0))
    return Share(value, min(value, least), most)


def _not_returned(flight: Flight, at: float) -> tuple[float, float, float]:
    """Share of the recharge still to come, the same at the slowest, and the whole of what it returns [Ah]."""
    found = flight.recharge
    if found is None or found.decay is None or at < found.origin_s:
        return 1.0, 1.0, 0.0
    fit, since = found.decay, at - found.origin_s
    slowest = tau_interval(flight, fit)[1]
    amplitude = fit.amplitude + Z95 * fit.amplitude_error
    return float(np.exp(-since / fit.tau)), float(np.exp(-since / slowest)), amplitude * slowest / 3600.0
