"""``taper plan``: how long the battery carries the aircraft without the alternator."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime

from analyzer.commands.flight import add_flight_arguments, asked_flight
from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, open_named, unusable
from analyzer.measures.plan_numbers import NUMBERS

EPILOG = """\
  taper plan N047KT                                    as flown last, and with night loads added
  taper plan N047KT --load 18 --condition 80           another load; a capacity test's result
  taper plan N047KT --shed strobes,landing_light       after switching these off
  taper plan N047KT --night position_lights            only these are added for the night

Loads: LOADS. For planning on the ground, never for stretching a flight."""
#: How a unit stands in the help of its option.
_METAVARS = {"A": "A", "Ah": "AH", "%": "PERCENT", "degC": "DEGC"}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    from analyzer.loads import load_names

    parser.epilog = EPILOG.replace("LOADS", ", ".join(load_names()))
    add_flight_arguments(parser)
    for name, one in NUMBERS.items():
        told = f"{one.what}, {one.lowest:g} to {one.highest:g}"
        parser.add_argument(f"--{name}", type=float, metavar=_METAVARS[one.unit], help=told)
    parser.add_argument("--night", metavar="LOADS", help="loads added for the night, with commas; 'none' for none")
    parser.add_argument("--shed", metavar="LOADS", default="", help="loads switched off after the alternator fails")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show the plan; the exit status."""
    from analyzer.aircraft import FleetFileError
    from analyzer.records.flight_again import NoSuchFlightError
    from analyzer.records.problems import RecordsError
    from analyzer.service.plan_endurance import PlanError, named, plan_endurance
    from analyzer.trends.entries import EntriesError

    given = {name: value for name in NUMBERS if (value := getattr(arguments, name)) is not None}
    night = None if arguments.night is None else named(arguments.night)
    try:
        with open_named(arguments) as store:
            shown = asked_flight(arguments, store)
            planned = plan_endurance(store, shown, given, datetime.now(), night, named(arguments.shed))
    except (EntriesError, NoSuchFlightError, FleetFileError, PlanError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    if arguments.json:
        from analyzer.contract import laid_out
        from analyzer.contract_plan import plan_entry

        sys.stdout.write(laid_out(plan_entry(shown.kept, planned)))
        return READ
    from analyzer.reports.plan_text import plan_text
    from analyzer.reports.text import Style

    when = f"{shown.kept.start:%Y-%m-%d %H:%M}" if shown.kept.start else "unknown date"
    head = f"{shown.kept.tail}  from the flight of {when}"
    sys.stdout.write(plan_text(head, planned.preset, planned.cases, planned.form, Style.of(sys.stdout)))
    return READ
