"""The electrical profile of each tail, read from ``fleet.toml``."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from analyzer.limits import Limits
from analyzer.loads import load_names
from analyzer.logs.log import GIVEN_ROLES
from analyzer.small_files import parse_toml, read_text

#: What a key of the fleet file may be set to; None takes the key away.
Setting = float | int | str | date | tuple[float, float] | None

AMMETERS = ("alternator", "battery")
NOMINAL_VOLTAGES = (14, 28)
ALTERNATORS = (1, 2)


class Battery(StrEnum):
    """What the main battery is made of."""

    FLOODED = "flooded"
    SEALED = "sealed"
    LITHIUM = "lithium_iron_phosphate"


class Source(StrEnum):
    """What charges the battery."""

    ALTERNATOR = "alternator"
    PERMANENT_MAGNET = "permanent_magnet"  # no field, so no brushes, no field wire and no field switch
    DC_GENERATOR = "dc_generator"  # brushes and a commutator; gives nothing at idle
    STARTER_GENERATOR = "starter_generator"  # a turbine's: no impulse coupling, starts of half a minute


#: Limits that a lithium battery sets anew: limit -> the limit that holds instead.
_OF_LITHIUM = {
    "full_battery": "lithium_full_battery",
    "charging_for_sure": "lithium_charging_for_sure",
    "regulated_high": "lithium_regulated_high",
    "overvoltage": "lithium_overvoltage",
    "resting_low": "lithium_resting_low",
    "resting_very_low": "lithium_resting_very_low",
    "compensation_most": "lithium_compensation_most",
}


class FleetFileError(ValueError):
    """A fleet file that cannot be used; the message says what is wrong, where, and what to do."""


class TailError(ValueError):
    """What a person gave as a tail is none; the message says what a tail is made of."""


#: Letters, digits, and between them hyphens, dots or blanks: registrations, and names that clubs give.
_TAIL = re.compile(r"[^\W_](?:[ .\-_]?[^\W_]){0,15}")
LONGEST_TAIL = 16


def tail_name(text: str) -> str:
    """Give a tail as it is kept, in capitals.

    Raises
    ------
    TailError
        When it holds what no tail is made of, or is longer than one.
    """
    name = text.strip().upper()
    if len(name) > LONGEST_TAIL or not _TAIL.fullmatch(name):
        told = "".join(letter if letter.isprintable() else "?" for letter in name[:30])
        raise TailError(f"{told!r} is no tail: at most {LONGEST_TAIL} letters and digits, such as N047KT or D-EXYZ")
    return name


class Aircraft(Struct, frozen=True):
    """What is known of one tail beforehand; whatever is None is found from the readings or defaulted."""

    tail: str | None = None
    nominal_voltage: int | None = None  # 14 or 28 [V]
    battery_capacity: float | None = None  # [Ah] at the one-hour rate
    ammeter: str | None = None  # "alternator" or "battery"
    alternator_rating: float | None = None  # [A]
    regulated_voltage: tuple[float, float] | None = None  # lowest and highest [V]
    overvoltage: float | None = None  # [V]
    low_voltage: float | None = None  # where the low-voltage light comes on [V]
    essential_load: float | None = None  # after shedding [A]
    battery: Battery | None = None
    source: Source | None = None
    alternators: int | None = None  # 1 or 2
    battery_fitted: date | None = None
    alternator_fitted: date | None = None  # or overhauled; the older one of two
    alternator_hours: float | None = None  # engine hours that it had on that day [h]
    aircraft_type: str | None = None  # in its owner's words; aircraft of one are compared
    battery_part: str | None = None  # its part number, as its owner wrote it
    coldest_morning: float | None = None  # of a usual winter where it stands [degC]
    check_hours: float | None = None  # what a check of battery and charging takes [h]
    stranded_hours: float | None = None  # what it costs to be stranded [h]
    loads: Mapping[str, float] = field(default_factory=dict)  # name of a load -> what it draws here [A]
    columns: Mapping[str, str] = field(default_factory=dict)  # role -> header as written
    ammeter_from: str = "the aircraft's settings say so"  # what tells the ammeter's kind, where it is told

    def with_ammeter(self, kind: str, told_by: str) -> Aircraft:
        """Give the same aircraft with its ammeter's kind told by flights beside the one judged; "unknown" too."""
        return replace(self, ammeter=kind, ammeter_from=told_by)

    @property
    def judged(self) -> Aircraft:
        """The same without what no judgement of a flight rests on."""
        return replace(self, loads={}, **dict.fromkeys(UNJUDGED))

    def limits(self, nominal_voltage: int | None) -> Limits:
        """Give the limits that hold for this aircraft at the nominal voltage found."""
        overrides: dict[str, float] = {}
        if self.battery is Battery.LITHIUM:
            for name, instead in _OF_LITHIUM.items():
                overrides[name] = Limits(nominal_voltage, {})[instead]
        if self.regulated_voltage is not None:
            overrides["regulated_low"], overrides["regulated_high"] = self.regulated_voltage
        for name in ("overvoltage", "low_voltage", "battery_capacity", "alternator_rating"):
            value: float | None = getattr(self, name)
            if value is not None:
                overrides |= {name: value}
        return Limits(nominal_voltage, overrides)


UNKNOWN_AIRCRAFT = Aircraft()
#: Settings that say what a load of the aircraft draws: key -> name of the load.
LOADS = {f"load_{name}": name for name in load_names()}
#: What each number may be: wider than any light aircraft, narrow enough to catch a slip of a digit or a unit.
RANGES = {
    "battery_capacity": (1.0, 500.0),  # [Ah]
    "alternator_rating": (2.0, 1000.0),  # [A]
    "overvoltage": (10.0, 60.0),  # [V]
    "low_voltage": (5.0, 50.0),  # [V]
    "essential_load": (0.1, 500.0),  # [A]
    "alternator_hours": (0.0, 50_000.0),  # [h]
    "coldest_morning": (-60.0, 25.0),  # [degC]
    "check_hours": (0.1, 100.0),  # [h]
    "stranded_hours": (0.1, 1000.0),  # [h]
    **dict.fromkeys(LOADS, (0.1, 100.0)),  # [A]
}
#: Settings that are days; the first day that one may be is older than any part in service.
DAYS = ("battery_fitted", "alternator_fitted")
FIRST_DAY = date(1950, 1, 1)
#: Settings in an owner's own words, with an example of each.
WRITTEN = {"aircraft_type": "two-seat trainer", "battery_part": "24-18-S"}
#: Settings that no judgement of a flight rests on: when something is due, with whom to compare, what it costs.
UNJUDGED = (*DAYS, *WRITTEN, "alternator_hours", "coldest_morning", "check_hours", "stranded_hours")
LONGEST_WRITTEN = 40
#: What the ends of the band of regulated voltage may be [V], 14 V systems and 28 V systems together.
BAND_RANGE = (10.0, 40.0)
#: What may stand for each word of a fixed list.
WORDS: Mapping[str, tuple[str, ...]] = {
    "ammeter": AMMETERS,
    "battery": tuple(Battery),
    "source": tuple(Source),
}
_KEYS = ("nominal_voltage", "regulated_voltage", "alternators", "columns", *WRITTEN, *WORDS, *RANGES, *DAYS)


class Fleet(Struct, frozen=True):
    """The aircraft of a fleet file by tail, upper case."""

    aircraft: Mapping[str, Aircraft] = field(default_factory=dict)

    def with_aircraft(self, tail: str, aircraft: Aircraft) -> Fleet:
        """Give the same fleet with one tail's profile in place of its own."""
        return Fleet({**self.aircraft, tail.upper(): aircraft})

    def of(self, tail: str | None) -> Aircraft:
        """Give the profile of a tail, an empty one when the fleet file does not name it."""
        return self.aircraft.get((tail or "").upper(), UNKNOWN_AIRCRAFT)


def read_fleet(path: Path) -> Fleet:
    """Read a fleet file.

    Raises
    ------
    FleetFileError
        When the file cannot be read, or as for ``parse_fleet``.
    """
    try:
        return parse_fleet(read_text(path), path)
    except OSError as problem:
        reason = problem.strerror or problem
        raise FleetFileError(f"{path}: the fleet file cannot be opened ({reason}).") from problem
    except UnicodeDecodeError as problem:
        raise FleetFileError(f"{path}: the fleet file is no text in UTF-8; save it as UTF-8.") from problem


def parse_fleet(text: str, path: Path) -> Fleet:
    """Read a fleet file's text; ``path`` is where it stands, or is about to.

    Raises
    ------
    FleetFileError
        When it is not TOML, has a key that is not known (the nearest right one is named) or a value that cannot be.
    """
    try:
        document = parse_toml(text)
    except ValueError as problem:
        raise FleetFileError(f"{path}: the fleet file is not valid TOML ({problem}).") from problem
    _known(document, ("aircraft",), path, "at the top level")
    tables = document.get("aircraft", {})
    if not isinstance(tables, dict):
        raise FleetFileError(f"{path}: 'aircraft' must be tables such as [aircraft.N047KT].")
    upper = [tail.upper() for tail in tables]
    for tail in tables:
        if upper.count(tail.upper()) > 1:
            raise FleetFileError(f"{path}: [aircraft.{tail}] stands there twice, in other capitals; keep one.")
    return Fleet({tail.upper(): _aircraft(tail, table, path) for tail, table in tables.items()})


def _known(table: Mapping[str, Any], keys: tuple[str, ...], path: Path, where: str) -> None:
    for key in table:
        if key not in keys:
            near = difflib.get_close_matches(key, keys, n=1, cutoff=0.5)
            hint = f"did you mean '{near[0]}'?" if near else "known keys: " + ", ".join(sorted(keys)) + "."
            raise FleetFileError(f"{path}: the key '{key}' {where} is not known; {hint}")


def _known_word(key: str, word: Any, path: Path, where: str) -> None:
    """Refuse a word that is none of the key's, and name the nearest that is."""
    words = WORDS[key]
    if word in words:
        return
    like = difflib.get_close_matches(str(word).lower().replace(" ", "_"), words, n=1, cutoff=0.4)
    hint = f"; did you mean '{like[0]}'?" if like else "."
    listed = ", ".join(f"'{one}'" for one in words[:-1]) + f" or '{words[-1]}'"
    raise FleetFileError(f"{path}: {key} {where} must be {listed}, not {repr(word)[:30]}{hint}")


def _aircraft(tail: str, table: Any, path: Path) -> Aircraft:
    where = f"in [aircraft.{tail}]"
    if not isinstance(table, dict):
        raise FleetFileError(f"{path}: 'aircraft.{tail}' must be a table, written [aircraft.{tail}].")
    _known(table, _KEYS, path, where)
    for key in RANGES:
        lowest, highest = RANGES[key]
        if key in table and not (_is_number(table[key]) and lowest <= table[key] <= highest):
            shown = repr(table[key])[:30]
            raise FleetFileError(f"{path}: {key} {where} must be a number from {lowest:g} to {highest:g}, not {shown}.")
    if table.get("nominal_voltage", 14) not in NOMINAL_VOLTAGES:
        raise FleetFileError(f"{path}: nominal_voltage {where} must be 14 or 28 (V), not {table['nominal_voltage']!r}.")
    if "alternators" in table and (isinstance(table["alternators"], bool) or table["alternators"] not in ALTERNATORS):
        raise FleetFileError(f"{path}: alternators {where} must be 1 or 2, not {repr(table['alternators'])[:30]}.")
    for key in WORDS:
        if key in table:
            _known_word(key, table[key], path, where)
    band = _band(table.get("regulated_voltage"), path, where)
    if band is not None and table.get("overvoltage", band[1] + 1.0) <= band[1]:
        raise FleetFileError(f"{path}: overvoltage {where} must lie above the regulated_voltage band.")
    columns = table.get("columns", {})
    if not isinstance(columns, dict) or not all(isinstance(name, str) for name in columns.values()):
        raise FleetFileError(f'{path}: columns {where} must be lines such as bus_voltage = "VOLTS 1".')
    _known(columns, GIVEN_ROLES, path, f"in [aircraft.{tail}.columns]")
    numbers: dict[str, Any] = {key: float(table[key]) for key in RANGES if key in table and key not in LOADS}
    written: dict[str, Any] = {key: _written(key, table[key], path, where) for key in WRITTEN if key in table}
    days: dict[str, Any] = {key: _day(key, table[key], path, where) for key in DAYS if key in table}
    return Aircraft(
        tail=tail.upper(),
        nominal_voltage=table.get("nominal_voltage"),
        ammeter=table.get("ammeter"),
        regulated_voltage=band,
        battery=Battery(table["battery"]) if "battery" in table else None,
        source=Source(table["source"]) if "source" in table else None,
        alternators=table.get("alternators"),
        loads={name: float(table[key]) for key, name in LOADS.items() if key in table},
        columns=columns,
        **written,
        **numbers,
        **days,
    )


def written_name(key: str, text: str) -> str:
    """Give a setting in one's own words (``WRITTEN``) as it is kept: without blanks around it, and single ones within.

    Raises
    ------
    ValueError
        When it is empty, too long, or holds what cannot be printed.
    """
    name = " ".join(text.split())
    if not 0 < len(name) <= LONGEST_WRITTEN or not name.isprintable():
        raise ValueError(f"a few words, at most {LONGEST_WRITTEN} letters, such as {WRITTEN[key]!r}")
    return name


def _written(key: str, value: object, path: Path, where: str) -> str:
    try:
        return written_name(key, value if isinstance(value, str) else "")
    except ValueError as problem:
        raise FleetFileError(f"{path}: {key} {where} must be {problem}, not {repr(value)[:30]}.") from None


def _day(key: str, value: object, path: Path, where: str) -> date:
    day = value.date() if isinstance(value, datetime) else value
    if not isinstance(day, date) or day < FIRST_DAY:
        raise FleetFileError(
            f"{path}: {key} {where} must be a day such as 2024-05-02, without quotes, not {value!r:.30}."
        )
    return day


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9


def _band(value: Any, path: Path, where: str) -> tuple[float, float] | None:
    if value is None:
        return None
    pair = isinstance(value, list) and len(value) == 2 and all(map(_is_number, value))
    if not pair or not BAND_RANGE[0] <= value[0] < value[1] <= BAND_RANGE[1]:
        raise FleetFileError(
            f"{path}: regulated_voltage {where} must be [lowest, highest] in volts, "
            f"such as [13.6, 14.3], not {value!r}."
        )
    return float(value[0]), float(value[1])
