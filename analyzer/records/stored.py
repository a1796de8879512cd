"""Results as the database keeps them, and read back as the same types.

A flight's measures and findings stand in tables of their own, so that they can be asked for; the rest of its result
is one JSON value, and each finding another.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from msgspec import convert
from msgspec.json import Decoder, decode, encode
from msgspec.structs import replace

from analyzer.findings.finding import Finding
from analyzer.measures.measure import MEASURES, Assumption, Measure
from analyzer.records.problems import DamagedError
from analyzer.results import FlightResult, clock_at

#: How these are read is worked out once, while this module is loaded: where several threads read the first of a type at
#: once, one may meet the work half done, which ends the process.
PREPARED = (Decoder(FlightResult), Decoder(Finding))
#: Columns of ``measures`` beside the flight's number: those of a ``Measure`` but what it assumes.
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
    """A flight's result without its measures and findings, but with what the measures assume, to be kept."""
    assumed = {one.name: list(one.assumes) for one in result.measures.values() if one.assumes}
    return {**decode(encode(replace(result, measures={}, findings=()))), "assumed": assumed}


def kept_measures(result: FlightResult) -> list[dict[str, Any]]:
    """A flight's measures, a row each."""
    return [{name: getattr(one, name) for name in MEASURE_COLUMNS} for one in result.measures.values()]


def kept_finding(finding: Finding) -> Any:
    """A finding, to be kept."""
    return decode(encode(finding))


def flight_of(document: Any, measures: Iterable[Mapping[Any, Any]], findings: Iterable[Any]) -> FlightResult:
    """Give a flight's result by what was kept of it: its document, its rows of measures, its findings' documents."""
    result = convert(document, FlightResult)
    assumed = convert(document.get("assumed"), dict[str, tuple[Assumption, ...]] | None)
    rows = {row["name"]: _measure_of(row, assumed) for row in measures}
    ordered = {name: rows[name] for name in MEASURES if name in rows}
    return replace(result, measures=ordered, findings=tuple(finding_of(one) for one in findings))


def _measure_of(row: Mapping[Any, Any], assumed: Mapping[str, tuple[Assumption, ...]] | None) -> Measure:
    """A measure by its row and by what measures of its flight assume; None where that was not kept."""
    told = _assumed_by_note(row["note"]) if assumed is None else assumed.get(row["name"], ())
    return Measure(**{name: row[name] for name in MEASURE_COLUMNS}, assumes=told)


#: What earlier versions said in a measure's note alone.
_SAID = {"taken as lead-acid": Assumption.LEAD_ACID, "with the charge before the start": Assumption.BEFORE_START}


def _assumed_by_note(note: str | None) -> tuple[Assumption, ...]:
    """What a measure assumes, by the words of its note: for flights kept before it was kept by itself."""
    return tuple(_SAID[words] for words in (note or "").split("; ") if words in _SAID)


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


def moments_or_none(texts: Sequence[str | None]) -> list[datetime | None]:
    """Moments of the records, None without a clock."""
    try:
        return [None if text is None else datetime.fromisoformat(text) for text in texts]
    except ValueError:
        return [moment_or_none(text) for text in texts]  # which says which one is none


def clock_start(starts: str | None, from_s: float) -> datetime | None:
    """The clock at the first row of a log, by the start of one of its flights."""
    return None if starts is None else moment(starts) - timedelta(seconds=round(from_s, 3))
