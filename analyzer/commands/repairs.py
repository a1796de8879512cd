"""``taper repairs``: how the repairs of all kept aircraft turned out."""

from __future__ import annotations

import argparse
import sys

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, fleet_for, open_named, over_tails, unusable

EPILOG = """\
  taper repairs           which work ended which finding, and what that says of the causes
  taper repairs --json    the same for a script

Work counts as logged: taper entry. It ended a finding where Fisher's exact test calls so few flights with it since
surely no luck: taper explain entry_verdict."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show it; the exit status."""
    from analyzer.contract import laid_out
    from analyzer.contract_outlook import repairs_entry
    from analyzer.records.problems import RecordsError
    from analyzer.reports.peer_text import repairs_text
    from analyzer.reports.text import Style
    from analyzer.service.beside_peers import repair_record

    try:
        with open_named(arguments) as store:
            told = repair_record(store, fleet_for(arguments, store), over_tails)
    except FleetFileError as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    if arguments.json:
        sys.stdout.write(laid_out(repairs_entry(told)))
    else:
        sys.stdout.write(repairs_text(told, Style.of(sys.stdout)))
    return READ
