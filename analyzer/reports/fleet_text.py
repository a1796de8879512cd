"""The fleet as text for a terminal, the aircraft in most need first."""

from __future__ import annotations

import sys
from typing import Any

from analyzer.reports.text import Style, cautions
from analyzer.reports.wording import MEASURE_LABELS, finding_label, latest_words, number, stale_words, unit_shown


def fleet_text(document: dict[str, Any]) -> str:
    """The fleet's document as text."""
    style = Style.of(sys.stdout)
    if not document["tails"]:
        return "No flight is kept yet. Start with: taper add PATH\n"
    lines = [
        style.paint(
            f"{'aircraft':<10}{'condition':<11}{'flights':>7}{'hours':>9}  {'last flight':<12}what stands open", "head"
        )
    ]
    for row in document["tails"]:
        lines.append(_row(row, style))
        open_names = set(row["open_findings"])
        if words := latest_words([one for one in row["in_latest_flights"] if one["finding"] not in open_names]):
            lines.append(f"{'':<21}{words}")
        if row["stale_flights"]:
            lines.append(f"{'':<21}{stale_words(row['stale_flights'])}; run: taper rebuild")
        if row["next_limit"]:
            lines.append(_limit(row["next_limit"]))
        lines += [f"{'':<21}{_change(change)}" for change in row.get("changed", ())]
    lines += ["", f"{len(document['tails'])} aircraft. More of one: taper trend TAIL", ""]
    return "\n".join(lines) + "\n" + cautions(style)


def _row(row: dict[str, Any], style: Style) -> str:
    condition = row["condition"]
    shown = f"{condition:<11}"
    if condition in ("warning", "caution", "advisory"):
        shown = style.paint(shown, condition)
    told = [finding_label(name) for name in dict.fromkeys(row["open_findings"])]
    last = (row["last_flight"] or "")[:10]
    return f"{row['tail']:<10}{shown}{row['flights']:>7}{row['hours']:>9.1f}  {last:<12}{', '.join(told) or '-'}"


def _limit(coming: dict[str, Any]) -> str:
    label, unit = MEASURE_LABELS[coming["measure"]], coming["unit"]
    limit = f"{number(coming['limit'], unit)} {unit_shown(unit)}"
    if coming["reaches_limit_in_h"] == 0.0:
        return f"{'':<21}{label} is past its limit of {limit}"
    return (
        f"{'':<21}{label} reaches its limit of {limit} in about {coming['reaches_limit_in_h']:.0f} engine hours "
        f"({coming['earliest_h']:.0f} to {coming['latest_h']:.0f})"
    )


def _change(change: dict[str, Any]) -> str:
    day = change["when"][:10]
    if change["what"] == "entry":
        return f"{day} {change['kind'].replace('_', ' ')}: {change['verdict']}"
    if change["what"] == "stepped":
        return f"{day} {MEASURE_LABELS[change['measure']]} stepped from {change['from']:g} to {change['to']:g}"
    return f"{day} {finding_label(change['finding'])}: {change['what']}"
