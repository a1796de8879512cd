"""``taper plan``: how long the battery carries the aircraft without the alternator."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from analyzer.commands.flight import add_flight_arguments, asked_flight
from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, open_named, unusable

if TYPE_CHECKING:
    from analyzer.measures.planning import Case, Preset

HELP = "plan how long the battery lasts without the alternator, by day, by night, after shedding"
EPILOG = """\
  taper plan N047KT                                    as flown last, by day and with night loads
  taper plan N047KT --load 18 --condition 80           another load; a capacity test's result
  taper plan N047KT --shed strobes,landing_light       after switching these off
  taper plan N047KT --night position_lights            only these are added for the night

Loads: LOADS. For planning on the ground, never for stretching a flight."""
#: Option, key of the plan, lowest, highest, what it is.
NUMBERS = (
    ("load", 0.1, 300.0, "A", "load when the alternator fails"),
    ("capacity", 1.0, 200.0, "AH", "rated capacity at the one-hour rate"),
    ("charge", 1.0, 100.0, "PERCENT", "charge before the flight"),
    ("temperature", -40.0, 60.0, "DEGC", "battery temperature"),
    ("condition", 1.0, 100.0, "PERCENT", "share of rated capacity left, from a capacity test"),
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    from analyzer.measures.loads import load_names

    parser.epilog = EPILOG.replace("LOADS", ", ".join(load_names()))
    add_flight_arguments(parser)
    for name, lowest, highest, unit, what in NUMBERS:
        parser.add_argument(f"--{name}", type=float, metavar=unit, help=f"{what}, {lowest:g} to {highest:g}")
    parser.add_argument("--night", metavar="LOADS", help="loads added for the night, with commas; 'none' for none")
    parser.add_argument("--shed", metavar="LOADS", default="", help="loads switched off after the alternator fails")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show the plan; the exit status."""
    from analyzer.aircraft import FleetFileError
    from analyzer.measures.planning import plan, preset
    from analyzer.records.flight_again import NoSuchFlightError, battery_shows_wear
    from analyzer.records.problems import RecordsError
    from analyzer.trends.entries import EntriesError

    try:
        given = _numbers(arguments)
        with open_named(arguments) as store:
            kept, log, review = asked_flight(arguments, store)
            worn = battery_shows_wear(store, kept.tail, log)
        found = _with(preset(review.flight, review.measures, worn=worn), given)
        night, shed = _loads(arguments.night, found.nominal_voltage), _named(arguments.shed)
    except (EntriesError, NoSuchFlightError, FleetFileError, PlanError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    cases = plan(found, night, shed)
    if arguments.json:
        sys.stdout.write(
            json.dumps(_document(kept.tail, kept.start, found, cases), ensure_ascii=False, indent=1) + "\n"
        )
        return READ
    from analyzer.reports.plan_text import plan_text
    from analyzer.reports.text import Style

    when = f"{kept.start:%Y-%m-%d %H:%M}" if kept.start else "unknown date"
    head = f"{kept.tail}  from the flight of {when}"
    sys.stdout.write(plan_text(head, found, cases, Style.of(sys.stdout)))
    return READ


class PlanError(ValueError):
    """A plan that cannot be made as it was asked for."""


def _numbers(arguments: argparse.Namespace) -> dict[str, float]:
    given = {}
    for name, lowest, highest, _, what in NUMBERS:
        if (value := getattr(arguments, name)) is None:
            continue
        if not lowest <= value <= highest:
            raise PlanError(f"--{name} is the {what}: {lowest:g} to {highest:g}, not {value:g}")
        given[name] = value
    return given


def _with(found: Preset, given: dict[str, float]) -> Preset:
    """The preset with what the call says instead."""
    from analyzer.measures.planning import about

    said: dict[str, Any] = {
        name: about(value) if name in ("charge", "condition") else value for name, value in given.items()
    }
    basis = {name: words for name, words in found.basis.items() if name not in given}
    if given:
        basis["given"] = f"As given: {', '.join(given)}."
    return replace(found, **said, basis=basis)


def _loads(night: str | None, nominal_voltage: int) -> list[str]:
    from analyzer.measures.loads import usual_loads

    if night is None:
        return [one.name for one in usual_loads(nominal_voltage) if one.night]
    return [] if night.strip().lower() == "none" else _named(night)


def _named(text: str) -> list[str]:
    """Names of usual loads; the nearest right one is named for one that is none."""
    import difflib

    from analyzer.measures.loads import load_names

    names = [one.strip().lower() for one in text.split(",") if one.strip()]
    for name in names:
        if name not in load_names():
            near = difflib.get_close_matches(name, load_names(), n=1, cutoff=0.4)
            hint = f"did you mean '{near[0]}'?" if near else f"loads: {', '.join(load_names())}"
            raise PlanError(f"'{name}' is no load of the list; {hint}")
    return names


def _document(tail: str | None, start: datetime | None, found: Preset, cases: tuple[Case, ...]) -> dict[str, Any]:
    from analyzer.contract import iso

    return {
        "contract": 1,
        "tail": tail,
        "flight": iso(start),
        "load": found.load,
        "basis": dict(found.basis),
        "cases": [
            {
                "case": one.words,
                "load": round(one.load, 2),
                "plan_on": one.lasts.low,
                "value": one.lasts.value,
                "low": one.lasts.low,
                "high": one.lasts.high,
                "unit": one.lasts.unit,
                "because": one.lasts.because,
            }
            for one in cases
        ],
    }
