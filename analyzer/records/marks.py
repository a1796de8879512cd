"""By what a flight was judged: one mark of the program's stages, its tables as corrected, and the aircraft's profile.

A kept flight carries the mark that it was judged by. Where that is not today's, the flight is stale: its measures and
findings are those of an earlier version, of other limits, or of what was known of the aircraft then.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from msgspec.structs import replace

from analyzer.aircraft import Aircraft
from analyzer.corrections import in_effect, rests_on_corrections

ANALYZER = Path(__file__).parents[1]
#: What the judgement of a flight is made of, the records' own code, and what that of a tail is made of.
OF_FLIGHTS = ("logs", "flights", "measures", "findings", "*.py", "*.toml")
OF_RECORDS = ("records",)
OF_TAILS = ("trends", "findings/causes.toml", "limits.toml")


def flight_mark(aircraft: Aircraft) -> str:
    """What a flight of this aircraft is judged by today, 32 letters.

    What its other flights tell of its ammeter is left out: that is settled whenever one of them is kept.
    """
    if aircraft.ammeter_from != Aircraft().ammeter_from:
        aircraft = replace(aircraft, ammeter=None, ammeter_from=Aircraft().ammeter_from)
    known = hashlib.sha256(repr(replace(aircraft.judged, tail=None)).encode()).hexdigest()[:16]
    return _mark_of(OF_FLIGHTS) + known


def tail_mark() -> str:
    """What the trends of a tail are judged by today beside its flights, entries and profile, 16 letters."""
    return _mark_of(OF_TAILS)


def layout_mark() -> str:
    """By what code a log is laid out in the records, 16 letters."""
    return _mark_of(OF_RECORDS)


@rests_on_corrections
@cache
def _mark_of(parts: Iterable[str]) -> str:
    """A mark of some modules and tables of this program, and of what was corrected."""
    told = hashlib.sha256(in_effect().mark.encode())
    for path in sorted({file for part in parts for file in _files(part)}):
        told.update(path.read_bytes())
    return told.hexdigest()[:16]


def _files(part: str) -> list[Path]:
    folder = ANALYZER / part
    return (
        [file for kind in ("*.py", "*.toml") for file in folder.rglob(kind)]
        if folder.is_dir()
        else [*ANALYZER.glob(part)]
    )
