"""The endurance planner: how long without an alternator, by day, by night, after shedding. Wiring only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import datetime
from typing import Annotated, Any, TypedDict
from urllib.parse import urlencode

import dash_mantine_components as dmc
from dash import Input, Output, State, callback, dcc, html

from analyzer.aircraft import NOMINAL_VOLTAGES, Battery
from analyzer.loads import Load, load_names
from analyzer.measures.battery_life import BatteryKnown, Share
from analyzer.measures.load_analysis import load_analysis
from analyzer.measures.measure import Measure
from analyzer.measures.planning import Preset, about, basis_with, otherwise, plan, preset
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.plan_text import form_words
from analyzer.reports.wording import interval_words, value_words
from analyzer.review import FlightReview
from dashboards.attributes import aria
from dashboards.parts import NOT_PRINTED, fold, table

#: Fields in the order in which they stand: key of the address, label, step, lowest, highest, what to know.
FIELDS = (
    ("load", "Load, A", 0.5, 0.1, 300, "all that stays on when the alternator fails"),
    ("capacity", "Rated capacity, Ah", 1, 1, 200, "at the one-hour rate"),
    ("charge", "Charge, %", 5, 1, 100, "as it rests before the flight"),
    ("temperature", "Battery temperature, °C", 1, -40, 60, "of the battery, not of the cabin"),
    (
        "condition",
        "Condition, % of rated capacity",
        5,
        1,
        100,
        "from a capacity test; empty: not tested",
    ),
)


#: Of a load that may be added or switched off.
LoadName = Annotated[str, load_names().__contains__]


class Fixed(TypedDict):
    """What the answer needs beside the fields."""

    nominal: Annotated[int, NOMINAL_VOLTAGES.__contains__]
    floor: float | None
    battery: Battery | None
    assumed: float | None
    load_more: float
    held: dict[str, float]
    night: list[str]
    basis: dict[str, str]
    own: dict[str, float]
    known: dict[str, tuple[float, float, float]]


def planner_of(review: FlightReview, known: BatteryKnown, query: Mapping[str, str]) -> html.Div:
    """The planner, filled in with what this flight and the records show or with what a link asks for."""
    now = datetime.now()
    given = preset(review.flight, review.measures, known, now)
    night = _known(query["night"], given.loads) if "night" in query else list(given.night)
    loads = _loads(given, night, _known(query.get("shed", ""), given.loads))
    values = given.held | _asked(query)
    missing = given.load is None or given.charge is None or bool(_asked(query))
    singled = "night" in query or "shed" in query
    fields = html.Div([_field(field, values.get(field[0]), given) for field in FIELDS], className="plan-fields")
    return html.Div(
        [
            html.Div(id="plan-answer", role="status", **aria(live="polite")),
            html.P(_rests_on(given.basis), id="plan-basis", className="plan-caution"),
            fold(
                "Change load, capacity, charge, temperature, condition", fields,
                name="plan-numbers", opened=missing, printed=NOT_PRINTED,
            ),
            fold(
                "Loads for the night, and to switch off", *loads,
                name="plan-loads", opened=singled, printed=NOT_PRINTED,
            ),
            dcc.Store(id="plan-fixed", data=dict(_fixed(given))),
        ],
        className="planner",
    )  # fmt: skip


def _rests_on(basis: Mapping[str, str]) -> str:
    """Where the numbers come from, and the caution."""
    return " ".join([*basis.values(), CAUTIONS[1]])


def _loads(given: Preset, night: Sequence[str], shed: Sequence[str]) -> list[Any]:
    """The single loads, to be added or switched off, and whose amperes they have."""
    loads = given.loads
    stays = f" At least {given.floor:g} A stays on (essential load)." if given.floor else ""
    return [
        html.Div(
            [
                _choice("night", "Added for the night; clear what was on already", loads, night),
                _choice("shed", "Switched off after the alternator fails; only what was on", loads, shed),
            ],
            className="plan-choices",
        ),
        html.P(_whose(loads) + stays, className="note"),
    ]


def _whose(loads: Sequence[Load]) -> str:
    """Whose amperes the loads have."""
    own = sum(load.own for load in loads)
    if own == len(loads):
        return "Amperes are this aircraft's, from its settings."
    usual = "Amperes are usual ones, not this aircraft's"
    return f"{usual}, except those marked as its own." if own else f"{usual}; give its own under Settings."


def _fixed(given: Preset) -> Fixed:
    """The same of what a plan begins with."""
    shares = {"charge": given.charge, "condition": given.condition}
    return {
        "nominal": given.nominal_voltage,
        "floor": given.floor,
        "battery": given.battery,
        "assumed": given.capacity if given.capacity_assumed else None,
        "load_more": given.load_more,
        "held": given.held,
        "night": list(given.night),
        "basis": dict(given.basis),
        "own": dict(given.own_loads),
        "known": {name: (one.value, one.low, one.high) for name, one in shares.items() if one is not None},
    }


def _typed(values: Mapping[str, Any], fixed: Fixed) -> dict[str, float]:
    """The fields in which a person put another number than they were filled in with."""
    numbers = {name: float(value) for name, value in values.items() if isinstance(value, int | float)}
    return otherwise(numbers, fixed["held"])


def _beyond(typed: Mapping[str, float]) -> list[str]:
    """What the fields take, of those in which a person types what they do not: they only change it once left."""
    return [
        f"{label}: enter {lowest:g} to {highest:g}."
        for key, label, _, lowest, highest, _ in FIELDS
        if key in typed and not lowest <= typed[key] <= highest
    ]


def _basis(typed: Mapping[str, float], night: Sequence[str], fixed: Fixed) -> dict[str, str]:
    """Where the numbers come from, once a person has changed some of the fields or the loads for the night."""
    return basis_with(fixed["basis"], typed, night_given=set(night) != set(fixed["night"]))


def _share(name: str, typed: Mapping[str, float], fixed: Fixed) -> Share | None:
    """A charge or condition: a person's, else with the interval that the field was filled in with."""
    if name in typed:
        return about(typed[name])
    return Share(*fixed["known"][name]) if name in fixed["known"] else None


def _known(names: str, loads: Sequence[Load]) -> list[str]:
    """Names of an address that are loads; whatever else stands there is left out."""
    return [load.name for load in loads if load.name in names.split(",")]


def _asked(query: Mapping[str, str]) -> dict[str, float]:
    """Values of an address that the fields take; whatever else stands there is left out."""
    found = {}
    for key, _, _, lowest, highest, _ in FIELDS:
        with suppress(KeyError, ValueError):
            value = float(query[key])
            if lowest <= value <= highest:
                found[key] = value
    return found


def _field(field: tuple[str, str, float, float, float, str], value: float | None, given: Preset) -> dmc.NumberInput:
    key, label, step, lowest, highest, about = field
    span = f"{100.0 * given.condition.low:.0f} to {100.0 * given.condition.high:.0f}"
    return dmc.NumberInput(
        id=f"plan-{key}",
        label=label,
        description=about,
        value="" if value is None else round(value, 1),
        placeholder=span if key == "condition" else "",
        step=step,
        min=lowest,
        max=highest,
        clampBehavior="blur",
        debounce=300,
    )


def _choice(key: str, label: str, loads: Sequence[Load], chosen: Sequence[str]) -> dmc.CheckboxGroup:
    boxes = [
        dmc.Checkbox(label=f"{load.words}, {load.amps:g} A{', its own' if load.own else ''}", value=load.name)
        for load in loads
    ]
    return dmc.CheckboxGroup(dmc.Stack(boxes, gap=4), id=f"plan-{key}", label=label, value=list(chosen))


@callback(
    Output("plan-answer", "children"),
    Output("plan-basis", "children"),
    *(Input(f"plan-{field[0]}", "value") for field in FIELDS),
    Input("plan-night", "value"),
    Input("plan-shed", "value"),
    State("plan-fixed", "data"),
)
def answer(
    load: Any, capacity: Any, charge: Any, temperature: Any, condition: Any,
    night: list[LoadName], shed: list[LoadName], fixed: Fixed,
) -> tuple[Any, str]:  # fmt: skip
    """Minutes as flown, with night loads, and after shedding: what to plan on, and what that rests on."""
    values = dict(zip((field[0] for field in FIELDS), (load, capacity, charge, temperature, condition), strict=True))
    return _minutes(values, night, shed, fixed), _rests_on(_basis(_typed(values, fixed), night, fixed))


def _minutes(values: Mapping[str, Any], night: Sequence[str], shed: Sequence[str], fixed: Fixed) -> Any:
    """What to plan on in each case, with the interval; or what has to be entered first."""
    load, capacity, charge, temperature, _ = values.values()
    numbers = (load, capacity, temperature, *((charge,) if charge != "" else ()))
    if any(not isinstance(value, int | float) for value in numbers):
        return html.P("Enter a number in every field; condition may stay empty.")
    typed = _typed(values, fixed)
    if beyond := _beyond(typed):
        return html.P(" ".join(beyond))
    full, condition = (_share(name, typed, fixed) for name in ("charge", "condition"))
    if full is None or condition is None:
        return html.P("Enter the charge: the recording does not show it.")
    given = Preset(
        load=load, capacity=capacity, charge=full, temperature=temperature, condition=condition,
        battery=None if fixed["battery"] is None else Battery(fixed["battery"]),
        nominal_voltage=fixed["nominal"], floor=fixed["floor"], basis={},
        capacity_assumed=capacity == fixed["assumed"], load_more=0.0 if "load" in typed else fixed["load_more"],
        own_loads=fixed["own"],
    )  # fmt: skip
    form = load_analysis(given, night, shed)
    rows = [(one.words, f"{one.load:.1f} A", *_words(one.lasts)) for one in plan(given, night, shed)]
    state = {"load": load, "capacity": capacity, "temperature": temperature}
    state |= {name: typed[name] for name in ("charge", "condition") if name in typed}
    link = "?" + urlencode(state | {"night": ",".join(night), "shed": ",".join(shed)}) + "#flight-planner"
    return [
        table(("Case", "Load", "Plan on", "95 % interval"), rows, "Minutes without the alternator"),
        *(html.P(words, className="note") for words in _chosen_words(given, night, shed)),
        *([html.P(form_words(form), id="plan-form")] if form else []),
        html.P(html.A("Link to this plan", href=link), className="note no-print"),
    ]


def _chosen_words(given: Preset, night: Sequence[str], shed: Sequence[str]) -> list[str]:
    """Which single loads the cases count with, since their boxes may be folded."""
    told = (("Night loads", night), ("Switched off", shed))
    return [
        f"{title}: {', '.join(f'{one.words.lower()} {one.amps:g} A' for one in given.loads if one.name in names)}."
        for title, names in told
        if names
    ]


def _words(measure: Measure) -> tuple[str, str]:
    """What to plan on, and the interval."""
    if measure.value is None:
        return f"not measurable: {measure.because}", ""
    return value_words(measure), interval_words(measure)
