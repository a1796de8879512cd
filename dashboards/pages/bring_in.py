"""Page /bring-in: bring logs in, see how each was understood, correct it, keep it. Layout and wiring only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import PurePath
from typing import Any

import dash
import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Input, Output, State, callback, clientside_callback, dcc, html

from analyzer.aircraft import TailError, tail_name
from analyzer.contract_columns import RefusedLogEntry, UnderstoodEntry
from analyzer.findings.finding import Severity
from analyzer.logs import ROLE_UNITS
from analyzer.logs.bounds import MAX_UPLOAD_BYTES
from analyzer.phrases import counted
from analyzer.records.adding import Added
from analyzer.records.copies import FlightOfLog
from analyzer.records.problems import RecordsError
from analyzer.reports.plainly import plainly
from dashboards.app import imports_here, kept_here, staging_here
from dashboards.asking import once_answered
from dashboards.attributes import aria
from dashboards.error_notices import in_words
from dashboards.figures.preview_chart import preview_chart
from dashboards.flight_words import day_words, finding_label
from dashboards.importing import Import, import_words
from dashboards.parts import GRAPH_CONFIG, badge, cautions, facts, nothing_here, page, section, table
from dashboards.signing_in import person_here, writes_here
from dashboards.staging import SeenFlight, Staged

NOT_READ = "still being read"
#: Which logs corrections by hand hold for: value, words.
REACHES = (("log", "this log only"), ("aircraft", "all logs of this aircraft, those to come too"))
#: What a column of the clock may be called.
CLOCK_LABELS = {
    "clock_date": "clock: the date",
    "clock_time": "clock: the time, or date and time",
    "clock_elapsed": "clock: time since the start",
}
#: Lines of the list that are shown; of more, the refused ones come first.
LISTED = 200
#: Flights of one log that are named in the list, and of one import that are linked to; the rest are counted.
FLIGHTS_NAMED, FLIGHTS_LINKED = 3, 40
#: How often the page asks whether reading has come further [ms].
ASKING_MS = 600
#: Refused logs of the watched folder that are listed.
REFUSED_SHOWN = 10
LIMIT_WORDS = (
    f"Up to {MAX_UPLOAD_BYTES / 1e6:,.0f} MB each. They go to the machine that serves this page, nowhere else."
)
ONLY_EDITORS = "You may look at everything here but not import: that takes the editor role. Ask a manager."


@in_words
def layout(**_query: str) -> html.Div:
    """The page, with nothing brought in yet; to who may bring nothing in it says so."""
    if not writes_here():
        return page("bring-in", "Import logs", nothing_here(ONLY_EDITORS), results=False)
    return page(
        "bring-in",
        "Import logs",
        dcc.Store(id="bring-keys", storage_type="session"),
        dcc.Store(id="bring-chosen"),
        dcc.Store(id="bring-reread", data=0),
        dcc.Store(id="bring-named"),
        dcc.Store(id="bring-reached"),
        dcc.Store(id="bring-import", storage_type="session"),
        dcc.Interval(id="bring-clock", interval=ASKING_MS, disabled=True),
        dcc.Interval(id="bring-import-clock", interval=ASKING_MS),
        section(
            "Choose files",
            html.Div(
                [
                    html.P("Drop CSV files or a zip archive here, or"),
                    html.Button("Choose files", id="bring-choose", className="button", type="button"),
                    html.P(LIMIT_WORDS, className="note"),
                ],
                id="bring-drop",
                className="drop",
            ),
            html.Ul(id="bring-progress", className="progress", **aria(label="Files on their way")),
            name="bring-choosing",
        ),
        html.Div(id="bring-list", role="status"),
        # Not a part of the list: a button drawn anew while its click is answered would take the answer with it.
        html.Div([dmc.Button(id="bring-keep", n_clicks=0, mt="md"), cautions()], id="bring-ready", hidden=True),
        html.Div(id="bring-detail"),
        html.Div(id="bring-result", role="status"),
        *_watched(),
        html.P(dcc.Link("Logs imported so far, and moving them to another aircraft", href="/logs"), className="note"),
        lead="See how each log was read. Nothing is saved until you import it.",
        results=False,
    )


def _watched() -> list[html.Section]:
    """The watched folder: its last look, what of it was kept last, and what was refused; nothing where none is."""
    status = kept_here().watched()
    if status is None:
        return []
    goes_on = status.goes_on(datetime.now(UTC))
    last = status.last_kept
    kept = "none so far" if last is None else f"{PurePath(last[0]).name}, {_utc(last[1])}"
    look = _utc(status.looked_at.isoformat()) + ("" if goes_on else "; it is not being watched now")
    rows = [(PurePath(one.source).name, _utc(one.at), plainly(one.because)) for one in status.refused[-REFUSED_SHOWN:]]
    return [
        section(
            "Watched folder",
            facts([("Folder", ", ".join(status.paths)), ("Last look", look), ("Last imported", kept)]),
            table(("Refused", "When", "Why"), rows[::-1], "Logs refused, the latest first", "free")
            if rows
            else html.P("No log of it was refused."),
            name="bring-watched",
        )
    ]


def _utc(moment: str) -> str:
    """A moment as it is written, ISO 8601, in short."""
    return f"{moment[:10]} {moment[11:16]} UTC"


dash.register_page(__name__, path="/bring-in", title="taper: import logs", layout=layout)


@callback(
    Output("bring-list", "children"),
    Output("bring-clock", "disabled"),
    Output("bring-ready", "hidden"),
    Output("bring-keep", "children"),
    Output("bring-keep", "disabled"),
    Input("bring-keys", "data"),
    Input("bring-clock", "n_intervals"),
    Input("bring-reread", "data"),
    Input("bring-named", "data"),
    running=once_answered("bring-clock", ASKING_MS),
)
def list_staged(keys: list[str] | None, _ticks: int, _reread: int, _named: str | None) -> tuple[Any, ...]:
    """How each log was understood, whether there is more to wait for, and what can be imported."""
    staged = staging_here().these(keys or [])
    if not staged:
        return [], True, True, "", True
    waiting = sum(one.entry is None for one in staged)
    refused = sum(one.refused for one in staged)
    before = _before(staged)
    new = sum(not one.refused and not before[one.key].same for one in staged)
    counts = f"{counted(len(staged), 'log')}: {len(staged) - waiting - refused} read, {refused} refused"
    counts += f", {waiting} {NOT_READ}" if waiting else ""
    shown = sorted(staged, key=lambda one: not one.refused)[:LISTED]
    more = (
        [html.P(f"Of {len(staged)} logs the first {LISTED} are listed, refused ones first.")]
        if len(staged) > LISTED
        else []
    )
    skipped = len(staged) - waiting - refused - new
    if not waiting and skipped:
        counts += f". {counted(skipped, 'copy', 'copies')} of what is already here will be skipped"
    parts = [
        html.P(counts + ".", className="counts"),
        html.Progress(value=str(len(staged) - waiting), max=str(len(staged)), **aria(label="Logs read")),
        *([] if waiting else _whose(staged)),
        table(
            ("Log", "State", "Aircraft", "Flights", "Rows", "What it shows", "Change"),
            [_line(one, before[one.key]) for one in shown],
            "Logs to import",
            "free",
        ),
        *more,
    ]  # fmt: skip
    listed = section("How each was read", *parts, name="bring-understood")
    return listed, not waiting, False, f"Import {counted(new, 'log')}", waiting > 0 or new == 0


@dataclass(frozen=True, slots=True)
class _Before:
    """What of a log that was brought in is here already."""

    says: str = ""
    flights: Sequence[FlightOfLog] = ()
    same: bool = False  # whether its very bytes are, so that it is skipped


def _before(staged: Sequence[Staged]) -> dict[str, _Before]:
    """What of each log is imported already, or stands further up in the list."""
    here = kept_here().here_already(staged)
    told: dict[str, _Before] = {}
    first: dict[str, str] = {}
    for one in staged:
        told[one.key] = _Before()
        if not one.digest:
            continue
        if here[one.key].same and not one.mapped:
            told[one.key] = _Before("already imported", here[one.key].flights, same=True)
        elif one.digest in first:
            told[one.key] = _Before(f"same file as {first[one.digest]}", same=True)
        elif not here[one.key].same and (flown := here[one.key].flights):
            sources = ", ".join(dict.fromkeys(PurePath(flight.source).name for flight in flown))
            told[one.key] = _Before(f"same flight as in {sources}; it counts once", flown)
        first.setdefault(one.digest, one.name)
    return told


def _line(one: Staged, before: _Before) -> tuple[Any, ...]:
    entry = one.entry
    if entry is None:
        return one.name, NOT_READ, "", "", "", "", _remove_button(one)
    buttons = html.Div([_look_button(one), _remove_button(one)], className="row-buttons")
    if isinstance(entry, RefusedLogEntry):
        return one.name, html.Strong("refused"), "", "", "", plainly(entry.because), buttons
    state: list[Any] = [before.says or ("corrected" if one.mapped else "new")]
    for flight in before.flights[:FLIGHTS_NAMED]:
        state += [html.Br(), dcc.Link(_flight_link_words(flight), href=f"/flight/{flight.id}")]
    if one.days and one.begins is None:
        state += [html.Br(), html.Strong("day or month first? See Details")]
    return (
        one.name,
        html.Span(state),
        one.tail or html.Strong("no tail number"),
        _flights_of(one, entry),
        f"{entry.rows:,}",
        _shows(one),
        buttons,
    )


def _flights_of(one: Staged, entry: UnderstoodEntry) -> html.Span:
    """When each flight of a log was, by its clock; of a log without one when it begins."""
    if not one.flights:
        return html.Span((entry.clock.start or "no flight, no clock").replace("T", " ")[:16])
    named: list[Any] = []
    for flight in one.flights[:FLIGHTS_NAMED]:
        named += [html.Br(), flight.when] if named else [flight.when]
    if len(one.flights) > FLIGHTS_NAMED:
        named += [html.Br(), f"and {len(one.flights) - FLIGHTS_NAMED} more"]
    return html.Span(named)


def _flight_link_words(flight: FlightOfLog) -> str:
    when = f"{day_words(flight.start)}, {flight.start:%H:%M}" if flight.start else "flight without a clock"
    return f"{flight.tail or 'no tail number'}, {when}"


def _whose(staged: Sequence[Staged]) -> list[Any]:
    """A field that gives every log without a tail number one; nothing where each has one."""
    bare = sum(one.tail is None and not one.refused for one in staged)
    if not bare:
        return []
    says = "1 log has no tail number" if bare == 1 else f"{bare} logs have no tail number"
    return [
        html.Div(
            [
                dmc.TextInput(id="bring-whose", label=f"{says}. Whose?", placeholder="tail number", w=260),
                dmc.Button("Use this tail number", id="bring-give", n_clicks=0, variant="outline"),
                html.Span(id="bring-given", role="status"),
            ],
            className="tools",
        )
    ]


@callback(
    Output("bring-named", "data", allow_duplicate=True),
    Output("bring-given", "children"),
    Input("bring-give", "n_clicks"),
    State("bring-whose", "value"),
    State("bring-keys", "data"),
    prevent_initial_call=True,
)
def give_tail(clicks: int, tail: str | None, keys: list[str] | None) -> tuple[Any, Any]:
    """Give every log that names no aircraft the one that a person says."""
    if not clicks:
        return dash.no_update, dash.no_update
    try:
        name = tail_name(tail or "")
    except TailError as problem:
        return dash.no_update, plainly(problem)
    staging = staging_here()
    bare = [one.key for one in staging.these(keys or []) if one.tail is None and not one.refused]
    for key in bare:
        staging.name_tail(key, name)
    return f"{name} {len(bare)}", ""


def _remove_button(one: Staged) -> html.Button:
    return html.Button(
        "Remove", id={"type": "bring-remove", "key": one.key}, className="show", n_clicks=0,
        **aria(label=f"Remove {one.name} from the list"),
    )  # fmt: skip


@callback(
    Output("bring-keys", "data", allow_duplicate=True),
    Output("bring-chosen", "data", allow_duplicate=True),
    Input({"type": "bring-remove", "key": ALL}, "n_clicks"),
    State("bring-keys", "data"),
    State("bring-chosen", "data"),
    prevent_initial_call=True,
)
def remove(clicks: list[int], keys: list[str] | None, chosen: str | None) -> tuple[Any, Any]:
    """Take one log out of the list; nothing of it is imported."""
    if not any(clicks) or not dash.ctx.triggered[0]["value"]:
        return dash.no_update, dash.no_update
    gone = dash.ctx.triggered_id["key"]
    staging_here().remove(gone)
    return [key for key in keys or [] if key != gone], None if chosen == gone else dash.no_update


def _look_button(one: Staged) -> html.Button:
    return html.Button(
        "Details", id={"type": "bring-look", "key": one.key}, className="show", n_clicks=0,
        **aria(label=f"Details of {one.name}"),
    )  # fmt: skip


def _shows(one: Staged) -> Any:
    """What the review of the log finds."""
    if not one.flights:
        return "no engine run"
    found = [finding for flight in one.flights for finding in flight.findings]
    count = counted(len(one.flights), "flight")
    if not found:
        return [count, " ", badge("good")]
    name, severity = max(found, key=lambda finding: Severity(finding[1]).rank)
    return [count, ": ", badge(severity), " ", finding_label(name)]


@callback(
    Output("bring-chosen", "data"),
    Input({"type": "bring-look", "key": ALL}, "n_clicks"),
    prevent_initial_call=True,
)
def choose(clicks: list[int]) -> Any:
    """Remember which log is looked at."""
    return dash.ctx.triggered_id["key"] if any(clicks) and dash.ctx.triggered[0]["value"] else dash.no_update


@callback(Output("bring-detail", "children"), Input("bring-chosen", "data"), Input("bring-reread", "data"))
def detail(key: str | None, _reread: int) -> Any:
    """One log: clock, columns with reasons, a form to correct them, the readings as they are understood."""
    found = staging_here().these([key] if key else [])
    if not found or found[0].entry is None:
        return None
    one, entry = found[0], found[0].entry
    if isinstance(entry, RefusedLogEntry):
        return section(f"Details: {one.name}", html.P(["Refused: ", plainly(entry.because)]), *_correction(one),
                       name="bring-closer")  # fmt: skip
    flights = [html.Li(f"{flight.when}: {_flight_words(flight)}") for flight in one.flights]
    return section(
        f"Details: {one.name}",
        _understood(entry),
        html.H3("Columns"),
        table(("Role", "Column", "Unit", "Sure", "Why"), _columns(entry), "Columns used", "free"),
        html.P("Not used: " + ", ".join(entry.unused) + ".", className="note") if entry.unused else None,
        *_day_or_month(one),
        *_correction(one),
        html.H3("As read now"),
        html.Ul(flights) if flights else html.P("No engine run, so no flight."),
        dcc.Graph(id="bring-preview", figure=preview_chart(one.preview), config=GRAPH_CONFIG) if one.preview else None,
        *(
            [html.H3("Notes"), html.Ul([html.Li(plainly(warning)) for warning in entry.warnings])]
            if entry.warnings
            else []
        ),
        name="bring-closer",
    )


def _understood(entry: UnderstoodEntry) -> html.Dl:
    """How a log was read, in short facts."""
    clock = entry.clock
    zone = f"{clock.utc_offset} from UTC" if clock.utc_offset else "its zone is not told, so as it reads"
    return facts(
        (
            ("Aircraft", f"{entry.tail}, from the {entry.tail_from}" if entry.tail else "not named in the log"),
            ("Rows", f"{entry.rows:,} read, {entry.rows_dropped} left out"),
            ("Text", f"{entry.encoding}, decimal mark {entry.decimal_mark}, header in row {entry.header_row}"),
            ("Clock", f"{clock.basis}; a row every {clock.step_s:g} s; {zone}"),
        )
    )


def _columns(entry: UnderstoodEntry) -> list[tuple[str, ...]]:
    """Each column that is used: its role, name, unit, how sure that is, and why."""
    return [
        (
            column.role.replace("_", " "),
            column.name,
            column.unit + (f", from {column.converted_from}" if column.converted_from else ""),
            f"{column.confidence:.0%}",
            plainly(column.why),
        )
        for column in entry.columns
    ]


def _day_or_month(one: Staged) -> list[Any]:
    """Where nothing in a log tells whether the day or the month comes first: the two days, to pick one."""
    if not one.days:
        return []
    return [
        html.H3("On which day does it begin?"),
        html.P(
            "The log's date is all numbers and does not show which is the month. "
            "The day that you pick is put before the log's name."
        ),
        dmc.Group(
            [
                dmc.Button(
                    day_words(day),
                    id={"type": "bring-day", "day": day.isoformat()},
                    n_clicks=0,
                    variant="filled" if day == one.begins else "outline",
                    **aria(pressed=str(day == one.begins).lower()),
                )
                for day in one.days
            ]
        ),
    ]


def _flight_words(flight: SeenFlight) -> str:
    if not flight.findings:
        return "nothing found"
    return ", ".join(f"{finding_label(name)} ({severity})" for name, severity in flight.findings)


def _headers(entry: UnderstoodEntry) -> list[str]:
    """Every header of a log, those of its clock too."""
    return [*(column.name for column in entry.columns), *entry.clock.columns, *entry.unused]


def _correction(one: Staged) -> list[Any]:
    """A form that says whose log it is and which column plays which role."""
    entry = one.entry
    names = _headers(entry) if isinstance(entry, UnderstoodEntry) else []
    roles = [{"value": role, "label": f"{role.replace('_', ' ')}, {unit}"} for role, unit in ROLE_UNITS.items()]
    roles += [{"value": role, "label": label} for role, label in CLOCK_LABELS.items()]
    headers: Any = (
        dmc.Select(id="bring-header", label="is the column", data=list(dict.fromkeys(names)), searchable=True, w=260)
        if names
        else dmc.TextInput(id="bring-header", label="is the column headed", w=260)
    )
    fixed = ", ".join(f"{role.replace('_', ' ')} is {name!r}" for role, name in one.mapped.items())
    return [
        html.H3("Correct it"),
        html.P(f"Corrected: {fixed}.") if fixed else None,
        dmc.RadioGroup(
            id="bring-reach",
            label="Corrections apply to",
            value="aircraft" if one.for_tail else "log",
            children=dmc.Group([dmc.Radio(label=words, value=value) for value, words in REACHES]),
            display="block" if fixed else "none",
        ),
        html.Div(
            [
                dmc.Select(id="bring-role", label="The", data=roles, value="bus_voltage", allowDeselect=False, w=230),
                headers,
                dmc.Button("Re-read file", id="bring-correct", n_clicks=0, variant="outline"),
                dmc.Button("Undo corrections", id="bring-back", n_clicks=0, variant="subtle", disabled=not fixed),
            ],
            className="tools",
        ),
        dmc.TextInput(
            id="bring-tail",
            label="Tail number",
            description="change it if wrong",
            value=one.tail or "",
            w=230,
            debounce=300,
        ),
    ]


@callback(
    Output("bring-reread", "data"),
    Input("bring-correct", "n_clicks"),
    Input("bring-back", "n_clicks"),
    State("bring-chosen", "data"),
    State("bring-role", "value"),
    State("bring-header", "value"),
    State("bring-reread", "data"),
    prevent_initial_call=True,
)
def correct(_correct: int, _back: int, key: str | None, role: str, header: str | None, count: int) -> Any:
    """Read the chosen log again with a role given by hand, or without any."""
    found = staging_here().these([key] if key else [])
    if not found or not dash.ctx.triggered[0]["value"] or (dash.ctx.triggered_id == "bring-correct" and not header):
        return dash.no_update
    mapped = {**found[0].mapped, role: header} if dash.ctx.triggered_id == "bring-correct" else {}
    staging_here().correct(found[0].key, {name: str(column) for name, column in mapped.items()})
    return count + 1


@callback(
    Output("bring-reread", "data", allow_duplicate=True),
    Input({"type": "bring-day", "day": ALL}, "n_clicks"),
    State("bring-chosen", "data"),
    State("bring-reread", "data"),
    prevent_initial_call=True,
)
def pick_day(clicks: list[int], key: str | None, count: int) -> Any:
    """Read the chosen log again from the day on which a person says that it begins."""
    if not any(clicks) or not isinstance(dash.ctx.triggered_id, dict):
        return dash.no_update
    day = str(dash.ctx.triggered_id["day"])
    found = staging_here().these([key] if key else [])
    if not found or day not in {one.isoformat() for one in found[0].days} or str(found[0].begins) == day:
        return dash.no_update
    staging_here().pick_day(found[0].key, date.fromisoformat(day))
    return count + 1


@callback(
    Output("bring-reached", "data"),
    Input("bring-reach", "value"),
    State("bring-chosen", "data"),
    prevent_initial_call=True,
)
def reach(value: str, key: str | None) -> str:
    """Remember which logs the corrections hold for."""
    if key:
        staging_here().reach(key, value == "aircraft")
    return value


@callback(
    Output("bring-named", "data"),
    Input("bring-tail", "value"),
    State("bring-chosen", "data"),
    prevent_initial_call=True,
)
def name_tail(tail: str | None, key: str | None) -> str:
    """Remember whose log a person says it is."""
    if key:
        staging_here().name_tail(key, tail or "")
    return tail or ""


@callback(
    Output("bring-import", "data"),
    Output("bring-result", "children"),
    Output("bring-keys", "data"),
    Output("bring-chosen", "data", allow_duplicate=True),
    Output("bring-import-clock", "disabled"),
    Input("bring-keep", "n_clicks"),
    State("bring-keys", "data"),
    running=[(Output("bring-keep", "disabled"), True, False)],
    prevent_initial_call=True,
)
def keep(clicks: int, keys: list[str] | None) -> tuple[Any, ...]:
    """Begin to keep what was brought in."""
    if not clicks:
        return (dash.no_update,) * 5
    try:
        begun = imports_here().begin(kept_here(), keys or [], person_here().name)
    except RecordsError as problem:
        return dash.no_update, html.P(plainly(problem), className="said"), dash.no_update, dash.no_update, True
    found = imports_here().of(begun, person_here().name)
    left = [key for key in keys or [] if found and key not in found.keys]
    return begun, _keeping(found), left, None, False


@callback(
    Output("bring-result", "children", allow_duplicate=True),
    Output("bring-keys", "data", allow_duplicate=True),
    Output("bring-import-clock", "disabled", allow_duplicate=True),
    Input("bring-import-clock", "n_intervals"),
    State("bring-import", "data"),
    State("bring-keys", "data"),
    running=once_answered("bring-import-clock", ASKING_MS),
    prevent_initial_call=True,
)
def come_further(_ticks: int, key: str | None, keys: list[str] | None) -> tuple[Any, Any, Any]:
    """How far keeping has come, or what came of it."""
    found = imports_here().of(key, person_here().name)
    if found is None:  # an answer to a tick from before an import began must not stop the clock that it started
        return dash.no_update, dash.no_update, True if key else dash.no_update
    if found.because is not None:
        return html.P(found.because, className="said"), [*(keys or []), *found.keys], True
    if found.added is not None:
        kept = kept_here().flights_of_logs(found.digests)
        return _came_of_it(found.added, [one for flights in kept.values() for one in flights]), dash.no_update, True
    return _keeping(found), dash.no_update, False


def _keeping(found: Import | None) -> Any:
    """How far an import has come, in words and as a bar."""
    done, total = (found.begun, found.total) if found else (0, 0)
    return section(
        "Importing",
        html.P(f"{min(done, total)} of {counted(total, 'log')}. You may leave this page."),
        html.Progress(value=str(done), max=str(max(total, 1)), **aria(label="Logs imported")),
        name="bring-keeping",
    )


def _came_of_it(added: Added, flights: Sequence[FlightOfLog]) -> html.Section:
    """What came of an import: how much is new, the way to each of its flights, and what was refused."""
    links = [html.Li(dcc.Link(tail, href=f"/aircraft/{tail}")) for tail in sorted(added.tails)]
    flown = [html.Li(dcc.Link(_flight_link_words(one), href=f"/flight/{one.id}")) for one in flights[:FLIGHTS_LINKED]]
    if len(flights) > FLIGHTS_LINKED:
        flown.append(html.Li(f"and {len(flights) - FLIGHTS_LINKED} more, on their aircraft's pages"))
    return section(
        "Imported",
        *(html.P(sentence) for sentence in import_words(added)),
        *([html.H3("Aircraft"), html.Ul(links)] if links else []),
        *([html.H3("Flights"), html.Ul(flown)] if flown else []),
        html.P(
            [
                f"{counted(len(added.without_tail), 'log')} without a tail number: not counted in any trend. ",
                dcc.Link("Assign", href="/logs"),
            ]
        )
        if added.without_tail
        else None,
        html.Ul([html.Li(f"Refused: {name}: {plainly(because)}") for name, because in added.refused]),
        html.P(dcc.Link("See the fleet", href="/")),
        name="bring-kept",
    )


clientside_callback(
    ClientsideFunction("taper", "bringIntoView"),
    Output("bring-detail", "title"),
    Input("bring-chosen", "data"),
    prevent_initial_call=True,
)
