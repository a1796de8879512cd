"""Page /flight/<flight_id>: what the meters did in one flight, and why. Layout and wiring only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import PurePath
from typing import Any

import dash
from dash import ALL, ClientsideFunction, Input, Output, State, callback, clientside_callback, dcc, html

from analyzer.findings.causes import first_checks
from analyzer.findings.finding import Cause, Finding
from analyzer.measures.jump_start import charge_back
from analyzer.measures.power_flow import Feeder, power_flow
from analyzer.phrases import counted, duration
from analyzer.records.problems import RecordsError
from analyzer.reports.evidence import evidence_words
from analyzer.reports.flight_text import telling_measures
from analyzer.reports.jump_words import jump_sentences
from analyzer.reports.plainly import plainly
from analyzer.reports.story import Sentence, story
from analyzer.reports.trend_words import outlook_at_words
from analyzer.reports.wording import (
    FINDING_LABELS,
    interval_words,
    measure_label,
    reasons_of,
    share_words,
    system_words,
    value_words,
)
from analyzer.results import flight_result
from analyzer.review import FlightReview
from dashboards.app import kept_here
from dashboards.attributes import aria
from dashboards.callback_bodies import Click, Window
from dashboards.disposition_form import disposition_form, disposition_words
from dashboards.error_notices import in_words
from dashboards.figures.flight_chart import USUAL_WIDTH, axes_between, flight_chart, moments, points_between, window_of
from dashboards.figures.time_axis import TimeAxis
from dashboards.flight_words import (
    GROUPS,
    ammeter_words,
    when_words,
)
from dashboards.flow_drawing import flow_drawing
from dashboards.kept import KeptFlight
from dashboards.parts import (
    AS_SEEN,
    anchors,
    at_once,
    badge,
    causes_at_once,
    chart,
    crumbs,
    explained,
    facts,
    fold,
    folded_section,
    nothing_here,
    page,
    section,
    sheet_links,
    table,
)
from dashboards.planner import planner_of
from dashboards.quit_here import quit_part
from dashboards.signing_in import writes_here


@in_words
def layout(flight_id: str = "", **query: str) -> html.Div:
    """The page of one flight; says so in words when it is not kept."""
    kept = kept_here().flight(flight_id)
    if kept is None:
        link = dcc.Link("Look for it in the fleet.", href="/")
        return page("flight", "No such flight", nothing_here(f"There is no flight {flight_id!r}.", link))
    review = kept.review
    told = story(review)
    window = _asked_window(review, query)
    return page(
        "flight",
        f"{kept.tail or 'Unknown aircraft'}, {when_words(review)}",
        _where(kept),
        dcc.Store(id="flight-id", data=flight_id),
        dcc.Store(id="flight-window"),
        dcc.Store(id="flight-detail"),
        _verdict(review),
        html.Div(
            [
                anchors(
                    ("Chart", "flight-meters"), ("Story", "flight-story"), ("Findings", "flight-findings"),
                    ("Endurance", "flight-planner"), ("Step by step", "flight-lesson"),
                    ("Outlook", "flight-outlook"), ("Measures", "flight-measures"),
                ),
                sheet_links(f"flight/{flight_id}"),
            ],
            className="where",
        ),
        section("What the meters did", *_chart(review, told, window), name="flight-meters"),
        _two_columns(kept, told, query),
        section("Measures", *_measures(review), name="flight-measures"),
        folded_section("How this flight was recorded", *_recording(kept), name="flight-recording"),
    )  # fmt: skip


dash.register_page(__name__, path_template="/flight/<flight_id>", title="taper: one flight", layout=layout)


def _two_columns(kept: KeptFlight, told: list[Sentence], query: Mapping[str, str]) -> html.Div:
    """What happened at the left, what was found and how long the battery would last at the right."""
    review = kept.review
    handout = sheet_links(f"handout/{kept.id}", words="Handout with answers")
    lesson, asked = [*_lesson(review, told, query), handout], bool({"step", "master_off"} & query.keys())
    happened = [
        section("The flight's electrical story", _story(review, told), name="flight-story"),
        folded_section(
            "Where the power goes, step by step", *lesson, name="flight-lesson", opened=asked, printed=AS_SEEN
        ),
        section("Outlook after this flight", _outlook(kept), name="flight-outlook"),
    ]
    lasts = [planner_of(review, kept.battery, query), _after_a_jump_start(review)]
    found = [
        section("Findings", _findings(kept), name="flight-findings"),
        section("How long without the alternator", *lasts, name="flight-planner"),
    ]
    return html.Div([html.Div(happened, className="stack"), html.Div(found, className="stack")], className="two")


def _where(kept: KeptFlight) -> html.Div:
    """Where this page stands, and the flights before and after."""
    beside = [
        dcc.Link(words, href=f"/flight/{flight_id}")
        for words, flight_id in (("‹ flight before", kept.before), ("flight after ›", kept.after))
        if flight_id is not None
    ]
    other = kept.before or kept.after or kept.tail or ""
    beside.append(dcc.Link("Compare", href=f"/compare?a={other}&b={kept.id}"))
    tail = (kept.tail, f"/aircraft/{kept.tail}") if kept.tail else ("Unknown aircraft", None)
    return html.Div(
        [crumbs(("Fleet", "/"), tail, ("Flight", None)), html.Div(beside, className="beside")], className="where"
    )


def _asked_window(review: FlightReview, query: dict[str, str]) -> tuple[float, float] | None:
    """The part of the flight that a deep link asks for [s], None when it asks for none of it."""
    try:
        first, last = float(query["from"]), float(query["to"])
    except (KeyError, ValueError):
        return None
    first, last = max(first, review.flight.from_s), min(last, review.flight.to_s)
    return (first, last) if first < last else None


def _verdict(review: FlightReview) -> html.Div:
    """Was this flight all right, and what to tell the shop."""
    if not review.findings:
        says = "What could not be measured is listed under Measures."
        return html.Div([html.P(badge("good"), className="headline"), html.P(says)], className="verdict good")
    worst = review.findings[0]
    rest = len(review.findings) - 1
    more = f" And {rest} more, below." if rest else ""
    lines = [
        html.P([badge(worst.severity), " ", FINDING_LABELS[worst.name], "."], className="headline"),
        html.P(worst.says + more),
    ]
    if first := first_checks(worst):
        lines.append(html.P([html.Strong("First check: "), " ".join(first)]))
    return html.Div(lines, className=f"verdict {worst.severity}")


def _chart(review: FlightReview, told: list[Sentence], window: tuple[float, float] | None) -> list[Any]:
    summary = "Chart of " + ", ".join(sentence.says for sentence in told[:6])
    return [
        html.Div(
            [
                html.Button("Whole flight", id="flight-whole", className="show", n_clicks=0),
                html.Span("Drag to zoom. Numbers match the story below.", className="note"),
                html.Span(id="flight-shown", className="note", role="status", **aria(live="polite")),
            ],
            className="tools beside-chart no-print",
        ),
        html.Div(
            chart(flight_chart(review, told, window), id="flight-chart"),
            role="figure",
            **aria(label=summary),
        ),
    ]


def _show_button(review: FlightReview, from_s: float, to_s: float, words: Any, name: str, place: int) -> html.Button:
    """A button that brings the chart to a stretch of the flight."""
    first, last = window_of(review.flight, from_s, to_s)
    return html.Button(
        words,
        id={"type": "flight-show", "of": name, "place": place, "first": first, "last": last},
        className="when" if name == "story" else "show",
        n_clicks=0,
        title="Show in the chart",
    )


def _story(review: FlightReview, told: list[Sentence]) -> html.Ol:
    when = TimeAxis(review.flight.clock_start)
    items = []
    for place, sentence in enumerate(told, 1):
        words: list[Any] = [badge(sentence.severity), " "] if sentence.severity else []
        words.append(sentence.says)
        if sentence.why:
            words.append(html.Span(sentence.why, className="why"))
        button = _show_button(review, sentence.from_s, sentence.to_s, when.words(sentence.from_s), "story", place)
        items.append(html.Li([html.Span(str(place), className="place"), button, html.Div(words)]))
    return html.Ol(items, className="story")


def _lesson(review: FlightReview, told: list[Sentence], query: Mapping[str, str]) -> list[Any]:
    """The drawing of a moment, with buttons to step through the story; a click into the chart picks any other."""
    step = _first_step(review, told, query)
    return [
        html.Div(
            [
                html.Button("‹ Step before", id="flow-back", className="show", n_clicks=0),
                html.Button("Next step ›", id="flow-on", className="show", n_clicks=0),
                html.Span("Or click a moment in the chart.", className="note"),
            ],
            className="tools no-print",
        ),
        dcc.Store(id="flow-step", data=step),
        dcc.Store(id="flow-at", data=told[step - 1].settled_s(review.flight.trace.step_s) if told else None),
        html.Div(_step(review, told, step), id="flow-shown", role="status", **aria(live="polite")),
        quit_part(query),
    ]


def _first_step(review: FlightReview, told: Sequence[Sentence], query: Mapping[str, str]) -> int:
    """The step of a link; of one that only asks what if the alternator quit, the first at which it feeds the bus."""
    asked = query.get("step", "")
    if asked.isdecimal() and len(asked) < 5:
        return min(max(int(asked), 1), len(told))
    if "master_off" not in query:
        return 1
    moments = (sentence.settled_s(review.flight.trace.step_s) for sentence in told)
    feeds = (power_flow(review.flight, review.measures, at).feeder is Feeder.ALTERNATOR for at in moments)
    return next((step for step, own in enumerate(feeds, 1) if own), 1)


def _step(review: FlightReview, told: list[Sentence], step: int) -> list[Any]:
    """One step of the story and its drawing; nothing for a flight without a story."""
    if not told:
        return [html.P("There is no story for this flight.")]
    sentence = told[step - 1]
    at = sentence.settled_s(review.flight.trace.step_s)
    when = TimeAxis(review.flight.clock_start).words(sentence.from_s)
    link = html.A("Link to this step", href=f"?step={step}#flight-lesson", className="note no-print")
    head: list[Any] = [html.Strong(f"Step {step} of {len(told)}, {when}: "), sentence.says, " ", link]
    return [html.P(head, className="flow-step"), *_moment(review, at)]


def _moment(review: FlightReview, at_s: float) -> list[Any]:
    return [flow_drawing(power_flow(review.flight, review.measures, at_s))]


def _findings(kept: KeptFlight) -> Any:
    review = kept.review
    if not review.findings:
        return html.P("Nothing found.")
    return html.Div([_finding(kept, finding, place) for place, finding in enumerate(review.findings)])


def _outlook(kept: KeptFlight) -> html.Div:
    """What was foretold once it was flown, by it and the flights before it alone."""
    try:
        outlook = kept_here().outlook_at(kept)
    except RecordsError as problem:  # or still being worked out
        return html.Div(plainly(problem), role="status")
    if outlook is None:
        return html.Div("Nothing can be foretold: its log names no aircraft.")
    rests_on = f"By the {counted(outlook.flights, 'flight')} up to this one. " if outlook.flights else ""
    today = dcc.Link("What is foretold today", href=f"/aircraft/{kept.tail}")
    how = explained("How it is worked out", "projection")
    told = html.Ul([html.Li(words) for words in outlook_at_words(outlook)])
    return html.Div([told, html.P([rests_on, today, ". ", how, "."], className="note")])


def _finding(kept: KeptFlight, finding: Finding, place: int) -> html.Article:
    review = kept.review
    when = TimeAxis(review.flight.clock_start)
    evidence = evidence_words(finding.evidence)
    stretch = f"{when.words(finding.from_s)}, {duration(finding.to_s - finding.from_s)}"
    return html.Article(
        [
            html.H3(
                [
                    badge(finding.severity),
                    explained(FINDING_LABELS[finding.name], finding.name),
                    _show_button(review, finding.from_s, finding.to_s, f"Show {stretch}", "finding", place),
                ]
            ),
            html.P(finding.says),
            html.P(f"Numbers: {evidence}.", className="evidence"),
            html.H4("Likely causes"),
            *_causes(finding, place),
            html.H4("Check on the ground, in this order"),
            *_checks(finding, place),
            *_disposing(kept, finding),
        ],
        className="finding",
    )


def _causes(finding: Finding, place: int) -> list[Any]:
    """The likeliest causes with their weights, the others folded."""

    def listed(causes: Sequence[Cause]) -> html.Ul:
        rows = [
            html.Li(
                [
                    html.Span(share_words(cause), className="share"),
                    html.Div([cause.words, html.Span("; ".join(cause.why), className="why")]),
                ]
            )
            for cause in causes
        ]
        return html.Ul(rows, className="weights")

    shown, rest = causes_at_once(finding.likely)
    more = [fold(counted(len(rest), "more cause"), listed(rest), name=f"flight-causes-{place}")] if rest else []
    return [listed(shown), *more]


def _checks(finding: Finding, place: int) -> list[Any]:
    """The ground checks to begin with, the others folded; the numbers run on."""
    shown, rest = at_once(finding.check)
    others = html.Ol([html.Li(check) for check in rest], start=str(len(shown) + 1))
    more = [fold(f"{len(rest)} further checks", others, name=f"flight-checks-{place}")] if rest else []
    return [html.Ol([html.Li(check) for check in shown]), *more]


def _disposing(kept: KeptFlight, finding: Finding) -> list[Any]:
    """What was said of the finding, and the form to say it; a flight without tail or clock has none."""
    start = kept.review.flight.clock(kept.review.flight.from_s)
    if kept.tail is None or start is None:
        return []
    said = disposition_words(kept.dispositions, finding.name, start)
    return [*said, disposition_form(kept.tail, finding.name, start)]


def _measures(review: FlightReview) -> list[Any]:
    """Those that tell most, the others folded, and what could not be measured."""
    measured = [name for _, names in GROUPS for name in names if review.measures[name].value is not None]
    telling = {*telling_measures(flight_result(review)), "regulated_voltage"}
    first = [name for name in measured if name in telling]
    rest = [name for name in measured if name not in telling]
    parts: list[Any] = [_measured(review, first, "Measures of this flight that tell most")]
    if rest:
        others = _measured(review, rest, "The other measures of this flight")
        parts.append(fold(counted(len(rest), "more measure"), others, name="flight-more-measures"))
    missing = reasons_of(one for one in review.measures.values() if one.value is None)
    if missing:
        reasons = html.Ul([html.Li(f"{', '.join(names)}: {because}.") for because, names in missing.items()])
        words = f"{sum(map(len, missing.values()))} not measurable in this flight, and why"
        parts.append(fold(words, reasons, name="flight-not-measurable"))
    return parts


def _measured(review: FlightReview, names: list[str], caption: str) -> html.Div:
    rows = [
        (explained(measure_label(one), name), value_words(one), interval_words(one), one.note or "")
        for name, one in ((name, review.measures[name]) for name in names)
    ]
    return table(("Measure", "Value", "95 % interval", "Note"), rows, caption)


def _after_a_jump_start(review: FlightReview) -> html.Details:
    """How much charge is back at the least; open where the flight shows signs of such a start."""
    back = charge_back(review.flight, review.measures)
    how = html.P(explained("How it is worked out", "charge_back"), className="note")
    told = [*(html.P(one) for one in jump_sentences(back)), how]
    return fold("After a jump start", *told, name="flight-jump", opened=bool(back.signs), printed=AS_SEEN)


def _recording(kept: KeptFlight) -> list[Any]:
    flight = kept.review.flight
    parts: list[Any] = [
        facts(
            (
                ("Log", PurePath(kept.source).name),
                ("System", f"{system_words(flight.nominal_voltage)}: {flight.nominal_basis}"),
                ("Ammeter", ammeter_words(flight.ammeter.kind)),
                ("Why", flight.ammeter.basis),
                ("Rows", f"{flight.rows:,}, one every {flight.trace.step_s:g} s"),
            )
        )
    ]
    if writes_here():
        href = f"/logs?tail={kept.tail}" if kept.tail else "/logs"
        parts.append(html.P(dcc.Link("Wrong aircraft? Move this log.", href=href), className="note no-print"))
    if kept.warnings:
        parts.append(html.H3("Notes on this log"))
        parts.append(html.Ul([html.Li(plainly(warning)) for warning in kept.warnings]))
    return parts


@callback(
    Output("flight-detail", "data"),
    Input("flight-window", "data"),
    State("flight-id", "data"),
    prevent_initial_call=True,
)
def more_detail(window: Window | None, flight_id: str) -> dict[str, Any] | Any:
    """Send the window's own readings after a zoom, so that nothing that is there stays hidden.

    The story's numbers are told apart by the width at which the window is drawn. ``of`` names the flight, so that the
    browser can leave out what comes after another flight was opened.
    """
    kept = kept_here().flight(flight_id)
    if kept is None or not window:
        return dash.no_update
    flight = kept.review.flight
    when = TimeAxis(flight.clock_start)
    if not all(map(when.has, window.get("range", ()))):
        return dash.no_update
    first, last = (when.seconds(end) for end in window["range"]) if "range" in window else (flight.from_s, flight.to_s)
    numbers = moments(story(kept.review), when, first, last, max(float(window.get("width") or USUAL_WIDTH), 1.0))
    return {
        "of": [flight_id],
        "points": [*points_between(flight, first, last), numbers],
        "layout": {name: {"range": values} for name, values in axes_between(flight, first, last).items()},
    }


@callback(
    Output("flow-shown", "children"),
    Output("flow-step", "data"),
    Output("flow-at", "data"),
    Input("flow-back", "n_clicks"),
    Input("flow-on", "n_clicks"),
    Input("flight-chart", "clickData"),
    State("flow-step", "data"),
    State("flight-id", "data"),
    prevent_initial_call=True,
)
def step_through(
    _back: int, _on: int, clicked: Click | None, step: int, flight_id: str
) -> tuple[list[Any] | Any, int | Any, float | Any | None]:
    """Draw the step before or after, or the moment that was clicked in the chart."""
    kept = kept_here().flight(flight_id)
    if kept is None:
        return dash.no_update, dash.no_update, dash.no_update
    review = kept.review
    if dash.ctx.triggered_id == "flight-chart":
        points, when = clicked["points"] if clicked else None, TimeAxis(review.flight.clock_start)
        if not points or not when.has(points[0]["x"]):
            return dash.no_update, dash.no_update, dash.no_update
        at = when.seconds(points[0]["x"])
        return [html.P(html.Strong(when.words(at)), className="flow-step"), *_moment(review, at)], step, at
    told = story(review)
    step = max(1, min(len(told), step + (1 if dash.ctx.triggered_id == "flow-on" else -1)))
    return _step(review, told, step), step, told[step - 1].settled_s(review.flight.trace.step_s) if told else None


clientside_callback(
    ClientsideFunction("taper", "layIn"),
    Output("flight-chart", "figure"),
    Input("flight-detail", "data"),
    State("flight-chart", "figure"),
    State("flight-id", "data"),
    prevent_initial_call=True,
)
clientside_callback(
    ClientsideFunction("taper", "keepWindow"),
    Output("flight-window", "data"),
    Input("flight-chart", "relayoutData"),
    prevent_initial_call=True,
)
clientside_callback(
    ClientsideFunction("taper", "showStretch"),
    Output("flight-shown", "children"),
    Input({"type": "flight-show", "of": ALL, "place": ALL, "first": ALL, "last": ALL}, "n_clicks"),
    Input("flight-whole", "n_clicks"),
    prevent_initial_call=True,
)
