"""``taper export``: flights, measures and findings as tables."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, open_named, unusable
from analyzer.phrases import counted, not_found

EPILOG = """\
  taper export tables/                     flights.csv, measures.csv and findings.csv of every aircraft
  taper export tables/ --tail N047KT --format parquet

In CSV a text that a spreadsheet would run as a formula gets an apostrophe before it."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("folder", metavar="FOLDER", help="where the tables go; made when absent")
    parser.add_argument("--format", choices=("csv", "parquet"), default="csv")
    parser.add_argument("--tail", metavar="TAIL", help="one aircraft only")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Write the tables; the exit status."""
    from analyzer.records.exporting import export
    from analyzer.records.latest import tail_names
    from analyzer.records.problems import RecordsError

    try:
        with open_named(arguments) as store:
            known = tail_names(store)
            if arguments.tail and arguments.tail.upper() not in known:
                return usage(not_found([arguments.tail.upper()], known))
            rows = export(store, Path(arguments.folder), arguments.format, arguments.tail)
    except RecordsError as problem:
        return unusable(problem)
    except OSError as problem:
        return usage(f"{arguments.folder} cannot be written ({problem.strerror or problem})")
    told = ", ".join(counted(count, name.removesuffix("s")) for name, count in rows.items())
    sys.stderr.write(f"{told} written to {arguments.folder}\n")
    return READ
