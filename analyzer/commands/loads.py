"""``taper loads``: an aircraft's own loads, from the steps that its flights show."""

from __future__ import annotations

import argparse
import sys

from analyzer.commands.alarms import add_arguments, asked_meters
from analyzer.commands.logs import READ
from analyzer.commands.print_json import print_json

__all__ = ["EPILOG", "add_arguments", "run"]

EPILOG = """\
  taper loads N047KT          each load that came on and went off: amperes with their interval, how often, when
  taper loads N047KT --json   the same for a script

Only an alternator ammeter shows the load. The aircraft's own load analysis and placards come first."""


def run(arguments: argparse.Namespace) -> int:
    """Show them; the exit status."""
    own = asked_meters(arguments)
    if isinstance(own, int):
        return own
    if arguments.json:
        from msgspec import to_builtins

        document = {"contract": 1, "tail": own.tail} | to_builtins(own.loads)
        print_json(document)
        return READ
    from analyzer.reports.load_words import LOAD_NOTES, load_line, load_rows, load_sentence
    from analyzer.reports.text import Style, wrapped

    lines = [Style.of(sys.stdout).paint(f"{own.tail}  loads, from its own flights", "head")]
    for row in load_rows(own.loads):
        lines += wrapped(load_line(row), "  ", "    ")
    sys.stdout.write("\n".join([*lines, *wrapped(load_sentence(own.loads), ""), *wrapped(LOAD_NOTES, "")]) + "\n")
    return READ
