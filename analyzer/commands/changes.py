"""``taper changes``: who changed what, when."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from analyzer.commands.logs import READ
from analyzer.commands.print_json import print_json
from analyzer.commands.records import add_records_argument, open_named, unusable
from analyzer.phrases import counted

EPILOG = """\
  taper changes                            the newest 50
  taper changes N047KT --all
  taper changes --csv changes.csv          all of them, for a spreadsheet
  taper changes --sign-ins                 who signed in to the pages or tried to; with --all, --csv or --json as well

The log of changes is only ever added to; taper check says whether a line of it is missing or was changed."""
NEWEST = 50


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", nargs="?", metavar="TAIL", help="of one aircraft only")
    parser.add_argument("--all", action="store_true", help=f"all, not the newest {NEWEST} only")
    parser.add_argument("--csv", metavar="FILE.csv", help="write all of them to a file")
    parser.add_argument("--sign-ins", action="store_true", help="who signed in to the pages, in place of changes")
    parser.add_argument("--json", action="store_true", help="as one JSON document")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show or write the changes, or who signed in; the exit status."""
    from analyzer.records.changes import kept_changes
    from analyzer.records.changes_table import changes_csv
    from analyzer.records.problems import RecordsError
    from analyzer.records.sign_ins import kept_sign_ins, sign_ins_csv
    from analyzer.reports.change_words import line_words

    newest = None if arguments.all or arguments.csv else NEWEST
    try:
        with open_named(arguments) as store:
            if arguments.sign_ins:
                signed = kept_sign_ins(store.folder, store.person)[:newest]
                lines = [f"{one.at[:19]}  {one.who:<24}  {one.address:<15}  {one.what}" for one in signed]
                return _handed_over(arguments, "sign_ins", signed, sign_ins_csv, lines)
            with store.reading() as connection:
                found = kept_changes(connection, tail=arguments.tail, newest=newest)
            lines = [f"{one.at[:19]}  {one.who:<16}  {one.tail or '-':<8}  {line_words(one)}" for one in found]
            return _handed_over(arguments, "changes", found, changes_csv, lines)
    except RecordsError as problem:
        return unusable(problem)


def _handed_over(
    arguments: argparse.Namespace, name: str, found: list[Any], as_csv: Callable[[list[Any]], str], lines: list[str]
) -> int:
    """Write lines of a log in the way that was asked for: to a file, as JSON, or in words with the newest last."""
    from analyzer.records.durable import write_whole
    from analyzer.records.store import sentences

    if arguments.csv:
        path = Path(arguments.csv)
        with sentences(path.parent):
            write_whole(path, as_csv(found).encode())
        sys.stderr.write(f"{path} holds {counted(len(found), name.replace('_', '-').removesuffix('s'))}.\n")
    elif arguments.json:
        document = {"contract": 1, name: [asdict(one) for one in found]}
        print_json(document)
    else:
        sys.stdout.writelines(f"{line}\n" for line in reversed(lines))
    return READ
