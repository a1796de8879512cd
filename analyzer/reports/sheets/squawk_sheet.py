"""The sheet of a squawk: what the recordings say for and against a report, and what to measure first."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.reports.cautions import CAUTIONS, NOT_SEEN
from analyzer.reports.entry_text import side_words
from analyzer.reports.sheets.document import (
    Cautions,
    Chart,
    Charts,
    Check,
    Checks,
    Facts,
    Heading,
    Paragraph,
    Part,
    Sheet,
    Table,
)  # fmt: skip
from analyzer.reports.sheets.shop import FORM, cause_table, counted, shortened
from analyzer.reports.sheets.traceability import EXPLAINED
from analyzer.reports.wording import causes_of, copies_words, finding_label, unit_shown

if TYPE_CHECKING:
    from analyzer.review import FlightReview

#: Occasions that are drawn of the first symptom that was seen and of a second one; of three or more only the first is.
DRAWN_SHOWN = {1: (2,), 2: (1, 1)}
DRAWN_OF_MORE = (1,)
#: Longest report in a pilot's words that is printed whole, and words listed that were not understood.
WORDS_LENGTH, NOT_UNDERSTOOD_SHOWN = 400, 12
#: Where a verdict's own words already say so, it is not said twice.
SHORT = NOT_SEEN[: NOT_SEEN.index(":")]
ORIGIN = (
    "Where a number comes from: the flight and the window of it named beside it, by the log's clock, the whole flight "
    "where none is named, and "
    f"{EXPLAINED}. Expected values are the trade's usual ones; the aircraft's maintenance manual goes before them. "
    "Weights of causes are judgement, not counted statistics."
)


@dataclass(frozen=True, slots=True)
class Room:
    """How much of each list is shown of one symptom, and of what to do for all together."""

    occasions: int
    against: int
    reasons: int
    causes: int
    measure_first: int
    checks: int


#: What fits two pages with one symptom, with two, with three, and keeps more of them to about half a page each.
ALONE, OF_TWO, OF_MORE = Room(5, 3, 3, 4, 4, 4), Room(2, 1, 1, 2, 3, 2), Room(1, 1, 1, 2, 3, 2)
#: An occasion by flight and beginning: (source, number of the flight, from_s).
Key = tuple[str, int, float]


def drawn_occasions(
    document: Mapping[str, Any], review_of: Callable[[Mapping[str, Any]], FlightReview | None]
) -> dict[Key, str]:
    """Draw the latest occasions of each symptom: key -> SVG.

    Parameters
    ----------
    document : of ``taper squawk --json``
    review_of : gives the review of a flight by its REF, None where it can no longer be read
    """
    from analyzer.reports.sheets.trace_plot import Window, room_around, trace_svg

    charts: dict[Key, str] = {}
    seen = [symptom["for"] for symptom in document["symptoms"] if symptom["for"]]
    for occasions, most in zip(seen, DRAWN_SHOWN.get(len(document["symptoms"]), DRAWN_OF_MORE), strict=False):
        for one in occasions[:most]:
            review = review_of(one["flight"])
            if review is not None:
                span = room_around(review.flight, one["from_s"], one["to_s"])
                windows = [Window(one["from_s"], one["to_s"], "seen")]
                charts[_key(one)] = trace_svg(review.flight, windows, span, small=True)
    return charts


def _key(occasion: Mapping[str, Any]) -> Key:
    return occasion["flight"]["source"], occasion["flight"]["number"], occasion["from_s"]


def squawk_sheet(document: Mapping[str, Any], charts: Mapping[Key, str], made: date) -> Sheet:
    """The document of one report.

    Parameters
    ----------
    document : of ``taper squawk --json``
    charts : of ``drawn_occasions``
    made : the day that the sheet carries
    """
    parts: list[Part] = [*_report(document)]
    room = {1: ALONE, 2: OF_TWO}.get(len(document["symptoms"]), OF_MORE)
    told: set[str] = set()
    for symptom in document["symptoms"]:
        parts += _symptom(symptom, charts, room, told)
        told |= {one["key"] for one in symptom["likely"][: room.causes]}
    parts += _to_measure(document["on_the_ground"], room, several=len(document["symptoms"]) > 1)
    parts += _work(document["work"])
    found = _also_found(document["also_found"])
    if found:
        parts.append(Paragraph(f"Also found in these flights: {'; '.join(found)}."))
    cautions = tuple(dict.fromkeys([*document["cautions"], *CAUTIONS]))
    parts += [Paragraph(ORIGIN, small=True), Heading("For the shop"), FORM, Cautions(cautions)]
    titles = ", ".join(one["title"].lower() for one in document["symptoms"])
    return Sheet(f"{document['tail']}: {titles}", made, tuple(parts))


def _report(document: Mapping[str, Any]) -> list[Part]:
    report = document["report"]
    ends = [(document[name] or "")[:10] for name in ("since", "until")]
    span = f"{ends[0] or 'the first'} to {ends[1] or 'the latest'}"
    words = f"“{shortened(report['words'], WORDS_LENGTH)}”" if report["words"] else "picked from the list"
    parts: list[Part] = [
        Facts(
            (
                ("Aircraft", document["tail"]),
                ("Looked through", f"{document['flights']} flights, {document['hours']:.1f} h, {span}"),
            )
        ),
        Paragraph(f"Reported: {words}"),
    ]
    if copies := copies_words(len(document["copies_left_out"])):
        parts.append(Paragraph(f"{copies}.", small=True))
    if unread := document.get("unread", ()):
        logs = f"{len(unread)} log{'' if len(unread) == 1 else 's'}"
        parts.append(Paragraph(f"Not looked through, since they could not be read again: {logs}."))
    missed = report["not_understood"]
    if missed:
        more = len(missed) - NOT_UNDERSTOOD_SHOWN
        told = ", ".join(shortened(word, 30) for word in missed[:NOT_UNDERSTOOD_SHOWN])
        told += f" and {counted(more, 'word')}" if more > 0 else ""
        parts.append(Paragraph(f"Not understood, and so not looked for: {told}.", small=True))
    return parts


def _symptom(symptom: Mapping[str, Any], charts: Mapping[Key, str], room: Room, told: set[str]) -> list[Part]:
    """One symptom; ``told`` are causes that stand in the sheet already."""
    parts: list[Part] = [
        Heading(
            symptom["title"], 2, f"{symptom['verdict']}, {only}" if (only := symptom["only"]) else symptom["verdict"]
        ),
        Paragraph(_because(symptom)),
        Paragraph(_counts(symptom), small=True),
        *_for(symptom, charts, room.occasions),
        *_against(symptom["against"], room.against),
        *_not_observable(symptom["not_observable"], room.reasons),
    ]
    conditions = " ".join(_ended(one["says"]) for one in symptom["conditions"])
    if conditions:
        parts += [Heading("When it comes", 3), Paragraph(conditions)]
    if symptom["likely"] and all(one["key"] in told for one in symptom["likely"][: room.causes]):
        return [*parts, Paragraph("Likely causes: those named above.")]
    if symptom["likely"]:
        parts += [Heading("Likely causes", 3), *cause_table([("", causes_of(symptom["likely"]))], room.causes)]
    return parts


def _work(work: Sequence[Mapping[str, Any]]) -> list[Part]:
    rows = tuple(
        (one["when"][:10], one["words"] or one["kind"].replace("_", " "), symptom["title"],
         side_words(symptom["before"]), side_words(symptom["after"]))
        for one in work
        for symptom in one["symptoms"]
    )  # fmt: skip
    head = ("Done", "Work", "Symptom", "Before the work", "After the work")
    return [Heading("Before and after work"), Table(head, rows, (0, 2, 2, 3, 3))] if rows else []


def _also_found(found: Sequence[Mapping[str, Any]]) -> list[str]:
    """Each finding once, with the flights in which it was made."""
    flights: dict[str, list[str]] = {}
    for one in found:
        title = f"{one['severity']}: {finding_label(one['finding'])}"
        flights.setdefault(title, []).append(_flight_words(one["flight"]))
    return [f"{title} ({named[0]}{_and_more(len(named) - 1)})" for title, named in flights.items()]


def _and_more(flights: int) -> str:
    return f" and {counted(flights, 'flight')}" if flights else ""


def _ended(sentence: str) -> str:
    return sentence if sentence.endswith(".") else f"{sentence}."


def _because(symptom: Mapping[str, Any]) -> str:
    """What justifies the verdict; where nothing was seen, that this does not mean that nothing is there."""
    says = str(symptom["because"])
    return says if symptom["state"] == "seen" or SHORT in says else f"{says} {NOT_SEEN}"


def _counts(symptom: Mapping[str, Any]) -> str:
    count = symptom["counts"]
    hours = count["hours_observed"]
    observed = f"; looked at for {hours:.1f} h" if hours >= 1.0 else f"; looked at for {60.0 * hours:.0f} min"
    return (
        f"Flights: {count['seen']} with it, {count['not_seen']} without, {count['not_observable']} that could not show "
        f"it{observed if hours else ''}. From the flights named below; reference: {symptom['symptom']}."
    )


def _flight_words(flight: Mapping[str, Any]) -> str:
    if flight["start"]:
        return str(flight["start"]).replace("T", " ")[:16]
    return f"{Path(flight['source']).name}, flight {flight['number']}"


def _window_words(occasion: Mapping[str, Any]) -> str:
    """The window by the clock, or in minutes into a log without one."""
    if occasion["at"] is None:
        return f"{occasion['from_s'] / 60.0:.1f} to {occasion['to_s'] / 60.0:.1f} min into the log"
    first = datetime.fromisoformat(occasion["at"])
    last = first + timedelta(seconds=occasion["to_s"] - occasion["from_s"])
    return f"{first:%H:%M:%S} to {last:%H:%M:%S}"


def numbers_words(numbers: Mapping[str, Any]) -> str:
    """Numbers with their units by name, "lowest voltage 12.4 V, phase low rpm"."""
    said = []
    for name, one in numbers.items():
        label = name.replace("_", " ")
        if isinstance(one, Mapping):
            unit = {"degC": "°C"}.get(one["unit"], unit_shown(one["unit"]))
            said.append(f"{label} {one['value']:.4g} {unit}".strip())
        elif one is not None:
            said.append(f"{label} {str(one).replace('_', ' ')}")
    return ", ".join(said)


def _for(symptom: Mapping[str, Any], charts: Mapping[Key, str], most: int) -> list[Part]:
    occasions = symptom["for"]
    if not occasions:
        return []
    rows = tuple(
        (_flight_words(one["flight"]), _window_words(one), one["says"],
         numbers_words({**one["numbers"], **one["conditions"]}))
        for one in occasions[:most]
    )  # fmt: skip
    parts: list[Part] = [
        Heading("For it: where it was seen, the latest first", 3),
        Table(("Flight", "Window", "Seen", "Numbers then"), rows, (0, 0, 4, 4)),
    ]
    if (left := len(occasions) - most) > 0:
        parts.append(Paragraph(f"Left out here: {counted(left, 'earlier occasion')}.", small=True))
    drawn = tuple(
        Chart(charts[_key(one)], f"Flight of {_flight_words(one['flight'])}, shaded: {_window_words(one)}")
        for one in occasions
        if _key(one) in charts
    )
    if drawn:
        parts.append(Charts(drawn))
        more = len(occasions) - len(drawn)
        parts += [Paragraph(f"Not drawn here: {counted(more, 'occasion')}.", small=True)] if more else []
    return parts


def _against(against: Sequence[Mapping[str, Any]], most: int) -> list[Part]:
    if not against:
        return []
    rows = tuple((_flight_words(one["flight"]), one["says"], numbers_words(one["numbers"])) for one in against[:most])
    parts: list[Part] = [
        Heading("Against it: flights in which it would have shown and did not", 3),
        Table(("Flight", "What it showed", "Numbers"), rows, (0, 4, 3)),
    ]
    left = len(against) - most
    return parts + ([Paragraph(f"Left out here: {counted(left, 'flight')}.", small=True)] if left > 0 else [])


def _not_observable(flights: Sequence[Mapping[str, Any]], most: int) -> list[Part]:
    """Flights that could not show it, those with the same reason together."""
    reasons: dict[str, list[str]] = {}
    for one in flights:
        reasons.setdefault(one["because"], []).append(_flight_words(one["flight"]))
    if not reasons:
        return []
    told = [
        f"{len(named)} flight{'' if len(named) == 1 else 's'} ({named[0]}{' and others' * (len(named) > 1)}), "
        f"because {because.removesuffix('.')}"
        for because, named in list(reasons.items())[:most]
    ]
    left = len(reasons) - most
    told += [counted(left, "reason")] if left > 0 else []
    return [Paragraph(f"Could not have been seen in: {'; '.join(told)}.", small=True)]


def _to_measure(steps: Mapping[str, Any], room: Room, *, several: bool) -> list[Part]:
    first, further = steps["measure_first"][: room.measure_first], steps["check"][: room.checks]
    if not first and not further:
        return []

    def meant(one: Mapping[str, Any]) -> str:
        return f" For: {'; '.join(one['for']).lower()}." if several else ""

    listed = [
        Check(f"{one['what']}. {_ended(one['tells'])} ({one['source']}){meant(one)}", one["expected"]) for one in first
    ]
    listed += [Check(f"{_ended(one['what'])}{meant(one)}") for one in further]
    left = len(steps["measure_first"]) + len(steps["check"]) - len(listed)
    parts: list[Part] = [
        Heading("What to measure first, then to check on the ground, in order"),
        *(Paragraph(words) for words in steps["before"]),
        Checks(tuple(listed)),
    ]
    return parts + ([Paragraph(f"Left out here: {counted(left, 'later check')}.", small=True)] if left else [])
