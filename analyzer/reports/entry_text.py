"""Did it help, as text for a terminal: one day's maintenance, each measure before and after it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from analyzer.reports.cautions import NOT_SEEN
from analyzer.reports.text import Style, cautions, wrapped
from analyzer.reports.trend_words import change_words, difference_words, found_words, span_words, work_words
from analyzer.reports.wording import MEASURE_LABELS
from analyzer.trends.comparison import Compared, WorkVerdict
from analyzer.trends.work_done import EntryWithSymptoms, WorkOfDay

#: What each verdict on an entry means, in words that say how far it goes.
VERDICTS = {
    WorkVerdict.HELPED: (
        "It helped: a measure is clearly better and none is worse, or what was found before has clearly ended."
    ),
    WorkVerdict.CHANGED: (
        "Something clearly changed, but not clearly for the better: from one value inside the limits to another, or "
        "one thing ended and another is worse or goes on."
    ),
    WorkVerdict.CAME_BACK: (
        "It helped, then came back: what was wrong before the work was gone for some flights and is back."
    ),
    WorkVerdict.NEW: (
        "New after the work: a finding that such work should end is clearly more frequent since. The recordings do not "
        "tell whether the work is why."
    ),
    WorkVerdict.DID_NOT_HELP: (
        "It did not help: no measure is clearly better, one is clearly worse, or the finding came back."
    ),
    WorkVerdict.NOT_FOUND_AGAIN: (
        "What was found before the work has not been found since, in too few flights to be sure."
    ),
    WorkVerdict.NO_CHANGE: ("No change: nothing that the work can change was off before, or has clearly moved since."),
    WorkVerdict.TOO_FEW: "Too few flights yet to tell.",
    WorkVerdict.NOTHING_TO_COMPARE: "No measure that this kind of work can change was recorded.",
}
#: Of one measure.
SURE = (
    'Corrected for weather and load. A change counts when its 95 % interval is clear of "no change" and it is '
    "larger than weather, meter and loads can explain. The value before is that of the last flights before the work; "
    "the trend shows what moves later."
)


def entry_text(work: WorkOfDay, style: Style) -> str:
    """The entries of one day as text."""
    lines = [style.paint(f"{work.tail}  did it help", "head")]
    for one in work.entries:
        lines += _entry(one)
    return "\n".join([*lines, *wrapped(SURE, "  ", ""), "", cautions(style)])


def _entry(one: EntryWithSymptoms) -> list[str]:
    comparison = one.comparison
    lines = wrapped(f"{comparison.entry.when:%Y-%m-%d %H:%M}  {work_words(comparison.entry)}", "  ")
    lines += wrapped(VERDICTS[comparison.verdict], "    ")
    for own in comparison.measures:
        lines += wrapped(f"{MEASURE_LABELS[own.measure]}: {own.verdict}. {compared_words(own)}", "      ")
    lines += wrapped(says, "      ") if (says := found_words(comparison.findings)) else []
    seen, others = symptoms_around(one.symptoms or ())
    for symptom in seen:
        says = f"{symptom['title']}: before {side_words(symptom['before'])}, after {side_words(symptom['after'])}."
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


def compared_words(one: Compared) -> str:
    """One measure before and after, with its change, interval, flights and days."""
    flights = f"before {span_words(one.before)}; after {span_words(one.after)}"
    if one.difference is None:
        return f"{flights}."
    return f"{difference_words(one.difference)}, change {change_words(one)}; {flights}."


def side_words(side: Mapping[str, Any]) -> str:
    """A symptom on one side of an entry: "seen in 3 of 17 flights, 2 more could not show it"."""
    could = side["seen"] + side["not_seen"]
    more = f", {side['not_observable']} more could not show it" if side["not_observable"] else ""
    days = f", {side['flights']['first'][:10]} to {side['flights']['last'][:10]}" if side["flights"] else ""
    return f"seen in {side['seen']} of {could} flights{more}{days}"
