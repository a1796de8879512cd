"""``taper assign``: say whose a kept log is."""

from __future__ import annotations

import argparse
import sys

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, over_logs, usage
from analyzer.commands.records import add_records_argument, open_named, renew_reviews, unusable
from analyzer.phrases import counted

EPILOG = """\
  taper assign                     the logs that name no aircraft, with their numbers
  taper assign N047KT 12 13        these two are N047KT's; its trends take them in
  taper assign N047KT all          all of them are

They are read anew with what is known of that aircraft."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tail", nargs="?", metavar="TAIL", help="the aircraft")
    parser.add_argument("logs", nargs="*", metavar="LOG", help="numbers of logs, or 'all' that name no aircraft")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Assign logs, or list those without an aircraft; the exit status."""
    from analyzer.records.kept import kept_logs
    from analyzer.records.problems import RecordsError
    from analyzer.service.assign_logs import assign_logs

    try:
        with open_named(arguments) as store:
            unknown = kept_logs(store, without_tail=True)
            if arguments.tail is None:
                sys.stdout.writelines(f"{log.id:>6}  {log.start or 'no clock':<19}  {log.source}\n" for log in unknown)
                sys.stderr.write(f"Kept logs that name no aircraft: {len(unknown)}.\n")
                return READ
            if not arguments.logs:
                return usage("say which logs: their numbers, or 'all' that name no aircraft")
            everything = {str(log.id): log for log in kept_logs(store)}
            wrong = [name for name in arguments.logs if name != "all" and name not in everything]
            if wrong:
                return usage(
                    f"no log of number {', '.join(wrong)} is kept; 'taper assign' lists those without aircraft"
                )
            chosen = unknown if "all" in arguments.logs else []
            chosen = [*chosen, *(everything[name] for name in arguments.logs if name != "all")]
            done = assign_logs(store, arguments.tail, [log.id for log in chosen], over_logs)
            sys.stderr.write(f"Now {arguments.tail.upper()}'s: {counted(done.changed, 'log')}.\n")
            for source, because in done.failed:
                sys.stderr.write(f"not read anew as {arguments.tail.upper()}'s: {source}: {because}\n")
            renew_reviews(store, done.tails)
    except FleetFileError as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    return READ
