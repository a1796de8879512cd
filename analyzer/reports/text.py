"""A review as text for a terminal: findings first, then measures, then what could not be measured."""

from __future__ import annotations

import os
import re
import shutil
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, TextIO

from analyzer.findings.finding import Cause, Severity
from analyzer.phrases import counted
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.wording import (
    ammeter_words,
    clock_words,
    finding_label,
    measure_label,
    measure_words,
    minutes_of,
    notes_of,
    printable,
    reasons_of,
    system_words,
)
from analyzer.results import FlightResult, LogResult

#: The space between a number and its unit, at which no line is broken.
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:V|A|Ah|V/h|s|min|h|%|mΩ|°C|mohm)(?:\W|$))")
#: Where a clause of a note ends; a colon only leads to what is said.
_CLAUSE_ENDS = re.compile(r"[;,.](?= )")
#: Columns of text where the terminal has more, or where there is none; and the fewest that are written for.
WIDEST, NARROWEST = 100, 40
_COLOURS = {"warning": "31;1", "caution": "33;1", "advisory": "1", "head": "1", "faint": "2"}
#: Causes and checks shown for each finding; the JSON result has them all.
CAUSES_SHOWN, CHECKS_SHOWN = 3, 3


class Told(Protocol):
    """What is printed of a finding, of one flight or of many."""

    @property
    def name(self) -> str:
        """Its name."""

    @property
    def severity(self) -> Severity:
        """How grave it is."""

    @property
    def says(self) -> str:
        """What was seen."""

    @property
    def likely(self) -> Sequence[Cause]:
        """What could explain it, best first."""

    @property
    def check(self) -> Sequence[str]:
        """What to check, in order."""


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


def width() -> int:
    """Columns to write in: the terminal's, or COLUMNS, and no more than can be read at ease."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size((WIDEST, 24)).columns))


def log_text(log: LogResult, style: Style) -> str:
    """One log's part of the result as text, with all that was measured and why the rest was not."""
    head = printable(log.source) + (f"  {log.tail}" if log.tail else "")
    lines = [style.paint(head, "head")]
    if log.because is not None:
        lines += wrapped("refused: " + log.because, "  ")
    for number, flight in enumerate(log.flights, 1):
        lines += _flight_lines(number, flight, style)
    for warning in log.warnings:
        lines += wrapped("note: " + warning, "  ")
    return "\n".join(lines) + "\n"


def wrapped(text: str, indent: str, hang: str = "  ") -> list[str]:
    """Lines of a text, indented, the further ones by ``hang`` more."""
    bound = _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", printable(text))
    lines = textwrap.wrap(
        bound, width(), initial_indent=indent, subsequent_indent=indent + hang, break_on_hyphens=False
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def _flight_lines(number: int, flight: FlightResult, style: Style) -> list[str]:
    about = f"{system_words(flight.nominal_voltage)}, {ammeter_words(flight.ammeter)}"
    lasts = minutes_of(flight.from_s, flight.to_s)
    lines = wrapped(f"Flight {number}  {clock_words(flight.start, flight.from_s)}  {lasts}  {about}", "  ")
    measured = flight.measured
    if not flight.findings:
        lines += wrapped(nothing_found(flight), "    ", "")
    for one in flight.findings:
        when = f"from {clock_words(flight.clock(one.from_s), one.from_s)}, over {minutes_of(one.from_s, one.to_s)}"
        lines += finding_lines(one, style, when, whole=True)
    if (offline := measured.get("offline_time")) is not None and offline.value == 0.0:  # nothing to tell
        measured = {name: one for name, one in measured.items() if not name.startswith("offline_")}
    lines += _columns([f"{measure_label(one):<25} {measure_words(one)}" for one in measured.values()])
    lines += _grouped(notes_of(measured.values()), "{names}: {words}", style)
    reasons = reasons_of(flight.unmeasured.values())
    return lines + _grouped(reasons, "not measurable: {names}, because {words}", style)


def nothing_found(flight: FlightResult) -> str:
    """That nothing was found, and how much was looked at."""
    return f"Nothing found. {len(flight.measured)} of {len(flight.measures)} measures could be taken."


def _grouped(said: Mapping[str, Sequence[str]], form: str, style: Style) -> list[str]:
    """Measures of which the same is said, on one line together."""
    return [
        style.paint(line, "faint")
        for words, names in said.items()
        for line in wrapped(form.format(names=", ".join(names), words=words), "    ")
    ]


def finding_lines(finding: Told, style: Style, when: str, *, whole: bool = False) -> list[str]:
    """A finding with what was seen, its likeliest causes and first checks, or all; ``when`` follows its title."""
    title = f"{finding.severity.upper()}: {finding_label(finding.name)}"
    lines = heading_lines(title, when, style, finding.severity)
    lines += wrapped(finding.says, "      ", "")
    causes, checks_shown = (None, None) if whole else (CAUSES_SHOWN, CHECKS_SHOWN)
    likely, checks = finding.likely[:causes], finding.check[:checks_shown]
    left = _left_out(len(finding.likely) - len(likely), len(finding.check) - len(checks))
    for place, cause in enumerate(likely):
        words = f"{cause.words} ({100.0 * cause.weight:.0f} %)"
        lines += wrapped(("likely: " if not place else "        ") + words, "      ", " " * 10)
    for place, check in enumerate(checks):
        lines += wrapped(("check:  " if not place else "        ") + f"{place + 1}. {check}", "      ", " " * 11)
    return lines + (wrapped(f"and {left}", "      ") if left else [])


def _left_out(causes: int, checks: int) -> str:
    """How many causes and checks are not shown, "2 more causes, 4 more checks"; empty when all are."""
    return ", ".join(counted(count, f"more {one}") for count, one in ((causes, "cause"), (checks, "check")) if count)


def heading_lines(title: str, when: str, style: Style, severity: Severity, indent: str = "    ") -> list[str]:
    """A finding's title, coloured, and when it was; on more lines where the terminal is narrow."""
    lines = wrapped(f"{title}  {when}", indent)
    lines[0] = lines[0].replace(title, style.paint(title, severity), 1)
    return lines


def _columns(entries: Sequence[str]) -> list[str]:
    """Entries side by side in two columns, reading down; one under the other where the terminal is too narrow."""
    half = (len(entries) + 1) // 2
    first = max((len(entry) for entry in entries[:half]), default=0) + 3
    rows = []
    for row in range(half):
        second = entries[half + row] if half + row < len(entries) else ""
        rows.append(f"    {entries[row]:<{first}}{second}".rstrip())
    if max((len(row) for row in rows), default=0) <= width():
        return rows
    return [line for entry in entries for line in wrapped(entry, "    ")]


def brief_lines(log: LogResult, style: Style) -> list[str]:
    """One line a flight: aircraft, when, how long, the worst severity and the findings' titles."""
    if log.refused:
        return [shortened(printable(f"refused    {log.source}"), width())]
    lines = []
    for flight in log.flights:
        titles = ", ".join(dict.fromkeys(finding_label(finding.name) for finding in flight.findings))
        name = Path(log.source).name
        when = clock_words(flight.start, 0.0) if flight.start else name if log.tail else "no date"
        minutes = (flight.to_s - flight.from_s) / 60.0
        shown = f"{'-':<9}"
        if flight.findings:
            worst = flight.findings[0].severity
            shown = style.paint(f"{worst:<9}", worst)
        whose = log.tail or name
        rest = f"  {printable(whose):<10}  {printable(when):<19}  {minutes:4.0f} min  {titles or 'nothing found'}"
        lines.append(shown + shortened(rest, width() - 9))
    return lines or [shortened(f"no flight  {printable(log.source)}", width())]


def shortened(line: str, room: int) -> str:
    """One line cut to its room at a word's end, with dots where something was cut off; a longer word is cut itself."""
    if len(line) <= room:
        return line
    kept = line[: max(0, room - 3)]
    words = kept.rsplit(" ", 1)[0] if line[len(kept)] != " " else kept
    return (words if words.strip() else kept).rstrip().rstrip(",;:") + "..."


def first_clauses(line: str, room: int) -> str:
    """As many whole clauses of a line as its room takes; where not even the first fits, as ``shortened``."""
    if len(line) <= room:
        return line
    ends = [found.start() for found in _CLAUSE_ENDS.finditer(line) if found.start() <= room]
    return line[: ends[-1]] if ends else shortened(line, room)


def closing(logs: int, flights: int, refused: int, style: Style, *, full: bool = True) -> str:
    """Count of logs and flights, how to read the numbers, and the cautions: once for the whole run."""
    counts = f"{counted(logs, 'log')}, {counted(flights, 'flight')}"
    counts += f", {counted(refused, 'log')} refused" if refused else ""
    judged = "Percentages of causes are judgement, not statistics."
    more = judged if full else "All measures, causes and checks: --full."
    told = (
        f"{counts}.",
        f"Numbers in brackets: 95 % interval. {more}",
        "What a finding or a measure means: taper explain NAME",
    )
    lines = [line for one in told for line in wrapped(one, "", "")]
    return "\n".join([*lines, "", cautions(style)])


def cautions(style: Style) -> str:
    """The cautions that stand wherever results are read."""
    lines = [style.paint(line, "faint") for caution in CAUTIONS for line in wrapped(caution, "", "")]
    return "\n".join(lines) + "\n"
