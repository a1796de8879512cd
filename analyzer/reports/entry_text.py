"""Did it help, as text for a terminal: one day's maintenance, each measure before and after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from analyzer.phrases import counted
from analyzer.reports.cautions import NOT_SEEN
from analyzer.reports.text import Style, cautions, wrapped
from analyzer.reports.wording import MEASURE_LABELS, finding_label, number, unit_shown

#: What each verdict on an entry means, in words that say how far it goes.
VERDICTS = {
    "helped": "It helped: a measure is surely better and none worse, or what was found before has surely ended.",
    "changed": "Something surely changed, from one sound value to another.",
    "did not help": "It did not help: no measure is surely better, one is surely worse, or the finding came back.",
    "not found again": "What was found before the work has not been found since, in too few flights to be sure.",
    "no change": "No change by the work: nothing that it can change was amiss before, or has surely moved with it.",
    "too few flights yet": "Too few flights yet to tell.",
    "nothing to compare": "No measure that this kind of work can change was recorded.",
}
#: Of one measure.
SURE = (
    "Weather and load are taken out. A change counts when its 95 % interval leaves out no change and it is larger "
    "than weather, meter and loads may leave; the value before is that of the last flights before the work, and what "
    "moves later is told by the trend."
)


def entry_text(document: Mapping[str, Any], style: Style) -> str:
    """The entries of one day by ``trends.entry_document`` as text."""
    lines = [style.paint(f"{document['tail']}  did it help", "head")]
    for entry in document["entries"]:
        lines += _entry(entry)
    return "\n".join([*lines, *wrapped(SURE, "  ", ""), "", cautions(style)])


def _entry(entry: Mapping[str, Any]) -> list[str]:
    lines = wrapped(f"{entry['when'].replace('T', ' ')[:16]}  {entry['words'] or entry['kind']}", "  ")
    lines += wrapped(VERDICTS[entry["verdict"]], "    ")
    for one in entry["measures"]:
        lines += wrapped(f"{MEASURE_LABELS[one['measure']]}: {one['verdict']}. {compared_words(one)}", "      ")
    lines += wrapped(says, "      ") if (says := found_words(entry["findings"])) else []
    seen, others = symptoms_around(entry.get("symptoms", ()))
    for one in seen:
        says = f"{one['title']}: before {side_words(one['before'])}, after {side_words(one['after'])}."
        lines += wrapped(says, "      ")
    for says in [*others, NOT_SEEN] if seen or others else []:
        lines += wrapped(says, "      ")
    return lines


def symptoms_around(
    symptoms: Sequence[Mapping[str, Any]],
) -> tuple[list[Mapping[str, Any]], list[str]]:
    """Symptoms that were seen before work or after it, and sentences on those that were seen on neither side."""
    seen = [one for one in symptoms if one["before"]["seen"] or one["after"]["seen"]]
    silent: dict[tuple[int, int], list[str]] = {}
    for one in symptoms:
        if one not in seen:
            silent.setdefault((one["before"]["not_seen"], one["after"]["not_seen"]), []).append(one["title"])
    says = [
        f"Seen in none of {before} flights before and none of {after} after: {'; '.join(titles)}."
        if before or after
        else f"No flight could show: {'; '.join(titles)}."
        for (before, after), titles in silent.items()
    ]
    return seen, says


def found_words(findings: Sequence[Mapping[str, Any]]) -> str:
    """In how many flights each finding that the work can end was made before and after; empty when none was."""
    return " ".join(
        f"{finding_label(one['finding'])}: found in {one['before']} of {one['flights_before']} flights before, "
        f"in {one['after']} of {one['flights_after']} after."
        for one in findings
    )


def compared_words(one: Mapping[str, Any]) -> str:
    """One measure before and after, with its change, interval, flights and days."""
    flights = "; ".join(f"{side} {flights_words(one['flights'][side])}" for side in ("before", "after"))
    if one["before"] is None:
        return f"{flights}."
    unit = one["unit"]
    ends = f"{number(one['before'], unit)} to {number(one['after'], unit)} {unit_shown(unit)}".strip()
    return f"{ends}, change {change_words(one)}; {flights}."


def change_words(one: Mapping[str, Any]) -> str:
    """The change with its 95 % interval; "times" where the measure is compared by its ratio."""
    if one["change_is"] == "factor":
        return f"{one['change']:.2f} times ({one['low']:.2f} to {one['high']:.2f})"
    change, low, high = (number(one[name], one["unit"]) for name in ("change", "low", "high"))
    return f"{change} {unit_shown(one['unit'])} ({low} to {high})"


def side_words(side: Mapping[str, Any]) -> str:
    """A symptom on one side of an entry: "seen in 3 of 17 flights, 2 more could not show it"."""
    could = side["seen"] + side["not_seen"]
    more = f", {side['not_observable']} more could not show it" if side["not_observable"] else ""
    days = f", {side['flights']['first'][:10]} to {side['flights']['last'][:10]}" if side["flights"] else ""
    return f"seen in {side['seen']} of {could} flights{more}{days}"


def flights_words(flights: Mapping[str, Any] | None) -> str:
    """How many flights, and from which day to which, "10 flights, 2026-02-01 to 2026-03-07"."""
    if flights is None:
        return "no flight"
    count = counted(flights["count"], "flight")
    return f"{count}, {flights['first'][:10]} to {flights['last'][:10]}"
