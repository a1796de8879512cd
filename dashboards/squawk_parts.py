"""What the recordings say for and against a report, symptom by symptom."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from analyzer.phrases import counted
from analyzer.reports.evidence import quantity_words
from analyzer.reports.squawk_text import work_side_words
from analyzer.reports.wording import copies_words, finding_label
from analyzer.squawk.conditions import Circumstances
from analyzer.squawk.examine import Occasion, SquawkFlight
from analyzer.squawk.result import SquawkResult
from analyzer.squawk.sentences import (
    NOT_SEEN_IS_NOT_GONE,
    because_words,
    circumstance_words,
    condition_words,
    only_words,
    reason_words,
    verdict_words,
)
from analyzer.squawk.symptom_result import State
from analyzer.squawk.verdict import SymptomVerdict
from analyzer.trends.entries import Entry
from dashboards.attributes import aria
from dashboards.entry_cards import entry_anchor
from dashboards.figures.occasion_chart import occasion_chart
from dashboards.flight_words import day_words
from dashboards.parts import WITHOUT_TOOLS, badge, explained, section, table
from dashboards.searching import DRAWN, Search

#: What the recordings say -> look of its badge and its mark.
LOOKS = {
    State.SEEN: ("caution", "◆"),
    State.NOT_SEEN: ("advisory", "●"),
    State.NOT_OBSERVABLE: ("unknown", "?"),
}
#: Flights against, and flights that could not show it, that stand there at once; the rest unfold.
LISTED = 6


def result(search: Search) -> list[Any]:
    """Everything that the recordings say of a report."""
    found = search.result
    assert found is not None
    period = f" since {day_words(found.since)}" if found.since else ""
    period += f" until {day_words(found.until)}" if found.until else ""
    through = f"{counted(found.flights, 'flight')}, {found.hours:.1f} engine hours{period} searched."
    return [
        html.P(["Reported: ", html.Q(words)]) if (words := found.report.words) else None,
        html.P([html.Strong(through), " ", *_not_searched(search), NOT_SEEN_IS_NOT_GONE], className="looked-through"),
        html.P(f"{copies}.", className="note") if (copies := copies_words(len(found.copies))) else None,
        _unread(search.unread),
        *(_symptom(one, search) for one in found.symptoms),
        _on_the_ground(found),
        *_work(found),
        *_also_found(found),
    ]


def _not_searched(search: Search) -> list[str]:
    """From when flights are searched, where nobody named the day."""
    left_out = search.asked.since is None and search.result is not None and search.result.since is not None
    return ["Flights before that day are not searched; set Flights since for more. "] if left_out else []


def _unread(unread: list[str]) -> html.Details | None:
    if not unread:
        return None
    words = f"{counted(len(unread), 'log')} could not be re-read"
    return html.Details([html.Summary(words), html.Ul([html.Li(one) for one in unread])])


def _symptom(symptom: SymptomVerdict, search: Search) -> html.Section:
    look, mark = LOOKS[symptom.state]
    told = (
        f"Seen in {counted(len(symptom.seen_in), 'flight')}, not seen in {len(symptom.against)}, could not be seen in "
        f"{len(symptom.not_observable)}"
    ) + (f"; {hours:.1f} engine hours in which it would have shown." if (hours := symptom.hours_observed) else ".")
    against = [(one.flight, one.says) for one in symptom.against]
    unobservable = [(one.flight, reason_words(one.reason)) for one in symptom.not_observable]
    return section(
        symptom.symptom.title,
        html.Div(
            [
                html.P(
                    [html.Span([html.Span(mark, **aria(hidden="true")), " ", verdict_words(symptom)],
                               className=f"badge {look}"),
                     f" {only}" if (only := only_words(symptom)) else ""],
                    className="headline",
                ),
                html.P(because_words(symptom)),
                *(html.P(["As reported: ", circumstance_words(one), "."]) for one in symptom.circumstances),
                html.P(told, className="quiet"),
            ],
            className=f"verdict {look}",
        ),
        *_for(symptom, search),
        *_conditions(symptom),
        *_listed("Evidence against: it would have shown and did not", against),
        *_listed("Could not be seen", unobservable),
        *_likely(symptom),
        *_words("What looks like it but is not a fault", symptom.symptom.innocent, html.Ul),
        html.P(["What a recording must hold to show it: ", symptom.symptom.needs, ". ",
                explained("More in the reference", symptom.symptom.name)], className="note"),
        name=f"squawk-{symptom.symptom.name.replace('_', '-')}",
    )  # fmt: skip


def flight_link(flight: SquawkFlight, window: tuple[float, float] | None = None) -> Any:
    """A flight by its day, linked to its page where it is kept; a window zooms its chart."""
    words = f"{flight.start:%Y-%m-%d %H:%M}" if flight.start else f"{flight.source}, flight {flight.number}"
    if flight.id is None:
        return html.Span(words)
    query = f"?from={window[0]:.0f}&to={window[1]:.0f}#flight-meters" if window else ""
    return dcc.Link(words, href=f"/flight/{flight.id}{query}")


def _for(symptom: SymptomVerdict, search: Search) -> list[Any]:
    if not symptom.occasions:
        return []
    drawn = [_occasion(one, search) for one in symptom.occasions[:DRAWN]]
    rest = [
        html.Li([flight_link(one.flight, _around(one)), ": ", one.says, _when(one)])
        for one in symptom.occasions[DRAWN:]
    ]
    more = [html.Details([html.Summary(f"{counted(len(rest), 'more occasion')}"), html.Ul(rest)])] if rest else []
    return [html.H3("Evidence for"), html.Div(drawn, className="cards"), *more]


def _occasion(occasion: Occasion, search: Search) -> html.Figure:
    review = None if occasion.flight.id is None else search.reviews.get(occasion.flight.id)
    facts = [
        html.H4([flight_link(occasion.flight, _around(occasion)), _when(occasion)]),
        html.P(f"{occasion.says.rstrip('.')}."),
        html.P(conditions_words(occasion.circumstances), className="quiet"),
    ]
    chart = []
    if review is not None:
        figure = occasion_chart(review, occasion.from_s, occasion.to_s)
        graph = dcc.Graph(figure=figure, config=WITHOUT_TOOLS)
        label = f"Volts and amperes around the occasion: {occasion.says}"
        chart = [html.Div(graph, role="figure", **aria(label=label))]
    return html.Figure([html.Figcaption(facts), *chart], className="card occasion")


def _around(occasion: Occasion) -> tuple[float, float]:
    """The window that the flight's page shows: a minute to both sides at least."""
    room = max(60.0, 0.6 * occasion.lasted_s)
    return max(0.0, occasion.from_s - room), occasion.to_s + room


def _when(occasion: Occasion) -> str:
    return f" at {occasion.at:%H:%M:%S}" if occasion.at else f" from {occasion.from_s / 60.0:.1f} min"


def conditions_words(found: Circumstances) -> str:
    """The circumstances of an occasion, "engine speed 980 rpm, load 12 A, phase: low rpm"."""
    said = [f"{name.replace('_', ' ')} {quantity_words(one)}" for name, one in found.numbers.items()]
    return ", ".join([*said, f"phase: {found.phase.replace('_', ' ')}"])


def _conditions(symptom: SymptomVerdict) -> list[Any]:
    if not symptom.conditions:
        few = "Too few occasions to say under which conditions it comes."
        return [html.P(few)] if symptom.occasions else []
    return [
        html.H3("Under which conditions it comes"),
        html.Ul([html.Li(condition_words(one)) for one in symptom.conditions]),
    ]


def _listed(title: str, flights: Sequence[tuple[SquawkFlight, str]]) -> list[Any]:
    """Flights with what each says; beyond the first ones they unfold."""
    if not flights:
        return []
    items = [html.Li([flight_link(flight), f": {says}"]) for flight, says in flights]
    rest = items[LISTED:]
    more = [html.Details([html.Summary(f"{counted(len(rest), 'more flight')}"), html.Ul(rest)])] if rest else []
    return [html.H3(title), html.Ul(items[:LISTED]), *more]


def _on_the_ground(found: SquawkResult) -> html.Section:
    """What to measure and to check for all symptoms together, each step once."""
    steps, several = found.on_the_ground, len(found.symptoms) > 1
    head = ("What to measure first", "Expected", "What it tells", "Source", *(["For"] if several else []))
    rows = [
        (it.what, html.Strong(it.expected), it.tells, it.source, *([_for_words(one.symptoms)] if several else []))
        for one in steps.measure_first
        for it in [one.measure]
    ]
    checks = [f"{one.what}{f' (for: {_for_words(one.symptoms)})' if several else ''}" for one in steps.check]
    return section(
        "On the ground",
        *(html.P(words, className="note") for words in steps.before),
        table(head, rows, "What to measure first", "free"),
        *_words("Further checks, in this order", checks, html.Ol),
        name="squawk-on-the-ground",
    )


def _work(found: SquawkResult) -> list[html.Section]:
    """In how many flights each symptom was seen before maintenance work and after it."""
    rows = [
        (
            dcc.Link(f"{one.entry.when:%Y-%m-%d}", href=_card(found.tail, one.entry)),
            one.entry.words or one.entry.kind.replace("_", " "),
            symptom.symptom.title,
            work_side_words(symptom.before),
            work_side_words(symptom.after),
        )
        for one in found.work
        for symptom in one.symptoms
    ]
    if not rows:
        return []
    head = ("Done", "Work", "Symptom", "Before the work", "After the work")
    return [
        section(
            "Before and after work",
            table(head, rows, "Flights with each symptom around work", "free"),
            name="squawk-work",
        )
    ]


def _card(tail: str, entry: Entry) -> str:
    return f"/aircraft/{tail}#{entry_anchor(entry.when, entry.kind)}"


def _for_words(titles: Sequence[str]) -> str:
    return "; ".join(title.lower() for title in titles)


def _likely(symptom: SymptomVerdict) -> list[Any]:
    if not symptom.likely:
        return []
    items = [
        html.Li(
            [
                html.Span(f"{100.0 * one.weight:.0f} %", className="share"),
                html.Div([one.words, html.Span("; ".join(one.why), className="why")]),
            ]
        )
        for one in symptom.likely
    ]
    return [html.H3("What could explain it"), html.Ul(items, className="weights")]


def _words(title: str, lines: Sequence[str], kind: Any) -> list[Any]:
    return [html.H3(title), kind([html.Li(line) for line in lines])] if lines else []


def _also_found(found: SquawkResult) -> list[html.Section]:
    if not found.also_found:
        return []
    items = [
        html.Li([flight_link(one.flight), " ", badge(one.finding.severity), " ",
                 explained(finding_label(one.finding.name), one.finding.name), f": {one.finding.says}"])
        for one in found.also_found
    ]  # fmt: skip
    rest = items[LISTED:]
    more = [html.Details([html.Summary(f"{counted(len(rest), 'more finding')}"), html.Ul(rest)])] if rest else []
    return [section("Also found in these flights", html.Ul(items[:LISTED]), *more, name="squawk-also")]
