"""The seven phases of a flight, from its events."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer.flights.alternator_online import (
    BRIEF,
    LATE_START,
    OFFLINE,
    OUTPUT_LIMITED,
    VOLTMETER_ONLY,
    AlternatorOutage,
)
from analyzer.flights.engine import EngineRun
from analyzer.flights.flight import Phase
from analyzer.flights.recharge import Recharge
from analyzer.flights.trace import Trace

_PHASE_OF = {OFFLINE: "alternator_offline", LATE_START: "alternator_offline"}
_NO_PHASE = (OUTPUT_LIMITED, BRIEF, VOLTMETER_ONLY)


def phases_of(
    trace: Trace,
    run: EngineRun,
    first_crank: int,
    alternator_on_row: int | None,
    recharge: Recharge | None,
    outages: list[AlternatorOutage],
) -> tuple[Phase, ...]:
    """Phases in time order, without overlap, from the first row to the last.

    Each row gets the phase of its event; neighbouring rows of one phase make one phase. A row belongs to
    its phase until the next row's time.
    """
    row = np.arange(trace.time.size)
    settled_s = recharge.settled_s if recharge is not None else float("-inf")
    names = np.where(trace.time < settled_s, "recharge", "steady").astype("U20")
    names[row < (alternator_on_row if alternator_on_row is not None else run.stop)] = "low_rpm"
    names[row < run.start] = "cranking"
    names[row < first_crank] = "before_start"
    names[row >= run.stop] = "shutdown"
    for outage in outages:
        if outage.kind not in _NO_PHASE:
            names[outage.first : outage.end] = _PHASE_OF.get(outage.kind, "low_rpm")
    return _joined(names, trace)


def _joined(names: NDArray[np.str_], trace: Trace) -> tuple[Phase, ...]:
    starts = np.flatnonzero(np.concatenate(([True], names[1:] != names[:-1])))
    ends = np.append(starts[1:], names.size - 1)
    return tuple(
        Phase(str(names[first]), float(trace.time[first]), float(trace.time[end]))
        for first, end in zip(starts, ends, strict=True)
    )
