"""A report against the recordings as text: the verdict first, then for, against, conditions, what to do."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import datetime

from analyzer.findings.finding import Cause
from analyzer.phrases import counted, fixed
from analyzer.reports.text import CAUSES_SHOWN, Style, shortened, wrapped
from analyzer.reports.wording import clock_words, copies_words, finding_label
from analyzer.squawk.around_work import SideOfWork, WorkDone
from analyzer.squawk.conditions import SymptomCondition
from analyzer.squawk.examine import Occasion, SquawkFlight
from analyzer.squawk.result import AlsoFound, OnTheGround, SquawkResult
from analyzer.squawk.sentences import (
    CONDITIONS,
    because_words,
    circumstance_words,
    condition_words,
    only_words,
    verdict_words,
)
from analyzer.squawk.symptom_result import State
from analyzer.squawk.verdict import OnlyWhere, SymptomVerdict

#: Occasions, flights against and other findings that are shown; the JSON document has them all.
OCCASIONS_SHOWN, OTHERS_SHOWN = 3, 3
#: Measurements that are shown, and checks, of one symptom and of several together, so that it all fits on a screen.
STEPS_SHOWN, STEPS_OF_SEVERAL = 2, 3


def squawk_text(result: SquawkResult, cautions: Sequence[str] = (), *, since_named: bool = True) -> str:
    """A squawk's result as text; ``cautions`` are what stands wherever results are read.

    Where nobody named the day from which flights are searched, it says that earlier ones are not.
    """
    style = Style.of(sys.stdout)
    lines = _head(result, style)
    if result.since and not since_named:
        lines += wrapped("Flights before that day are not searched; --since DATE searches more.", "  ")
    told: list[str] = []
    for symptom in result.symptoms:
        lines += ["", *_symptom(symptom, told, style)]
        told += [cause.key for cause in symptom.likely[:CAUSES_SHOWN] if symptom.occasions]
    lines += _on_the_ground(result.on_the_ground, several=len(result.symptoms) > 1)
    lines += _work(result.work)
    lines += _also_found(result.also_found)
    lines += ["", "  The aircraft's maintenance manual has the last word on every value and step."]
    lines += ["  More, to hand to a shop: --sheet FILE.pdf. All of it: --json."]
    lines += ["", *(style.paint(line, "faint") for caution in cautions for line in wrapped(caution, "", ""))]
    return "\n".join(lines) + "\n"


def _head(result: SquawkResult, style: Style) -> list[str]:
    report, understood = result.report, result.report.understood
    period = f"since {result.since:%Y-%m-%d}" if result.since else "all"
    period += f" until {result.until:%Y-%m-%d}" if result.until else ""
    flights = counted(result.flights, "flight")
    lines = [style.paint(f"{result.tail}  {flights}, {result.hours:.1f} h searched, {period}", "head")]
    lines += wrapped(copies_words(len(result.copies)), "  ")
    if report.words:
        lines += wrapped(f'Reported: "{shortened(" ".join(report.words.split()), 160)}"', "  ")
    if understood.denied:
        lines += wrapped("taken as no complaint: " + ", ".join(understood.denied), "  ")
    if understood.circumstances:
        named = ", ".join(understood.circumstances)
        lines += wrapped(f"conditions named, answered below (no flight is left out because of them): {named}", "  ")
    if understood.not_understood:
        lines += wrapped("words not understood: " + ", ".join(understood.not_understood), "  ")
    return lines


def _symptom(symptom: SymptomVerdict, told: list[str], style: Style) -> list[str]:
    """One symptom; ``told`` are causes that stand above already."""
    head = f"  {symptom.symptom.title}: {verdict_words(symptom).upper()}"
    head += f", {only}" if (only := only_words(symptom)) else ""
    lines = [style.paint(head, "caution" if symptom.state == State.SEEN else "head")]
    lines += wrapped(because_words(symptom), "    ", "")
    if (blind := len(symptom.not_observable)) and (symptom.occasions or symptom.against):
        lines.append(f"    {counted(blind, 'more flight')} could not have shown it")
    for one in symptom.circumstances:
        lines += wrapped(f"reported: {circumstance_words(one)}", "    ", "     ")
    for occasion in _different_first(symptom.occasions)[:OCCASIONS_SHOWN]:
        lines += wrapped(f"for: {_when(occasion)}  {occasion.says}{_circumstances(occasion)}", "    ", "     ")
    lines += _more(len(symptom.occasions) - OCCASIONS_SHOWN, "occasion")
    if symptom.occasions:
        for other in symptom.against[:1]:
            lines += wrapped(f"against: {_flight(other.flight)}  {other.says}", "    ", "     ")
    lines += _conditions(symptom)
    if symptom.occasions:
        lines += _causes(symptom.likely, told)
    return lines


def _different_first(occasions: Sequence[Occasion]) -> list[Occasion]:
    """The latest occasion of each phase of flight before the others, so that a rare one is not hidden."""
    latest: dict[str, Occasion] = {}
    for occasion in occasions:
        latest.setdefault(occasion.circumstances.phase, occasion)
    first = list(latest.values())
    return [*first, *(occasion for occasion in occasions if not any(occasion is one for one in first))]


def _moment(at: datetime, digits: int) -> str:
    return at.isoformat().replace("T", " ")[:digits]


def _when(occasion: Occasion) -> str:
    return _moment(occasion.at, 19) if occasion.at else clock_words(None, occasion.from_s)


def _flight(reference: SquawkFlight) -> str:
    return _moment(reference.start, 16) if reference.start else f"flight {reference.number}"


def _circumstances(occasion: Occasion) -> str:
    numbers = occasion.circumstances.numbers
    shown = [
        form.format(numbers[name].value, fixed(numbers[name].value))
        for name, form in (
            ("engine_speed", "{0:,.0f} rpm"),
            ("load", "load {1} A"),
            ("outside_air_temperature", "air {1} °C"),
            ("minutes_after_start", "{1} min after start"),
        )
        if name in numbers
    ]
    return f" ({', '.join(shown)})" if shown else ""


def _more(count: int, thing: str) -> list[str]:
    return [f"    and {counted(count, f'more {thing}')}"] if count > 0 else []


def _conditions(symptom: SymptomVerdict) -> list[str]:
    lines = []
    for one in symptom.conditions:
        if one.telling:
            lines += wrapped(f"when: {condition_words(one)}", "    ", "     ")
    known = {SymptomCondition.LOW_RPM} if symptom.only == OnlyWhere.LOW_RPM else set()
    few = [CONDITIONS[one.condition] for one in symptom.conditions if one.too_few and one.condition not in known]
    if few and not lines:
        lines += wrapped(f"when: too few occasions to tell: {', '.join(few)}", "    ", "     ")
    return lines


def _causes(likely: Sequence[Cause], told: list[str]) -> list[str]:
    lines = []
    if likely and all(cause.key in told for cause in likely[:CAUSES_SHOWN]):
        return ["    likely: the causes named above"]
    for place, cause in enumerate(likely[:CAUSES_SHOWN]):
        words = f"{cause.words} ({100.0 * cause.weight:.0f} %)"
        lines += wrapped(("likely: " if not place else "        ") + words, "    ", " " * 8)
        if not place and cause.why and not cause.why[0].startswith("not seen"):
            lines += wrapped(f"since {cause.why[0]}", " " * 14, "")
    return lines + _more(len(likely) - CAUSES_SHOWN, "cause")


def _on_the_ground(steps: OnTheGround, *, several: bool) -> list[str]:
    shown = STEPS_OF_SEVERAL if several else STEPS_SHOWN
    lines = ["", "  On the ground", *(line for one in steps.before for line in wrapped(one, "    "))]
    for place, one in enumerate(steps.measure_first[:shown]):
        it = one.measure
        words = f"{it.what}: {it.expected}, {it.source}. {it.tells}"
        lines += wrapped(("measure: " if not place else "         ") + words, "    ", " " * 9)
    for place, check in enumerate(steps.check[:shown]):
        lines += wrapped(("check:   " if not place else "         ") + check.what, "    ", " " * 9)
    return lines + _more(sum(max(0, len(listed) - shown) for listed in (steps.measure_first, steps.check)), "step")


def work_side_words(side: SideOfWork) -> str:
    """A symptom on one side of work: "seen in 3 of 17 flights, 2 more could not show it"."""
    more = f", {side.not_observable} more could not show it" if side.not_observable else ""
    days = f", {side.starts[0]:%Y-%m-%d} to {side.starts[-1]:%Y-%m-%d}" if side.starts else ""
    return f"seen in {side.seen} of {counted(side.seen + side.not_seen, 'flight')}{more}{days}"


def _work(work: Sequence[WorkDone]) -> list[str]:
    """In how many flights each symptom was seen before work and after it."""
    lines = ["", "  Before and after work"] if work else []
    for one in work:
        entry = one.entry
        words = entry.words or entry.kind.replace("_", " ")
        lines += wrapped(f"{entry.when:%Y-%m-%d}  {words}", "    ", "     ")
        for symptom in one.symptoms:
            sides = f"before {work_side_words(symptom.before)}, after {work_side_words(symptom.after)}"
            lines += wrapped(f"{symptom.symptom.title}: {sides}", "      ")
    return lines


def _also_found(found: Sequence[AlsoFound]) -> list[str]:
    if not found:
        return []
    lines = ["", "  Also found in these flights:"]
    for one in found[:OTHERS_SHOWN]:
        title = f"{one.finding.severity}: {finding_label(one.finding.name)}"
        lines += wrapped(f"{_flight(one.flight)}  {title}. {one.finding.says}", "    ", "     ")
    return lines + _more(len(found) - OTHERS_SHOWN, "finding")
