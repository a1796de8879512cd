"""Page /aircraft/<tail>: one aircraft over its flights, and whether what was done helped. Layout and wiring only."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from urllib.parse import quote, urlencode

import dash
import dash_mantine_components as dmc
from dash import MATCH, ClientsideFunction, Input, Output, State, callback, clientside_callback, dcc, html

from analyzer.findings.causes import first_checks
from analyzer.findings.finding import Finding
from analyzer.phrases import counted
from analyzer.reports.cautions import NOT_SEEN
from analyzer.reports.trend_words import (
    and_more,
    cold_air,
    cold_interval,
    cold_rests_on,
    cold_volts,
    in_ten,
    lapsed_words,
    raised_words,
    standing_words,
    trend_words,
    unlogged_asks,
    unlogged_rests_on,
    winter_words,
)
from analyzer.reports.wording import MEASURE_LABELS, share_words, system_words, with_unit
from analyzer.trends.cold import ColdOutlook
from analyzer.trends.judging import TrendFinding
from analyzer.trends.open_findings import Condition, OfFlight
from analyzer.trends.unlogged import Unlogged
from dashboards.app import kept_here
from dashboards.attributes import aria
from dashboards.callback_bodies import Click, Window
from dashboards.disposition_form import disposition_form, disposition_words
from dashboards.entry_cards import entry_card
from dashboards.error_notices import in_words
from dashboards.figures.findings_chart import findings_chart
from dashboards.figures.trend_chart import ChartSeries as Points
from dashboards.figures.trend_chart import is_thinned, is_window, moves, shown_points, trend_chart
from dashboards.flight_words import day_words, finding_label
from dashboards.grid import grid, rows_asked
from dashboards.kept import DRAWN, TailView
from dashboards.own_alarms import alarms_part, loads_part
from dashboards.parts import (
    anchors,
    badge,
    chart,
    crumbs,
    explained,
    judged_earlier,
    nothing_here,
    page,
    section,
    sheet_links,
    table,
)
from dashboards.signing_in import writes_here
from dashboards.tail_series import (
    FLIGHT_ORDER,
    FLIGHT_SHOWN,
    FLIGHTS_CAPTION,
    entry_marks,
    flight_columns,
    flight_rows,
    open_of,
    points,
)

SHOWN = (("both", "Both"), ("raw", "As recorded"), ("adjusted", "Corrected"))
ALONG = (("date", "By date"), ("hours", "By engine hours, with projection"))


@in_words
def layout(tail: str = "", **query: str) -> html.Div:
    """The page of one aircraft; says so in words when no flight of it is kept."""
    view = kept_here().tail(tail.upper())
    if view is None:
        link = dcc.Link("See all aircraft.", href="/")
        return page("aircraft", tail or "Aircraft", nothing_here(f"No flight of {tail or 'it'} is imported.", link))
    shown = query.get("shown") if query.get("shown") in dict(SHOWN) else "both"
    along = query.get("along") if query.get("along") in dict(ALONG) else "date"
    return page(
        "aircraft",
        view.result.tail,
        crumbs(("Fleet", "/"), (view.result.tail, None)),
        dcc.Store(id="aircraft-tail", data=view.result.tail),
        *judged_earlier(view.result.stale_flights),
        _verdict(view),
        _onward(view),
        anchors(
            ("Trends", "aircraft-trends"),
            ("Findings", "aircraft-findings"),
            ("Maintenance", "aircraft-entries"),
            ("Alarm limits", "aircraft-alarms"),
            ("Loads", "aircraft-loads"),
            ("Flights", "aircraft-flights"),
        ),
        section("Trends", *_trends(view, str(shown), str(along)), name="aircraft-trends"),
        *_starts_in_the_cold(view),
        *_standing(view),
        section("Findings over time", *_findings(view), name="aircraft-findings"),
        section("Maintenance: did it help?", *_entries(view), name="aircraft-entries"),
        section("Limits for the recorder's alarms", *alarms_part(), name="aircraft-alarms"),
        section("Its loads, as recorded", *loads_part(), name="aircraft-loads"),
        section("Flights", *_flights(view), name="aircraft-flights"),
        lead=_lead(view),
    )


dash.register_page(__name__, path_template="/aircraft/<tail>", title="taper: one aircraft", layout=layout)


def _lead(view: TailView) -> str:
    begun = view.history.begun
    days = f"{day_words(begun[0])} to {day_words(begun[-1])}" if begun else "none with a date"
    told = [
        f"{counted(view.result.flights, 'flight')}, {view.result.hours:.1f} engine hours, {days}; "
        f"{system_words(view.history.nominal_voltage)}.",
        *view.result.order,
    ]
    return " ".join(told)


def _verdict(view: TailView) -> html.Div:
    stands = open_of(view)
    worst = stands.worst
    if worst is None:
        condition = stands.condition(view.result.flights)
        says = {
            Condition.UNKNOWN: "Too few flights yet to tell what is usual for this aircraft.",
            Condition.GOOD: NOT_SEEN,
        }[condition]
        told = [html.P(badge(condition), className="headline"), html.P(says)]
        return html.Div(told, className=f"verdict {condition}")
    label = finding_label(worst.name, over_many=isinstance(worst, TrendFinding))
    lines = [
        html.P([badge(worst.severity), f" {label}. {and_more(stands)}"], className="headline"),
        html.P([worst.says, *_shown_by(stands.shown_by)]),
    ]
    if isinstance(worst, TrendFinding) and worst.shift and (dated := worst.raisings[-1].start):
        lines.append(html.P(f"Numbers as of {day_words(dated)}.", className="note"))
    if first := first_checks(worst):
        lines.append(html.P([html.Strong("First check: "), " ".join(first)]))
    return html.Div(lines, className=f"verdict {worst.severity}")


def _onward(view: TailView) -> html.Div:
    """What a person does next: open the last flight, look up a squawk, print it."""
    tail = view.result.tail
    links = [
        dcc.Link("Look up a squawk", href=f"/squawk?tail={tail}", className="show"),
        dcc.Link("Its logs", href=f"/logs?tail={tail}", className="show"),
        dcc.Link("What is due", href=f"/due?tail={tail}", className="show"),
        dcc.Link("Beside others of its type", href=f"/peers?tail={tail}", className="show"),
        dcc.Link("Its settings", href=f"/settings?tail={tail}", className="show"),
    ]
    if view.flights:
        last = view.flights[-1]
        day = f", {day_words(last.start)}" if last.start else ""
        links.insert(0, dcc.Link(f"Last flight{day}", href=f"/flight/{last.id}", className="show"))
    onward = html.P(links, className="sheet-links no-print")
    return html.Div([onward, sheet_links(f"aircraft/{tail}")], className="where")


def _shown_by(shown: OfFlight[Finding] | None) -> list[Any]:
    """A link to the flight that shows a finding, its window in the chart; none for one over many flights."""
    if shown is None:
        return []
    named = f"the flight of {day_words(shown.start)}" if shown.start else "this flight"
    window = f"?from={shown.finding.from_s:.0f}&to={shown.finding.to_s:.0f}"
    return [" ", dcc.Link(f"See {named}", href=f"/flight/{shown.flight_id}{window}"), "."]


def _trends(view: TailView, shown: str, along: str) -> list[Any]:
    choices = html.Div(
        [
            dmc.SegmentedControl(
                id="aircraft-shown", value=shown, data=[{"value": v, "label": w} for v, w in SHOWN], size="sm"
            ),
            dmc.SegmentedControl(
                id="aircraft-along", value=along, data=[{"value": v, "label": w} for v, w in ALONG], size="sm"
            ),
            html.A("Link to this view", id="aircraft-link", href="", className="note"),
        ],
        className="tools",
        role="group",
        **aria(label="How the trends are drawn"),
    )
    thinned = any(is_thinned(one.n) for one in view.followed.series.values())
    about = html.P(
        "Circles: as recorded. Dots: corrected for temperature and load. Click a point to open the flight. "
        "Shaded: within limits. Vertical lines: maintenance and steps."
        + (" Of many flights the outermost are drawn; zoom in for the others." if thinned else ""),
        className="note no-print",
    )
    charts = html.Div(trend_cards(view, shown, along), id="aircraft-charts", className="cards")
    return [choices, about, dcc.Store(id="aircraft-unfolded", data=False), charts]


def trend_cards(view: TailView, shown: str, along: str, *, unfolded: bool = False) -> list[Any]:
    """A card for each measure that moves, the steady ones folded; a line for those that nothing shows.

    Charts of those folded are drawn once somebody unfolds them.
    """
    moving, steady, missing, still = [], [], [], []
    for measure in DRAWN:
        history = points(view, measure)
        if history is None:
            missing.append(MEASURE_LABELS[measure].lower())
        elif not history.value.any():
            flown = len(history.starts)
            still.append(f"{MEASURE_LABELS[measure]}: 0 on {'all ' if flown > 1 else ''}{counted(flown, 'flight')}.")
        elif _moves(view, measure):
            moving.append(_card(view, history, shown, along))
        else:
            steady.append(_card(view, history, shown, along, drawn=unfolded))
    parts: list[Any] = [*moving] or [html.P("No measure shows a clear trend.")]
    if steady:
        words = f"{counted(len(steady), 'measure')} without a clear trend"
        folded = [html.Summary(words, id="aircraft-unfold", n_clicks=0), html.Div(steady, className="cards")]
        parts.append(html.Details(folded, className="steady"))
    parts += [html.P(words, className="note") for words in still]
    if missing:
        parts.append(html.P(f"Not measurable on any flight: {', '.join(missing)}.", className="note"))
    return parts


def _moves(view: TailView, measure: str) -> bool:
    """Whether a measure moves, or a finding of it stands open."""
    return moves(view.result.trends[measure]) or any(
        one.open and one.measure == measure for one in view.result.findings
    )


def _starts_in_the_cold(view: TailView) -> list[html.Section]:
    """What the battery would do under the starter in the cold; nothing where too few starts tell."""
    outlook = view.result.cold
    if outlook is None:
        return []
    rows = [
        (cold_air(one.air), cold_volts(one, outlook), cold_interval(one), in_ten(one.good)) for one in outlook.starts
    ]
    head = ("Air", "Bus while cranking", "95 % interval of one start", f"Above {with_unit(outlook.limit, 'V')}")
    told: list[Any] = [cold_rests_on(outlook), " ", explained("How it is worked out", "cold_outlook"), "."]
    return [
        section(
            "Starts in the cold",
            table(head, rows, "Starts in the cold, estimated"),
            html.P(_winter(view.result.tail, outlook)),
            html.P(told, className="note"),
            name="aircraft-cold",
        )
    ]


def _winter(tail: str, outlook: ColdOutlook) -> list[Any]:
    """What a winter would be, or where to say how cold it gets."""
    if words := winter_words(outlook):
        return [words]
    return [dcc.Link("Enter its coldest morning", href=f"/settings?tail={tail}"), " to see what a start then would be."]


def _standing(view: TailView) -> list[html.Section]:
    """What the battery loses while the aircraft stands, or why that cannot be told."""
    words = standing_words(view.result.standing)
    if not words:
        return []
    told: list[Any] = [words, " ", explained("How it is worked out", "standing"), "."]
    return [section("While parked", html.P(told), name="aircraft-standing")]


def _card(view: TailView, history: Points, shown: str, along: str, *, drawn: bool = True) -> html.Figure:
    """One measure: what it does in words, and its chart, which is left out where the card is folded."""
    measure, trend = history.measure, view.result.trends[history.measure]
    words = trend_words(trend)
    caption = html.Figcaption([html.H3(explained(MEASURE_LABELS[measure], measure)), html.P(words)])
    if not drawn:
        return html.Figure(caption, className="card")
    figure = trend_chart(history, trend, entry_marks(view), along=along, shown=shown)
    return html.Figure(
        [
            caption,
            dcc.Store(id={"type": "aircraft-window", "measure": measure}),
            dcc.Store(id={"type": "aircraft-detail", "measure": measure}),
            html.Div(
                chart(figure, id={"type": "aircraft-chart", "measure": measure}),
                role="figure",
                **aria(label=f"{MEASURE_LABELS[measure]} over {counted(len(history.starts), 'flight')}. {words}"),
            ),
        ],
        className="card",
    )


def _findings(view: TailView) -> list[Any]:
    if not view.findings and not view.result.findings:
        return [html.P("None so far.")]
    marks = [(when, kind, words) for when, _, kind, words in entry_marks(view)]
    flights = view.history.flights
    if view.history.without_clock:
        numbers = {one.id: place for place, one in enumerate(flights, 1) if one.id is not None}
        found = findings_chart(view.result.findings, view.findings, (), 1, len(flights), numbers)
    else:
        since, until = view.history.begun[0], flights[-1].end or view.history.begun[-1]
        found = findings_chart(view.result.findings, view.findings, marks, since, until)
    return [
        html.Div(
            chart(found, id={"type": "aircraft-found", "of": "findings"}),
            role="figure",
            **aria(
                label=f"{counted(len(view.findings), 'finding')} of flights and {len(view.result.findings)} of trends"
            ),
        ),
        *[_over_many(view, one) for one in view.result.findings],
    ]


def _over_many(view: TailView, finding: TrendFinding) -> html.Article:
    state = f"{raised_words(finding)}, {'still open' if finding.lapsed_flight is None else lapsed_words(finding)}"
    title = finding_label(finding.name, over_many=True)
    keys = list(dict.fromkeys([replace(finding, again=()).key, finding.key]))
    return html.Article(
        [
            html.H3([badge(finding.severity), explained(title, finding.name)]),
            html.P([html.Em(state[0].upper() + state[1:] + "."), " ", finding.says]),
            _causes(finding),
            *disposition_words(view.dispositions, finding.name, *keys),
            disposition_form(view.result.tail, finding.name, finding.key),
        ],
        className="finding",
    )


def _causes(finding: TrendFinding) -> html.Details | None:
    if not finding.likely and not finding.check:
        return None
    return html.Details(
        [
            html.Summary("Likely causes, and what to check"),
            html.Ul(
                [
                    html.Li([html.Span(share_words(one), className="share"), html.Div(one.words)])
                    for one in finding.likely
                ],
                className="weights",
            ),
            html.Ol([html.Li(check) for check in finding.check]),
        ],
        open=finding.open,
    )


def _entries(view: TailView) -> list[Any]:
    """A card for each entry, the latest first."""
    link = html.P(dcc.Link("Log maintenance", href=f"/entries?tail={view.result.tail}"), className="no-print")
    asked = [_asked(view.result.tail, one) for one in view.result.unlogged]
    if not view.result.comparisons:
        return [*asked, html.P("No maintenance logged."), link]
    return [*asked, *(entry_card(view, one) for one in reversed(view.result.comparisons)), link]


def _asked(tail: str, one: Unlogged) -> html.Article:
    """Work that nobody logged: the question, and for who may write the form filled in; nothing is kept by itself."""
    filled = urlencode({"tail": tail, "kind": one.kind, "when": one.when.isoformat(timespec="minutes")})
    links = [dcc.Link("Open the form filled in", href=f"/entries?{filled}", className="show")] if writes_here() else []
    return html.Article(
        [
            html.H3(unlogged_asks(one)),
            html.P([unlogged_rests_on(one), " ", explained("How it is noticed", "unlogged"), "."]),
            html.P(links, className="no-print"),
        ],
        className="finding unlogged",
    )


def _flights(view: TailView) -> list[Any]:
    file = f"/flights/{quote(view.result.tail)}.csv"
    return [grid("aircraft-grid", flight_columns(view), FLIGHTS_CAPTION, file)]


@callback(
    Output("aircraft-grid", "getRowsResponse"),
    Input("aircraft-grid", "getRowsRequest"),
    State("aircraft-tail", "data"),
    prevent_initial_call=True,
)
def send_flights(asked: Any, tail: str) -> Any:
    """Give the page of flights that the grid asks for."""
    if asked is None:
        return dash.no_update
    view = kept_here().tail(tail)
    return rows_asked([] if view is None else flight_rows(view), asked, FLIGHT_ORDER, FLIGHT_SHOWN)


@callback(
    Output("aircraft-charts", "children"),
    Output("aircraft-link", "href"),
    Input("aircraft-shown", "value"),
    Input("aircraft-along", "value"),
    State("aircraft-tail", "data"),
    State("aircraft-unfolded", "data"),
    prevent_initial_call=True,
)
def redraw(shown: str, along: str, tail: str, unfolded: bool) -> tuple[Any, Any]:
    """Draw the trends another way, and give the address of this view."""
    view = kept_here().tail(tail)
    if view is None:
        return nothing_here(f"No flight of {tail} is left."), ""
    address = f"/aircraft/{tail}?shown={shown}&along={along}#aircraft-trends"
    return trend_cards(view, shown, along, unfolded=unfolded), address


@callback(
    Output("aircraft-charts", "children", allow_duplicate=True),
    Output("aircraft-unfolded", "data"),
    Input("aircraft-unfold", "n_clicks"),
    State("aircraft-tail", "data"),
    State("aircraft-shown", "value"),
    State("aircraft-along", "value"),
    State("aircraft-unfolded", "data"),
    prevent_initial_call=True,
)
def unfold(clicks: int | None, tail: str, shown: str, along: str, unfolded: bool) -> tuple[Any, Any]:
    """Draw the steady measures once they are asked for."""
    view = None if unfolded or not clicks else kept_here().tail(tail)
    return (dash.no_update, dash.no_update) if view is None else (trend_cards(view, shown, along, unfolded=True), True)


@callback(
    Output({"type": "aircraft-detail", "measure": MATCH}, "data"),
    Input({"type": "aircraft-window", "measure": MATCH}, "data"),
    State("aircraft-tail", "data"),
    State("aircraft-shown", "value"),
    State("aircraft-along", "value"),
    prevent_initial_call=True,
)
def more_points(window: Window | None, tail: str, shown: str, along: str) -> dict[str, Any] | Any:
    """Send a window's own points after a zoom into a chart that leaves some out, and name the chart they are of."""
    view, measure = kept_here().tail(tail), dash.ctx.triggered_id["measure"]
    history = None if view is None or measure not in DRAWN else points(view, measure)
    if view is None or not window or history is None or not is_thinned(history.value.size):
        return dash.no_update
    if not is_window(history, along, window.get("range", ())):  # zoomed before the axis was changed
        return dash.no_update
    data = shown_points(history, view.result.trends[measure], window.get("range"), along=along, shown=shown)
    return {"of": [tail, shown, along], "data": data}


clientside_callback(
    ClientsideFunction("taper", "layIn"),
    Output({"type": "aircraft-chart", "measure": MATCH}, "figure"),
    Input({"type": "aircraft-detail", "measure": MATCH}, "data"),
    State({"type": "aircraft-chart", "measure": MATCH}, "figure"),
    State("aircraft-tail", "data"),
    State("aircraft-shown", "value"),
    State("aircraft-along", "value"),
    prevent_initial_call=True,
)
clientside_callback(
    ClientsideFunction("taper", "keepWindow"),
    Output({"type": "aircraft-window", "measure": MATCH}, "data"),
    Input({"type": "aircraft-chart", "measure": MATCH}, "relayoutData"),
    prevent_initial_call=True,
)


@callback(
    Output("_pages_location", "pathname", allow_duplicate=True),
    Input({"type": "aircraft-chart", "measure": dash.ALL}, "clickData"),
    Input({"type": "aircraft-found", "of": dash.ALL}, "clickData"),
    prevent_initial_call=True,
)
def open_flight(_charts: list[Click | None], _found: list[Click | None]) -> Any:
    """Open the flight whose mark was clicked."""
    clicked = dash.ctx.triggered[0]["value"] if dash.ctx.triggered else None
    told = clicked["points"][0].get("customdata") if clicked and clicked["points"] else None
    return f"/flight/{told[0]}" if isinstance(told, list) and told and told[0] else dash.no_update
