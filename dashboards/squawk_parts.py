"""What the recordings say for and against a report, symptom by symptom."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from dash import dcc, html

from analyzer.reports.entry_text import side_words
from analyzer.reports.wording import copies_words, finding_label, unit_shown
from analyzer.squawk.document import NOT_SEEN_IS_NOT_GONE
from analyzer.squawk.sighting import State
from dashboards.entry_cards import entry_anchor
from dashboards.figures.occasion_chart import occasion_chart
from dashboards.flight_words import counted, day_words
from dashboards.parts import GRAPH_CONFIG, badge, explained, section, table
from dashboards.searching import DRAWN, Search

Document = Mapping[str, Any]
#: What the recordings say -> look of its badge and its mark.
LOOKS = {
    State.SEEN: ("caution", "◆"),
    State.NOT_SEEN: ("advisory", "●"),
    State.NOT_OBSERVABLE: ("unknown", "?"),
}
#: Flights against, and flights that could not show it, that stand there at once; the rest unfold.
LISTED = 6
_UNITS = {"degC": "°C"}


def result(search: Search) -> list[Any]:
    """Everything that the recordings say of a report."""
    document = search.document
    assert document is not None
    since = f" since {day_words(datetime.fromisoformat(document['since']))}" if document["since"] else ""
    through = f"{counted(document['flights'], 'flight')}, {document['hours']:.1f} engine hours{since} looked through."
    return [
        html.P(["Reported: ", html.Q(words)]) if (words := document["report"]["words"]) else None,
        html.P([html.Strong(through), " ", NOT_SEEN_IS_NOT_GONE], className="looked-through"),
        html.P(f"{copies}.", className="note") if (copies := copies_words(len(document["copies_left_out"]))) else None,
        _unread(search.unread),
        *(_symptom(one, search) for one in document["symptoms"]),
        _on_the_ground(document),
        *_work(document),
        *_also_found(document),
    ]


def _unread(unread: list[str]) -> html.Details | None:
    if not unread:
        return None
    words = f"{counted(len(unread), 'log')} could not be read again"
    return html.Details([html.Summary(words), html.Ul([html.Li(one) for one in unread])])


def _symptom(symptom: Document, search: Search) -> html.Section:
    look, mark = LOOKS[symptom["state"]]
    counts = symptom["counts"]
    told = (
        f"Seen in {counted(counts['seen'], 'flight')}, not seen in {counts['not_seen']}, could not be seen in "
        f"{counts['not_observable']}"
    ) + (f"; {hours:.1f} engine hours in which it would have shown." if (hours := counts["hours_observed"]) else ".")
    return section(
        symptom["title"],
        html.Div(
            [
                html.P(
                    [html.Span([html.Span(mark, **{"aria-hidden": "true"}), " ", symptom["verdict"]],
                               className=f"badge {look}"),
                     f" {symptom['only']}" if symptom["only"] else ""],
                    className="headline",
                ),
                html.P(symptom["because"]),
                html.P(told, className="quiet"),
            ],
            className=f"verdict {look}",
        ),
        *_for(symptom, search),
        *_conditions(symptom),
        *_listed("Evidence against: it would have shown and did not", symptom["against"], "says"),
        *_listed("Could not be seen", symptom["not_observable"], "because"),
        *_likely(symptom),
        *_words("What looks like it and is no fault", symptom["innocent"], html.Ul),
        html.P(["What a recording must hold to show it: ", symptom["needs"], ". ",
                explained("More in the reference", symptom["symptom"])], className="note"),
        name=f"squawk-{symptom['symptom'].replace('_', '-')}",
    )  # fmt: skip


def flight_link(flight: Document, window: tuple[float, float] | None = None) -> Any:
    """A flight by its day, linked to its page where it is kept; a window zooms its chart."""
    start = flight["start"]
    words = start.replace("T", " ")[:16] if start else f"{flight['source']}, flight {flight['number']}"
    if flight["id"] is None:
        return html.Span(words)
    query = f"?from={window[0]:.0f}&to={window[1]:.0f}#flight-meters" if window else ""
    return dcc.Link(words, href=f"/flight/{flight['id']}{query}")


def _for(symptom: Document, search: Search) -> list[Any]:
    if not symptom["for"]:
        return []
    drawn = [_occasion(one, search) for one in symptom["for"][:DRAWN]]
    rest = [
        html.Li([flight_link(one["flight"], _around(one)), ": ", one["says"], _when(one)])
        for one in symptom["for"][DRAWN:]
    ]
    more = [html.Details([html.Summary(f"{counted(len(rest), 'more occasion')}"), html.Ul(rest)])] if rest else []
    return [html.H3("Evidence for"), html.Div(drawn, className="cards"), *more]


def _occasion(occasion: Document, search: Search) -> html.Figure:
    review = search.reviews.get(occasion["flight"]["id"])
    facts = [
        html.H4([flight_link(occasion["flight"], _around(occasion)), _when(occasion)]),
        html.P(f"{occasion['says'].rstrip('.')}."),
        html.P(conditions_words(occasion["conditions"]), className="quiet"),
    ]
    chart = []
    if review is not None:
        figure = occasion_chart(review, occasion["from_s"], occasion["to_s"])
        graph = dcc.Graph(figure=figure, config={**GRAPH_CONFIG, "displayModeBar": False})
        label = f"Volts and amperes around the occasion: {occasion['says']}"
        chart = [html.Div(graph, role="figure", **{"aria-label": label})]
    return html.Figure([html.Figcaption(facts), *chart], className="card occasion")


def _around(occasion: Document) -> tuple[float, float]:
    """The window that the flight's page shows: a minute to both sides at least."""
    room = max(60.0, 0.6 * (occasion["to_s"] - occasion["from_s"]))
    return max(0.0, occasion["from_s"] - room), occasion["to_s"] + room


def _when(occasion: Document) -> str:
    return f" at {occasion['at'][11:19]}" if occasion["at"] else f" from {occasion['from_s'] / 60.0:.1f} min"


def conditions_words(conditions: Document) -> str:
    """The circumstances of an occasion, "engine speed 980 rpm, load 12.0 A, phase low rpm"."""
    said = []
    for name, told in conditions.items():
        words = name.replace("_", " ")
        if isinstance(told, Mapping):
            said.append(f"{words} {told['value']:.4g} {_UNITS.get(told['unit'], unit_shown(told['unit']))}".strip())
        else:
            said.append(f"{words}: {str(told).replace('_', ' ')}")
    return ", ".join(said)


def _conditions(symptom: Document) -> list[Any]:
    if not symptom["conditions"]:
        return [html.P("The occasions are too few to say under which conditions it comes.")] if symptom["for"] else []
    return [
        html.H3("Under which conditions it comes"),
        html.Ul([html.Li(one["says"]) for one in symptom["conditions"]]),
    ]


def _listed(title: str, flights: list[Document], key: str) -> list[Any]:
    """Flights with what each says; beyond the first ones they unfold."""
    if not flights:
        return []
    items = [html.Li([flight_link(one["flight"]), f": {one[key]}"]) for one in flights]
    rest = items[LISTED:]
    more = [html.Details([html.Summary(f"{counted(len(rest), 'more flight')}"), html.Ul(rest)])] if rest else []
    return [html.H3(title), html.Ul(items[:LISTED]), *more]


def _on_the_ground(document: Document) -> html.Section:
    """What to measure and to check for all symptoms together, each step once."""
    steps, several = document["on_the_ground"], len(document["symptoms"]) > 1
    head = ("What to measure first", "Expected", "What it tells", "Source", *(["For"] if several else []))
    rows = [
        (
            one["what"],
            html.Strong(one["expected"]),
            one["tells"],
            one["source"],
            *([_for_words(one)] if several else []),
        )
        for one in steps["measure_first"]
    ]
    checks = [f"{one['what']}{f' (for: {_for_words(one)})' if several else ''}" for one in steps["check"]]
    return section(
        "On the ground",
        *(html.P(words, className="note") for words in steps["before"]),
        table(head, rows, "What to measure first", "free"),
        *_words("Further checks, in this order", checks, html.Ol),
        name="squawk-on-the-ground",
    )


def _work(document: Document) -> list[html.Section]:
    """In how many flights each symptom was seen before maintenance work and after it."""
    rows = [
        (
            dcc.Link(one["when"][:10], href=_card(document["tail"], one)),
            one["words"] or one["kind"].replace("_", " "),
            symptom["title"],
            side_words(symptom["before"]),
            side_words(symptom["after"]),
        )
        for one in document["work"]
        for symptom in one["symptoms"]
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


def _card(tail: str, work: Document) -> str:
    return f"/aircraft/{tail}#{entry_anchor(datetime.fromisoformat(work['when']), work['kind'])}"


def _for_words(step: Document) -> str:
    return "; ".join(title.lower() for title in step["for"])


def _likely(symptom: Document) -> list[Any]:
    if not symptom["likely"]:
        return []
    items = [
        html.Li(
            [
                html.Span(f"{100.0 * one['weight']:.0f} %", className="share"),
                html.Div([one["cause"], html.Span("; ".join(one["why"]), className="why")]),
            ]
        )
        for one in symptom["likely"]
    ]
    return [html.H3("What could explain it"), html.Ul(items, className="weights")]


def _words(title: str, lines: list[str], kind: Any) -> list[Any]:
    return [html.H3(title), kind([html.Li(line) for line in lines])] if lines else []


def _also_found(document: Document) -> list[html.Section]:
    if not document["also_found"]:
        return []
    items = [
        html.Li([flight_link(one["flight"]), " ", badge(one["severity"]), " ",
                 explained(finding_label(one["finding"]), one["finding"]), f": {one['says']}"])
        for one in document["also_found"]
    ]  # fmt: skip
    rest = items[LISTED:]
    more = [html.Details([html.Summary(f"{counted(len(rest), 'more finding')}"), html.Ul(rest)])] if rest else []
    return [section("Also found in these flights", html.Ul(items[:LISTED]), *more, name="squawk-also")]
