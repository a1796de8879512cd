"""A review as text for a terminal: findings first, then measures, then what could not be measured."""

from __future__ import annotations

import os
import textwrap
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.wording import (
    MEASURE_LABELS,
    clock_words,
    finding_label,
    measure_words,
    printable,
    system_words,
    unmeasured_label,
)

WIDTH = 100
_COLOURS = {"warning": "31;1", "caution": "33;1", "advisory": "1", "head": "1", "faint": "2"}
#: Causes and checks shown for each finding; the JSON result has them all.
CAUSES_SHOWN, CHECKS_SHOWN = 3, 3


@dataclass(frozen=True, slots=True)
class Style:
    """Whether colour may be used; colour never stands alone for a meaning."""

    colour: bool

    @classmethod
    def of(cls, stream: TextIO) -> Style:
        """Colour only on a terminal, and not where the environment asks for none (NO_COLOR)."""
        return cls(stream.isatty() and "NO_COLOR" not in os.environ)

    def paint(self, words: str, kind: str) -> str:
        """The words, coloured for their kind where colour may be used."""
        return f"\033[{_COLOURS[kind]}m{words}\033[0m" if self.colour else words


def log_text(document: dict[str, Any], style: Style) -> str:
    """One log's entry of the result as text."""
    head = printable(document["source"]) + (f"  {document['tail']}" if document["tail"] else "")
    lines = [style.paint(head, "head")]
    if document["state"] == "refused":
        lines += wrapped("refused: " + document["because"], "  ")
    for number, flight in enumerate(document["flights"], 1):
        lines += _flight_lines(number, flight, style)
    for warning in document["warnings"]:
        lines += wrapped("note: " + warning, "  ")
    return "\n".join(lines) + "\n"


def wrapped(text: str, indent: str, hang: str = "  ") -> list[str]:
    """Lines of a text, indented, the further ones by ``hang`` more."""
    return textwrap.wrap(printable(text), WIDTH, initial_indent=indent, subsequent_indent=indent + hang)


def _flight_lines(number: int, flight: dict[str, Any], style: Style) -> list[str]:
    minutes = (flight["to_s"] - flight["from_s"]) / 60.0
    about = f"{system_words(flight['nominal_voltage'])}, " + _ammeter_words(flight)
    lines = [f"  Flight {number}  {clock_words(flight['start'], flight['from_s'])}  {minutes:.0f} min  {about}"]
    measured_count = sum(entry["state"] == "measured" for entry in flight["measures"].values())
    if not flight["findings"]:
        lines.append(
            f"    Nothing found that asks for action, in {measured_count} of {len(flight['measures'])} measures."
        )
    for finding in flight["findings"]:
        lasts = (finding["to_s"] - finding["from_s"]) / 60.0
        when = f"from {clock_words(finding['start'], finding['from_s'])}, over {lasts:.0f} min"
        lines += finding_lines(finding, style, when)
    measured = {name: entry for name, entry in flight["measures"].items() if entry["state"] == "measured"}
    if measured.get("offline_time", {"value": 1.0})["value"] == 0.0:  # nothing to tell
        measured = {name: entry for name, entry in measured.items() if not name.startswith("offline_")}
    lines += _columns([f"{MEASURE_LABELS[name]:<25} {measure_words(entry)}" for name, entry in measured.items()])
    noted = {name: entry["note"] for name, entry in measured.items() if "note" in entry}
    lines += _grouped(noted, "{names}: {words}", style)
    missing = {name: entry["because"] for name, entry in flight["measures"].items() if entry["state"] != "measured"}
    labels = {
        name: unmeasured_label(name, entry.get("at_least"), entry.get("at_most"), entry["unit"])
        for name, entry in flight["measures"].items()
    }
    lines += _grouped(missing, "not measurable: {names}, because {words}", style, labels)
    return lines


def _grouped(said: dict[str, str], form: str, style: Style, labels: dict[str, str] | None = None) -> list[str]:
    """Measures of which the same is said, on one line together."""
    lines = []
    labels = labels or {name: MEASURE_LABELS[name].lower() for name in said}
    for words in dict.fromkeys(said.values()):
        names = ", ".join(labels[name] for name in said if said[name] == words)
        lines += [style.paint(line, "faint") for line in wrapped(form.format(names=names, words=words), "    ")]
    return lines


def _ammeter_words(flight: dict[str, Any]) -> str:
    kind = flight["ammeter"]
    if kind == "none":
        return "no ammeter"
    if kind == "unknown":
        return "ammeter of unknown kind"
    return f"{kind} ammeter"


def finding_lines(finding: dict[str, Any], style: Style, when: str) -> list[str]:
    """A finding with what was seen, its likeliest causes and first checks; ``when`` follows its title."""
    title = f"{finding['severity'].upper()}: {finding_label(finding['finding'])}"
    lines = [f"    {style.paint(title, finding['severity'])}  {when}"]
    lines += wrapped(finding["says"], "      ", "")
    likely, checks = finding["likely"], finding["check"]
    for place, cause in enumerate(likely[:CAUSES_SHOWN]):
        words = f"{cause['cause']} ({100.0 * cause['weight']:.0f} %)"
        lines += wrapped(("likely: " if not place else "        ") + words, "      ", " " * 10)
    for place, check in enumerate(checks[:CHECKS_SHOWN]):
        lines += wrapped(("check:  " if not place else "        ") + f"{place + 1}. {check}", "      ", " " * 11)
    return lines


def _columns(entries: list[str]) -> list[str]:
    """Entries side by side in two columns, reading down."""
    half = (len(entries) + 1) // 2
    width = max((len(entry) for entry in entries[:half]), default=0) + 3
    rows = []
    for row in range(half):
        second = entries[half + row] if half + row < len(entries) else ""
        rows.append(f"    {entries[row]:<{width}}{second}".rstrip())
    return rows


def brief_lines(document: dict[str, Any], style: Style) -> list[str]:
    """One line a flight: aircraft, when, how long, the worst severity and the findings' titles."""
    if document["state"] == "refused":
        return [printable(f"refused    {document['source']}")]
    lines = []
    for flight in document["flights"]:
        severities = [finding["severity"] for finding in flight["findings"]]
        worst = severities[0] if severities else "-"
        titles = ", ".join(dict.fromkeys(finding_label(finding["finding"]) for finding in flight["findings"]))
        name = Path(document["source"]).name
        when = clock_words(flight["start"], 0.0) if flight["start"] else name if document["tail"] else "no date"
        minutes = (flight["to_s"] - flight["from_s"]) / 60.0
        shown = style.paint(f"{worst:<9}", worst) if severities else f"{worst:<9}"
        whose = document["tail"] or name
        lines.append(
            f"{shown}  {printable(whose):<10}  {printable(when):<19}  {minutes:4.0f} min  {titles or 'nothing found'}"
        )
    return lines or [f"no flight  {printable(document['source'])}"]


def closing(logs: int, flights: int, refused: int, style: Style) -> str:
    """Count of logs and flights, and the cautions."""
    counts = f"{_many(logs, 'log')}, {_many(flights, 'flight')}"
    counts += f", {_many(refused, 'log')} refused" if refused else ""
    lines = [
        counts + ".",
        "Intervals in brackets are 95 %. Percentages of causes are weights by judgement, not counted statistics;",
        f"at most {CAUSES_SHOWN} causes and {CHECKS_SHOWN} checks are shown, --json has them all.",
        "What a finding or a measure means: taper explain TITLE",
        "",
    ]
    return "\n".join([*lines, cautions(style)])


def cautions(style: Style) -> str:
    """The cautions that stand wherever results are read."""
    lines = [style.paint(line, "faint") for caution in CAUTIONS for line in wrapped(caution, "", "")]
    return "\n".join(lines) + "\n"


def _many(count: int, thing: str) -> str:
    return f"{count} {thing}" + ("" if count == 1 else "s")
