"""The thresholds of ``limits.toml``, bound to one aircraft's nominal voltage and its own overrides."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from analyzer.corrections import in_effect, rests_on_corrections
from analyzer.shipped_tables import read_table

LIMITS_FILE = Path(__file__).with_name("limits.toml")

#: Units of limits on currents and charges that are given for each Ah of the battery's capacity.
FOR_EACH_AH = frozenset(("A/Ah", "Ah/Ah"))


class Limit(Struct, frozen=True):
    """One threshold: what it is, its unit, its value at 14 V and 28 V, and where it comes from."""

    name: str
    unit: str
    at_14: float
    at_28: float
    meaning: str
    source: str
    shipped: tuple[float, float] | None = None  # the values that a correction stands in place of


@rests_on_corrections
@cache
def load_limits() -> Mapping[str, Limit]:
    """Every limit of ``limits.toml`` by name, with what was corrected.

    An entry gives either ``value`` (the same for both systems) or ``at_14`` and ``at_28``.
    """
    corrected = in_effect()
    entries: dict[str, dict[str, Any]] = read_table(LIMITS_FILE)
    limits = {}
    for name, entry in entries.items():
        at_14 = float(entry["value"] if "value" in entry else entry["at_14"])
        at_28 = float(entry["value"] if "value" in entry else entry["at_28"])
        limit = Limit(name, entry["unit"], at_14, at_28, entry["meaning"], entry["source"])
        if name in corrected.limits:
            own_14, own_28 = corrected.limits[name]
            told = f"corrected in {corrected.source}; as shipped {entry['source']}"
            limit = replace(limit, at_14=own_14, at_28=own_28, source=told, shipped=(at_14, at_28))
        limits[name] = limit
    return limits


class Limits(Struct, frozen=True):
    """The limits that hold for one aircraft: ``limits["overvoltage"]`` is a number in the limit's unit."""

    nominal_voltage: int | None  # 14 or 28; None where nothing tells, as without a voltmeter
    overrides: Mapping[str, float]

    def __getitem__(self, name: str) -> float:
        """Give the aircraft's own value where its profile sets one, the default otherwise.

        Where the system's voltage is not known, no comparison with a limit in volts holds (it is NaN), and a limit
        on currents or charges is the higher one, which accuses less. A limit given for each Ah of the battery is
        brought to this one's capacity here and nowhere else: it comes in amperes or Ah.
        """
        if name in self.overrides:
            return self.overrides[name]
        limit = load_limits()[name]
        if limit.unit in FOR_EACH_AH:
            return limit.at_14 * self["battery_capacity"]
        if self.nominal_voltage is None and limit.at_14 != limit.at_28:
            return max(limit.at_14, limit.at_28) if limit.unit in ("A", "Ah") else float("nan")
        return limit.at_28 if self.nominal_voltage == 28 else limit.at_14

    def shifted(self, names: tuple[str, ...], volts: float) -> Limits:
        """Give the same limits with some of them as a voltmeter reads them that is off by ``volts``."""
        return Limits(self.nominal_voltage, {**self.overrides, **{name: self[name] + volts for name in names}})

    @property
    def scale(self) -> float:
        """What a voltage of a 14 V system is multiplied by in this one: 1 or 2; NaN where it is not known."""
        return float("nan") if self.nominal_voltage is None else self.nominal_voltage / 14.0


def limit_value(name: str) -> float:
    """A limit that does not depend on the system's voltage or its battery, so that no aircraft need be known.

    Raises
    ------
    ValueError
        When it does depend on one of them: ask the aircraft's ``Limits``.
    """
    value = _values_alike()[name]
    if value is None:
        raise ValueError(f"{name} depends on the system's voltage or on its battery")
    return value


@rests_on_corrections
@cache
def _values_alike() -> Mapping[str, float | None]:
    """The value of every limit, None where it depends on the system's voltage or on its battery."""
    return {
        name: None if limit.at_14 != limit.at_28 or limit.unit in FOR_EACH_AH else limit.at_14
        for name, limit in load_limits().items()
    }
