"""Page /entries: what was done to the aircraft, and what became of findings. Layout and wiring only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any, TypedDict

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, callback, dcc, html

from analyzer.records.changing import (
    KeptEntry,
    add_entries,
    delete_entry,
    edit_entry,
    entry_mark,
    kept_dispositions,
    kept_entries,
)
from analyzer.records.problems import RecordsError
from analyzer.reports.plainly import plainly
from analyzer.trends.entries import LEAST_CAPACITY, MOST_CAPACITY, EntriesError, Entry, kinds, make_entry
from dashboards.app import kept_here
from dashboards.attributes import aria
from dashboards.entry_cards import entry_anchor
from dashboards.error_notices import in_words
from dashboards.flight_words import finding_label
from dashboards.parts import nothing_here, page, section, table
from dashboards.signing_in import writes_here

#: What the form holds while it changes no entry that is kept.
NEW = "new"


class Editing(TypedDict):
    """The kept entry that the form changes, and the mark of what whoever opened it saw."""

    entry: int
    seen: str


@in_words
def layout(**query: str) -> html.Div:
    """Entries of all aircraft or of one, a form to add or change one, and dispositions."""
    kept = kept_here()
    if kept.empty:
        link = dcc.Link("import logs", href="/bring-in")
        return page("entries", "Maintenance log", nothing_here("No flights yet; first ", link), results=False)
    names, tail = kept.names(), query.get("tail", "").upper()
    chosen = tail if tail in names else None
    form = _form(names, chosen or names[0], _begun(query))
    return page(
        "entries",
        "Maintenance log",
        *([section("Log maintenance", *form, name="entries-form")] if writes_here() else []),
        section(
            "Maintenance done" + (f" to {chosen}" if chosen else ""),
            dcc.Store(id="entries-of", data=chosen),
            *([html.P(dcc.Link("All aircraft", href="/entries"))] if chosen else []),
            html.Div(listed(chosen), id="entries-list"),
            name="entries-done",
        ),
        html.P(dcc.Link("How repairs turned out in all aircraft", href="/peers")),
        html.P(dcc.Link("Who changed what, and when", href="/changes" + (f"?tail={chosen}" if chosen else ""))),
        section("Outcomes of findings", *_dispositions(chosen), name="entries-dispositions"),
        lead="Each entry restarts the trends that it can change, and flights before and after it are compared.",
    )


dash.register_page(__name__, path="/entries", title="taper: maintenance log", layout=layout)


@dataclass(frozen=True, slots=True)
class _Begun:
    """What the form holds before anybody types."""

    when: datetime
    kind: str
    says: str


def _begun(query: Mapping[str, str]) -> _Begun:
    """A new entry of today, or what an address asks about: it is only filled in, and what cannot be is left out."""
    noon, kind = datetime.combine(date.today(), time(12)), query.get("kind", "")
    try:
        when = datetime.fromisoformat(query.get("when", "")).replace(tzinfo=None)
    except ValueError:
        return _Begun(noon, "battery_replaced", "A new entry.")
    if kind not in kinds():
        return _Begun(noon, "battery_replaced", "A new entry.")
    return _Begun(when, kind, "A new entry, filled in as a guess: correct the day and what was done, then save.")


def _form(names: list[str], tail: str, begun: _Begun) -> list[Any]:
    what = [{"value": kind.name, "label": kind.words} for kind in kinds().values()]
    return [
        dcc.Store(id="entries-editing", data=NEW),
        html.P(begun.says, id="entries-mode", role="status"),
        html.Div(
            [
                dmc.Select(id="entries-tail", label="Aircraft", data=names, value=tail, searchable=True),
                dmc.DateInput(
                    id="entries-day", label="Day", value=begun.when.date().isoformat(), valueFormat="YYYY-MM-DD"
                ),
                dmc.TextInput(
                    id="entries-time",
                    label="Time",
                    description="by the logs' clock",
                    value=f"{begun.when:%H:%M}",
                    debounce=True,  # whole as the field is left: Save may be pressed right after the last letter
                ),
                dmc.Select(id="entries-kind", label="What was done", data=what, value=begun.kind, w=280),
                dmc.NumberInput(
                    id="entries-capacity",
                    label="Capacity found, %",
                    description="of rated, where it was tested",
                    min=LEAST_CAPACITY,
                    max=MOST_CAPACITY,
                    w=200,
                ),
                dmc.TextInput(id="entries-words", label="Notes", debounce=True, style={"flex": 1, "minWidth": "14rem"}),
                dmc.Button("Save", id="entries-keep", n_clicks=0),
            ],
            className="tools",
        ),
        html.P(id="entries-said", role="status", className="said"),
        html.Div(
            dmc.Button("Undo", id="entries-undo", n_clicks=0, variant="outline"), id="entries-undo-place", hidden=True
        ),
        dcc.Store(id="entries-undoing"),
    ]


def listed(tail: str | None) -> Any:
    """The table of entries, the latest first, each with buttons to change and remove it for who may."""
    found = kept_entries(kept_here().store(), tail)
    if not found:
        return html.P("None so far.")
    writes = writes_here()
    verdicts = kept_here().entry_verdicts({kept.entry.tail for kept in found})
    rows = [
        (
            f"{kept.entry.when:%Y-%m-%d %H:%M}",
            dcc.Link(kept.entry.tail, href=f"/aircraft/{kept.entry.tail}"),
            kinds()[kept.entry.kind].words,
            " ".join(filter(None, (kept.entry.words, _tested(kept.entry)))),
            _did_it_help(kept.entry, verdicts),
            *(
                [html.Div([_button("change", kept), _button("remove", kept)], className="row-buttons")]
                if writes
                else []
            ),
        )
        for kept in reversed(found)
    ]
    head = ("When", "Aircraft", "What", "Notes", "Did it help?", *(["Change"] if writes else []))
    return table(head, rows, "Maintenance entries, the latest first", "free")


def _tested(entry: Entry) -> str:
    return "" if entry.capacity is None else f"Capacity found: {entry.capacity:g} % of rated."


def _did_it_help(entry: Entry, verdicts: Mapping[tuple[str, datetime, str], str]) -> dcc.Link:
    """The verdict, and the way to what it rests on."""
    href = f"/aircraft/{entry.tail}#{entry_anchor(entry.when, entry.kind)}"
    return dcc.Link(verdicts.get((entry.tail, entry.when, entry.kind), "look"), href=href)


def _button(does: str, kept: KeptEntry) -> html.Button:
    entry = kept.entry
    says = f"{does.capitalize()} the entry of {entry.when:%Y-%m-%d} for {entry.tail}"
    return html.Button(
        does.capitalize(),
        id={"type": "entries-button", "does": does, "entry": kept.id, "seen": entry_mark(entry)},
        className="show",
        n_clicks=0,
        **aria(label=says),
    )


def _dispositions(tail: str | None) -> list[Any]:
    found = kept_dispositions(kept_here().store(), tail)
    if not found:
        return [html.P("No outcome recorded yet. Record one at the finding, on its aircraft's or flight's page.")]
    rows = [
        (one.made_at[:10], one.tail, finding_label(one.finding), one.at[:10], one.verdict, one.who, one.words)
        for one in reversed(found)
    ]
    head = ("Recorded", "Aircraft", "Finding", "Found", "Outcome", "Who", "Notes")
    return [table(head, rows, "Outcomes, the latest first", "free")]


@callback(
    Output("entries-list", "children"),
    Output("entries-said", "children"),
    Output("entries-editing", "data"),
    Output("entries-mode", "children"),
    Output("entries-undoing", "data"),
    Output("entries-undo-place", "hidden"),
    Output("entries-tail", "value"),
    Output("entries-day", "value"),
    Output("entries-time", "value"),
    Output("entries-kind", "value"),
    Output("entries-capacity", "value"),
    Output("entries-words", "value"),
    Input("entries-keep", "n_clicks"),
    Input("entries-undo", "n_clicks"),
    Input({"type": "entries-button", "does": ALL, "entry": ALL, "seen": ALL}, "n_clicks"),
    State("entries-of", "data"),
    State("entries-editing", "data"),
    State("entries-undoing", "data"),
    State("entries-tail", "value"),
    State("entries-day", "value"),
    State("entries-time", "value"),
    State("entries-kind", "value"),
    State("entries-capacity", "value"),
    State("entries-words", "value"),
    prevent_initial_call=True,
)
def work(
    _keep: int, _undo: int, _buttons: list[int], of: str | None, editing: Editing | str, undoing: dict[str, Any] | None,
    tail: str | None, day: str | None, time: str | None, kind: str | None, capacity: float | str | None,
    words: str | None,
) -> tuple[Any, ...]:  # fmt: skip
    """Keep, change, remove or bring back an entry."""
    stays = (dash.no_update,) * 6
    emptied = (*(dash.no_update,) * 4, "", dash.no_update)  # a capacity is never the next entry's too
    asked = dash.ctx.triggered_id
    if not dash.ctx.triggered[0]["value"]:
        return (dash.no_update,) * 12
    store = kept_here().store()
    try:
        if asked == "entries-keep":
            if not day:
                raise EntriesError("Choose the day on which it was done.")
            made = make_entry(tail or "", f"{day[:10]}T{time or '12:00'}", kind or "", words or "", capacity)
            if isinstance(editing, str):
                add_entries(store, [made])
                return listed(of), f"Saved for {made.tail}.", NEW, "A new entry.", None, True, *emptied
            before = edit_entry(store, editing["entry"], made, editing["seen"])
            now = {"entry": editing["entry"], "seen": entry_mark(made)}
            undo = {"does": "change", **now, "row": _row(before)}
            return listed(of), f"Changed for {made.tail}.", NEW, "A new entry.", undo, False, *emptied
        if asked == "entries-undo":
            return listed_after_undo(undoing or {}, of), "Undone.", NEW, "A new entry.", None, True, *emptied
        if asked["does"] == "remove":
            before = delete_entry(store, asked["entry"], asked["seen"])
            undo = {"does": "remove", "row": _row(before)}
            return listed(of), f"Removed from {before.tail}.", NEW, "A new entry.", undo, False, *stays
        entry = next((one.entry for one in kept_entries(store) if one.id == asked["entry"]), None)
        if entry is None:
            raise RecordsError("That entry is gone; reload the page.")
        mode = f"Changing the entry of {entry.when:%Y-%m-%d} for {entry.tail}."
        fields = (
            entry.tail,
            f"{entry.when:%Y-%m-%d}",
            f"{entry.when:%H:%M}",
            entry.kind,
            _field(entry.capacity),
            entry.words,
        )
        opened = {"entry": asked["entry"], "seen": entry_mark(entry)}
        return dash.no_update, "", opened, mode, None, True, *fields
    except (EntriesError, RecordsError) as problem:
        return dash.no_update, plainly(problem), editing, dash.no_update, undoing, dash.no_update, *stays


def _field(capacity: float | None) -> float | str:
    """A capacity as its field holds it: empty where none was tested."""
    return "" if capacity is None else capacity


def _row(entry: Entry) -> list[str]:
    return [entry.tail, entry.when.isoformat(), entry.kind, entry.words, str(_field(entry.capacity))]


def listed_after_undo(undoing: dict[str, Any], of: str | None) -> Any:
    """Bring back what was changed or removed; the table as it then is."""
    row = undoing.get("row")
    if not isinstance(row, list) or len(row) != 5 or not all(isinstance(one, str) for one in row):
        raise EntriesError("There is nothing to undo.")
    store, before = kept_here().store(), make_entry(*row)
    if undoing.get("does") == "change":
        edit_entry(store, undoing.get("entry", 0), before, str(undoing.get("seen")))
    else:
        add_entries(store, [before])
    return listed(of)
