"""The rule on unsteady connections: a bus that drops for seconds with no load or engine speed to explain it."""

from __future__ import annotations

import numpy as np

from analyzer import quantity
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.dips import LEAD, PATH, UNTOLD, Dip, DipKind
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import BRIEF, VOLTMETER_ONLY
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure

_WORDS = {
    LEAD: "the alternator was off line for those moments",
    PATH: "the current did not change with them",
    UNTOLD: "no ammeter shows whether the alternator was off line",
}


def unsteady_connection(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """Steps or drops of the bus voltage that no load and no engine speed explains.

    Counted are the dips of ``flights.dips``: sudden at both ends and seconds long, while the engine keeps its
    speed. Either the current does not answer (the path to the meter) or the alternator is gone for that moment
    (its lead). A voltage that swings to both sides is the regulator's.

    Innocent, and left out: a flashing load that an alternator at its limit lets through, drop upon drop; and, where
    no engine speed is recorded, taxiing and the approach, in which the engine may idle.
    """
    dips = counted_dips(flight)
    if not dips:
        return []
    trace = flight.trace
    first, last = dips[0].first, dips[-1].end - 1
    kinds = [dip.kind for dip in dips]
    kind = max((LEAD, PATH, UNTOLD), key=kinds.count)
    depth = float(np.median([dip.depth for dip in dips]))
    brief = sum(outage.kind in (BRIEF, VOLTMETER_ONLY) for outage in flight.outages)
    evidence = {
        "drops": quantity.count(len(dips)),
        "depth": quantity.volts(depth),
        "alternator_gone": quantity.count(kinds.count(LEAD)),
        "current_silent": quantity.count(kinds.count(PATH)),
        "brief_losses": quantity.count(brief),
    }
    minutes = (trace.time[last] - trace.time[first]) / 60.0
    says = (
        f"{len(dips)} voltage drops of about {depth:.1f} V in {minutes:.0f} min, seconds each, "
        f"with no load or rpm change to explain them; {_WORDS[kind]}."
    )
    signs = {} if kind == UNTOLD else {"current_silent": kind == PATH}
    from_s, to_s = float(trace.time[first]), float(trace.time[last])
    return [Finding(FindingName.UNSTEADY_CONNECTION, Severity.CAUTION, from_s, to_s, evidence, says, signs)]


def counted_dips(flight: Flight) -> list[Dip]:
    """The dips of a flight, of each kind that comes often enough to be a connection; none otherwise.

    A motor's load may make a battery's ammeter look like a lost alternator, and so may a bus without an ammeter;
    a throttle closed for a moment looks like one where no engine speed is recorded.
    """
    sure = flight.trace.alternator_current is not None and flight.trace.engine_speed is not None
    unsure = limit_value("connection_fewest_unsure")
    fewest = {LEAD: limit_value("connection_fewest") if sure else unsure, UNTOLD: unsure}
    fewest[PATH] = limit_value("connection_fewest")
    return [dip for dip in flight.dips if _moments(flight, dip.kind) >= fewest[dip.kind]]


def _moments(flight: Flight, kind: DipKind) -> int:
    """How often dips of a kind came; steps of a reading that follow each other at once are one moment's."""
    starts = flight.trace.time[[dip.first for dip in flight.dips if dip.kind == kind]]
    if kind != PATH:
        return starts.size
    return int(np.count_nonzero(np.diff(starts) > limit_value("flashes_apart"))) + min(1, starts.size)
