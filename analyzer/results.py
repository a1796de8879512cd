"""What a review comes to, without the readings: what texts, sheets and pages are made from and the records keep."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from msgspec import Struct

from analyzer.findings.finding import Finding
from analyzer.flights.alternatives import telling
from analyzer.flights.flight import Flight, Phase
from analyzer.flights.outage_kinds import LOW_RPM, Alternative, AlternatorOutage, OutageKind
from analyzer.logs.log import Log, Refusal
from analyzer.measures.capacity import CapacityShown, capacity_shown
from analyzer.measures.measure import Measure
from analyzer.review import FlightReview, LogReview


def clock_at(clock_start: datetime | None, seconds: float) -> datetime | None:
    """The clock of a time in a log by that at its first row, None without a clock."""
    return None if clock_start is None else clock_start + timedelta(seconds=round(seconds, 3))


class OutageResult(Struct, frozen=True):
    """A stretch in which the alternator does not carry the bus, the engine fast enough as far as it is known."""

    kind: OutageKind  # by which it is acted on
    from_s: float
    to_s: float
    alternatives: tuple[Alternative, ...]  # the likeliest first
    because: tuple[str, ...]  # what speaks most for the likeliest against the second


class FlightResult(Struct, frozen=True):
    """One flight: what was recorded, measured and found. Times are seconds from the log's first row."""

    clock_start: datetime | None  # at the log's first row; None without a clock
    from_s: float
    to_s: float
    rows: int
    start_recorded: bool
    sample_period_s: float
    nominal_voltage: int | None
    ammeter: str  # "battery", "alternator", "none" or "unknown"
    ammeter_basis: str
    ammeter_log_odds: float | None
    phases: tuple[Phase, ...]
    measures: Mapping[str, Measure]
    findings: tuple[Finding, ...]  # the most severe first
    capacity_shown: CapacityShown | None = None  # by its longest stretch on battery alone
    outages: tuple[OutageResult, ...] = ()

    def clock(self, seconds: float) -> datetime | None:
        """The clock of a time in the log, None without a clock."""
        return clock_at(self.clock_start, seconds)

    @property
    def start(self) -> datetime | None:
        """When the flight begins, None without a clock."""
        return self.clock(self.from_s)

    @property
    def end(self) -> datetime | None:
        """When it ends, None without a clock."""
        return self.clock(self.to_s)

    @property
    def measured(self) -> dict[str, Measure]:
        """The measures that have a value."""
        return {name: one for name, one in self.measures.items() if one.value is not None}

    @property
    def unmeasured(self) -> dict[str, Measure]:
        """The measures that have none, each with its reason."""
        return {name: one for name, one in self.measures.items() if one.value is None}


class LogResult(Struct, frozen=True):
    """One log: its flights, or why it was refused."""

    source: str
    because: str | None  # it was refused; None for one that was read
    tail: str | None
    warnings: tuple[str, ...]
    flights: tuple[FlightResult, ...]

    @property
    def refused(self) -> bool:
        """Whether it could not be read."""
        return self.because is not None


def flight_result(review: FlightReview) -> FlightResult:
    """What the review of a flight comes to."""
    flight = review.flight
    return FlightResult(
        clock_start=flight.clock_start,
        from_s=flight.from_s,
        to_s=flight.to_s,
        rows=flight.rows,
        start_recorded=not flight.begins_running,
        sample_period_s=round(flight.trace.step_s, 4),
        nominal_voltage=flight.nominal_voltage,
        ammeter=flight.ammeter.kind,
        ammeter_basis=flight.ammeter.basis,
        ammeter_log_odds=flight.ammeter.log_odds,
        phases=tuple(flight.phases),
        measures=review.measures,
        findings=review.findings,
        capacity_shown=capacity_shown(flight, review.measures["resting_charge"]),
        outages=tuple(_outage_result(flight, one) for one in flight.outages if one.kind != LOW_RPM),
    )


def _outage_result(flight: Flight, outage: AlternatorOutage) -> OutageResult:
    from_s, to_s = float(flight.trace.time[outage.first]), float(flight.trace.time[outage.end - 1])
    return OutageResult(outage.kind, from_s, to_s, outage.alternatives, telling(outage))


def log_result(review: LogReview) -> LogResult:
    """What the review of a log comes to."""
    return read_result(review.log, tuple(flight_result(one) for one in review.flights), review.warnings)


def read_result(log: Log, flights: tuple[FlightResult, ...], warnings: tuple[str, ...]) -> LogResult:
    """The result of a log that could be read, of those of its flights."""
    return LogResult(log.source, None, log.tail, warnings, flights)


def refused_result(refusal: Refusal) -> LogResult:
    """The result of a log that could not be read."""
    return LogResult(refusal.source, refusal.because, None, (), ())
