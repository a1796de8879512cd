"""The command line: ``taper``."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from analyzer import __version__
from analyzer.commands import columns


def main(argv: Sequence[str] | None = None) -> int:
    """Run one subcommand; its exit status."""
    parser = argparse.ArgumentParser(prog="taper", description="Battery and alternator health from recorded flights.")
    parser.add_argument("--version", action="version", version=__version__)
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    one = commands.add_parser("columns", help="say how logs were understood")
    columns.add_arguments(one)
    one.set_defaults(run=columns.run)
    arguments = parser.parse_args(argv)
    return int(arguments.run(arguments))
