"""``taper peers``: an aircraft beside the others of its type."""

from __future__ import annotations

import argparse
import sys

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, fleet_for, open_named, over_tails, unusable

EPILOG = """\
  taper peers N047KT           each measure beside those of the other aircraft of its type that are kept
  taper peers N047KT --json    the same for a script

Types are yours to name, alike for alike aircraft; system voltage, battery and source must be the same as well:

  taper settings N047KT aircraft_type="two-seat trainer"

How repairs turned out in all aircraft: taper repairs."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", metavar="TAIL", help="whose")
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show it; the exit status."""
    from analyzer.contract import laid_out
    from analyzer.contract_outlook import peers_entry
    from analyzer.records.problems import RecordsError
    from analyzer.reports.peer_text import peers_text
    from analyzer.reports.text import Style
    from analyzer.service.beside_peers import tail_beside_peers
    from analyzer.service.follow_tails import UnknownTailError

    try:
        with open_named(arguments) as store:
            told = tail_beside_peers(store, arguments.tail.upper(), fleet_for(arguments, store), over_tails)
    except (FleetFileError, UnknownTailError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    if arguments.json:
        sys.stdout.write(laid_out(peers_entry(told)))
    else:
        sys.stdout.write(peers_text(told, Style.of(sys.stdout)))
    return READ
