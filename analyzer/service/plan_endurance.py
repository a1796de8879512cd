"""How long the battery carries an aircraft without its alternator, from one of its kept flights."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from msgspec.structs import replace

from analyzer.loads import load_names
from analyzer.measures.load_analysis import LoadAnalysis, load_analysis
from analyzer.measures.plan_numbers import NUMBERS
from analyzer.measures.planning import Case, Preset, about, basis_with, otherwise, plan, preset
from analyzer.records.flight_again import battery_known
from analyzer.records.store import Store
from analyzer.service.show_flight import ShownFlight


class PlanError(ValueError):
    """A plan that cannot be made as it was asked for; the message says why."""


@dataclass(frozen=True, slots=True)
class EndurancePlan:
    """What the plan rests on, and how long the battery lasts in each case."""

    preset: Preset
    cases: tuple[Case, ...]
    form: LoadAnalysis | None = None  # None where the load or the charge is not known


def plan_endurance(
    store: Store,
    shown: ShownFlight,
    given: Mapping[str, float],
    today: datetime,
    night: Iterable[str] | None = None,
    shed: Iterable[str] = (),
) -> EndurancePlan:
    """Plan from a kept flight.

    Parameters
    ----------
    given : numbers of ``NUMBERS`` that count instead of the flight's, in their units
    today : the day of the plan, from which the age of a capacity test counts
    night : names of usual loads that come on by night; when None the usual ones
    shed : names of those that are switched off after the alternator fails

    Raises
    ------
    PlanError
        When a number lies out of its range, or a load is not known; the nearest right name is given.
    """
    for name, value in given.items():
        own = NUMBERS[name]
        if not own.lowest <= value <= own.highest:
            raise PlanError(f"--{name} is the {own.what}: {own.lowest:g} to {own.highest:g}, not {value:g}")
    chosen = None if night is None else loads_named(night)
    off = loads_named(shed)
    known = battery_known(store, shown.kept.tail, shown.log, today)
    begun = preset(shown.review.flight, shown.review.measures, known, today)
    held = {name: value for name, value in begun.held.items() if name != "capacity" or not begun.capacity_assumed}
    other_night = chosen is not None and set(chosen) != set(begun.night)
    found = _with(begun, otherwise(given, held), night_given=other_night)
    dark = found.night if chosen is None else chosen
    return EndurancePlan(found, plan(found, dark, off), load_analysis(found, dark, off))


def _with(found: Preset, given: Mapping[str, float], *, night_given: bool) -> Preset:
    """The preset with what was given instead."""
    said: dict[str, Any] = {
        name: about(value) if name in ("charge", "condition") else value for name, value in given.items()
    }
    basis = basis_with(found.basis, given, night_given=night_given)
    assumed = found.capacity_assumed and "capacity" not in given
    more = 0.0 if "load" in given else found.load_more
    return replace(found, **said, basis=basis, capacity_assumed=assumed, load_more=more)


def loads_named(names: Iterable[str]) -> list[str]:
    """Names of usual loads as people write them.

    Raises
    ------
    PlanError
        When one is not known; the nearest right name is given.
    """
    asked = [name.strip().lower() for name in names if name.strip()]
    for name in asked:
        if name not in load_names():
            near = difflib.get_close_matches(name, load_names(), n=1, cutoff=0.4)
            hint = f"did you mean '{near[0]}'?" if near else f"loads: {', '.join(load_names())}"
            raise PlanError(f"'{name}' is no load of the list; {hint}")
    return asked


def named(text: str) -> list[str]:
    """Names of loads as a person writes them, divided by commas; "none" names none."""
    return [] if text.strip().lower() == "none" else text.split(",")
