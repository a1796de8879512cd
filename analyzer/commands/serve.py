"""``taper serve``: the records in a browser."""

from __future__ import annotations

import argparse

from analyzer.commands.logs import usage
from analyzer.commands.pages import ServerUsageError, add_server_arguments, server_asked, show
from analyzer.commands.records import add_records_argument, unusable

EPILOG = """\
  taper serve                           then open the address that it prints
  taper serve --port 9000 --open        on another port, and open a browser
  taper serve --records club-records    other records than your own

  taper serve --host 0.0.0.0 --name club.example --certificate club.pem --key club.key     for others, encrypted

Stop it with Ctrl-C. By default only this machine reaches the pages. Beyond it everybody must sign in: first add
accounts with taper user add. Behind a reverse proxy on this machine serve with --proxy and --name: the proxy encrypts,
hands the Host on as it came, and sets X-Forwarded-For and X-Forwarded-Proto to what it saw. Where the pages lie below
an address of a larger site:

  taper serve --proxy --name club.example --prefix /electrics     at https://club.example/electrics/

The proxy may leave the prefix in the addresses that it hands on, or take it off."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    add_records_argument(parser)
    add_server_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Serve until interrupted; the exit status."""
    from analyzer.records.place import records_place
    from analyzer.records.problems import RecordsError

    try:
        return show(server_asked(arguments), records_place(arguments.records))
    except ServerUsageError as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
