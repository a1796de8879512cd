"""The JSON of the contract: its keys as types, and results written as these. Numbers are rounded here and only here.

A field that may be left out has a default; one that may be null has none.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Literal

from msgspec import Struct, to_builtins
from msgspec.json import decode, encode

from analyzer.findings.finding import Cause, Finding, FindingName, Severity
from analyzer.flights.outage_kinds import OutageKind
from analyzer.measures.measure import Measure
from analyzer.quantity import Quantity
from analyzer.results import FlightResult, LogResult, OutageResult, clock_at


class MeasureEntry(Struct, frozen=True, omit_defaults=True, kw_only=True):
    """One measure in one of its two states."""

    value: float | None
    unit: str
    low: float | None = None
    high: float | None = None
    state: Literal["measured", "not_measurable"]
    because: str | None = None
    note: str | None = None
    at_least: float | None = None
    at_most: float | None = None


class QuantityEntry(Struct, frozen=True, omit_defaults=True):
    """One number behind a finding."""

    value: float
    unit: str
    low: float | None = None
    high: float | None = None
    assumed: bool = False


class CauseEntry(Struct, frozen=True, omit_defaults=True):
    """One likely cause with what explains its weight, and its own checks."""

    cause: str
    key: str
    weight: float
    why: tuple[str, ...]
    check: tuple[str, ...]


class FindingEntry(Struct, frozen=True, omit_defaults=True):
    """One finding of a flight."""

    finding: FindingName
    severity: Severity
    from_s: float
    to_s: float
    start: str | None
    end: str | None
    evidence: Mapping[str, float]
    quantities: Mapping[str, QuantityEntry]
    says: str
    likely: tuple[CauseEntry, ...]
    check: tuple[str, ...]


class PhaseEntry(Struct, frozen=True, omit_defaults=True):
    """One phase of a flight."""

    phase: str
    from_s: float
    to_s: float


class AlternativeEntry(Struct, frozen=True, omit_defaults=True):
    """One explanation of an outage with its chance."""

    explanation: OutageKind
    chance: float


class OutageEntry(Struct, frozen=True, omit_defaults=True):
    """One stretch in which the alternator does not carry the bus, with what else it may be."""

    kind: OutageKind
    from_s: float
    to_s: float
    start: str | None
    end: str | None
    alternatives: tuple[AlternativeEntry, ...]
    because: tuple[str, ...]


class FlightEntry(Struct, frozen=True, omit_defaults=True):
    """One flight."""

    start: str | None
    end: str | None
    from_s: float
    to_s: float
    rows: int
    start_recorded: bool
    sample_period_s: float
    nominal_voltage: int | None
    ammeter: str
    ammeter_basis: str
    ammeter_log_odds: float | None
    phases: tuple[PhaseEntry, ...]
    measures: Mapping[str, MeasureEntry]
    findings: tuple[FindingEntry, ...]
    outages: tuple[OutageEntry, ...]


class LogEntry(Struct, frozen=True, omit_defaults=True):
    """One entry of the result's ``logs``."""

    source: str
    state: Literal["read", "refused"]
    because: str | None
    tail: str | None
    warnings: tuple[str, ...]
    flights: tuple[FlightEntry, ...]


def log_entry(log: LogResult) -> LogEntry:
    """One log as the contract has it."""
    return LogEntry(
        source=log.source,
        state="refused" if log.refused else "read",
        because=log.because,
        tail=log.tail,
        warnings=log.warnings,
        flights=tuple(flight_entry(flight) for flight in log.flights),
    )


def flight_entry(flight: FlightResult) -> FlightEntry:
    """One flight as the contract has it."""
    return FlightEntry(
        start=iso(flight.start),
        end=iso(flight.end),
        from_s=flight.from_s,
        to_s=flight.to_s,
        rows=flight.rows,
        start_recorded=flight.start_recorded,
        sample_period_s=flight.sample_period_s,
        nominal_voltage=flight.nominal_voltage,
        ammeter=flight.ammeter,
        ammeter_basis=flight.ammeter_basis,
        ammeter_log_odds=rounded(flight.ammeter_log_odds, 3),
        phases=tuple(PhaseEntry(one.name, one.from_s, one.to_s) for one in flight.phases),
        measures={name: measure_entry(measure) for name, measure in flight.measures.items()},
        findings=tuple(finding_entry(finding, flight.clock_start) for finding in flight.findings),
        outages=tuple(outage_entry(outage, flight.clock_start) for outage in flight.outages),
    )


def outage_entry(outage: OutageResult, clock_start: datetime | None) -> OutageEntry:
    """One outage of a flight as the contract has it; ``clock_start`` is the clock at its log's first row."""
    return OutageEntry(
        kind=outage.kind,
        from_s=outage.from_s,
        to_s=outage.to_s,
        start=iso(clock_at(clock_start, outage.from_s)),
        end=iso(clock_at(clock_start, outage.to_s)),
        alternatives=tuple(AlternativeEntry(one.explanation, round(one.chance, 3)) for one in outage.alternatives),
        because=outage.because,
    )


def measure_entry(measure: Measure) -> MeasureEntry:
    """One measure as the contract has it."""
    return MeasureEntry(
        value=rounded(measure.value, 4),
        unit=measure.unit,
        state="not_measurable" if measure.value is None else "measured",
        low=rounded(measure.low, 4),
        high=rounded(measure.high, 4),
        because=measure.because,
        note=measure.note or None,
        at_least=rounded(measure.at_least, 4),
        at_most=rounded(measure.at_most, 4),
    )


def finding_entry(finding: Finding, clock_start: datetime | None) -> FindingEntry:
    """One finding of a flight as the contract has it; ``clock_start`` is the clock at its log's first row."""
    return FindingEntry(
        finding=finding.name,
        severity=finding.severity,
        from_s=finding.from_s,
        to_s=finding.to_s,
        start=iso(clock_at(clock_start, finding.from_s)),
        end=iso(clock_at(clock_start, finding.to_s)),
        evidence={name: quantity.value for name, quantity in finding.evidence.items()},
        quantities={name: quantity_entry(quantity) for name, quantity in finding.evidence.items()},
        says=finding.says,
        likely=tuple(cause_entry(cause) for cause in finding.likely),
        check=finding.check,
    )


def cause_entry(cause: Cause) -> CauseEntry:
    """One likely cause as the contract has it."""
    return CauseEntry(cause.words, cause.key, round(cause.weight, 3), cause.why, cause.check)


def quantity_entry(one: Quantity, digits: int = 6) -> QuantityEntry:
    """A number behind a finding as the contract has it; most are rounded by their rule already."""
    low, high = rounded(one.low, digits), rounded(one.high, digits)
    return QuantityEntry(round(one.value, digits), one.unit, low, high, one.assumed)


def plain(entry: Struct) -> Any:
    """An entry as plain mappings, lists, words and numbers."""
    return decode(encode(entry))


def written(entry: Struct) -> str:
    """An entry as JSON.

    Raises
    ------
    ValueError
        When a number in it is none.
    """
    return json.dumps(to_builtins(entry), allow_nan=False)


def laid_out(entry: Struct) -> str:
    """An entry as JSON that a person can read as well, line by line.

    Raises
    ------
    ValueError
        When a number in it is none.
    """
    return json.dumps(to_builtins(entry), ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def iso(moment: datetime | None) -> str | None:
    """A moment by the contract."""
    return None if moment is None else moment.isoformat()


def rounded(value: float | None, digits: int) -> float | None:
    """A number as it is written, None where there is none."""
    return None if value is None else round(value, digits)
