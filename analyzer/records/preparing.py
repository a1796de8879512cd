"""A log read, reviewed and made ready to be kept, without touching the records.

Helpers and a cluster's workers do this, so that nothing here loads the library of databases.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from msgspec.structs import replace

from analyzer.aircraft import Fleet
from analyzer.logs import Log, Refusal, Source, read_log
from analyzer.logs.unit import whole_or_refused
from analyzer.records import codec
from analyzer.records.files import Held, packed
from analyzer.records.marks import flight_mark
from analyzer.records.stored import kept_finding, kept_flight, kept_measures
from analyzer.records.traces import pack_trace
from analyzer.results import flight_result
from analyzer.review import FlightReview, LogReview, review_log
from analyzer.trends.history import circumstances, flight_hours

#: How ``tail_from`` says that whoever added the log told whose it is.
NAMED = "named when added"


@dataclass(frozen=True, slots=True)
class Prepared:
    """A log read and reviewed, ready to be kept; or the sentence that refuses it."""

    source: str
    digest: str = ""
    because: str | None = None
    row: dict[str, Any] = field(default_factory=dict)  # of the table ``logs``
    flights: list[dict[str, Any]] = field(default_factory=list)  # with "measures" and "findings" lists
    original: bytes | None = None  # compressed; None also where it lies in its place already
    trace: bytes = b""  # empty where it lies in its place already


def prepare(
    source: Source | Refusal,
    fleet: Fleet,
    *,
    tail: str | None,
    columns: Mapping[str, str] | None = None,
    keep_original: bool,
) -> Prepared:
    """Read and review one log, without touching the records; whatever is raised on the way refuses it alone."""
    if isinstance(source, Refusal):
        return Prepared(source.source, because=source.because)
    done = whole_or_refused(source.name, lambda: _read_and_reviewed(source, fleet, tail, columns, keep_original))
    return Prepared(done.source, because=done.because) if isinstance(done, Refusal) else done


def _read_and_reviewed(
    source: Source, fleet: Fleet, tail: str | None, columns: Mapping[str, str] | None, keep_original: bool
) -> Prepared | Refusal:
    data = source.read()
    own = dict(columns or {})
    held = Held(source.name, source.path, source.member, data)
    log = read_log(held, columns=own)
    if isinstance(log, Refusal):
        return log
    whose = (tail or log.tail or "").upper() or None
    if of_tail := fleet.of(whose).columns:
        log = read_log(held, columns={**of_tail, **own})
        if isinstance(log, Refusal):
            return log
    if tail:
        log = replace(log, tail=whose, tail_from=NAMED)
    review = review_log(log, fleet.of(whose))
    original = packed(data) if keep_original else None
    return prepared_of(log, review, hashlib.sha256(data).hexdigest(), own, original, flight_mark(fleet.of(whose)))


def prepared_of(
    log: Log, review: LogReview, digest: str, own: dict[str, str], original: bytes | None, mark: str
) -> Prepared:
    """A log that was read and reviewed as it is kept.

    ``original`` are its bytes, compressed, to be kept with it; ``mark`` is what it was judged by (``flight_mark``).
    """
    tail = log.tail.upper() if log.tail else None
    row: dict[str, Any] = {
        "hash": digest,
        "source": log.source,
        "tail": tail,
        "tail_from": log.tail_from,
        "rows": log.rows,
        "starts": log.clock.start,
        "warnings": list(review.warnings),
        "original_kept": original is not None,
        "added_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "analysis": mark,
        "columns": own or None,
    }
    trace, row["trace"] = pack_trace(log, digest, own)
    return Prepared(
        source=log.source,
        digest=digest,
        row=row,
        flights=[_flight_row(number, one, tail) for number, one in enumerate(review.flights, 1)],
        original=original,
        trace=trace,
    )


def _flight_row(number: int, review: FlightReview, tail: str | None) -> dict[str, Any]:
    """One flight for the tables ``flights``, ``measures`` and ``findings``."""
    flight, result = review.flight, flight_result(review)
    air_start, air_flight, drawn = circumstances(review)
    return {
        "number": number,
        "tail": tail,
        "starts": None if result.start is None else result.start.isoformat(),
        "ends": None if result.end is None else result.end.isoformat(),
        "from_s": flight.from_s,
        "to_s": flight.to_s,
        "hours": flight_hours(flight),
        "nominal_voltage": flight.nominal_voltage,
        "ammeter": flight.ammeter.kind,
        "air_start": air_start,
        "air_flight": air_flight,
        "drawn_ah": drawn,
        "readings": codec.encode(review.measures),
        "document": kept_flight(result),
        "measures": kept_measures(result),
        "findings": [
            {"name": one.name.value, "severity": one.severity.value, "document": kept_finding(one)}
            for one in result.findings
        ],
    }
