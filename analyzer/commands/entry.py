"""``taper entry``: maintenance entries, kept with the flights."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.commands.logs import READ, usage
from analyzer.commands.print_json import print_json
from analyzer.commands.records import add_records_argument, open_named, renew_reviews, unusable
from analyzer.phrases import counted

if TYPE_CHECKING:
    from analyzer.records.changing import KeptEntry
    from analyzer.records.store import Store
    from analyzer.trends.entries import Entry

EPILOG = """\
  taper entry N047KT 2026-03-29 "battery replaced"
  taper entry N047KT 2026-03-29T16:00 "14.1 V at 2000 rpm" --kind regulator_adjusted
  taper entry N047KT 2026-05-02 "capacity test" --kind battery_serviced --capacity 84
  taper entry --import entries.csv         columns tail,when,kind,words, and capacity where one was tested
  taper entry --list [TAIL]                with their numbers
  taper entry N047KT 2026-03-30 "battery replaced" --edit 4
  taper entry --delete 4

Whether an entry helped: taper trend TAIL."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", nargs="?", metavar="TAIL")
    parser.add_argument("when", nargs="?", metavar="DATE", help="2026-03-29, 29 Mar 2026, today; or with a time")
    parser.add_argument("words", nargs="*", metavar="WORDS", help="what was done")
    parser.add_argument("--kind", metavar="KIND", help="kind of work; found from the words when they name it")
    parser.add_argument("--capacity", metavar="PERCENT", help="what a capacity test came to, in %% of rated capacity")
    parser.add_argument("--import", dest="file", metavar="FILE.csv", help="keep every entry of a file")
    parser.add_argument("--list", action="store_true", help="list the entries")
    parser.add_argument("--edit", type=int, metavar="NUMBER", help="put this in an entry's place")
    parser.add_argument("--delete", type=int, metavar="NUMBER", help="remove an entry")
    parser.add_argument("--json", action="store_true", help="list as one JSON document")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Keep, list, change or remove entries; the exit status."""
    from analyzer.records.problems import RecordsError
    from analyzer.trends.entries import EntriesError

    try:
        with open_named(arguments, create=not arguments.list) as store:
            return _run(arguments, store)
    except EntriesError as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)


def _run(arguments: argparse.Namespace, store: Store) -> int:
    from analyzer.records.changing import add_entries, delete_entry, kept_entries
    from analyzer.service.keep_entry import keep_entry
    from analyzer.trends.entries import kind_of_words, make_entry, read_entries

    if arguments.list:
        _list(kept_entries(store, arguments.tail), as_json=arguments.json)
        return READ
    if arguments.delete is not None:
        gone = delete_entry(store, arguments.delete)
        sys.stderr.write(f"Removed: {gone.tail} {gone.when:%Y-%m-%d} {gone.kind}: {gone.words}\n")
        renew_reviews(store, [gone.tail])
        return READ
    if arguments.file:
        made = read_entries(Path(arguments.file))
        sys.stderr.write(f"New and kept: {add_entries(store, made)} of {counted(len(made), 'entry', 'entries')}.\n")
        renew_reviews(store, [entry.tail for entry in made])
        return READ
    words = " ".join(arguments.words)
    if not arguments.words:
        return usage('say TAIL DATE "WORDS", or --import, --list, --delete')
    kind = arguments.kind or kind_of_words(words)
    entry = make_entry(arguments.tail, arguments.when, kind, words, arguments.capacity, today=datetime.now())
    kept = keep_entry(store, entry, arguments.edit)
    what = f"{kept.entry.kind}: {kept.entry.words}{_tested(kept.entry)}"
    sys.stderr.write(f"Kept: {kept.entry.tail} {kept.entry.when.isoformat(' ')} {what}\n")
    if kind == "other":
        sys.stderr.write("Its kind is 'other', which starts no trend anew; --kind names another.\n")
    if not kept.flown:
        from analyzer.phrases import not_kept_yet
        from analyzer.records.latest import tail_names

        sys.stderr.write(not_kept_yet(kept.entry.tail, tail_names(store)) + "\n")
    renew_reviews(store, kept.tails)
    return READ


def _list(entries: list[KeptEntry], *, as_json: bool) -> None:
    rows = [
        {"number": kept.id, "tail": kept.entry.tail, "when": kept.entry.when.isoformat(), "kind": kept.entry.kind,
         "words": kept.entry.words, "capacity": kept.entry.capacity} for kept in entries
    ]  # fmt: skip
    if as_json:
        print_json({"contract": 1, "entries": rows})
        return
    for kept in entries:
        entry = kept.entry
        what = f"{entry.kind:<20}  {entry.words}{_tested(entry)}"
        sys.stdout.write(f"{kept.id:>5}  {entry.tail:<8}  {entry.when.isoformat()}  {what}\n")


def _tested(entry: Entry) -> str:
    return "" if entry.capacity is None else f"  (capacity {entry.capacity:g} % of rated)"
