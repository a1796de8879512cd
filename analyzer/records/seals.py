"""Seals: hashes of what is kept, so that a bit that changes on the disk is noticed where it is read.

What was kept before there were seals has none and is taken as it is; a rebuild seals it.
"""

from __future__ import annotations

import hashlib
import json
from binascii import hexlify
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypeVar

import msgspec

from analyzer.records.problems import DamagedError

#: Columns of ``flights`` that a tail's history rests on; the readings and findings of the flight join them.
_WHOLE = ("number", "starts", "ends", "nominal_voltage", "ammeter")
_REAL = ("from_s", "to_s", "hours", "air_start", "air_flight", "drawn_ah")
FLIGHT_COLUMNS = (*_WHOLE, *_REAL)
LOG_COLUMNS = (
    "hash", "source", "tail", "tail_from", "rows", "starts", "warnings", "original_kept", "added_at", "analysis",
    "columns", "trace",
)  # fmt: skip


def seal(*values: Any) -> str:
    """A hash of plain values: the same after they were written to the database and read again."""
    return _hash(_text(values).encode())


def _hash(text: bytes) -> str:
    return hashlib.sha256(text).hexdigest()[:32]


def _plain(value: Any) -> Any:
    return value.hex() if isinstance(value, bytes) else value.item()


#: Writes plain values as JSON; made once, for thousands of seals are worked out in a row.
_text = json.JSONEncoder(sort_keys=True, separators=(",", ":"), default=_plain).encode
#: Writes nearly all of them alike in a ninth of the time: not 1e16 and 1e-05, no letters beyond ASCII; what is no
#: number or has no end as null.
_text_soon = msgspec.json.Encoder().encode


def _real(value: Any) -> Any:
    """A number as the database gives it back, which knows no negative zero; what a disk made of one stays as it is."""
    return float(value) + 0.0 if isinstance(value, (int, float)) else value


def log_seal(row: Mapping[Any, Any]) -> str:
    """The seal of a row of ``logs``."""
    return seal(*(row.get(name) for name in LOG_COLUMNS))


def flight_seal(row: Mapping[Any, Any], found: Iterable[tuple[str, str]]) -> str:
    """The seal of a row of ``flights`` but its document, with names and severities of its findings."""
    return seal(*_of_flight(row, found))


def _of_flight(row: Mapping[Any, Any], found: Iterable[tuple[str, str]]) -> tuple[list[Any], list[Any], Any, list[Any]]:
    """The plain values that a flight's seal is of."""
    return [row[name] for name in _WHOLE], [_real(row[name]) for name in _REAL], _hex(row["readings"]), _told(found)


def _hex(readings: Any) -> Any:
    return readings.hex() if isinstance(readings, bytes) else readings


def _told(found: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    return sorted((str(name), str(severity)) for name, severity in found)


def document_seal(document: Any, measured: Iterable[Mapping[Any, Any]]) -> str:
    """The seal of a flight's document and of its rows of ``measures``."""
    rows = [
        [
            one["name"],
            *(_real(one[name]) for name in ("value", "low", "high")),
            one.get("because"),
            one.get("note"),
            *(_real(one[name]) for name in ("at_least", "at_most") if one.get(name) is not None),
        ]
        for one in measured
    ]
    return seal(document, sorted(rows, key=lambda row: str(row[0])))


def finding_seal(name: str, severity: str, document: Any) -> str:
    """The seal of a row of ``findings``."""
    return seal(name, severity, document)


def words_seal(row: Mapping[Any, Any], columns: Sequence[str]) -> str:
    """The seal of what a person said: a row of ``entries`` or ``dispositions``."""
    return seal(*(row[name] for name in columns))


def check_flight(row: Mapping[Any, Any], found: Iterable[tuple[str, str]]) -> None:
    """Check a row of ``flights`` with its findings' names and severities.

    Raises
    ------
    DamagedError
        When it is not what was written.
    """
    told = _told(found)
    if not _stands([row[name] for name in _WHOLE], [row[name] for name in _REAL], row["readings"], told, row["seal"]):
        hold(row["seal"], flight_seal(row, told), f"flight {row['id']}, begun {row['starts'] or 'at an unknown time'}")


def check_each_flight(columns: Mapping[str, Sequence[Any]], found: Mapping[int, Sequence[tuple[str, str]]]) -> None:
    """Check many rows of ``flights``, given by columns, with names and severities of the findings by flight.

    Raises
    ------
    DamagedError
        When one is not what was written.
    """
    told = [_told(found[flight]) if flight in found else [] for flight in columns["id"]]
    whole, real = (zip(*(columns[name] for name in names), strict=True) for names in (_WHOLE, _REAL))
    stand = map(_stands, whole, real, columns["readings"], told, columns["seal"])
    for place in [place for place, stands in enumerate(stand) if not stands]:
        check_flight({name: column[place] for name, column in columns.items()}, told[place])


def _stands(whole: Sequence[Any], real: Sequence[Any], readings: Any, told: Sequence[Any], kept: str | None) -> bool:
    """Whether plain values are for sure those that a seal is of; what it does not know is asked more slowly."""
    if not isinstance(readings, bytes):
        return False
    begins = _text_soon((whole, real))
    only_missing = begins.count(b"null") == whole.count(None) + real.count(None)  # and none of what is written so too
    ends = _text_soon(told) if told else b"[]"
    return only_missing and _hash(b'%b,"%b",%b]' % (begins[:-1], hexlify(readings), ends)) == kept


Row = TypeVar("Row", bound=Mapping[Any, Any])


def checked_findings(rows: Sequence[Row]) -> Sequence[Row]:
    """Give rows of ``findings`` after checking each.

    Raises
    ------
    DamagedError
        When one is not what was written.
    """
    for row in rows:
        now = finding_seal(row["name"], row["severity"], row["document"])
        hold(row["seal"], now, f"a finding of flight {row['flight_id']}")
    return rows


def hold(kept: str | None, now: str, what: str) -> None:
    """Check what was read against its seal.

    Raises
    ------
    DamagedError
        When it is not what was written.
    """
    if kept is not None and kept != now:
        raise DamagedError(what)
