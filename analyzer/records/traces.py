"""A log's table as a Parquet file that carries its own seal and all that is needed to analyse it anew.

The seal is the SHA-256 of the whole file with the seal's own digits as zeros, so that the file can be checked without
the database; other programs read the file as any other Parquet file.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.records.files import read_kept, trace_path
from analyzer.records.problems import RecordsError

if TYPE_CHECKING:
    import polars as pl

    from analyzer.logs.log import Log

_MARK, _DIGITS = b"taper-seal:", 64
#: Of zstd's levels the one that takes least time; the columns of recorders come out smaller by it than by the usual 3.
_PACKING = 1
_UNSEALED = _MARK + b"0" * _DIGITS


@dataclass(frozen=True, slots=True)
class Told:
    """What a trace says of its log beside the readings."""

    source: str
    tail: str | None = None
    tail_from: str | None = None
    digest: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)  # role -> header that a person named
    breaks: tuple[int, ...] = ()
    warnings: tuple[str, ...] = ()
    start: str | None = None


def pack_trace(log: Log, digest: str, columns: Mapping[str, str]) -> tuple[bytes, str]:
    """Give a log's table as a sealed Parquet file, and the seal."""
    table = io.BytesIO()
    told = {
        "source": log.source, "tail": (log.tail or "").upper(), "tail_from": log.tail_from or "", "hash": digest,
        "columns": json.dumps(dict(columns)), "breaks": json.dumps(log.breaks), "warnings": json.dumps(log.warnings),
        "start": log.clock.start or "", "seal": _UNSEALED.decode(),
    }  # fmt: skip
    log.table.write_parquet(table, compression="zstd", compression_level=_PACKING, metadata=told)
    data = table.getvalue()
    found = hashlib.sha256(data).hexdigest()
    return data.replace(_UNSEALED, _MARK + found.encode(), 1), found


def seal_of(data: bytes) -> str | None:
    """The seal that a trace carries, None when it was written without one.

    Raises
    ------
    ValueError
        When the file is not what was sealed.
    """
    at = data.rfind(_MARK)
    if at < 0:
        return None
    begin, end = at + len(_MARK), at + len(_MARK) + _DIGITS
    carried = data[begin:end].decode("latin-1")
    if hashlib.sha256(data[:begin] + b"0" * _DIGITS + data[end:]).hexdigest() != carried:
        raise ValueError("it is not what was written")
    return carried


def fault_of_trace(folder: Path, digest: str, sealed: str | None) -> str | None:
    """What is wrong with a log's table on the disk, None where it is what was written; ``sealed`` as below."""
    try:
        carried = seal_of(read_kept(trace_path(folder, digest)))
    except (OSError, ValueError) as problem:
        return getattr(problem, "strerror", None) or str(problem)
    return None if sealed is None or carried == sealed else "they are not those of this analysis"


def read_trace(folder: Path, digest: str, sealed: str | None) -> pl.DataFrame:
    """Give a log's table as the analysis saw it; see ``read_trace_and_breaks``."""
    return read_trace_and_breaks(folder, digest, sealed)[0]


def read_trace_and_breaks(folder: Path, digest: str, sealed: str | None) -> tuple[pl.DataFrame, tuple[int, ...] | None]:
    """Give a log's table as the analysis saw it, and the rows before which recording began anew.

    The rows are None of a trace that an older version wrote without them.

    ``sealed`` is the seal that the database keeps of it, None where it was kept before there were seals.

    Raises
    ------
    RecordsError
        When it is missing or damaged.
    """
    import polars as pl

    path = trace_path(folder, digest)
    try:
        data = read_kept(path)
        carried = seal_of(data)
        if sealed is not None and carried != sealed:
            raise ValueError("it is not the one that was kept with this analysis")
        breaks = pl.read_parquet_metadata(io.BytesIO(data)).get("breaks")
        return pl.read_parquet(io.BytesIO(data)), None if breaks is None else tuple(json.loads(breaks))
    except (OSError, ValueError, pl.exceptions.PolarsError, pl.exceptions.PanicException) as problem:
        reason = " ".join(str(getattr(problem, "strerror", None) or problem).split())[:120]
        raise RecordsError(
            f"The readings of this log are missing or damaged ({path}: {reason}). Run: taper rebuild. It makes them "
            "anew from the original log."
        ) from problem


def told_by(folder: Path, digest: str) -> Told:
    """What a trace says of its log; of one that is missing or damaged no more than a name.

    A trace of an older version has neither breaks nor warnings.
    """
    import polars as pl

    try:
        data = read_kept(trace_path(folder, digest))
        seal_of(data)
        told: dict[str, Any] = dict(pl.read_parquet_metadata(io.BytesIO(data)))
        return Told(
            told.get("source") or f"{digest[:12]}.csv",
            told.get("tail") or None,
            told.get("tail_from") or None,
            told.get("hash", ""),
            json.loads(told.get("columns") or "{}"),
            tuple(json.loads(told.get("breaks") or "[]")),
            tuple(json.loads(told.get("warnings") or "[]")),
            told.get("start") or None,
        )
    except (OSError, ValueError, pl.exceptions.PolarsError, pl.exceptions.PanicException):
        return Told(f"{digest[:12]}.csv")
