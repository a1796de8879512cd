"""``taper dispose``: what a person says of a finding."""

from __future__ import annotations

import argparse
import difflib
import getpass
import sys
from datetime import datetime
from typing import TYPE_CHECKING

from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, open_named, unusable
from analyzer.records.verdicts import Disposed

if TYPE_CHECKING:
    from analyzer.records.store import Store

EPILOG = """\
  taper dispose N047KT regulator_drift 2026-05-01T10:00:00 confirmed --who "J. Doe" --words "14.9 V at the post"
  taper dispose N047KT regulator_drift 2026-05-01T10:00:00 fixed --entry 4
  taper dispose N047KT --list

The time is when the finding was raised (the last time, if it came back), or the start of its flight, as the results
show it; "flight 4" where the flights have no clock."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", metavar="TAIL")
    parser.add_argument("finding", nargs="?", metavar="FINDING")
    parser.add_argument("at", nargs="?", metavar="TIME", help="when it was raised, or the start of its flight")
    parser.add_argument("verdict", nargs="?", metavar="VERDICT", help=", ".join(Disposed))
    parser.add_argument("--who", metavar="NAME", help="who says so; the login name when left out")
    parser.add_argument("--words", metavar="WORDS", default="", help="why, or what was seen")
    parser.add_argument("--entry", type=int, metavar="NUMBER", help="the maintenance entry that fixed it")
    parser.add_argument("--list", action="store_true", help="list what was said")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Keep or list dispositions; the exit status."""
    from analyzer.records.changing import dispose, kept_dispositions
    from analyzer.records.problems import RecordsError
    from analyzer.trends.entries import EntriesError, moment

    try:
        with open_named(arguments) as store:
            if arguments.list:
                for one in kept_dispositions(store, arguments.tail):
                    sys.stdout.write(
                        f"{one.at}  {one.finding:<24}  {one.verdict:<24}  {one.who} ({one.made_at[:10]})  {one.words}\n"
                    )
                return READ
            if arguments.verdict is None:
                return usage("say TAIL FINDING TIME VERDICT, or TAIL --list")
            who = arguments.who or _login()
            if not who.strip():
                return usage("say with --who who decided it; this account has no name")
            if arguments.verdict not in set(Disposed):
                return usage(f"'{arguments.verdict}' is not a disposition; one of: {', '.join(Disposed)}")
            found = _times(store, arguments.tail)
            if arguments.finding not in found:
                return usage(_unknown(arguments.finding, arguments.tail.upper(), list(found)))
            times = found[arguments.finding]
            named = arguments.at in {first for first, _ in times}  # a flight without a clock, by its number
            at = _at(arguments.at if named else moment(arguments.at, datetime.now()).isoformat(), times)
            if at is None:
                latest = ", ".join(sorted({first for first, _ in found[arguments.finding]}, reverse=True)[:5])
                return usage(f"{arguments.finding} was not found at {arguments.at}; it was at: {latest}")
            dispose(
                store, arguments.tail, arguments.finding, at, arguments.verdict, who, arguments.words, arguments.entry
            )
            sys.stderr.write(f"Kept: {arguments.finding} of {at}: {arguments.verdict}, says {who}.\n")
    except EntriesError as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    return READ


def _login() -> str:
    """The login name; none where the system knows no name for the account."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return ""


def _times(store: Store, tail: str) -> dict[str, list[tuple[str, str]]]:
    """When each finding of a tail was seen: from the start to the end of its flight, or when it was raised."""
    from analyzer.records.kept import flight_findings, tail_flights, tail_review

    found: dict[str, list[tuple[str, str]]] = {}
    for raised in tail_review(store, tail.upper()).findings:
        found.setdefault(raised.name, []).append((raised.key, raised.key))
    flown = {flight.id: (flight.start, flight.end) for flight in tail_flights(store, tail)}
    for one in flight_findings(store, tail):
        start, end = flown[one.flight_id]
        if start is not None:
            found.setdefault(one.finding.name, []).append((start.isoformat(), (end or start).isoformat()))
    return found


def _at(told: str, times: list[tuple[str, str]]) -> str | None:
    """The start of the flight that a moment lies in, which is what a disposition is found by again."""
    exact = [first for first, _ in times if first == told]
    within = [first for first, last in times if first <= told <= last]
    return next(iter(exact + within), None)


def _unknown(finding: str, tail: str, names: list[str]) -> str:
    near = difflib.get_close_matches(finding, names, n=1, cutoff=0.4)
    hint = f"did you mean '{near[0]}'?" if near else f"found: {', '.join(sorted(names)) or 'nothing'}"
    return f"no finding '{finding}' of {tail}; {hint}"
