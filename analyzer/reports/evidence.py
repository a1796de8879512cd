"""The numbers behind a finding, with their units, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

#: Units of the numbers behind a finding, by the ending of their names; volts otherwise.
_ENDINGS = {"_min": "min", "_s": "s", "_a": "A", "_ah": "Ah"}
_PLAIN = {
    "times": "",
    "drops": "",
    "brief_losses": "",
    "flights": "",
    "alternator": "",
    "charge": "%",
    "temperature": "°C",
    "minutes": "min",
}
_OF_THE_FINDING = {
    ("slow_recharge", "low"): "min",
    ("slow_recharge", "limit"): "min",
    ("recharge_never_settles", "limit"): "A",
    ("reading_fault", "reading"): "",
}
_TREND_UNITS = {"recharge_slowing": "min", "maintenance_current_rising": "A", "battery_resistance_rising": "mohm"}


def evidence_words(finding: str, evidence: Mapping[str, float]) -> str:
    """The numbers behind a finding with their units, "peak voltage 15.8 V, limit 16 V"."""
    said = []
    for name, value in evidence.items():
        ending = next((end for end in _ENDINGS if name.endswith(end)), "")
        unit = _OF_THE_FINDING.get((finding, name), _PLAIN.get(name, _ENDINGS.get(ending, "V")))
        said.append(f"{name.removesuffix(ending).replace('_', ' ')} {value:.4g} {unit}".strip())
    return ", ".join(said)


def trend_evidence_words(finding: str, evidence: Mapping[str, Any]) -> str:
    """The numbers behind a finding over many flights, "from 4.58 to 10.7 min over 33 engine hours"."""
    if "from" not in evidence or "to" not in evidence:
        return f"in {evidence['count']:.0f} flights" if "count" in evidence else ""
    unit = _TREND_UNITS.get(finding, "V")
    said = f"from {evidence['from']:.4g} to {evidence['to']:.4g} {unit}"
    return said + (f" over {evidence['over_hours']:.0f} engine hours" if "over_hours" in evidence else "")
