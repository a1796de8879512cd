"""The seven phases of a flight, from its events."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer.flights.engine import EngineRun
from analyzer.flights.flight import PHASES, Phase
from analyzer.flights.outage_kinds import BRIEF, LATE_START, OFFLINE, OUTPUT_LIMITED, VOLTMETER_ONLY, AlternatorOutage
from analyzer.flights.recharge import Recharge
from analyzer.flights.trace import Trace

_PHASE_OF = {OFFLINE: "alternator_offline", LATE_START: "alternator_offline"}
_NUMBER = {name: number for number, name in enumerate(PHASES)}
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
    settled_s = recharge.settled_s if recharge is not None else float("-inf")
    phases = np.full(trace.time.size, _NUMBER["steady"])
    phases[: np.searchsorted(trace.time, settled_s)] = _NUMBER["recharge"]
    phases[: alternator_on_row if alternator_on_row is not None else run.stop] = _NUMBER["low_rpm"]
    phases[: run.start] = _NUMBER["cranking"]
    phases[:first_crank] = _NUMBER["before_start"]
    phases[run.stop :] = _NUMBER["shutdown"]
    for outage in outages:
        if outage.kind not in _NO_PHASE:
            phases[outage.first : outage.end] = _NUMBER[_PHASE_OF.get(outage.kind, "low_rpm")]
    return _joined(phases, trace)


def _joined(phases: NDArray[np.int64], trace: Trace) -> tuple[Phase, ...]:
    starts = np.flatnonzero(np.concatenate(([True], phases[1:] != phases[:-1])))
    ends = np.append(starts[1:], phases.size - 1)
    return tuple(
        Phase(PHASES[phases[first]], float(trace.time[first]), float(trace.time[end]))
        for first, end in zip(starts, ends, strict=True)
    )
