"""``taper forget``: let kept logs go."""

from __future__ import annotations

import argparse
import sys

from analyzer.commands.logs import READ
from analyzer.commands.records import add_records_argument, confirmed, open_named, renew_reviews, unusable
from analyzer.phrases import counted

EPILOG = """\
  taper forget N047KT              every log of an aircraft; shows them and asks
  taper forget 12 13 --yes         two logs, by number

Maintenance entries and dispositions stay."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("what", nargs="+", metavar="WHAT", help="an aircraft, or the number of a log")
    parser.add_argument("--yes", action="store_true", help="do not ask")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show what would go, ask, and let it go; the exit status."""
    from analyzer.records.forgetting import forget, would_go
    from analyzer.records.problems import RecordsError

    try:
        with open_named(arguments) as store:
            going = would_go(store, arguments.what)
            for log in going.logs:
                sys.stdout.write(f"{log.id:>6}  {log.tail or '-':<8}  {log.start or 'no clock':<19}  {log.source}\n")
            told = f"{counted(len(going.logs), 'log')} with {counted(going.flights, 'flight')}"
            question = f"Forget {told}"
            question += f", {going.only_copies} of them with their original bytes?" if going.only_copies else "?"
            if not confirmed(question, yes=arguments.yes):
                return READ
            forget(store, going)
            sys.stderr.write(f"Gone: {told}.\n")
            renew_reviews(store, {log.tail for log in going.logs if log.tail})
    except RecordsError as problem:
        return unusable(problem)
    return READ
