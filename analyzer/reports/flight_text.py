"""A flight in at most fifteen lines: verdict, findings with the first check, the measures that tell most."""

from __future__ import annotations

from enum import Enum, auto
from pathlib import Path

from analyzer.findings.finding import Finding, FindingName
from analyzer.phrases import counted, duration
from analyzer.reports.evidence import evidence_words
from analyzer.reports.text import Style, first_clauses, heading_lines, nothing_found, shortened, width, wrapped
from analyzer.reports.wording import (
    MEASURE_LABELS,
    ammeter_words,
    finding_label,
    measure_label,
    measure_words,
    printable,
    system_words,
)
from analyzer.results import FlightResult, LogResult

#: Lines of a flight, and measures shown of it.
MOST_LINES, MEASURES_SHOWN = 15, 5
#: What tells most of any flight, in this order; what belongs to its findings comes before.
TELLING = (
    "regulated_voltage",
    "recharge_settling_time",
    "cranking_voltage",
    "resting_voltage",
    "endurance",
    "maintenance_current",
    "bus_load",
    "recharge_time_constant",
    "regulation_scatter",
    "highest_voltage",
)
#: What tells most of each finding.
TELLING_OF: dict[FindingName, tuple[str, ...]] = {
    FindingName.OVERVOLTAGE_TRIP: ("highest_voltage", "regulated_voltage", "offline_time", "endurance"),
    FindingName.OVERVOLTAGE: ("highest_voltage", "regulated_voltage", "maintenance_current"),
    FindingName.ALTERNATOR_OFFLINE: ("offline_time", "offline_discharge", "endurance", "regulated_voltage"),
    FindingName.REGULATOR_HIGH: ("regulated_voltage", "maintenance_current", "highest_voltage"),
    FindingName.REGULATOR_LOW: ("regulated_voltage", "regulation_droop", "maintenance_current"),
    FindingName.REGULATOR_DRIFT: ("regulated_voltage", "regulation_slope"),
    FindingName.REGULATOR_HUNTING: ("regulation_scatter", "regulated_voltage"),
    FindingName.SLOW_RECHARGE: ("recharge_settling_time", "recharge_time_constant", "recharge_returned"),
    FindingName.RECHARGE_NEVER_SETTLES: ("maintenance_current", "regulated_voltage", "recharge_time_constant"),
    FindingName.WEAK_CRANKING: ("cranking_voltage", "cranking_time", "resting_voltage", "battery_resistance"),
    FindingName.LOW_RESTING_VOLTAGE: ("resting_voltage", "resting_charge", "cranking_voltage", "endurance"),
    FindingName.OUTPUT_SHORT: ("bus_load", "regulated_voltage", "endurance"),
    FindingName.UNSTEADY_CONNECTION: ("regulated_voltage", "regulation_scatter"),
    FindingName.BATTERY_OFFLINE: ("regulation_scatter", "regulated_voltage", "maintenance_current"),
    FindingName.READING_FAULT: (),
}


def short_log_text(log: LogResult, style: Style) -> str:
    """One log in short: at most ``MOST_LINES`` a flight where the terminal is wide enough to be read at ease."""
    if log.because is not None:
        head = style.paint(shortened(printable(log.source), width()), "head")
        return "\n".join([head, *wrapped("Refused: " + log.because, "  ")]) + "\n"
    if not log.flights:
        head = style.paint(shortened(printable(log.source), width()), "head")
        return "\n".join([head, *wrapped("No flight in it.", "  "), *_notes(log)]) + "\n"
    flights = [short_flight_lines(log, flight, style) for flight in log.flights]
    flights[-1] += _notes(log)
    return "\n\n".join("\n".join(lines) for lines in flights) + "\n"


def short_flight_lines(log: LogResult, flight: FlightResult, style: Style) -> list[str]:
    """One flight in short, one line left for what is to know of its log."""
    lines = _head_lines(log, flight, style)
    lines += wrapped(nothing_found(flight), "  ", "") if not flight.findings else []
    missing = _not_measured(flight, style)
    room = MOST_LINES - 1 - len(lines) - len(missing)
    measures = _measure_lines(flight)[: max(0, room - _least_lines(flight, style))]  # a finding's numbers come first
    return [*lines, *_finding_lines(flight, room - len(measures), style), *measures, *missing]


def _least_lines(flight: FlightResult, style: Style) -> int:
    """Lines that the findings take at the least: the gravest in whole, and one for each other."""
    if not flight.findings:
        return 0
    return len(_finding(flight.findings[0], flight, style, Telling.ALL)) + len(flight.findings) - 1


def telling_measures(flight: FlightResult) -> list[str]:
    """Names of the measures that tell most of a flight, those of its findings first."""
    measured = flight.measured
    if (offline := measured.get("offline_time")) is not None and offline.value == 0.0:
        measured = {name: one for name, one in measured.items() if not name.startswith("offline_")}
    wanted = [name for finding in flight.findings for name in TELLING_OF[finding.name]]
    names = dict.fromkeys(name for name in (*wanted, *TELLING, *measured) if name in measured)
    return list(names)[:MEASURES_SHOWN]


def head_text(log: LogResult, flight: FlightResult, style: Style) -> str:
    """What flight it is, above an answer that a flight gives."""
    return "\n".join(_head_lines(log, flight, style)) + "\n\n"


def _head_lines(log: LogResult, flight: FlightResult, style: Style) -> list[str]:
    """What flight it is, with the file on the same line where both have room."""
    minutes = f"{(flight.to_s - flight.from_s) / 60.0:.0f} min"
    about = f"{system_words(flight.nominal_voltage)}, {ammeter_words(flight.ammeter)}"
    when = f"  {flight.start:%Y-%m-%d %H:%M}" if flight.start else ""
    head = printable(f"{log.tail or Path(log.source).name}{when}  {minutes}  {about}")
    source = printable(log.source) if log.tail else ""
    if source and len(head) + len(source) + 2 <= width():
        return [f"{style.paint(head, 'head')}  {style.paint(source, 'faint')}"]
    lines = [style.paint(shortened(head, width()), "head")]
    return [*lines, style.paint(shortened(f"  {source}", width()), "faint")] if source else lines


def _measure_lines(flight: FlightResult) -> list[str]:
    """The measures that tell most, two on a line where both have room."""
    telling = (flight.measures[name] for name in telling_measures(flight))
    told = [f"{measure_label(one)} {measure_words(one)}" for one in telling]
    half = (width() - 4) // 2
    narrow = [entry for entry in told if len(entry) <= half]
    pairs = [narrow[place : place + 2] for place in range(0, len(narrow), 2)]
    lines = ["  " + "  ".join(f"{entry:<{half}}" for entry in pair).rstrip() for pair in pairs]
    return lines + [line for entry in told if len(entry) > half for line in wrapped(entry, "  ")]


def _not_measured(flight: FlightResult, style: Style) -> list[str]:
    """What has no value, on one line."""
    names = [MEASURE_LABELS[name].lower() for name in flight.unmeasured]
    if not names:
        return []
    shown = list(names)
    while True:
        more = f" and {len(names) - len(shown)} more" if len(shown) < len(names) else ""
        line = f"  Not measurable: {', '.join(shown)}{more}. Why: --full"
        if len(line) <= width() or len(shown) <= 1:
            return [style.paint(shortened(line, width()), "faint")]
        shown.pop()


def _finding_lines(flight: FlightResult, room: int, style: Style) -> list[str]:
    """The findings, each in the longest form that leaves a line for each one after it.

    The gravest always has its first check; findings that have no line left are named in the last one.
    """
    lines: list[str] = []
    for place, finding in enumerate(flight.findings):
        left = len(flight.findings) - place - 1
        if place and len(lines) + 1 + bool(left) > room:
            names = ", ".join(dict.fromkeys(finding_label(one.name) for one in flight.findings[place:]))
            return [*lines, "  " + shortened(f"{counted(left + 1, 'more finding')}: {names}", width() - 2)]
        forms = [_finding(finding, flight, style, how) for how in Telling if place or how is not Telling.LINE]
        lines += next((form for form in forms if len(form) <= room - len(lines) - left), forms[-1])
    return lines


class Telling(Enum):
    """How much is told of a finding, the most first."""

    ALL = auto()  # what was seen, and the first check
    NUMBERS = auto()  # its numbers in one line, and the first check
    LINE = auto()  # its numbers beside its title


def _finding(finding: Finding, flight: FlightResult, style: Style, how: Telling) -> list[str]:
    at = flight.clock(finding.from_s)
    when = f"{at:%H:%M}" if at else f"{finding.from_s / 60.0:.0f} min into the log"
    title = f"{finding.severity.upper()}: {finding_label(finding.name)}"
    about = f"{when}, for {duration(finding.to_s - finding.from_s)}"
    numbers = evidence_words(finding.evidence)
    if how is Telling.LINE:
        line = first_clauses(f"  {title}  {about}: {numbers}".removesuffix(": "), width())
        return [line.replace(title, style.paint(title, finding.severity), 1)]
    lines = heading_lines(title, about, style, finding.severity, "  ")
    said = wrapped(finding.says, "    ", "")
    short = [first_clauses(f"    {numbers[0].upper()}{numbers[1:]}", width())] if numbers else []
    lines += said if how is Telling.ALL else short
    lines += wrapped(f"First check: {finding.check[0]}", "    ") if finding.check else []
    return lines


def _notes(log: LogResult) -> list[str]:
    """What is to know of how a log was read, on one line."""
    if not log.warnings:
        return []
    note = f"  Note: {printable(log.warnings[0])}"
    others = len(log.warnings) - 1
    cut = others or len(note) > width()
    more = (f" ({others} more: --full)" if others else " (more: --full)") if cut else ""
    return [first_clauses(note, width() - len(more)) + more]
