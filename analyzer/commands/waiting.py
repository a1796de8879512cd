"""``taper waiting``: what waiting for the next visit costs."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, fleet_for, open_named, over_tails, unusable

EPILOG = """\
  taper waiting N047KT                        until the next work that is due (taper due N047KT)
  taper waiting N047KT --visit 2026-09-01     until a day of your own
  taper waiting N047KT --json                 the same for a script

The chance of a loss or a stranding needs enough of them in the records: taper explain waiting. Log each stranding:

  taper entry N047KT 2026-02-03 "would not start at the other field" --kind stranded

Hours are told only where both are set: taper settings N047KT check_hours=1.5 stranded_hours=12"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", metavar="TAIL", help="whose")
    parser.add_argument("--visit", metavar="DATE", help="day of the next visit to the shop")
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show it; the exit status."""
    from analyzer.contract import laid_out
    from analyzer.contract_outlook import waiting_entry
    from analyzer.records.problems import RecordsError
    from analyzer.reports.text import Style, cautions, wrapped
    from analyzer.reports.waiting_words import CAUTION, waiting_words
    from analyzer.service.follow_tails import UnknownTailError
    from analyzer.service.waiting import waiting_of
    from analyzer.trends.entries import EntriesError, moment

    now = datetime.now()
    try:
        visit = None if arguments.visit is None else moment(arguments.visit, now).date()
        if visit is not None and visit < now.date():
            return usage(f"the next visit lies ahead; {visit} is past")
        with open_named(arguments) as store:
            told = waiting_of(store, arguments.tail.upper(), now, visit, fleet_for(arguments, store), over_tails)
    except (EntriesError, FleetFileError, UnknownTailError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    if arguments.json:
        sys.stdout.write(laid_out(waiting_entry(told)))
        return READ
    style = Style.of(sys.stdout)
    lines = [style.paint(told.tail, "head")]
    for sentence in waiting_words(told):
        lines += wrapped(sentence, "    ")
    sys.stdout.write("\n".join([*lines, "", *wrapped(CAUTION, "")]) + "\n" + cautions(style))
    return READ
