"""The endurance planner: how long without an alternator, by day, by night, after shedding. Wiring only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any
from urllib.parse import urlencode

import dash_mantine_components as dmc
from dash import Input, Output, State, callback, dcc, html

from analyzer.aircraft import Battery
from analyzer.measures.battery_life import Share, usual_condition, worn_condition
from analyzer.measures.endurance import battery_kind, battery_temperature, charge_left, charge_share, observed_load
from analyzer.measures.measure import Measure
from analyzer.measures.planning import Load, about, load_after, planned_endurance, usual_loads
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.wording import interval_words, value_words
from analyzer.review import FlightReview
from dashboards.parts import table

#: Fields in the order in which they stand: key of the address, label, step, lowest, highest, what to know.
FIELDS = (
    ("load", "Load as flown, A", 0.5, 0.1, 300, "all that stays on when the alternator fails"),
    ("capacity", "Rated capacity, Ah", 1, 1, 200, "at the one-hour rate"),
    ("charge", "Charge, %", 5, 1, 100, "as it rests before the flight"),
    ("temperature", "Battery temperature, °C", 1, -40, 60, "of the battery, not of the cabin"),
    (
        "condition",
        "Condition, % of rated capacity",
        5,
        1,
        100,
        "from a capacity test, else what flights show",
    ),
)


def planner_of(review: FlightReview, worn: bool, query: Mapping[str, str]) -> html.Div:
    """The planner, filled in with what this flight shows or with what a link asks for.

    ``worn`` says that the aircraft's flights show a worn battery.
    """
    flight = review.flight
    observed, source = observed_load(flight, review.measures["bus_load"])
    battery = battery_kind(flight)
    charge, how = charge_share(flight, review.measures["resting_charge"])
    charge, left = charge_left(flight, charge, review.measures["offline_discharge"])
    condition = worn_condition() if worn else usual_condition(battery)
    found: dict[str, float | None] = {
        "load": observed,
        "capacity": flight.limits["battery_capacity"],
        "charge": 100.0 * charge.value,
        "temperature": battery_temperature(flight),
        "condition": 100.0 * condition.value,
    }
    said = (
        f"The load is set {source}."
        if observed is not None
        else ("This flight does not show the load: fill it in from the aircraft's load analysis.")
    )
    floor = flight.aircraft.essential_load
    nominal = flight.nominal_voltage or 14
    if flight.nominal_voltage is None:
        said += " The usual loads and the capacity are those of a 14 V aircraft, since nothing tells its voltage."
    if flight.battery.charge_unknown is not None:
        said += f" Its charge is not known from the recording: {flight.battery.charge_unknown}. Fill it in from a test."
        found["charge"] = None
    else:
        said += "".join(f" {words[2].upper()}{words[3:]}." for words in (how, left) if words)
    if worn:
        said += (
            f" Its flights show a worn battery, so that it is taken to have {found['condition']:.0f} % of its rated "
            f"capacity ({100.0 * condition.low:.0f} to {100.0 * condition.high:.0f} %) until a capacity test says more."
        )
    known = {"charge": charge, "condition": condition}
    return planner(found | _asked(query), nominal, said, floor, query, battery, known)


def planner(
    values: Mapping[str, float | None],
    nominal_voltage: int,
    said: str,
    floor: float | None,
    query: Mapping[str, str],
    battery: Battery | None,
    known: Mapping[str, Share],
) -> html.Div:
    """The fields and the answer; ``known`` are the charge and condition that stand in the fields at first."""
    loads = usual_loads(nominal_voltage)
    night = _known(query["night"], loads) if "night" in query else [load.name for load in loads if load.night]
    shed = _known(query.get("shed", ""), loads)
    return html.Div(
        [
            html.P([said, " ", CAUTIONS[1]], className="plan-caution"),
            html.Div([_field(field, values[field[0]]) for field in FIELDS], className="plan-fields"),
            html.Div(
                [
                    _choice("night", "Comes on by night; leave out what was on already", loads, night),
                    _choice("shed", "Switched off after the alternator fails; only what was on", loads, shed),
                ],
                className="plan-choices",
            ),
            html.P(
                "Amperes beside the loads are usual ones, not this aircraft's; change the load above to suit."
                + (f" Never less than the essential {floor:g} A of the fleet file." if floor else ""),
                className="note",
            ),
            dcc.Store(id="plan-fixed", data=_fixed(nominal_voltage, floor, battery, known)),
            html.Div(id="plan-answer", role="status", **{"aria-live": "polite"}),
        ],
        className="planner",
    )


def _fixed(
    nominal_voltage: int, floor: float | None, battery: Battery | None, known: Mapping[str, Share]
) -> dict[str, Any]:
    """What the answer needs beside the fields."""
    shares = {name: [share.value, share.low, share.high] for name, share in known.items()}
    return {"nominal": nominal_voltage, "floor": floor or 0.0, "battery": battery, "known": shares}


def _share(percent: float, known: Sequence[float]) -> Share:
    """A charge or condition as it stands in its field: with the interval that it was filled in with, or a person's."""
    return Share(*known) if round(100.0 * known[0], 1) == round(percent, 1) else about(percent)


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


def _field(field: tuple[str, str, float, float, float, str], value: float | None) -> dmc.NumberInput:
    key, label, step, lowest, highest, about = field
    return dmc.NumberInput(
        id=f"plan-{key}",
        label=label,
        description=about,
        value="" if value is None else round(value, 1),
        step=step,
        min=lowest,
        max=highest,
        clampBehavior="blur",
        debounce=300,
    )


def _choice(key: str, label: str, loads: Sequence[Load], chosen: Sequence[str]) -> dmc.CheckboxGroup:
    boxes = [dmc.Checkbox(label=f"{load.words}, {load.amps:g} A", value=load.name) for load in loads]
    return dmc.CheckboxGroup(dmc.Stack(boxes, gap=4), id=f"plan-{key}", label=label, value=list(chosen))


@callback(
    Output("plan-answer", "children"),
    *(Input(f"plan-{field[0]}", "value") for field in FIELDS),
    Input("plan-night", "value"),
    Input("plan-shed", "value"),
    State("plan-fixed", "data"),
)
def answer(
    load: Any, capacity: Any, charge: Any, temperature: Any, condition: Any,
    night: list[str], shed: list[str], fixed: dict[str, Any],
) -> Any:  # fmt: skip
    """Minutes by day, by night, and after shedding, each with its interval."""
    given = (load, capacity, charge, temperature, condition)
    if any(not isinstance(value, int | float) for value in given):
        return html.P("Fill in every field with a number to see how long the battery would last.")
    amps = {one.name: one.amps for one in usual_loads(int(fixed["nominal"]))}
    added, gone = [amps[name] for name in night], [amps[name] for name in shed]
    floor = fixed["floor"]
    cases = [
        ("As flown", load),
        ("As flown, with the night's loads on top", load_after(load, added, (), floor)),
    ]
    if gone:
        cases += [
            ("As flown, after switching off", load_after(load, (), gone, floor)),
            ("With the night's loads, after switching off", load_after(load, added, gone, floor)),
        ]
    kind = Battery(fixed["battery"]) if fixed.get("battery") else None
    full, sound = _share(charge, fixed["known"]["charge"]), _share(condition, fixed["known"]["condition"])
    rows = [
        (words, f"{amperes:.1f} A", _words(planned_endurance(amperes, capacity, full, temperature, sound, kind)))
        for words, amperes in cases
    ]
    state = {"load": load, "capacity": capacity, "charge": charge, "temperature": temperature, "condition": condition}
    link = "?" + urlencode(state | {"night": ",".join(night), "shed": ",".join(shed)}) + "#flight-planner"
    return [
        table(("Case", "Load", "Battery lasts, with its 95 % interval"), rows, "Minutes without the alternator"),
        html.P(html.A("Address of this plan, to share", href=link), className="note no-print"),
    ]


def _words(measure: Measure) -> str:
    """The answer in one cell, so that no narrow window cuts its interval off."""
    if measure.value is None:
        return f"not to be said: {measure.because}"
    return f"{value_words(measure)}, {interval_words(measure)}"
