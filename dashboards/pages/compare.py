"""Page /compare: two flights, of one aircraft or of two, on one chart. Layout and wiring only."""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qsl, urlencode

import dash
import dash_mantine_components as dmc
from dash import Input, Output, State, callback, dcc, html

from analyzer.reports.compare_words import ALIGNED, NOT_A_FAULT, aligned_words, compared_rows
from analyzer.reports.wording import MEASURE_LABELS
from analyzer.results import clock_at
from analyzer.service.compare_flights import Align, TwoFlights, compare_flights
from dashboards.app import kept_here
from dashboards.attributes import aria
from dashboards.background import StillWorkingError
from dashboards.error_notices import in_words
from dashboards.figures.compare_chart import compare_chart
from dashboards.figures.tails_chart import tails_chart
from dashboards.kept import DRAWN, Kept, KeptFlight, TailView
from dashboards.parts import chart, crumbs, nothing_here, page, section, table
from dashboards.tail_series import points

SIDES = (("a", "First"), ("b", "Second"))


@in_words
def layout(**query: str) -> html.Div:
    """Both flights that the address names; the last ones of an aircraft where it names a tail."""
    kept = kept_here()
    if kept.empty or not kept.names():
        return page(
            "compare",
            "Compare",
            nothing_here("No flights yet; first ", dcc.Link("import logs", "/bring-in")),
            results=False,
        )
    align = Align(query["align"]) if query.get("align") in list(Align) else Align.START
    flights = [_named(kept, query.get(side, "")) for side, _ in SIDES]
    return page(
        "compare",
        "Compare two flights",
        crumbs(("Fleet", "/"), ("Compare", None)),
        section("Which flights", *_form(kept, flights, align), name="compare-form"),
        *_shown(flights, align),
        *_two_aircraft(kept, flights, query.get("measure", "")),
        lead="Two flights on one chart, what differs by more than the intervals, and two aircraft flight by flight.",
        results=any(one is not None for one in flights),
    )


dash.register_page(__name__, path="/compare", title="taper: compare", layout=layout)


def _named(kept: Kept, words: str) -> KeptFlight | None:
    """The flight of a number, or the last one of a tail; None where there is none."""
    tail = words.strip().upper()
    if tail in kept.names():
        return kept.flight(kept.flights_of(tail)[-1].id)
    return kept.flight(words)


def _form(kept: Kept, flights: list[KeptFlight | None], align: Align) -> list[Any]:
    names = kept.names()
    sides = [
        html.Div(
            [
                dmc.Select(
                    id=f"compare-tail-{side}", label=f"{label} aircraft", data=names, searchable=True,
                    allowDeselect=False, value=one.tail if one else None, w=160,
                ),
                dmc.Select(
                    id=f"compare-flight-{side}", label=f"{label} flight", searchable=True, allowDeselect=False,
                    data=_choices(kept, one.tail) if one and one.tail else [], value=str(one.id) if one else None,
                    w=220,
                ),
            ],
            className="tools",
        )
        for (side, label), one in zip(SIDES, flights, strict=True)
    ]  # fmt: skip
    laid = dmc.Select(
        id="compare-align", label="Lined up at", allowDeselect=False, value=align, w=220,
        data=[{"value": one, "label": words} for one, words in ALIGNED.items()],
    )  # fmt: skip
    return [*sides, laid]


def _choices(kept: Kept, tail: str) -> list[dict[str, str]]:
    return [
        {"value": str(one.id), "label": f"{one.start:%Y-%m-%d %H:%M}" if one.start else f"flight {one.id}, no clock"}
        for one in reversed(kept.flights_of(tail))
    ]


def _shown(flights: list[KeptFlight | None], align: Align) -> list[Any]:
    first, second = flights
    if first is None or second is None:
        return [nothing_here("Choose two flights above.")]
    two = compare_flights(first.review, second.review, align)
    names = (_name(first), _name(second))
    return [
        section("What the meters did", *_chart(two, names), name="compare-chart-part"),
        section(
            "Measures side by side",
            table(("Measure", *names, "Differs"), compared_rows(two), "Measures of both flights", "free"),
            html.P(NOT_A_FAULT, className="note"),
            name="compare-measures",
        ),
        html.P(
            [dcc.Link(name, href=f"/flight/{one.id}") for name, one in zip(names, (first, second), strict=True)],
            className="beside",
        ),
    ]


def _name(one: KeptFlight) -> str:
    flight = one.review.flight
    start = clock_at(flight.clock_start, flight.from_s)
    return f"{one.tail or 'Unknown'}, {f'{start:%Y-%m-%d %H:%M}' if start else f'flight {one.id}'}"


def _chart(two: TwoFlights, names: tuple[str, str]) -> list[Any]:
    return [
        html.P(f"{aligned_words(two)} Solid: first. Dashed: second.", className="note"),
        html.Div(
            chart(compare_chart(two, names), id="compare-chart"),
            role="figure",
            **aria(label=f"Chart of {names[0]} and {names[1]}"),
        ),
    ]


def _two_aircraft(kept: Kept, flights: list[KeptFlight | None], measure: str) -> list[Any]:
    """One measure of both aircraft over all their flights; nothing where it is one aircraft."""
    tails = [one.tail for one in flights if one is not None and one.tail is not None]
    if len(set(tails)) < 2:
        return []
    try:
        first, second = (kept.tail(tail) for tail in tails)
    except StillWorkingError:
        working = html.P("The trends are being worked out; open this page again in a moment.")
        return [section("Flight by flight", working, name="compare-aircraft")]
    if first is None or second is None:
        return []
    volts = {view.result.nominal_voltage for view in (first, second)} - {None}
    if len(volts) > 1:
        told: list[Any] = [
            html.P(f"{' and '.join(tails)} are not set against each other: one has 14 V, the other 28 V.")
        ]
    else:
        told = _one_measure(first, second, measure)
    return [section("Flight by flight", *told, name="compare-aircraft")]


def _one_measure(first: TailView, second: TailView, measure: str) -> list[Any]:
    shared = {name: (a, b) for name in DRAWN if (a := points(first, name)) and (b := points(second, name))}
    if not shared:
        return [html.P("No measure is known of both.")]
    chosen = measure if measure in shared else next(iter(shared))
    names = (first.result.tail, second.result.tail)
    pick = dmc.Select(
        id="compare-measure", label="Measure", allowDeselect=False, value=chosen, w=260,
        data=[{"value": name, "label": MEASURE_LABELS[name]} for name in shared],
    )  # fmt: skip
    drawn = html.Div(
        chart(tails_chart(shared[chosen], names), id="compare-tails-chart"),
        role="figure",
        **aria(label=f"{MEASURE_LABELS[chosen]} of {names[0]} and {names[1]} over their flights"),
    )
    return [
        pick,
        drawn,
        html.P("Corrected for temperature and load, where flights tell by how much.", className="note"),
    ]


@callback(
    Output("_pages_location", "search", allow_duplicate=True),
    Input("compare-measure", "value"),
    State("_pages_location", "search"),
    prevent_initial_call=True,
)
def choose_measure(measure: str, search: str | None) -> Any:
    """Show another measure of both aircraft; the address then holds it."""
    asked = "?" + urlencode(dict(parse_qsl((search or "").removeprefix("?"))) | {"measure": measure})
    return dash.no_update if asked == search else asked


@callback(
    Output("_pages_location", "search", allow_duplicate=True),
    Input("compare-tail-a", "value"),
    Input("compare-flight-a", "value"),
    Input("compare-tail-b", "value"),
    Input("compare-flight-b", "value"),
    Input("compare-align", "value"),
    State("_pages_location", "search"),
    prevent_initial_call=True,
)
def choose(
    tail_a: str | None, flight_a: str | None, tail_b: str | None, flight_b: str | None, align: str, search: str | None
) -> Any:
    """Show what is chosen; the address then holds it. Another aircraft begins with its last flight."""
    changed = str(dash.ctx.triggered_id)
    a = tail_a if changed == "compare-tail-a" else flight_a or tail_a
    b = tail_b if changed == "compare-tail-b" else flight_b or tail_b
    measure = dict(parse_qsl((search or "").removeprefix("?"))).get("measure")
    told = (("a", a), ("b", b), ("align", align), ("measure", measure))
    asked = "?" + urlencode({name: words for name, words in told if words})
    return dash.no_update if asked == search else asked
