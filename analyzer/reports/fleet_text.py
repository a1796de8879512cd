"""The fleet as text for a terminal, the aircraft in most need first."""

from __future__ import annotations

import sys

from analyzer.reports.text import Style, cautions
from analyzer.reports.trend_words import ahead_words, latest_words, work_words
from analyzer.reports.wording import MEASURE_LABELS, condition_words, finding_label, number, stale_words, with_unit
from analyzer.trends.comparison import Comparison
from analyzer.trends.fleet_result import FleetResult, FleetRow, Happened, Happening, MeasureStep, NextLimit

#: What became of a finding over many flights.
BECAME = {Happened.RAISED: "raised", Happened.LAPSED: "lapsed"}
_INDENT = " " * 21


def fleet_text(fleet: FleetResult) -> str:
    """The fleet as text."""
    style = Style.of(sys.stdout)
    if not fleet.rows:
        return "No flight is kept yet. Start with: taper add PATH\n"
    lines = [
        style.paint(
            f"{'aircraft':<10}{'condition':<14}{'flights':>7}{'hours':>9}  {'last flight':<12}open findings", "head"
        )
    ]
    for row in fleet.rows:
        lines.append(_row(row, style))
        told = {one.name for one in row.stands.over_many}
        if words := latest_words(one for one in row.stands.of_flights if one.finding.name not in told):
            lines.append(_INDENT + words)
        if row.result.stale_flights:
            lines.append(f"{_INDENT}{stale_words(row.result.stale_flights)}; run: taper rebuild")
        if row.next_limit is not None:
            lines.append(_INDENT + limit_words(row.next_limit))
        lines += [f"{_INDENT}{one.when:%Y-%m-%d} {happening_words(one)}" for one in row.changed or ()]
    lines += ["", f"{len(fleet.rows)} aircraft. More of one: taper trend TAIL", ""]
    return "\n".join(lines) + "\n" + cautions(style)


def _row(row: FleetRow, style: Style) -> str:
    result = row.result
    shown = f"{condition_words(result.condition):<14}"
    if result.condition in ("warning", "caution", "advisory"):
        shown = style.paint(shown, result.condition)
    told = [finding_label(name) for name in dict.fromkeys(one.name for one in row.stands.over_many)]
    last = f"{row.last_flight:%Y-%m-%d}" if row.last_flight else ""
    return f"{row.tail:<10}{shown}{result.flights:>7}{result.hours:>9.1f}  {last:<12}{', '.join(told) or '-'}"


def limit_words(coming: NextLimit) -> str:
    """The limit that is reached next, and when."""
    label, limit = MEASURE_LABELS[coming.measure], with_unit(coming.limit, coming.unit)
    if coming.reached.past:
        return f"{label} is past its limit of {limit}"
    return f"{label} reaches its limit of {limit} in {ahead_words(coming.reached, 'engine hour')}"


def happening_words(one: Happening) -> str:
    """What changed, without its day."""
    about = one.about
    if isinstance(about, Comparison):
        return f"{work_words(about.entry)}: {about.verdict}"
    if isinstance(about, MeasureStep):
        unit = about.unit
        ends = f"{number(about.change.before, unit)} to {with_unit(about.change.after, unit)}"
        return f"{MEASURE_LABELS[about.measure]} stepped from {ends}"
    return f"{finding_label(about.name)}: {BECAME[one.what]}"
