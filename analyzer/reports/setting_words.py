"""An aircraft's settings in words: for the command's text and for the page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from analyzer.aircraft import LOADS, WRITTEN, Battery, Setting, Source
from analyzer.loads import usual_loads


@dataclass(frozen=True, slots=True)
class SettingWords:
    """How a setting is called, its unit, and what to know when setting it."""

    label: str
    unit: str
    about: str


SETTING_WORDS = {
    "nominal_voltage": SettingWords("System voltage", "V", "found from the flights if not set"),
    "battery": SettingWords("Battery", "", "taken as lead-acid if not set"),
    "battery_capacity": SettingWords("Battery capacity", "Ah", "rated, at the one-hour rate"),
    "ammeter": SettingWords("Ammeter shows", "", "found from the flights if not set"),
    "source": SettingWords("Charged by", "", "taken as an alternator if not set"),
    "alternators": SettingWords("Alternators", "", "one if not set"),
    "alternator_rating": SettingWords("Alternator rating", "A", "from its data plate"),
    "regulated_voltage": SettingWords("Regulated voltage", "V", "lowest and highest, from the manual"),
    "overvoltage": SettingWords("Overvoltage protection acts at", "V", "from its manual"),
    "low_voltage": SettingWords("Low-voltage light comes on at", "V", "as the voltage falls"),
    "essential_load": SettingWords("Essential load", "A", "what stays on after shedding"),
    "battery_fitted": SettingWords("Battery fitted on", "", "date, such as 2024-05-02; sets when it is due"),
    "battery_part": SettingWords("Battery part number", "", "as on its label, for the next one"),
    "alternator_fitted": SettingWords(
        "Alternator fitted on", "", "or overhauled (of two, the older one); or a later date with its hours on that date"
    ),
    "alternator_hours": SettingWords("Alternator hours on that date", "h", "engine hours on its brushes"),
    "aircraft_type": SettingWords("Aircraft type", "", "in your own words; aircraft of one type are compared"),
    "coldest_morning": SettingWords("Coldest morning", "°C", "of a usual winter, where it stands overnight"),
    "check_hours": SettingWords("A check takes", "h", "of battery and charging, on the ground"),
    "stranded_hours": SettingWords("Being stranded costs", "h", "of work, waiting and travel, by your own count"),
    **{
        key: SettingWords(low.words, "A", f"measured; usually {low.amps:g} A at 14 V, {high.amps:g} A at 28 V")
        for key, low, high in zip(LOADS, usual_loads(14), usual_loads(28), strict=True)
    },
}
#: How a word of the fleet file is said.
VALUE_WORDS = {
    "14": "14 V",
    "28": "28 V",
    "1": "one",
    "2": "two",
    "alternator": "alternator output",
    "battery": "battery current",
    Battery.FLOODED: "lead-acid, flooded",
    Battery.SEALED: "lead-acid, sealed",
    Battery.LITHIUM: "lithium iron phosphate",
    Source.PERMANENT_MAGNET: "permanent-magnet alternator",
    Source.DC_GENERATOR: "DC generator",
    Source.STARTER_GENERATOR: "starter-generator",
}


def choice_words(key: str, value: str) -> str:
    """How a value that is chosen is said."""
    return "alternator" if (key, value) == ("source", Source.ALTERNATOR) else VALUE_WORDS[value]


def setting_words(key: str, value: Setting) -> str:
    """A setting's value with its unit; "not set" where it is not."""
    unit = SETTING_WORDS[key].unit
    if value is None:
        return "not set"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return f"{value[0]:g} to {value[1]:g} {unit}"
    if isinstance(value, str):
        return value if key in WRITTEN else choice_words(key, value)
    return f"{value:g} {unit}".strip()
