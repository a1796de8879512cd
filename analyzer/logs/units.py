"""Units that columns come in, and how each is brought to the unit of its role.

Factors follow from exact definitions: 1 ft = 0.3048 m, 1 mile = 1609.344 m, 1 nautical mile =
1852 m (The International System of Units, NIST SP 811, appendix B); 1 psi = 6894.757 Pa,
1 inHg = 3386.389 Pa, 1 kgf/cm2 = 98066.5 Pa (same table).
"""

from __future__ import annotations

from msgspec import Struct

PA_PER_PSI = 6894.757
M_PER_FT = 0.3048
M_PER_NM = 1852.0


class Unit(Struct, frozen=True):
    """A unit: ``value * factor + offset`` is in the unit that the table uses for the quantity."""

    quantity: str
    factor: float = 1.0
    offset: float = 0.0


#: Unit as named in results: quantity and conversion to the table's unit of that quantity.
UNITS: dict[str, Unit] = {
    "V": Unit("voltage"),
    "mV": Unit("voltage", 0.001),
    "A": Unit("current"),
    "mA": Unit("current", 0.001),
    "rpm": Unit("rotation"),
    "1/s": Unit("rotation", 60.0),
    "psi": Unit("pressure"),
    "bar": Unit("pressure", 1e5 / PA_PER_PSI),
    "mbar": Unit("pressure", 1e2 / PA_PER_PSI),
    "hPa": Unit("pressure", 1e2 / PA_PER_PSI),
    "kPa": Unit("pressure", 1e3 / PA_PER_PSI),
    "MPa": Unit("pressure", 1e6 / PA_PER_PSI),
    "kg/cm2": Unit("pressure", 98066.5 / PA_PER_PSI),
    "inHg": Unit("pressure", 3386.389 / PA_PER_PSI),
    "degC": Unit("temperature"),
    "degF": Unit("temperature", 5 / 9, -160 / 9),
    "K": Unit("temperature", 1.0, -273.15),
    "kt": Unit("speed"),
    "mph": Unit("speed", 1609.344 / M_PER_NM),
    "km/h": Unit("speed", 1000.0 / M_PER_NM),
    "m/s": Unit("speed", 3600.0 / M_PER_NM),
    "ft": Unit("altitude"),
    "m": Unit("altitude", 1 / M_PER_FT),
    "km": Unit("altitude", 1000 / M_PER_FT),
    "FL": Unit("altitude", 100.0),
    "%": Unit("share"),
}

QUANTITY_OF_UNIT: dict[str, str] = {name: unit.quantity for name, unit in UNITS.items()}

#: Seconds in the units that elapsed time comes in.
SECONDS: dict[str, float] = {"us": 1e-6, "ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0, "day": 86400.0}
