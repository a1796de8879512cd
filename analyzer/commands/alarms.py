"""``taper alarms``: limits for a recorder's alarms from the aircraft's own flights."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from typing import TYPE_CHECKING

from analyzer.commands.logs import READ, usage
from analyzer.commands.print_json import print_json
from analyzer.commands.records import add_records_argument, open_named, unusable

if TYPE_CHECKING:
    from analyzer.service.own_meters import OwnMeters

EPILOG = """\
  taper alarms N047KT          low voltage, high voltage, discharge: a limit each, and its false alarms
  taper alarms N047KT --json   the same for a script

Each recorded loss of the alternator is told with when the low-voltage light and the alarms would have come. The
manuals of aircraft and recorder go first."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", metavar="TAIL", help="whose")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show them; the exit status."""
    own = asked_meters(arguments)
    if isinstance(own, int):
        return own
    if arguments.json:
        from msgspec import to_builtins

        plain = to_builtins(own, builtin_types=(datetime,))
        document = {"contract": 1} | {name: told for name, told in plain.items() if name != "loads"}
        print_json(document, default=datetime.isoformat)
        return READ
    from analyzer.reports.alarm_text import alarm_text
    from analyzer.reports.text import Style

    sys.stdout.write(alarm_text(own, Style.of(sys.stdout)))
    return READ


def asked_meters(arguments: argparse.Namespace) -> OwnMeters | int:
    """What the aircraft's kept flights came to; the exit status where that cannot be told, once it was said why."""
    from analyzer.aircraft import FleetFileError
    from analyzer.phrases import nearest
    from analyzer.records.latest import tail_names
    from analyzer.records.problems import RecordsError
    from analyzer.service.own_meters import meters_asked, own_meters

    try:
        with open_named(arguments) as store:
            own = own_meters(meters_asked(store, arguments.tail))
            near = nearest(own.tail, tail_names(store)) if not own.flights else ""
    except FleetFileError as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    if not own.flights and not own.unread:
        return usage(f"no flight of {own.tail} is kept{near}")
    return own
