"""``taper fleet``: every aircraft that flights are kept of, the one in most need first."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, fleet_for, open_named, over_tails, unusable

EPILOG = """\
  taper fleet                          condition, worst open finding, next limit reached
  taper fleet --since 2026-05-01       and what changed since then
  taper fleet --json"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("--since", metavar="DATE", help="say what changed since this date")
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show the fleet; the exit status."""
    from analyzer.contract import laid_out
    from analyzer.contract_fleet import fleet_entry
    from analyzer.records.problems import RecordsError
    from analyzer.reports.fleet_text import fleet_text
    from analyzer.service.view_fleet import view_fleet
    from analyzer.trends.entries import EntriesError, moment

    try:
        since = None if arguments.since is None else moment(arguments.since, datetime.now())
        with open_named(arguments) as store:
            fleet = view_fleet(store, since, fleet_for(arguments, store), over_tails)
    except (EntriesError, FleetFileError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    sys.stdout.write(laid_out(fleet_entry(fleet)) if arguments.json else fleet_text(fleet))
    return READ
