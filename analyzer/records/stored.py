"""Results as the database keeps them, and read back as the same types.

A flight's measures and findings stand in tables of their own, so that they can be asked for; the rest of its result
is one JSON value, and each finding another.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from msgspec import convert
from msgspec.json import Decoder, decode, encode

from analyzer.findings.finding import Finding
from analyzer.measures.measure import MEASURES, Measure
from analyzer.records.problems import DamagedError
from analyzer.results import FlightResult, clock_at

#: How these are read is worked out once, while this module is loaded: where several threads read the first of a type at
#: once, one may meet the work half done, which ends the process.
PREPARED = (Decoder(FlightResult), Decoder(Finding))
#: Columns of ``measures`` beside the flight's number: those of a ``Measure``.
MEASURE_COLUMNS = ("name", "value", "low", "high", "because", "note", "at_least", "at_most")


@dataclass(frozen=True, slots=True)
class KeptFinding:
    """A finding of a flight that is kept."""

    finding: Finding
    flight_id: int
    tail: str | None
    clock_start: datetime | None  # at the first row of its log

    @property
    def start(self) -> datetime | None:
        """When its evidence begins, None without a clock."""
        return clock_at(self.clock_start, self.finding.from_s)


def kept_flight(result: FlightResult) -> Any:
    """A flight's result without its measures and findings, to be kept."""
    return decode(encode(replace(result, measures={}, findings=())))


def kept_measures(result: FlightResult) -> list[dict[str, Any]]:
    """A flight's measures, a row each."""
    return [{name: getattr(one, name) for name in MEASURE_COLUMNS} for one in result.measures.values()]


def kept_finding(finding: Finding) -> Any:
    """A finding, to be kept."""
    return decode(encode(finding))


def flight_of(document: Any, measures: Iterable[Mapping[Any, Any]], findings: Iterable[Any]) -> FlightResult:
    """Give a flight's result by what was kept of it: its document, its rows of measures, its findings' documents."""
    rows = {row["name"]: Measure(**{name: row[name] for name in MEASURE_COLUMNS}) for row in measures}
    ordered = {name: rows[name] for name in MEASURES if name in rows}
    return replace(
        convert(document, FlightResult), measures=ordered, findings=tuple(finding_of(one) for one in findings)
    )


def finding_of(document: Any) -> Finding:
    """Give a finding by what was kept of it."""
    return convert(document, Finding)


def moment(text: str) -> datetime:
    """A moment of the records.

    Raises
    ------
    DamagedError
        When it is none.
    """
    try:
        return datetime.fromisoformat(text)
    except ValueError as problem:
        raise DamagedError(f"a flight that is said to begin at {text}") from problem


def moment_or_none(text: str | None) -> datetime | None:
    """A moment of the records, None without a clock."""
    return None if text is None else moment(text)


def clock_start(starts: str | None, from_s: float) -> datetime | None:
    """The clock at the first row of a log, by the start of one of its flights."""
    return None if starts is None else moment(starts) - timedelta(seconds=round(from_s, 3))
