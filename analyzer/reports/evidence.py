"""The numbers behind a finding, with their units, in words."""

from __future__ import annotations

from collections.abc import Mapping

from analyzer.phrases import counted, figures
from analyzer.quantity import Quantity
from analyzer.reports.wording import unit_shown
from analyzer.trends.judging import TrendFinding

#: How the name of a quantity ends that has the unit in its name.
_ENDINGS = {"min": "_min", "s": "_s", "A": "_a", "Ah": "_ah", "A/V": "_a_per_v"}


def evidence_words(evidence: Mapping[str, Quantity]) -> str:
    """The numbers behind a finding with their units, "peak voltage 15.8 V, limit 16 V"."""
    return ", ".join(
        f"{_label(name, one.unit)} {quantity_words(one)}{' (assumed)' if one.assumed else ''}"
        for name, one in evidence.items()
    )


def quantity_words(one: Quantity) -> str:
    """A number with its unit, "15.8 V"; a count is bare."""
    return f"{figures(one.value)} {unit_shown(one.unit)}".rstrip()


def _label(name: str, unit: str) -> str:
    return name.removesuffix(_ENDINGS.get(unit, "")).replace("_", " ")


def trend_evidence_words(finding: TrendFinding) -> str:
    """The numbers behind a finding over many flights, "from 4.58 to 10.7 min over 33 engine hours"."""
    levels = None if finding.shift is None else finding.shift.of
    if levels is None:
        return f"in {counted(len(finding.flights), 'flight')}" if finding.flights else ""
    ends = f"from {figures(levels.start.value)} to {quantity_words(levels.end)}"
    return f"{ends} over {levels.over.value:.0f} engine hours"
