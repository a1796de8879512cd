"""``taper compare``: two kept flights, of one aircraft or of two, side by side."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from analyzer.commands.flight import named_flight
from analyzer.commands.logs import READ, usage
from analyzer.commands.print_json import print_json
from analyzer.commands.records import add_records_argument, open_named, unusable

if TYPE_CHECKING:
    from analyzer.records.store import Store
    from analyzer.service.show_flight import ShownFlight

EPILOG = """\
  taper compare N047KT@2026-03-29 N047KT           a flight and the last one of the same aircraft
  taper compare N047KT N012LF                      the last flights of two aircraft
  taper compare "N047KT@29 Mar 2026 16:04" N047KT  where the day has several

A measure differs where the 95 % intervals of the two have nothing in common. The page /compare lays both on one
chart."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("first", metavar="TAIL[@DATE]", help="one flight: of a date, or the last one")
    parser.add_argument("second", metavar="TAIL[@DATE]", help="the other")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Show both; the exit status."""
    from analyzer.aircraft import FleetFileError
    from analyzer.records.flight_again import NoSuchFlightError
    from analyzer.records.problems import RecordsError
    from analyzer.trends.entries import EntriesError

    try:
        with open_named(arguments) as store:
            first, second = (_named(store, one) for one in (arguments.first, arguments.second))
    except (EntriesError, NoSuchFlightError, FleetFileError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    _show(first, second, as_json=arguments.json)
    return READ


def _named(store: Store, words: str) -> ShownFlight:
    tail, _, when = words.partition("@")
    return named_flight(store, tail.strip(), when.strip() or "last")


def _show(first: ShownFlight, second: ShownFlight, *, as_json: bool) -> None:
    from analyzer.reports.compare_words import NOT_A_FAULT, compared_rows
    from analyzer.reports.text import Style, wrapped
    from analyzer.service.compare_flights import Align, compare_flights

    two = compare_flights(first.review, second.review, Align.START)
    heads = [f"{one.kept.tail} {one.kept.start:%Y-%m-%d %H:%M}" if one.kept.start else str(one.kept.tail)
             for one in (first, second)]  # fmt: skip
    if as_json:
        from msgspec import to_builtins

        document = {"contract": 1, "flights": heads, "measures": [to_builtins(one) for one in two.measures]}
        print_json(document)
        return
    style = Style.of(sys.stdout)
    lines = [style.paint(f"{heads[0]}  beside  {heads[1]}", "head")]
    for label, one, other, says in compared_rows(two):
        lines += wrapped(f"{label}: {one}; {other}; {says}", "  ", "    ")
    sys.stdout.write("\n".join([*lines, *wrapped(NOT_A_FAULT, "")]) + "\n")
