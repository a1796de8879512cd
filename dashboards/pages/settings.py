"""Page /settings: what is known of an aircraft beforehand, and changing it. Layout and wiring only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypedDict

import dash
import dash_mantine_components as dmc
from dash import ALL, Input, Output, State, callback, dcc, html

from analyzer.aircraft import DAYS, LOADS, WRITTEN, FleetFileError, Setting, TailError
from analyzer.phrases import counted
from analyzer.records.problems import RecordsError
from analyzer.reports.plainly import plainly
from analyzer.reports.setting_words import SETTING_WORDS, choice_words, setting_words
from analyzer.service.aircraft_settings import (
    CHOICES,
    KEYS,
    SettingsChanged,
    SettingsError,
    keep_settings,
    setting_from,
    settings_of,
)
from dashboards.app import kept_here
from dashboards.error_notices import in_words
from dashboards.parts import crumbs, facts, nothing_here, page, section
from dashboards.signing_in import writes_here

OTHERS = "Somebody else changed that meanwhile, so nothing was saved. Save again to put yours in its place."
#: The fields of the band of regulated voltage.
ENDS = ("lowest", "highest")


class Undoing(TypedDict):
    """What stood in some fields before they were saved, and what was saved."""

    before: dict[str, str]
    after: dict[str, str]


@in_words
def layout(**query: str) -> html.Div:
    """The settings of one aircraft; to editors as a form."""
    kept, tail = kept_here(), query.get("tail", "").strip().upper()
    if kept.empty or tail not in kept.names():
        link = dcc.Link("See all aircraft.", href="/")
        return page("settings", "Settings", nothing_here(f"No flight of {tail or 'it'} is imported.", link))
    found = settings_of(kept.fleet_file().of(tail))
    return page(
        "settings",
        f"Settings of {tail}",
        crumbs(("Fleet", "/"), (tail, f"/aircraft/{tail}"), ("Settings", None)),
        section("Known of the aircraft", *(_form(tail, found) if writes_here() else _told(found)), name="settings"),
        html.P(dcc.Link("Who changed what, and when", href=f"/changes?tail={tail}")),
        lead="Leave empty what you do not know: most is found from the flights. Saving re-analyses them.",
        results=False,
    )


dash.register_page(__name__, path="/settings", title="taper: settings", layout=layout)


def _told(found: Mapping[str, Setting]) -> list[Any]:
    return [facts([(SETTING_WORDS[key].label, setting_words(key, found[key])) for key in KEYS])]


def _form(tail: str, found: Mapping[str, Setting]) -> list[Any]:
    return [
        dcc.Store(id="settings-tail", data=tail),
        dcc.Store(id="settings-shown", data=_values(found)),
        dcc.Store(id="settings-undoing"),
        html.Div(_fields(found), id="settings-fields", className="setting-fields"),
        html.Div(
            [
                dmc.Button("Save", id="settings-save", n_clicks=0),
                dmc.Button("Undo", id="settings-undo", n_clicks=0, variant="outline", disabled=True),
            ],
            className="tools",
        ),
        html.P(id="settings-said", role="status", className="said"),
    ]


def _values(found: Mapping[str, Setting]) -> dict[str, str]:
    """The text of each setting's field, or two; "" where nothing is set."""
    values: dict[str, str] = {}
    for key, value in found.items():
        if key == "regulated_voltage":
            ends = value if isinstance(value, tuple) else ("", "")
            values |= {f"{key}-{end}": _text(one) for end, one in zip(ENDS, ends, strict=True)}
        else:
            values[key] = "" if value is None else _text(value)
    return values


def _text(value: Any) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _fields(found: Mapping[str, Setting]) -> list[Any]:
    values = _values(found)
    fields = {
        field: _choice(field, value) if field in CHOICES else _number(field, value) for field, value in values.items()
    }
    loads = html.Details(
        [
            html.Summary("What each load draws in this aircraft"),
            html.Div([fields[key] for key in LOADS], className="setting-fields"),
        ],
        id="settings-loads",
        open=any(values[key] for key in LOADS),
    )
    return [*(field for key, field in fields.items() if key not in LOADS), loads]


def _choice(key: str, value: str) -> dmc.Select:
    words = SETTING_WORDS[key]
    return dmc.Select(
        id={"type": "settings-field", "key": key},
        label=words.label,
        description=words.about,
        data=[{"value": one, "label": choice_words(key, one)} for one in CHOICES[key]],
        value=value or None,
        placeholder="not set",
        clearable=True,
    )


def _number(field: str, value: str) -> dmc.TextInput:
    key = field.partition("-")[0]
    words = SETTING_WORDS[key]
    return dmc.TextInput(
        id={"type": "settings-field", "key": field},
        label=_label(field) + (f", {words.unit}" if words.unit else ""),
        description=words.about,
        value=value,
        placeholder="not set",
        debounce=True,  # whole as the field is left, not letter by letter: Save may be pressed right after the last
        inputProps={} if key in (*DAYS, *WRITTEN) else {"inputMode": "decimal"},
    )


@callback(
    Output("settings-said", "children"),
    Output("settings-fields", "children"),
    Output("settings-shown", "data"),
    Output("settings-undoing", "data"),
    Output("settings-undo", "disabled"),
    Input("settings-save", "n_clicks"),
    Input("settings-undo", "n_clicks"),
    State("settings-tail", "data"),
    State("settings-shown", "data"),
    State("settings-undoing", "data"),
    State({"type": "settings-field", "key": ALL}, "value"),
    State({"type": "settings-field", "key": ALL}, "id"),
    running=[(Output("settings-save", "disabled"), True, False)],
    prevent_initial_call=True,
)
def save(
    _save: int, _undo: int, tail: str, shown: dict[str, str], undoing: Undoing | None,
    values: list[str | None], ids: list[dict[str, Any]],
) -> tuple[Any, Any, Any, Any, bool]:  # fmt: skip
    """Save what was changed in the form, or put back what stood there before."""
    same = dash.no_update
    if not dash.ctx.triggered[0]["value"]:
        return same, same, same, same, not undoing
    undo = dash.ctx.triggered_id == "settings-undo"
    back = undoing or Undoing(before={}, after={})
    fields = back["before"] if undo else {one["key"]: value or "" for one, value in zip(ids, values, strict=True)}
    wanted = {name: text for name, text in fields.items() if undo or text != shown.get(name)}
    try:
        found = settings_of(kept_here().fleet_file().of(tail))
        held = _values(found)
        if others := _changed_since(wanted, fields, back["after"] if undo else shown, held):
            return (
                f"{' '.join(others.values())} {OTHERS}",
                same,
                shown | {name: held[name] for name in others},
                None,
                True,
            )
        changed = keep_settings(kept_here().store(), tail, _given(wanted, held), found)
    except (SettingsError, TailError, FleetFileError, RecordsError) as problem:
        return _refused(problem), same, same, undoing, not undoing
    if not changed.after and not undo:  # what is in the fields stays: a letter typed just before may not have arrived
        return _said(changed), same, same, undoing, not undoing
    now = settings_of(kept_here().fleet_file().of(tail))
    undoable = None if undo or not changed.before else _undoing(changed)
    said = "Undone." if undo else _said(changed)
    return said, _fields(now), _values(now), undoable, undoable is None


def _undoing(changed: SettingsChanged) -> Undoing:
    return {"before": _values(changed.before), "after": _values(changed.after)}


def _ends(key: str) -> tuple[str, ...]:
    """The fields in which a setting stands."""
    return tuple(f"{key}-{end}" for end in ENDS) if key == "regulated_voltage" else (key,)


def _changed_since(
    wanted: Iterable[str], fields: Mapping[str, str], seen: Mapping[str, str], held: Mapping[str, str]
) -> dict[str, str]:
    """Of the settings that are to be set the fields no longer as they were seen, each with what it is now.

    A band is written whole, so either of its ends counts where one is to be set. What is already as it is wanted
    is no reason to refuse it.
    """
    keys = dict.fromkeys(name.partition("-")[0] for name in wanted)
    return {
        name: f"{_label(name)} is now {held[name] or 'not set'}."
        for key in keys
        for name in _ends(key)
        if name in held and held[name] not in {seen.get(name, ""), *_as_shown(fields.get(name, ""))}
    }


def _as_shown(typed: str) -> set[str]:
    """How a field may show what was typed once it is saved: as it is, or as the number that it is."""
    told = typed.strip()
    try:
        return {told, _text(float(told))}
    except ValueError:
        return {told}


def _label(field: str) -> str:
    key, _, end = field.partition("-")
    return f"{SETTING_WORDS[key].label}{', ' if end else ''}{end}"


def _given(wanted: Mapping[str, str], held: Mapping[str, str]) -> dict[str, Setting]:
    """What is to be set: what is wanted, a band whole with the end that stays as it is."""
    now = {**held, **wanted}
    given: dict[str, Setting] = {}
    for key in dict.fromkeys(name.partition("-")[0] for name in wanted):
        texts = [now.get(name, "").strip() for name in _ends(key)]
        given[key] = setting_from(key, "-".join(texts) if any(texts) else "")
    return given


def _refused(problem: Exception) -> str:
    """Why nothing was saved, by the label of the field that it is about."""
    if isinstance(problem, SettingsError):
        label = SETTING_WORDS[problem.key].label if problem.key in SETTING_WORDS else problem.key
        return f"{label}: {problem.says}."
    return plainly(problem)


def _said(changed: SettingsChanged) -> str:
    if not changed.after:
        return "Nothing to save: it is set so already."
    many = counted(len(changed.after), "setting")
    judged = " Its flights are being re-analysed; that takes a moment." if changed.judged_anew else ""
    return f"Saved {many} of {changed.tail}.{judged}"
