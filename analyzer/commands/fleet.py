"""``taper fleet``: every aircraft that flights are kept of, the one in most need first."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import datetime

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, fleet_for, open_named, over_tails, unusable

HELP = "show every kept aircraft, the one in most need first"
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
    from analyzer.records.changing import kept_dispositions, settled_findings
    from analyzer.records.kept import tail_reviews, tails
    from analyzer.records.problems import RecordsError
    from analyzer.reports.fleet_text import fleet_text
    from analyzer.trends.entries import EntriesError, moment
    from analyzer.trends.fleet import fleet_document

    try:
        since = None if arguments.since is None else moment(arguments.since, datetime.now())
        with open_named(arguments) as store:
            kept = tails(store)
            reviews = tail_reviews(store, [tail.tail for tail in kept], fleet_for(arguments, store), over_tails)
            last = {tail.tail: tail.last for tail in kept}
            settled = settled_findings(kept_dispositions(store))
    except (EntriesError, FleetFileError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    document = fleet_document(reviews, last, since, settled)
    if arguments.json:
        sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False) + "\n")
    else:
        sys.stdout.write(fleet_text(document))
    return READ
