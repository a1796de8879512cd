"""``taper due``: what falls due of each aircraft and when, and the same as a calendar."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, fleet_for, open_named, over_tails, tell_stale, unusable

EPILOG = """\
Battery capacity test, battery age, alternator brushes by engine hours, and limits that trends head for, each with the
day by which it is due: rather early than late. Intervals are common practice (taper explain due_list) and can be
corrected as other limits are (taper explain --help); the maker's maintenance manual comes before them.

  taper due                                what falls due in the fleet, the most urgent first
  taper due N047KT
  taper due --calendar due.ics             the same for a calendar program; read in again, it moves what has moved
  taper due --json

From when a battery or an alternator counts is told by the maintenance log or by you; nothing is made up without it:

  taper entry N047KT 2026-05-02 "capacity test" --kind battery_serviced --capacity 91
  taper settings N047KT battery_fitted=2024-05-02 alternator_fitted=2023-11-20 alternator_hours=120

The exit status is 0 when the list was written; 2 for a wrong call; 3 when the records cannot be used."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tails", nargs="*", metavar="TAIL", help="aircraft to show; all when none is named")
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    parser.add_argument("--calendar", metavar="FILE.ics", help="write the days to this file, for a calendar program")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write what falls due; the exit status."""
    from analyzer.contract import laid_out
    from analyzer.contract_due import due_entry
    from analyzer.records.durable import write_whole
    from analyzer.records.problems import RecordsError
    from analyzer.records.store import sentences
    from analyzer.reports.due_calendar import due_calendar
    from analyzer.reports.due_text import due_text
    from analyzer.service.due import due_list
    from analyzer.service.follow_tails import UnknownTailError

    try:
        with open_named(arguments) as store:
            fleet = fleet_for(arguments, store)
            tell_stale(store, fleet)
            wanted = [tail.upper() for tail in arguments.tails]
            due = due_list(store, datetime.now(), wanted, fleet, over_tails)
        if arguments.calendar:
            path = Path(arguments.calendar)
            with sentences(path.parent):
                write_whole(path, due_calendar(due))
            sys.stderr.write(f"The calendar was written to {path}.\n")
    except (FleetFileError, UnknownTailError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    if arguments.json:
        sys.stdout.write(laid_out(due_entry(due)))
    elif not arguments.calendar:
        sys.stdout.write(due_text(due))
    return READ
