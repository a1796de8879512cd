"""Loads of light aircraft, for planning: usual ones, ``loads.toml``, and one's own in their place."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from analyzer.shipped_tables import read_table

LOADS_FILE = Path(__file__).with_name("loads.toml")


class Load(Struct, frozen=True):
    """One thing that may be switched on or shed."""

    name: str
    words: str
    amps: float
    night: bool  # usually on by night
    own: bool = False  # whether the amperes are those of this aircraft, and not usual ones


@cache
def _document() -> dict[str, dict[str, Any]]:
    return read_table(LOADS_FILE)


def load_names() -> list[str]:
    """Names of the usual loads."""
    return list(_document())


@cache
def usual_loads(nominal_voltage: int) -> tuple[Load, ...]:
    """Usual loads of a 14 V or 28 V aircraft, from ``loads.toml``: examples, not this aircraft's."""
    return tuple(
        Load(name, entry["words"], float(entry[f"at_{nominal_voltage}"]), entry["night"])
        for name, entry in _document().items()
    )


def loads_of(nominal_voltage: int, own: Mapping[str, float]) -> tuple[Load, ...]:
    """The loads of one aircraft: the usual ones, with its own amperes [A] where its settings give them by name."""
    return tuple(
        replace(one, amps=own[one.name], own=True) if one.name in own else one for one in usual_loads(nominal_voltage)
    )


def night_loads(nominal_voltage: int) -> list[str]:
    """Names of those that usually come on by night."""
    return [one.name for one in usual_loads(nominal_voltage) if one.night]
