"""``taper serve``: the records in a browser."""

from __future__ import annotations

import argparse

from analyzer.commands.pages import add_server_arguments, show

HELP = "show the records in a browser: the fleet, each aircraft, each flight"
EPILOG = """\
  taper serve                           then open the address that it prints
  taper serve --port 9000 --open        on another port, and open a browser
  taper serve --records club-records    other records than your own

Stop it with Ctrl-C. Whoever reaches the address can read and change the records: there is no password, so
keep it on this machine (as it is by default) or on a network that you trust."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("--records", metavar="DIR", help="folder of the records")
    add_server_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Serve until interrupted; the exit status."""
    from analyzer.records.place import records_folder

    return show(arguments, records_folder(arguments.records))
