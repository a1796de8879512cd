"""``taper restore``: records made from a backup."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from analyzer.commands.logs import READ, REFUSED
from analyzer.commands.records import add_records_argument, unusable
from analyzer.phrases import counted

EPILOG = """\
  taper restore club-2026-07-26.zip --records /srv/taper
  taper restore club-2026-07-26.zip --records 'postgresql://club@db.example/taper?files=/srv/taper'

The folder of the records must be empty or not there yet. Every file is compared with its hash in the backup, and then
all is checked as by taper check. Until it is proven nothing stands in the folder. A backup of either kind of database
is restored to either, so that records are moved to a server or back by a backup."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("file", metavar="FILE", help="a backup written by taper backup")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Restore and check; the exit status."""
    from analyzer.commands.check import summary
    from analyzer.records.backup import restore
    from analyzer.records.checking import check
    from analyzer.records.place import records_place
    from analyzer.records.problems import RecordsError
    from analyzer.records.store import open_records

    try:
        place = records_place(arguments.records)
        made = restore(Path(arguments.file), place)
        with open_records(place) as store:
            found = check(store)
    except RecordsError as problem:
        return unusable(problem)
    sys.stderr.write(
        f"In {place} as backed up at {made.made_at}: {counted(made.logs, 'log')} with "
        f"{counted(made.flights, 'flight')} in {counted(made.files, 'file')}; every file was compared.\n"
    )
    sys.stdout.write(summary(found, repaired=False))
    return REFUSED if found.troubles else READ
