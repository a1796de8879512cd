"""The rule on readings: stuck, spiking, dropping out or offset is the data's fault, not the aircraft's."""

from __future__ import annotations

from analyzer import quantity
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.flight import Flight
from analyzer.flights.reading_faults import ReadingFault
from analyzer.measures.measure import Measure
from analyzer.phrases import figures, times
from analyzer.quantity import Quantity


def reading_fault(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """One finding for each kind of fault of each channel, saying why it is no electrical fault."""
    return [_finding(fault) for fault in flight.reading_faults]


def _finding(fault: ReadingFault) -> Finding:
    channel = fault.channel_words
    unit = "V" if "voltage" in fault.channel else "A"
    reading = "" if fault.value is None else f"{figures(fault.value)} {unit}"
    minutes = (fault.to_s - fault.from_s) / 60.0
    often = times(fault.times)
    said = {
        "spike": f"The {channel} jumped {often} to {reading} for one or two readings",
        "stuck": f"The {channel} stuck at {reading}",
        "dropout": f"The {channel} dropped out {often}, {minutes:.1f} min from first to last",
        "offset": f"The {channel} is off by about {reading}"
        if unit == "V"
        else f"The {channel} shows {reading} with the engine stopped",
        "unconnected": f"The {channel} input is not connected",
        "path": f"The {channel} reads low: resistance in its wiring",
    }[fault.kind]
    evidence = {"times": quantity.count(fault.times)}
    if fault.value is not None:
        evidence["reading"] = Quantity(round(fault.value, 2), unit)
    grave = fault.kind not in ("spike", "unconnected") and fault.channel == "bus_voltage"
    severity = Severity.CAUTION if grave else Severity.ADVISORY
    says = f"{said}. Points to the instrument, not the aircraft: {fault.because}."
    if fault.unsure:
        says = f"The {channel} stood at {reading}: instrument or regulator, {fault.because}."
        says += " Measure at the battery posts with the engine running before the next flight."
    signs = {fault.kind: True, "voltmeter": fault.channel.startswith("bus_voltage")}
    if fault.kind == "offset" and fault.value is not None and signs["voltmeter"]:
        signs["reads_high"] = fault.value > 0.0
    return Finding(FindingName.READING_FAULT, severity, fault.from_s, fault.to_s, evidence, says, signs)
