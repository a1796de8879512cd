"""``taper check``: whether all that is kept is what was written."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, REFUSED, over_logs, usage
from analyzer.commands.records import add_records_argument, open_named, renew_reviews, unusable
from analyzer.phrases import counted

if TYPE_CHECKING:
    from analyzer.records.checking import Checked

EPILOG = """\
Every row and every file carries a hash, which is checked here, and also wherever it is read.

  taper check                  what is damaged or missing, and what to do about it; changes nothing
  taper check --repair         makes anew what can be made anew from originals, readings and the files beside them

The exit status is 0 when nothing is damaged or missing, 1 when something is, 3 when the records cannot be used."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("--repair", action="store_true", help="make anew what can be made anew")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Check, and repair when asked; the exit status."""
    from analyzer.records.checking import check, repair
    from analyzer.records.kept import fleet_kept
    from analyzer.records.latest import tail_names
    from analyzer.records.problems import RecordsError
    from analyzer.trends.entries import EntriesError

    try:
        with open_named(arguments) as store:
            found = check(store)
            if arguments.repair and found.troubles:
                found = repair(store, found, fleet_kept(store), over_logs)
                renew_reviews(store, tail_names(store))
            sys.stdout.write(summary(found, repaired=arguments.repair))
    except (FleetFileError, EntriesError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    return REFUSED if found.troubles else READ


def summary(found: Checked, *, repaired: bool) -> str:
    """What was found, for a person."""
    lines = [*found.repaired]
    lines += [f"{trouble.what} {trouble.todo}" for trouble in found.troubles]
    if found.troubles and not repaired:
        lines.append("To make anew what can be made anew: taper check --repair")
    lines.append(
        f"Checked: {counted(found.logs, 'log')}, {counted(found.flights, 'flight')}, "
        + f"{counted(found.entries, 'maintenance entry', 'maintenance entries')}, {counted(found.files, 'file')}. "
        + (f"{counted(len(found.troubles), 'trouble')} found." if found.troubles else "Nothing is damaged or missing.")
    )
    if found.unsealed:
        lines.append(
            f"Kept before there were hashes: {counted(found.unsealed, 'log')}; taper rebuild gives them theirs."
        )
    if found.half_written:
        lines.append(
            f"Being written, or left so within the hour: {counted(found.half_written, 'file')}. Nothing is missing; a "
            "repair removes what is still there after an hour."
        )
    return "\n".join(lines) + "\n"
