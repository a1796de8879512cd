"""Trends as text for a terminal: what stands open first, then each measure, then what each entry did."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from analyzer.phrases import counted
from analyzer.reports.text import Style, cautions, finding_lines, wrapped
from analyzer.reports.trend_words import (
    at_words,
    cold_words,
    difference_words,
    flight_of,
    lapsed_words,
    latest_words,
    outlook_at_words,
    raised_words,
    standing_words,
    trend_words,
    unlogged_asks,
    unlogged_rests_on,
)
from analyzer.reports.wording import MEASURE_LABELS, condition_words, finding_label, number, stale_words
from analyzer.service.outlook_at import OutlookAt
from analyzer.trends.comparison import Comparison
from analyzer.trends.entries import kinds
from analyzer.trends.followed_tail import Trend
from analyzer.trends.tail_result import TailResult


def trend_text(results: Sequence[TailResult]) -> str:
    """Tails as text."""
    style = Style.of(sys.stdout)
    if not results:
        return "No flight with an aircraft's name was found.\n"
    return "\n".join(_tail(one, style) for one in results) + "\n" + cautions(style)


def _tail(result: TailResult, style: Style) -> str:
    head = f"{result.tail}  condition: {condition_words(result.condition)}  "
    head += f"{counted(result.flights, 'flight')}, {result.hours:.1f} engine hours"
    lines = [style.paint(head, "head")]
    for sentence in result.order:
        lines += wrapped(sentence, "    ")
    if result.stale_flights:
        lines += wrapped(f"{stale_words(result.stale_flights)}; bring them up to date with: taper rebuild", "    ")
    latest = latest_words(result.in_latest_flights)
    lines += [] if result.open_findings or latest else ["    No finding is open."]
    lines += wrapped(f"{latest[0].upper()}{latest[1:]}", "    ") if latest else []
    for finding in result.open_findings:
        lines += finding_lines(finding, style, raised_words(finding))
    for finding in result.past_findings:
        past = f"past: {finding_label(finding.name)}, {raised_words(finding)}, {lapsed_words(finding)}"
        lines += wrapped(past, "    ")
    for trend in result.trends.values():
        lines += _trend(trend)
    lines += wrapped(says, "    ") if (says := cold_words(result.cold)) else []
    lines += wrapped(says, "    ") if (says := standing_words(result.standing)) else []
    for asked in result.unlogged:
        lines += wrapped(f"{unlogged_asks(asked)} {unlogged_rests_on(asked)}", "    ")
        done = f'"{kinds()[asked.kind].words}" --kind {asked.kind}'
        lines.append(f"      taper entry {result.tail} {asked.when:%Y-%m-%dT%H:%M} {done}")
    for one in result.comparisons:
        lines += _entry(one)
    for odd in result.unlike:
        names = ", ".join(f"{MEASURE_LABELS[name].lower()} {away:+.1f}" for name, away in odd.measures.items())
        says = f"outlier flight: {flight_of(odd.start, odd.flight)}, no rule fits; standard deviations off: {names}"
        lines += wrapped(says, "    ")
    return "\n".join(lines) + "\n"


def outlook_at_text(outlook: OutlookAt, style: Style) -> str:
    """What was foretold once a flight was flown, as text."""
    by = f", by {counted(outlook.flights, 'flight')} so far" if outlook.flights else ""
    lines = [style.paint(f"Outlook after this flight{by}", "head")]
    for words in outlook_at_words(outlook):
        lines += wrapped(words, "    ")
    return "\n".join(lines) + "\n"


def _trend(trend: Trend) -> list[str]:
    unit, lines = trend.unit, []
    if trend.points:
        lines += wrapped(f"{MEASURE_LABELS[trend.measure]:<24} {trend_words(trend)}", "    ")
    lines += [
        f"      stepped {at_words(change.start, change.flight)} "
        f"from {number(change.before, unit)} to {number(change.after, unit)}"
        for change in trend.changes
    ]
    return lines


def _entry(comparison: Comparison) -> list[str]:
    entry = comparison.entry
    done = kinds()[entry.kind].words
    lines = wrapped(f"{entry.when:%Y-%m-%d} {done}: {comparison.verdict}", "    ")
    lines += wrapped(f"“{entry.words}”", "      ") if entry.words not in ("", done) else []
    for one in comparison.measures:
        if one.difference is not None:
            change = f"{difference_words(one.difference)}: {one.verdict}"
            flights = f"{counted(one.flights_before, 'flight')} before, {one.flights_after} after"
            lines.append(f"      {MEASURE_LABELS[one.measure]:<24} {change} ({flights})")
    return lines
