"""Conversions against published values, and units found where headers hide them."""

from __future__ import annotations

import pytest

from analyzer.logs.roles import column_unit
from analyzer.logs.units import UNITS
from analyzer.logs.words import meaning, unit_of


@pytest.mark.parametrize(
    ("unit", "value", "wanted"),
    [
        # NIST SP 811 (2008), appendix B.8: pound-force per square inch 6.894 757 E+03 Pa; inch of mercury
        # (conventional) 3.386 389 E+03 Pa; knot 5.144 444 E-01 m/s; mile per hour 4.4704 E-01 m/s;
        # foot 3.048 E-01 m; kilogram-force per square centimetre 9.806 65 E+04 Pa
        ("bar", 1.0, 1e5 / 6.894757e3),
        ("kPa", 6.894757, 1.0),
        ("hPa", 68.94757, 1.0),
        ("inHg", 1.0, 3.386389e3 / 6.894757e3),
        ("kg/cm2", 1.0, 9.80665e4 / 6.894757e3),
        ("m/s", 0.5144444, 1.0),
        ("mph", 1.0, 0.44704 / 0.5144444),
        ("km/h", 1.852, 1.0),
        ("m", 0.3048, 1.0),
        ("mV", 13800.0, 13.8),
        ("mA", -6100.0, -6.1),
        # fixed points of the scales: ITS-90 triple point of water 273.16 K is 0.01 degC; 212 degF is 100 degC
        ("degF", 212.0, 100.0),
        ("degF", -40.0, -40.0),
        ("K", 273.16, 0.01),
        ("1/s", 40.0, 2400.0),
        ("FL", 45.0, 4500.0),
    ],
)
def test_conversions(unit: str, value: float, wanted: float):
    rule = UNITS[unit]
    assert value * rule.factor + rule.offset == pytest.approx(wanted, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("spelling", "unit"),
    [
        *[("V", "V"), ("volts", "V"), ("[V]", "V"), ("V DC", "V"), ("mV", "mV"), ("MV", "mV")],
        *[("°F", "degF"), ("º F", "degF"), ("\ufffdF", "degF"), ("deg F", "degF"), ("degC", "degC"), ("C", "degC")],
        *[("kts", "kt"), ("KIAS", "kt"), ("km/h", "km/h"), ("Km / h", "km/h"), ("1/min", "rpm"), ("U/min", "rpm")],
        *[("tr/min", "rpm"), ("ft msl", "ft"), ("inHg", "inHg"), ("in. Hg", "inHg"), ("hPa", "hPa"), ("%", "%")],
        *[("Amps", "A"), ("gal/h", "other"), ("notes", None), ("", None)],
    ],
)
def test_spellings_of_units(spelling: str, unit: str | None):
    assert unit_of(spelling) == unit


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        *[("Volts (V)", "V"), ("Volts [mV]", "mV"), ("Oil Press, bar", "bar"), ("OAT C", "degC"), ("Oil PSI", "psi")],
        *[("alt_ft", "ft"), ("speed_km_h", "km/h"), ("Bus V", "V"), ("Batt A", "A"), ("OAT / °F", "degF")],
        *[("Volts", None), ("Batt Amps", None), ("Notes (free text)", None), ("EGT 1 (°F) left", "degF")],
    ],
)
def test_units_in_headers(header: str, unit: str | None):
    assert meaning(header).unit == unit


def test_a_units_row_overrules_a_bare_word_of_the_header_but_not_a_bracket():
    assert column_unit("Bus V", "mV", None) == "mV"
    assert column_unit("Bus (V)", "mV", None) == "V"
    assert column_unit("Bus Volts", "", "mV") == "mV"
