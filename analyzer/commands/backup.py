"""``taper backup``: all records in one file."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from analyzer.commands.logs import READ, REFUSED
from analyzer.commands.records import add_records_argument, open_named, unusable
from analyzer.phrases import counted

EPILOG = """\
  taper backup /media/disk/club-2026-07-26.zip

The file holds the database as of one moment, the originals and readings, entries, dispositions and the fleet file, each
with its hash. To make records of it again: taper restore FILE"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("file", metavar="FILE", help="where the backup goes; must not be there yet")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write the backup; the exit status."""
    from analyzer.records.backup import back_up
    from analyzer.records.problems import RecordsError

    try:
        with open_named(arguments) as store:
            made = back_up(store, Path(arguments.file))
    except RecordsError as problem:
        return unusable(problem)
    sys.stderr.write(
        f"Backed up in {made.path}: {counted(made.logs, 'log')} with {counted(made.flights, 'flight')} in "
        f"{counted(made.files, 'file')}, {made.size / 1e6:,.1f} MB.\n"
    )
    for sentence in made.missing:
        sys.stderr.write(f"not in the backup, for the records have lost it: {sentence}; see taper check\n")
    return REFUSED if made.missing else READ
