"""``taper dispose``: what a person says of a finding."""

from __future__ import annotations

import argparse
import getpass
import sys

from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, open_named, unusable
from analyzer.phrases import nearest
from analyzer.records.verdicts import Disposed

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
    from analyzer.records.changing import kept_dispositions
    from analyzer.records.problems import RecordsError
    from analyzer.service.record_outcome import OutcomeError, known_tail, record_outcome
    from analyzer.trends.entries import EntriesError

    try:
        with open_named(arguments) as store:
            known_tail(store, arguments.tail)
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
                return usage(_no_outcome(arguments.verdict))
            at = record_outcome(
                store, arguments.tail, arguments.finding, arguments.at, Disposed(arguments.verdict), who,
                arguments.words, arguments.entry,
            )  # fmt: skip
            sys.stderr.write(f"Kept: {arguments.finding} of {at}: {arguments.verdict}, says {who}.\n")
    except (EntriesError, OutcomeError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    return READ


def _no_outcome(given: str) -> str:
    """That a word is no outcome: the nearest that is, and all of them."""
    return f"'{given}' is not an outcome{nearest(given.lower(), Disposed) or '.'} Outcomes: {', '.join(Disposed)}"


def _login() -> str:
    """The login name; none where the system knows no name for the account."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return ""
