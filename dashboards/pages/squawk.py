"""Page /squawk: a pilot's report confirmed or refuted from the recordings. Layout and wiring only."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypedDict
from urllib.parse import urlencode

import dash
import dash_mantine_components as dmc
from dash import ClientsideFunction, Input, Output, State, callback, clientside_callback, dcc, html

from analyzer.phrases import counted
from analyzer.squawk.known import load_symptoms
from analyzer.squawk.report import TOO_LONG, ReportError
from analyzer.squawk.suggesting import suggest
from analyzer.squawk.understanding import LONGEST_REPORT, understand
from dashboards.app import kept_here, searches_here
from dashboards.asking import once_answered
from dashboards.attributes import aria
from dashboards.error_notices import in_words
from dashboards.parts import NOT_PRINTED, nothing_here, page, section, sheet_links, table
from dashboards.searching import Asked
from dashboards.squawk_parts import result

#: How often the page asks whether looking through has come further [ms], and how long it waits at first [s].
ASKING_MS, PATIENCE_S = 500, 0.4


@in_words
def layout(**query: str) -> html.Div:
    """The form, and what came of the report that the address asks for."""
    names = kept_here().names()
    if not names:
        link = dcc.Link("import logs", href="/bring-in")
        return page(
            "squawk", "Squawk", nothing_here("A report is looked up in imported flights; first ", link), results=False
        )
    asked = Asked.of(query)
    found, finished = _found(asked, names)
    results = bool(asked.words) or asked.symptoms is not None
    return page(
        "squawk",
        "Squawk",
        section("The report", *_form(asked, names), name="squawk-report"),
        dcc.Store(id="squawk-asked", data=query),
        dcc.Interval(id="squawk-clock", interval=ASKING_MS, disabled=finished),
        html.Div(found, id="squawk-result", className="page", role="status"),
        lead="A pilot's report confirmed or refuted: when, how often, under what conditions, what to measure first.",
        results=results,
    )


dash.register_page(__name__, path="/squawk", title="taper: squawk", layout=layout)


def _form(asked: Asked, names: list[str]) -> list[Any]:
    symptoms = [{"value": name, "label": one.title} for name, one in load_symptoms().items()]
    picked = asked.symptoms or [match.symptom for match in understand(asked.words).matches]
    known = [name for name in picked if name in load_symptoms()]
    unsaid = None if asked.tail else names[0]  # never another aircraft in the place of one that is not kept
    return [
        html.Div(
            [
                dmc.Select(
                    id="squawk-tail", label="Aircraft", data=names, searchable=True, allowDeselect=False,
                    value=asked.tail if asked.tail in names else unsaid, w=160,
                ),
                dmc.TextInput(
                    id="squawk-words", label="The report in words", value=asked.words,
                    placeholder="ALT light flickered in the pattern", style={"flex": 1, "minWidth": "16rem"},
                ),
                dmc.DateInput(
                    id="squawk-since", label="Flights since", value=asked.since and f"{asked.since:%Y-%m-%d}",
                    valueFormat="YYYY-MM-DD", placeholder="the last 90 days flown", clearable=True, w=210,
                    clearButtonProps={"aria-label": "Clear the date"},
                ),
            ],
            className="tools",
        ),
        html.Div(understood(asked.words), id="squawk-understood", role="status"),
        dcc.Store(id="squawk-typed"),
        dcc.Store(id="squawk-meant", data=[match.symptom for match in understand(asked.words).matches]),
        html.Div(
            [
                dmc.MultiSelect(
                    id="squawk-symptoms", label="Symptoms looked for", value=known, data=symptoms, searchable=True,
                    description="as the words were understood; remove what is wrong, add what is missing",
                    style={"flex": 1},
                ),
                dmc.Button("Search the recordings", id="squawk-look", n_clicks=0),
            ],
            className="tools",
        ),
        _ways_to_say_it(),
    ]  # fmt: skip


def understood(words: str) -> list[Any]:
    """Which words told of which symptom, which were denied, which were not understood."""
    if len(words) > LONGEST_REPORT:
        return [html.P(TOO_LONG)]
    meant = understand(words)
    lines = [
        html.Li(
            [html.Strong(load_symptoms()[match.symptom].title), ": ", ", ".join(f"“{one}”" for one in match.matched)]
        )
        for match in meant.matches
    ]
    if meant.denied:
        lines.append(html.Li(["Taken as no complaint: ", ", ".join(f"“{one}”" for one in meant.denied)]))
    if meant.not_understood:
        lines.append(html.Li(["Not understood: ", ", ".join(f"“{one}”" for one in meant.not_understood)]))
    if words.strip() and not meant.matches:
        lines.append(html.Li("These words match no symptom; pick one below."))
    return [html.Ul(lines, className="understood")] if lines else []


def _ways_to_say_it() -> html.Details:
    rows = [(one.title, "; ".join(one.said)) for one in load_symptoms().values()]
    return html.Details(
        [
            html.Summary("Ways to say it"),
            html.P("A few of many; abbreviations and slips of the pen are understood.", className="note"),
            table(("Symptom", "As pilots write it"), rows, "Ways to say each symptom", "free"),
        ],
        className=NOT_PRINTED,
    )


def _found(asked: Asked, names: list[str]) -> tuple[list[Any], bool]:
    """What there is to show of what was asked for, and whether that is all."""
    if not asked.words and asked.symptoms is None:
        return [], True
    if asked.tail not in names:
        says = f"No flight of {asked.tail} is kept." if asked.tail else "Choose the aircraft."
        return [nothing_here(says)], True
    if len(asked.words) > LONGEST_REPORT:
        return [nothing_here(TOO_LONG)], True
    try:
        asked.report()
    except ReportError as problem:
        return [_did_you_mean(asked, problem.unknown)], True
    search = searches_here().ask(asked)
    search.over.wait(PATIENCE_S)
    if search.because is not None:
        return [nothing_here(search.because)], True
    if search.result is None:
        return [_progress(search.done, search.total)], False
    if not search.result.flights:
        return [nothing_here("This aircraft has no flight since that day.")], True
    return [sheet_links("squawk", f"?{_query(asked)}"), *result(search)], True


def _did_you_mean(asked: Asked, unknown: str | None) -> html.Div:
    """That no symptom was named, and what words of which nothing was understood may mean; a person chooses."""
    choices = suggest(unknown) if unknown and asked.symptoms is None else ()
    if not choices:
        return nothing_here("These words match no symptom. Pick one from the list above.")
    links = [
        html.Li(dcc.Link(load_symptoms()[name].title, href=f"?{_query(replace(asked, symptoms=(name,)))}"))
        for name in choices
    ]
    none = html.Li("None of these: pick one from the list above, or use other words.")
    return html.Div(
        [html.P("These words match no symptom. Did you mean:"), html.Ul([*links, none])],
        className="nothing-here", id="squawk-choices",
    )  # fmt: skip


def _progress(done: int, total: int) -> html.Div:
    says = f"{done} of {counted(total, 'log')} searched" if total else "Waiting for its turn"
    bar = html.Progress(value=str(done), max=str(max(total, 1)), **aria(label="Logs searched"))
    return html.Div([html.P(f"{says} …"), bar], className="nothing-here")


def _query(asked: Asked) -> str:
    given = {
        "tail": asked.tail,
        "words": asked.words,
        "symptom": ",".join(asked.symptoms or ()),
        "since": f"{asked.since:%Y-%m-%d}" if asked.since else "",
        "until": f"{asked.until:%Y-%m-%d}" if asked.until else "",
    }
    return urlencode({name: value for name, value in given.items() if value})


@callback(
    Output("squawk-understood", "children"),
    Output("squawk-symptoms", "value"),
    Output("squawk-meant", "data"),
    Input("squawk-words", "value"),
    prevent_initial_call=True,
)
def understand_words(words: str | None) -> tuple[Any, list[str], list[str]]:
    """Say how the words are understood, and set the symptoms so."""
    meant = [match.symptom for match in understand(words or "").matches]
    return understood(words or ""), meant, meant


clientside_callback(
    ClientsideFunction("taper", "typedWords"),
    Output("squawk-typed", "data"),
    Input("squawk-look", "n_clicks"),
    Input("squawk-words", "n_submit"),
    prevent_initial_call=True,
)


class Typed(TypedDict):
    """The words of a report as their field has them."""

    words: str


@callback(
    Output("_pages_location", "search", allow_duplicate=True),
    Input("squawk-typed", "data"),
    State("squawk-tail", "value"),
    State("squawk-symptoms", "value"),
    State("squawk-meant", "data"),
    State("squawk-since", "value"),
    prevent_initial_call=True,
)
def look(
    typed: Typed | None,
    tail: str | None,
    picked: list[str] | None,
    meant: list[str] | None,
    since: str | None,
) -> Any:
    """Ask for the report, by the button or by Enter; the address then holds it, so that it can be shared.

    The words come from the field itself, since what the page holds of them follows some letters later. Symptoms that
    nobody changed by hand are what the words mean now.
    """
    if typed is None:
        return dash.no_update
    words = typed["words"]
    symptoms = picked or []
    if symptoms == (meant or []):
        symptoms = [match.symptom for match in understand(words).matches]
    query = {"tail": tail or "", "words": words, "symptom": ",".join(symptoms), "since": (since or "")[:10]}
    return f"?{_query(Asked.of(query))}"


@callback(
    Output("squawk-result", "children"),
    Output("squawk-clock", "disabled"),
    Input("squawk-clock", "n_intervals"),
    State("squawk-asked", "data"),
    running=once_answered("squawk-clock", ASKING_MS),
    prevent_initial_call=True,
)
def come_further(_ticks: int, query: dict[str, str]) -> tuple[Any, bool]:
    """How far looking through has come, or what came of it."""
    return _found(Asked.of(query), kept_here().names())
