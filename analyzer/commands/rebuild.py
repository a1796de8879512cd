"""``taper rebuild``: run the present analysis over everything that is kept."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, REFUSED, over_logs, usage
from analyzer.commands.records import (
    add_limits_argument,
    add_records_argument,
    fleet_for,
    keep_limits,
    open_named,
    renew_reviews,
    unusable,
)
from analyzer.corrections import CorrectionsError
from analyzer.phrases import counted

if TYPE_CHECKING:
    from analyzer.records.rebuilding import Rebuilt

EPILOG = """\
After an update of this program, or of the fleet file, or when the database was lost: it is made again from the
original logs, entries and dispositions beside it. A log whose original was not kept is judged by its readings.

  taper rebuild
  taper rebuild --fleet fleet.toml         with what is known of each aircraft now; kept with the records
  taper rebuild --limits corrections.toml  with corrected limits, weights of causes and words; kept as well"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft; kept with the records")
    add_limits_argument(parser, "; kept with the records")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Rebuild; the exit status."""
    from analyzer.records.latest import tail_names
    from analyzer.records.problems import RecordsError
    from analyzer.records.rebuilding import rebuild
    from analyzer.trends.entries import EntriesError

    try:
        keep_limits(arguments)
        with open_named(arguments, create=True) as store:
            rebuilt = rebuild(store, fleet_for(arguments, store, keep=True), over_logs)
            sys.stdout.write(summary(rebuilt))
            renew_reviews(store, tail_names(store))
    except (FleetFileError, CorrectionsError, EntriesError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    return REFUSED if rebuilt.failed else READ


def summary(rebuilt: Rebuilt) -> str:
    """What changed, for a person."""
    lines = [
        f"{counted(rebuilt.logs, 'log')} analysed anew, {len(rebuilt.changed)} changed by it; flights "
        f"{rebuilt.flights_before} -> {rebuilt.flights_after}; measures that differ: {rebuilt.measures_changed}."
    ]
    lines += [f"  {name}: {more:+d}" for name, more in sorted(rebuilt.findings.items()) if more]
    if rebuilt.taken_in:
        lines.append(f"Taken in, for the database did not know them: {counted(len(rebuilt.taken_in), 'original')}.")
    if rebuilt.entries:
        lines.append(f"Entries and dispositions taken from the files beside the database: {rebuilt.entries}.")
    if rebuilt.without_original:
        lines.append(f"Left as before, with neither original nor readings: {counted(rebuilt.without_original, 'log')}.")
    lines += [f"not analysed: {source}: {because}" for source, because in rebuilt.failed]
    return "\n".join(lines) + "\n"
