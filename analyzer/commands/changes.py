"""``taper changes``: who changed what, when."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path

from analyzer.commands.logs import READ
from analyzer.commands.records import add_records_argument, open_named, unusable

HELP = "who changed what, when, and what stood there before"
EPILOG = """\
  taper changes                            the newest 50
  taper changes N047KT --all
  taper changes --csv changes.csv          all of them, for a spreadsheet

The log of changes is only ever added to; taper check says whether a line of it is missing or was changed."""
NEWEST = 50


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", nargs="?", metavar="TAIL", help="of one aircraft only")
    parser.add_argument("--all", action="store_true", help=f"all, not the newest {NEWEST} only")
    parser.add_argument("--csv", metavar="FILE.csv", help="write all of them to a file")
    parser.add_argument("--json", action="store_true", help="as one JSON document")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show or write the changes; the exit status."""
    from analyzer.records.changes import kept_changes
    from analyzer.records.changes_table import changes_csv
    from analyzer.records.durable import write_whole
    from analyzer.records.problems import RecordsError
    from analyzer.records.store import sentences

    newest = None if arguments.all or arguments.csv else NEWEST
    try:
        with open_named(arguments) as store:
            with store.reading() as connection:
                found = kept_changes(connection, tail=arguments.tail, newest=newest)
            if arguments.csv:
                path = Path(arguments.csv)
                with sentences(path.parent):
                    write_whole(path, changes_csv(found).encode())
                sys.stderr.write(f"{len(found)} changes are in {path}.\n")
                return READ
    except RecordsError as problem:
        return unusable(problem)
    if arguments.json:
        document = {"contract": 1, "changes": [asdict(one) for one in found]}
        sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=1) + "\n")
        return READ
    for one in reversed(found):
        tail = one.tail or "-"
        sys.stdout.write(f"{one.at[:19]}  {one.who:<16}  {tail:<8}  {one.what} {one.about}\n")
    return READ
