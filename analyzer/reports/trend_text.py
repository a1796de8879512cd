"""Trends as text for a terminal: what stands open first, then each measure, then what each entry did."""

from __future__ import annotations

import sys
from typing import Any

from analyzer.findings.finding import Severity
from analyzer.reports.text import OverMany, Style, cautions, finding_lines, wrapped
from analyzer.reports.wording import (
    MEASURE_LABELS,
    at_words,
    causes_of,
    finding_label,
    flight_of,
    lapsed_words,
    latest_words,
    number,
    raised_words,
    stale_words,
    unit_shown,
)
from analyzer.trends.open_findings import is_open


def trend_text(documents: list[dict[str, Any]]) -> str:
    """Tails by the contract as text."""
    style = Style.of(sys.stdout)
    if not documents:
        return "No flight with an aircraft's name was found.\n"
    return "\n".join(_tail(document, style) for document in documents) + "\n" + cautions(style)


def _tail(document: dict[str, Any], style: Style) -> str:
    head = f"{document['tail']}  condition: {document['condition']}  "
    head += f"{document['flights']} flights, {document['hours']:.1f} engine hours"
    lines = [style.paint(head, "head")]
    for sentence in document["order"]:
        lines += wrapped(sentence, "    ")
    if stale := document.get("stale_flights"):
        lines += wrapped(f"{stale_words(stale)}; bring them up to date with: taper rebuild", "    ")
    still_open = [finding for finding in document["findings"] if is_open(finding)]
    lines += [] if still_open else ["    Nothing stands open over these flights."]
    if latest := latest_words(document["in_latest_flights"]):
        lines += wrapped(f"latest flights: {latest}", "    ")
    for finding in still_open:
        told = OverMany(
            finding["finding"],
            Severity(finding["severity"]),
            finding["says"],
            causes_of(finding["likely"]),
            finding["check"],
        )
        lines += finding_lines(told, style, raised_words(finding))
    for finding in document["findings"]:
        if not is_open(finding):
            past = f"past: {finding_label(finding['finding'])}, {raised_words(finding)}, {lapsed_words(finding)}"
            lines += wrapped(past, "    ")
    for measure, trend in document["trends"].items():
        lines += _trend(MEASURE_LABELS[measure], trend)
    for entry in document["entries"]:
        lines += _entry(entry)
    for odd in document["unlike_itself"]:
        names = ", ".join(f"{MEASURE_LABELS[m['measure']].lower()} {m['deviations']:+.1f}" for m in odd["measures"])
        lines += wrapped(
            f"outlier flight: {flight_of(odd['start'], odd['flight'])}, no rule fits; standard deviations off: {names}",
            "    ",
        )
    return "\n".join(lines) + "\n"


def _trend(label: str, trend: dict[str, Any]) -> list[str]:
    unit = trend["unit"]
    lines = []
    if trend["state"] == "measured":
        slope = f"{trend['slope_per_100h']:+.2f} ({trend['low']:+.2f} to {trend['high']:+.2f})"
        moved = "no trend" if trend["low"] <= 0.0 <= trend["high"] else _reach(trend)
        lines.append(
            f"    {label:<24} {number(trend['level'], unit):>6} {unit_shown(unit):<4} {slope} per 100 h; {moved}"
        )
    elif trend["points"]:
        lines += wrapped(f"{label}: no trend, because {trend['because']}", "    ")
    lines += [
        f"      stepped {at_words(change['start'], change['flight'])} "
        f"from {number(change['from'], unit)} to {number(change['to'], unit)}"
        for change in trend["changes"]
    ]
    return lines


def _reach(trend: dict[str, Any]) -> str:
    if trend["reaches_limit_in_h"] is None:
        return "moves"
    limit = f"{number(trend['limit'], trend['unit'])} {unit_shown(trend['unit'])}"
    if trend["reaches_limit_in_h"] == 0.0:
        return f"past its limit of {limit}"
    return (
        f"reaches {limit} in {trend['reaches_limit_in_h']:.0f} h ({trend['earliest_h']:.0f} to {trend['latest_h']:.0f})"
    )


def _entry(entry: dict[str, Any]) -> list[str]:
    lines = wrapped(f"{entry['when'][:10]} {entry['words'] or entry['kind']}: {entry['verdict']}", "    ")
    for one in entry["measures"]:
        unit = one["unit"]
        if one["change"] is None:
            continue
        change = f"{number(one['before'], unit)} to {number(one['after'], unit)} {unit_shown(unit)}"
        flights = f"{one['flights_before']} flights before, {one['flights_after']} after"
        lines.append(f"      {MEASURE_LABELS[one['measure']]:<24} {change}: {one['verdict']} ({flights})")
    return lines
