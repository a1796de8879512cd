"""One invented flight, written down in many dialects; what a reader should find is known by construction."""

from __future__ import annotations

import io
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

#: Name, unit, text of the cell in a row, role ("clock" for parts of the clock, None for columns without one).
Column = tuple[str, str, Callable[[int], str], str | None]
ROWS = 240
START = datetime(2026, 5, 23, 9, 12, 30)

#: Wordings of the roles: header texts in several languages and habits.
WORDINGS: dict[str, dict[str, str]] = {
    "plain": {
        "bus_voltage": "Volts",
        "battery_current": "Batt Amps",
        "alternator_current": "Alternator Amps",
        "engine_speed": "RPM",
        "oil_pressure": "Oil Press",
        "outside_air_temperature": "OAT",
        "airspeed": "IAS",
        "ground_speed": "GS",
        "altitude": "Altitude",
    },
    "long": {
        "bus_voltage": "Main Bus Voltage",
        "battery_current": "Battery Current",
        "alternator_current": "Alternator Load",
        "engine_speed": "Engine Speed RPM",
        "oil_pressure": "Oil Pressure",
        "outside_air_temperature": "Outside Air Temperature",
        "airspeed": "Indicated Airspeed",
        "ground_speed": "Ground Speed",
        "altitude": "Pressure Altitude",
    },
    "short": {
        "bus_voltage": "volt1",
        "ammeter_current": "amp1",
        "bus_voltage_2": "volt2",
        "engine_speed": "E1 RPM",
        "oil_pressure": "E1 OilP",
        "outside_air_temperature": "OAT",
        "airspeed": "IAS",
        "ground_speed": "GndSpd",
        "altitude": "AltMSL",
    },
    "capitals": {
        "bus_voltage": "BUS VOLTS",
        "battery_current": "BATT AMP",
        "alternator_current": "GEN AMPS",
        "alternator_current_2": "GEN 2 AMPS",
        "engine_speed": "TACH",
        "oil_pressure": "OIL PSI",
        "outside_air_temperature": "AMBIENT TEMP",
        "airspeed": "AIRSPEED",
        "altitude": "ALT",
    },
    "snake": {
        "bus_voltage": "bus_volts",
        "battery_current": "battery_amps",
        "alternator_current": "alternator_amps",
        "engine_speed": "engine_rpm",
        "oil_pressure": "oil_pressure",
        "outside_air_temperature": "outside_air_temp",
        "airspeed": "airspeed",
        "ground_speed": "ground_speed",
        "altitude": "altitude",
    },
    "camel": {
        "bus_voltage": "BusVoltage",
        "battery_current": "BatteryCurrent",
        "alternator_current": "AlternatorCurrent",
        "engine_speed": "EngineRpm",
        "oil_pressure": "OilPressure",
        "outside_air_temperature": "OutsideAirTemp",
        "airspeed": "AirSpeed",
        "altitude": "BaroAltitude",
    },
    "two buses": {
        "bus_voltage": "Main Bus Volts",
        "bus_voltage_2": "Essential Bus Volts",
        "battery_current": "Battery Chg/Dischg",
        "alternator_current": "Alt 1 Amps",
        "alternator_current_2": "Alt 2 Amps",
        "engine_speed": "Eng RPM",
        "oil_pressure": "Oil P",
        "outside_air_temperature": "Outside Temp",
        "airspeed": "Air Speed",
        "altitude": "Alt",
    },
    "german": {
        "bus_voltage": "Bordspannung",
        "battery_current": "Batteriestrom",
        "alternator_current": "Generatorstrom",
        "engine_speed": "Drehzahl",
        "oil_pressure": "Öldruck",
        "outside_air_temperature": "Außentemperatur",
        "airspeed": "Fluggeschwindigkeit",
        "ground_speed": "Geschwindigkeit über Grund",
        "altitude": "Höhe",
    },
    "french": {
        "bus_voltage": "Tension bus",
        "battery_current": "Courant batterie",
        "alternator_current": "Courant alternateur",
        "engine_speed": "Régime moteur",
        "oil_pressure": "Pression d'huile",
        "outside_air_temperature": "Température extérieure",
        "airspeed": "Vitesse indiquée",
        "ground_speed": "Vitesse sol",
        "altitude": "Altitude",
    },
    "spanish": {
        "bus_voltage": "Tensión de bus",
        "battery_current": "Corriente batería",
        "alternator_current": "Corriente alternador",
        "engine_speed": "Régimen motor RPM",
        "oil_pressure": "Presión aceite",
        "outside_air_temperature": "Temperatura exterior",
        "airspeed": "Velocidad indicada",
        "ground_speed": "Velocidad suelo",
        "altitude": "Altitud",
    },
    "italian": {
        "bus_voltage": "Tensione bus",
        "battery_current": "Corrente batteria",
        "alternator_current": "Corrente alternatore",
        "engine_speed": "Giri motore",
        "oil_pressure": "Pressione olio",
        "outside_air_temperature": "Temperatura esterna",
        "airspeed": "Velocità indicata",
        "ground_speed": "Velocità suolo",
        "altitude": "Quota",
    },
    "portuguese": {
        "bus_voltage": "Tensão do barramento",
        "battery_current": "Corrente da bateria",
        "alternator_current": "Corrente do alternador",
        "engine_speed": "Rotação do motor",
        "oil_pressure": "Pressão do óleo",
        "outside_air_temperature": "Temperatura externa",
        "airspeed": "Velocidade indicada",
        "ground_speed": "Velocidade solo",
        "altitude": "Altitude",
    },
    "dutch": {
        "bus_voltage": "Boordspanning",
        "battery_current": "Accustroom",
        "alternator_current": "Dynamostroom",
        "engine_speed": "Toerental",
        "oil_pressure": "Oliedruk",
        "outside_air_temperature": "Buitentemperatuur",
        "airspeed": "Luchtsnelheid",
        "ground_speed": "Grondsnelheid",
        "altitude": "Hoogte",
    },
    "swedish": {
        "bus_voltage": "Spänning buss",
        "battery_current": "Batteriström",
        "alternator_current": "Generatorström",
        "engine_speed": "Varvtal",
        "oil_pressure": "Oljetryck",
        "outside_air_temperature": "Utetemperatur",
        "airspeed": "Indikerad fart",
        "altitude": "Höjd",
    },
    "polish": {
        "bus_voltage": "Napięcie szyny",
        "battery_current": "Prąd akumulatora",
        "alternator_current": "Prąd alternatora",
        "engine_speed": "Obroty silnika",
        "oil_pressure": "Ciśnienie oleju",
        "outside_air_temperature": "Temperatura zewnętrzna",
        "airspeed": "Prędkość przyrządowa",
        "altitude": "Wysokość",
    },
    "czech": {
        "bus_voltage": "Napětí sběrnice",
        "battery_current": "Proud baterie",
        "alternator_current": "Proud alternátoru",
        "engine_speed": "Otáčky motoru",
        "oil_pressure": "Tlak oleje",
        "outside_air_temperature": "Venkovní teplota",
        "airspeed": "Indikovaná rychlost",
        "altitude": "Výška",
    },
    "only volts": {"bus_voltage": "Volts"},
    "volts and amps": {"bus_voltage": "System Volts", "ammeter_current": "Ammeter"},
}
#: Columns beside them that have no role: header, unit, value.
DISTRACTORS: list[tuple[str, str, Callable[[int], float]]] = [
    ("5V Ref", "V", lambda i: 5.0 + 0.01 * (i % 3)),
    ("Sensor Exc Volts", "V", lambda i: 10.0 + 0.02 * (i % 4)),
    ("Trim Motor Amps", "A", lambda i: 1.5 if i % 37 == 0 else 0.0),
    ("Battery Temp", "°C", lambda i: 19.0 + i / 100),
    ("Alternator Field Volts", "V", lambda i: 6.0 + 0.1 * (i % 9)),
    ("Fuel Flow", "gal/h", lambda i: 8.5),
    ("EGT 1", "°F", lambda i: 1200.0 + i % 40),
    ("CHT 3", "°F", lambda i: 320.0 + i % 7),
    ("Oil Temp", "°F", lambda i: 150.0 + i / 10),
    ("Fuel Press", "psi", lambda i: 24.0),
    ("Manifold Press", "inHg", lambda i: 23.5),
    ("Vert Speed", "ft/min", lambda i: -20.0 + i % 41),
    ("Pitot Heat Amps", "A", lambda i: 8.0),
    ("Hobbs", "h", lambda i: 812.4),
    ("Heading", "deg", lambda i: float(i % 360)),
    ("Cabin Temp", "°C", lambda i: 21.0),
    ("Pct Power", "%", lambda i: 65.0),
    ("Latitude", "deg", lambda i: 41.2 + i / 10000),
]
TABLE_UNITS = {
    "bus_voltage": "V",
    "bus_voltage_2": "V",
    "battery_current": "A",
    "alternator_current": "A",
    "alternator_current_2": "A",
    "ammeter_current": "A",
    "engine_speed": "rpm",
    "oil_pressure": "psi",
    "outside_air_temperature": "°C",
    "airspeed": "kt",
    "ground_speed": "kt",
    "altitude": "ft",
}
#: Other units a role may be written in: unit, from the table's value to the file's, decimals, name in results.
OTHER_UNITS: dict[str, list[tuple[str, Callable[[float], float], int, str]]] = {
    "V": [("mV", lambda v: v * 1000, 0, "mV")],
    "A": [("mA", lambda v: v * 1000, 0, "mA")],
    "psi": [("bar", lambda v: v * 0.06894757, 2, "bar"), ("kPa", lambda v: v * 6.894757, 0, "kPa")],
    "°C": [("°F", lambda v: v * 1.8 + 32, 1, "degF"), ("K", lambda v: v + 273.15, 2, "K")],
    "kt": [
        ("mph", lambda v: v * 1852 / 1609.344, 1, "mph"),
        ("km/h", lambda v: v * 1.852, 1, "km/h"),
        ("m/s", lambda v: v * 1852 / 3600, 2, "m/s"),
    ],
    "ft": [("m", lambda v: v * 0.3048, 1, "m")],
    "rpm": [],
}
DECIMALS = {"V": 2, "A": 1, "rpm": 0, "psi": 0, "°C": 1, "kt": 0, "ft": 0}
TOLERANCE = {"V": 0.006, "A": 0.06, "rpm": 0.6, "psi": 0.6, "°C": 0.06, "kt": 0.6, "ft": 0.6}


def truth(role: str, i: int) -> float:
    """A role's value in row ``i``: ten rows at rest, a crank, a recharge, a cruise, a stop."""
    running = 16 <= i < ROWS - 15
    values = {
        "bus_voltage": 12.4 - 0.01 * (i % 4)
        if i < 10 or i >= ROWS - 15
        else (10.2 + 0.1 * (i % 3) if i < 16 else 13.9 + 0.02 * (i % 5)),
        "bus_voltage_2": 12.1 if not running else 13.6 + 0.02 * (i % 4),
        "battery_current": -6.0 - 0.1 * (i % 5) if i < 10 or not running else 2.0 + 20.0 * 0.9 ** (i - 16),
        "alternator_current": 0.0 if not running else 12.0 + 20.0 * 0.9 ** (i - 16),
        "alternator_current_2": 0.0 if not running else 3.0 + 0.1 * (i % 3),
        "ammeter_current": -5.0 if not running else 4.0 + 10.0 * 0.9 ** (i - 16),
        "engine_speed": 0.0 if not running else 2300.0 + 5 * (i % 11),
        "oil_pressure": 0.0 if not running else 62.0 + i % 4,
        "outside_air_temperature": 16.0 - i / 60,
        "airspeed": 0.0 if i < 40 or i > ROWS - 40 else 100.0 + i % 9,
        "ground_speed": 0.0 if i < 40 or i > ROWS - 40 else 112.0 + i % 7,
        "altitude": 850.0 + (0 if i < 40 else min(i - 40, 100) * 35.0),
    }
    return values[role]


@dataclass
class Expected:
    """What a reader should find."""

    columns: dict[str, tuple[str, str | None]] = field(default_factory=dict)  # role -> header, converted_from
    rows: int = ROWS
    dropped: tuple[int, int] = (0, 0)
    source_rows: list[int] = field(default_factory=list)  # truth's row of each table row
    start: str | None = None
    step_s: float = 1.0
    offset: str | None = None
    warns: str | None = None  # a word that must be in the warnings
    blanks: set[tuple[str, int]] = field(default_factory=set)  # (role, table row) that may be blank
    tail: str | None = None
    breaks: bool | None = None


@dataclass(frozen=True)
class Choice:
    """One dialect."""

    seed: int
    encoding: str
    delimiter: str
    decimal: str
    line_end: str
    header: str
    metadata: str
    clock: str
    wording: str
    units: str
    fault: str


ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-be-bom", "utf-16-le-bare", "cp1252")
HEADERS = (
    "brackets",
    "squares",
    "comma unit",
    "units row",
    "units row before",
    "no units",
    "group row",
    "line break",
    "bracketed units row",
)
METADATA = ("none", "# lines", "key=value", "key: value", "cells", "sentences", "blank lines")
CLOCKS = (
    "iso T",
    "iso space",
    "iso offset",
    "iso Z",
    "date and time",
    "d.m.y and time",
    "m/d/y 12-hour",
    "d/m/y in one",
    "named month",
    "hms columns",
    "ymdhms columns",
    "time only",
    "midnight",
    "elapsed s",
    "elapsed ms",
    "elapsed min",
    "elapsed mm:ss",
    "elapsed h:mm:ss",
    "epoch s",
    "epoch ms",
    "spreadsheet",
    "offset column",
    "local and utc",
    "frame",
    "none",
    "four a second",
    "half second",
    "two-digit year",
    "iso ms",
)
FAULTS = (
    "none",
    "none",
    "none",
    "missing",
    "text",
    "short row",
    "long row",
    "stray quote",
    "header again",
    "footer",
    "second table",
    "cut off",
    "zero bytes",
    "duplicates",
    "blank lines",
    "clock set",
    "clock blank",
    "trailing delimiter",
    "padded",
    "all quoted",
    "notes",
    "sign column",
    "thousands",
    "units in cells",
    "comments",
    "no last line end",
    "nameless column",
    "duplicate names",
    "slow columns",
    "gap",
)


def choices(count: int, seed: int) -> list[Choice]:
    """Dialects drawn at random, such as can be written and read without a guess."""
    dice = random.Random(seed)
    found: list[Choice] = []
    while len(found) < count:
        one = Choice(
            len(found),
            dice.choice(ENCODINGS),
            dice.choice(",,;\t|"),
            dice.choice("..,"),
            dice.choice(("\n", "\n", "\r\n", "\r")),
            dice.choice(HEADERS),
            dice.choice(METADATA),
            dice.choice(CLOCKS),
            dice.choice(list(WORDINGS)),
            dice.choice(("own", "own", "other")),
            dice.choice(FAULTS),
        )
        if _possible(one):
            found.append(one)
    return found


def _possible(c: Choice) -> bool:
    rules = (
        c.encoding == "cp1252" and c.wording in ("polish", "czech"),
        c.header == "no units" and (c.units == "other" or c.wording == "two buses"),
        c.fault == "units in cells" and c.header != "no units",
        c.fault == "sign column" and "battery_current" not in WORDINGS[c.wording],
        c.fault == "clock set" and c.clock not in ("iso T", "iso space", "date and time"),
        c.fault == "clock blank" and c.clock not in ("iso T", "iso space", "date and time", "d.m.y and time"),
        c.fault in ("duplicates", "gap", "header again", "footer") and c.clock in ("none",),
        c.fault in ("gap", "duplicates") and c.clock in ("frame", "four a second", "half second"),
        c.fault in ("short row", "cut off", "second table") and c.wording in ("only volts", "volts and amps"),
        c.fault in ("thousands",) and "altitude" not in WORDINGS[c.wording],
        c.fault == "duplicate names" and c.header == "group row",
        c.fault == "slow columns" and c.wording == "only volts",
        c.fault == "stray quote" and c.delimiter == c.decimal == ",",
        c.clock == "none" and c.fault in ("text", "missing", "stray quote", "short row", "long row"),
    )
    return not any(rules)


class Writer:
    """Writes the flight in one dialect and keeps what a reader should find."""

    def __init__(self, choice: Choice) -> None:
        self.c = choice
        self.dice = random.Random(choice.seed * 7919 + 13)
        self.expected = Expected(source_rows=list(range(ROWS)))
        self.columns: list[Column] = []

    def number(self, value: float, decimals: int, *, groups: bool = False) -> str:
        text = f"{value:,.{decimals}f}" if groups else f"{value:.{decimals}f}"
        if text.strip("-0.,") == "":
            text = text.lstrip("-")
        return text.translate(str.maketrans(",.", ".,")) if self.c.decimal == "," else text

    def write(self) -> tuple[bytes, Expected]:
        names = WORDINGS[self.c.wording]
        pool = [self.role_column(role, name) for role, name in names.items()]
        few = 0 if self.c.wording == "only volts" and self.c.fault == "none" else self.dice.randint(4, 10)
        for name, unit, value in self.dice.sample(DISTRACTORS, few):
            pool.append((name, unit, lambda i, v=value: self.number(v(i), 2), None))
        self.dice.shuffle(pool)
        if self.c.fault == "sign column":
            at = next(k for k, p in enumerate(pool) if p[3] == "battery_current")
            role_at = pool[at]
            pool[at] = (role_at[0], role_at[1], lambda i, cell=role_at[2]: cell(i).lstrip("-"), role_at[3])
            pool.insert(at + 1, ("Chg/Dis", "", lambda i: "-" if truth("battery_current", i) < 0 else "+", None))
        if self.c.fault == "notes":
            pool.insert(
                self.dice.randrange(len(pool)),
                ("Notes", "", lambda i: '"climb, mixture ""rich"""' if i % 50 == 7 else "", None),
            )
        if self.c.fault == "nameless column":
            pool.insert(self.dice.randrange(len(pool)), ("", "", lambda i: self.number(i % 5 + 0.25, 2), None))
        if self.c.fault == "duplicate names":
            pool += [("Type", "", lambda i: "3", None), ("Type", "", lambda i: "4", None)]
        self.columns = self.clock_columns() + pool
        lines, body_at = self.lines()
        lines = self.spoil(lines, body_at)
        return self.encode(lines), self.expected

    def header_names(self) -> list[str]:
        """Headers as a reader should name them."""
        self.write()
        return [" ".join(self.head(name, unit).split()) for name, unit, _, _ in self.columns]

    def role_column(self, role: str, name: str) -> Column:
        unit = TABLE_UNITS[role]
        others = OTHER_UNITS[unit]
        converted = None
        change: Callable[[float], float] = lambda v: v  # noqa: E731
        decimals = DECIMALS[unit]
        if self.c.units == "other" and others and "psi" not in name.lower():
            unit, change, decimals, converted = self.dice.choice(others)
        self.expected.columns[role] = (name, converted)
        groups = self.c.fault == "thousands"
        suffix = f" {unit}" if self.c.fault == "units in cells" else ""
        slow = self.c.fault == "slow columns" and role not in ("bus_voltage",)

        def cell(i: int) -> str:
            if slow and i % 4:
                return ""
            return self.number(change(truth(role, i)), decimals, groups=groups) + suffix

        return name, unit, cell, role

    # -- the clock

    def clock_columns(self) -> list[Column]:
        kind, e = self.c.clock, self.expected
        step = {"four a second": 0.25, "half second": 0.5}.get(kind, self.dice.choice((1.0, 2.0, 5.0)))
        e.step_s = step
        german = self.c.wording == "german"
        start = START
        if kind == "midnight":
            start = START.replace(hour=23, minute=58)
        e.start = start.isoformat()

        def at(i: int) -> datetime:
            extra = 3600.0 * 2 if self.c.fault == "gap" and i >= 120 else 0.0
            return start + timedelta(seconds=step * i + extra)

        def since(i: int) -> float:
            return (at(i) - start).total_seconds()

        def one(name: str, text: Callable[[int], str], unit: str = "") -> list[Column]:
            return [(name, unit, text, "clock")]

        stamp, date, time = ("Zeitstempel", "Datum", "Uhrzeit") if german else ("Timestamp", "Date", "Time")
        patterns = {
            "iso T": "%Y-%m-%dT%H:%M:%S",
            "iso space": "%Y-%m-%d %H:%M:%S",
            "d/m/y in one": "%d/%m/%Y %H:%M:%S",
            "named month": "%d-%b-%Y %H:%M:%S",
            "two-digit year": "%d.%m.%y %H:%M:%S",
            "four a second": "%Y-%m-%dT%H:%M:%S",
        }
        if kind in patterns:
            return one(stamp, lambda i: at(i).strftime(patterns[kind]))
        if kind == "iso ms":
            return one(stamp, lambda i: at(i).strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3])
        if kind == "half second":
            return one(date, lambda i: at(i).strftime("%Y-%m-%d")) + one(
                time, lambda i: at(i).strftime("%H:%M:%S.%f")[:-5]
            )
        if kind == "iso offset":
            e.offset = "+02:00"
            return one(stamp, lambda i: at(i).strftime("%Y-%m-%dT%H:%M:%S+02:00"))
        if kind == "iso Z":
            e.offset = "+00:00"
            return one(stamp, lambda i: at(i).strftime("%Y-%m-%dT%H:%M:%SZ"))
        if kind == "date and time":
            return one(date, lambda i: at(i).strftime("%Y-%m-%d")) + one(time, lambda i: at(i).strftime("%H:%M:%S"))
        if kind == "d.m.y and time":
            return one(date, lambda i: at(i).strftime("%d.%m.%Y")) + one(time, lambda i: at(i).strftime("%H:%M:%S"))
        if kind == "m/d/y 12-hour":
            return one(date, lambda i: f"{at(i).month}/{at(i).day}/{at(i).year}") + one(
                time, lambda i: at(i).strftime("%I:%M:%S %p").lstrip("0")
            )
        if kind == "hms columns":
            e.start = None
            return (
                one("Hour", lambda i: str(at(i).hour))
                + one("Minute", lambda i: str(at(i).minute))
                + one("Second", lambda i: str(at(i).second))
            )
        if kind == "ymdhms columns":
            parts = ("year", "month", "day", "hour", "minute", "second")
            return [c for p in parts for c in one(p.capitalize(), lambda i, p=p: str(getattr(at(i), p)))]
        if kind in ("time only", "midnight"):
            e.start = None
            return one(time, lambda i: at(i).strftime("%H:%M:%S"))
        if kind == "epoch s":
            e.offset = "+00:00"
            return one("Unix Time", lambda i: f"{(at(i) - datetime(1970, 1, 1)).total_seconds():.0f}")
        if kind == "epoch ms":
            e.offset = "+00:00"
            return one(stamp, lambda i: f"{(at(i) - datetime(1970, 1, 1)).total_seconds() * 1000:.0f}")
        if kind == "spreadsheet":
            return one(stamp, lambda i: self.number((at(i) - datetime(1899, 12, 30)).total_seconds() / 86400, 8))
        if kind == "offset column":
            e.offset = "-05:00"
            return (
                one(date, lambda i: at(i).strftime("%Y-%m-%d"))
                + one("Local Time", lambda i: at(i).strftime("%H:%M:%S"))
                + one("UTC Offset", lambda i: "-05:00")
            )
        if kind == "local and utc":
            e.offset = "+02:00"
            utc = timedelta(hours=2)
            return (
                one("Local Date", lambda i: at(i).strftime("%Y-%m-%d"))
                + one("Local Time", lambda i: at(i).strftime("%H:%M:%S"))
                + one("UTC Time", lambda i: (at(i) - utc).strftime("%H:%M:%S"))
            )
        e.start = None
        if kind == "frame":
            return one("Frame", lambda i: str(i + 1))
        if kind == "none":
            return []
        elapsed = {
            "elapsed s": ("Elapsed", "s", lambda i: self.number(since(i), 1)),
            "elapsed ms": ("Elapsed", "ms", lambda i: f"{since(i) * 1000:.0f}"),
            "elapsed min": ("Elapsed", "min", lambda i: self.number(since(i) / 60, 4)),
            "elapsed mm:ss": ("Elapsed", "", lambda i: f"{int(since(i)) // 60:02d}:{int(since(i)) % 60:02d}"),
            "elapsed h:mm:ss": (
                "Elapsed",
                "",
                lambda i: f"{int(since(i)) // 3600}:{int(since(i)) // 60 % 60:02d}:{int(since(i)) % 60:02d}",
            ),
        }[kind]
        return one(elapsed[0], elapsed[2], elapsed[1])

    # -- lines

    def quote(self, cell: str) -> str:
        if cell.startswith('"'):
            return cell
        inside = any(mark in cell for mark in (self.c.delimiter, "\n")) or self.c.fault == "all quoted"
        return f'"{cell}"' if inside else cell

    def line(self, cells: list[str]) -> str:
        if self.c.fault == "padded":
            cells = [f"{cell:>12}" for cell in cells]
        text = self.c.delimiter.join(map(self.quote, cells))
        return text + (self.c.delimiter if self.c.fault == "trailing delimiter" else "")

    def head(self, name: str, unit: str) -> str:
        if not unit or not name:
            return name
        style = self.c.header
        if style == "brackets":
            return f"{name} ({unit})"
        if style in ("squares", "group row"):
            return f"{name} [{unit}]"
        if style == "line break":
            return f"{name}\n({unit})"
        if style == "comma unit":
            return f"{name}, {unit}"
        return name

    def lines(self) -> tuple[list[str], int]:
        lines = self.metadata()
        heads = [self.head(name, unit) for name, unit, _, _ in self.columns]
        for role, (name, converted) in list(self.expected.columns.items()):
            index = next(k for k, column in enumerate(self.columns) if column[3] == role)
            self.expected.columns[role] = (" ".join(heads[index].split()), converted)
            del name
        units = [unit for _, unit, _, _ in self.columns]
        if self.c.header == "bracketed units row":
            units = [f"[{u}]" if u else "" for u in units]
        if self.c.header == "group row":
            lines.append(self.line([self.dice.choice(("Engine", "Electrical", "Other", "Air data")) for _ in heads]))
        if self.c.header == "units row before":
            lines.append(self.line(units))
        lines.append(self.line(heads))
        if self.c.header in ("units row", "bracketed units row"):
            lines.append(self.line(units))
        body_at = len(lines)
        lines += [self.line([cell(i) for _, _, cell, _ in self.columns]) for i in range(ROWS)]
        return lines, body_at

    def metadata(self) -> list[str]:
        rate = [] if self.c.clock not in ("frame", "none") else [("Sample interval", f"{self.expected.step_s:g} s")]
        kind = (
            self.c.metadata
            if not rate
            else (self.c.metadata if self.c.metadata not in ("none", "blank lines", "sentences") else "key: value")
        )
        pairs = [("Aircraft registration", "N047KT"), ("Software", "3.02"), *rate]
        if kind in ("# lines", "key=value", "key: value", "cells"):
            self.expected.tail = "N047KT"
        d = self.c.delimiter
        return {
            "none": [],
            "blank lines": ["", ""],
            "# lines": ["# engine data export"] + [f"# {k}: {v}" for k, v in pairs],
            "key=value": [f"{k}={v}" for k, v in pairs],
            "key: value": [f"{k}: {v}" for k, v in pairs] + [""],
            "cells": [f"{k}{d}{v}" for k, v in pairs],
            "sentences": [
                '"Engine data export, all channels"',
                '"Notes: volts read at the bus; amps at the shunt, battery side"',
                "",
            ],
        }[kind]

    # -- faults

    def spoil(self, lines: list[str], at: int) -> list[str]:
        fault, e, d = self.c.fault, self.expected, self.c.delimiter
        middle = at + ROWS // 2
        last_role = next((c[3] for c in reversed(self.columns) if c[3] and c[3] != "clock"), None)
        e.breaks = fault == "gap"
        if fault == "missing":
            self.blank_cells(lines, at, ("-", "---", "NaN", "n/a", "", "*"), None)
        elif fault == "text":
            self.blank_cells(lines, at, ("ERR", "OL"), "not a number")
        elif fault == "short row":
            cells = lines[middle].split(d)
            lines[middle] = d.join(cells[: max(2, len(cells) // 2)])
            self.drop(ROWS // 2, "fewer")
        elif fault == "long row":
            lines[middle] += f"{d}see note"
            self.drop(ROWS // 2, "more cells")
        elif fault == "stray quote":
            lines[middle] = lines[middle] + '"'
            e.warns = "quot"
            if last_role:
                e.blanks.add((last_role, ROWS // 2))
        elif fault == "header again":
            lines.insert(middle, lines[at - 1] if self.c.header != "line break" else lines[at - 1].replace("\n", " "))
            e.dropped, e.warns = (0, 2), "repeated"
        elif fault == "footer":
            width = len(self.columns)
            lines += (
                [self.line([word] + [""] * (width - 2) + [self.number(1.0, 1)]) for word in ("Minimum", "Maximum")]
                if width > 2
                else []
            )
            e.dropped, e.warns = ((0, 2), "footer") if width > 2 else ((0, 0), None)
        elif fault == "second table":
            lines += [
                "",
                d.join(("Event", "At", "Value")),
                d.join(("Engine start", "50", "1")),
                d.join(("Top of climb", "540", "4500")),
            ]
            e.dropped, e.warns = (0, 4), "left out"
        elif fault == "cut off":
            lines[-1] = lines[-1][: max(1, int(len(lines[-1]) * 0.6))]
            self.drop(ROWS - 1, "cut off")
        elif fault == "duplicates":
            for k in (200, 120, 60):
                lines.insert(at + k, lines[at + k])
            e.dropped, e.warns = (3, 3), "duplicate"
        elif fault == "blank lines":
            for k in (200, 120, 60):
                lines.insert(at + k, "")
        elif fault == "comments":
            lines.insert(middle, "# comment, with a delimiter; or two")
        elif fault in ("clock set", "clock blank"):
            self.unset_clock(lines, at)
        return lines

    def drop(self, row: int, warns: str) -> None:
        e = self.expected
        e.rows, e.dropped, e.warns = ROWS - 1, (1, 1), warns
        e.source_rows.remove(row)

    def blank_cells(self, lines: list[str], at: int, words: tuple[str, ...], warns: str | None) -> None:
        places = [(k, c[3]) for k, c in enumerate(self.columns) if c[3] and c[3] != "clock"]
        for row in (33, 77, 150, 201):
            k, role = self.dice.choice(places)
            cells = [cell(row) for _, _, cell, _ in self.columns]
            cells[k] = self.dice.choice(words)
            lines[at + row] = self.line(cells)
            self.expected.blanks.add((role or "", row))
        self.expected.warns = warns

    def unset_clock(self, lines: list[str], at: int) -> None:
        unset = self.dice.randint(20, 90)
        clocks = [k for k, c in enumerate(self.columns) if c[3] == "clock"]
        for row in range(unset):
            cells = [cell(row) for _, _, cell, _ in self.columns]
            early = datetime(2000, 1, 1, 0, 0, 9) + timedelta(seconds=self.expected.step_s * row)
            for k in clocks:
                if self.c.fault == "clock blank":
                    cells[k] = ""
                else:
                    pattern = {"iso T": "%Y-%m-%dT%H:%M:%S", "iso space": "%Y-%m-%d %H:%M:%S"}.get(self.c.clock) or (
                        "%Y-%m-%d",
                        "%H:%M:%S",
                    )[clocks.index(k)]
                    cells[k] = early.strftime(pattern)
            lines[at + row] = self.line(cells)
        self.expected.warns = "clock"

    def encode(self, lines: list[str]) -> bytes:
        text = io.StringIO()
        text.write("\n".join(lines))
        if self.c.fault not in ("cut off", "no last line end"):
            text.write("\n")
        whole = text.getvalue()
        data = whole.replace("\n", self.c.line_end)
        if self.c.fault == "zero bytes":
            self.expected.warns = "zero bytes"
            data += "\0" * 500
        if self.c.encoding == "utf-16":
            return b"\xff\xfe" + data.encode("utf-16-le")
        if self.c.encoding == "utf-16-be-bom":
            return b"\xfe\xff" + data.encode("utf-16-be")
        if self.c.encoding == "utf-16-le-bare":
            return data.encode("utf-16-le")
        return data.encode(self.c.encoding)
