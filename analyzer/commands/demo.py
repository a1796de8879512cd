"""``taper demo``: a season of an invented club, in a browser, and gone afterwards."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from analyzer.commands.logs import usage
from analyzer.commands.pages import ServerUsageError, add_server_arguments, say, server_asked, show

EPILOG = """\
  taper demo --open

Everything is made in a folder of its own that is removed when you stop it with Ctrl-C. Club, aircraft, people
and flights are invented."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    add_server_arguments(parser)
    parser.add_argument("--keep", metavar="DIR", help="make it in this folder and leave it there")


def run(arguments: argparse.Namespace) -> int:
    """Make the season and serve it until interrupted; the exit status."""
    from analyzer.commands.demo_records import make_demo_records
    from analyzer.records.place import Place

    try:
        asked = server_asked(arguments)
    except ServerUsageError as problem:
        return usage(str(problem))
    if arguments.keep:
        return show(asked, Place(make_demo_records(Path(arguments.keep), say)))
    with tempfile.TemporaryDirectory(prefix="taper-demo-", ignore_cleanup_errors=True) as folder:
        return show(asked, Place(make_demo_records(Path(folder), say)))
