"""``taper trend``: each tail over its flights, what drifts, what stepped, and when it will matter."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.aircraft import FleetFileError
from analyzer.commands.logs import READ, REFUSED, fleet_of, over_logs, usage
from analyzer.commands.records import (
    add_records_argument,
    fleet_for,
    open_named,
    over_tails,
    until_named,
    unusable,
)
from analyzer.commands.sheets import add_sheet_arguments, sheet_in_the_way, write_asked_sheet

if TYPE_CHECKING:
    from analyzer.service.follow_tails import FollowedTails
    from analyzer.trends.entries import Entry
    from analyzer.trends.work_done import WorkOfDay

EPILOG = """\
Without --from the flights are those kept by "taper add"; with it they are read from logs and nothing is kept.

  taper trend                              every aircraft kept
  taper trend N047KT                       one aircraft
  taper trend --from logs/                 straight from logs; a file entries.csv among them is the maintenance done
  taper trend N047KT --until 2026-03-29    what was known that day
  taper trend N047KT --sheet N047KT.pdf    the same to print and hand to a shop; .html as well
  taper trend N047KT --entry 2026-03-29    did what was done that day help; with --sheet to print

A sheet of several aircraft has an index first and then pages for each.

The exit status is 0 when everything was read; 1 when a log was refused; 2 for a wrong call."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tails", nargs="*", metavar="TAIL", help="aircraft to show; all when none is named")
    parser.add_argument("--from", dest="paths", nargs="+", metavar="PATH", help="read these logs and keep nothing")
    parser.add_argument("--until", metavar="DATE", help="leave out flights that began after this moment")
    parser.add_argument("--entry", metavar="DATE", help="compare the flights before and after this day's maintenance")
    parser.add_argument(
        "--symptom", dest="symptoms", action="append", default=[], metavar="NAME",
        help="with --entry: count the flights before and after by this symptom, not by those the work is for",
    )  # fmt: skip
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)
    add_sheet_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Review each tail; the exit status."""
    from analyzer.records.problems import RecordsError
    from analyzer.service.follow_tails import UnknownTailError
    from analyzer.trends.entries import EntriesError

    if arguments.symptoms and not arguments.entry:
        return usage("--symptom goes with --entry DATE, the day of the work")
    if fault := sheet_in_the_way(arguments):
        return usage(fault)
    try:
        with _tails(arguments) as (tails, refused):
            fault = _entry(arguments, tails) if arguments.entry else _trends(arguments, tails)
    except (FleetFileError, EntriesError, UnknownTailError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    if fault:
        return usage(fault)
    return REFUSED if refused else READ


@contextmanager
def _tails(arguments: argparse.Namespace) -> Iterator[tuple[FollowedTails, bool]]:
    """The aircraft asked for, while the records are open, and whether a log was refused."""
    from analyzer.service.follow_tails import histories_of, tails_kept, tails_of

    until = None if arguments.until is None else until_named(arguments.until)
    wanted = {tail.upper() for tail in arguments.tails}
    if not arguments.paths:
        with open_named(arguments) as store:
            yield tails_kept(store, wanted, fleet_for(arguments, store), until, over_tails), False
        return
    found = histories_of(map(Path, arguments.paths), fleet_of(arguments), over_logs)
    for log in found.refused:
        sys.stderr.write(f"{log.source}: {log.because}\n")
    for log in found.nameless:
        sys.stderr.write(f"{log.source}: names no aircraft, so its flights belong to no trend\n")
    yield tails_of(found.histories, wanted, until), bool(found.refused)


def _trends(arguments: argparse.Namespace, tails: FollowedTails) -> str | None:
    """Print the tails and write their sheet when one is asked for; what went wrong, or None."""
    from analyzer.contract import laid_out
    from analyzer.contract_tails import tails_entry
    from analyzer.reports.trend_text import trend_text

    sys.stdout.write(laid_out(tails_entry(tails.results)) if arguments.json else trend_text(tails.results))
    if arguments.sheet is None:
        return None
    if not tails.results:
        return "no flight was found, so there is no sheet to write"
    from analyzer.reports.sheets.trend_sheet import drawn_tail, trend_sheet

    drawn = [(one, drawn_tail(tails.history(one.tail), one)) for one in tails.results]
    return write_asked_sheet(arguments, trend_sheet(drawn, date.today()))


def _entry(arguments: argparse.Namespace, tails: FollowedTails) -> str | None:
    """Print what one day's maintenance did to one tail, and write its sheet; what went wrong, or None."""
    from analyzer.contract import laid_out
    from analyzer.contract_tails import work_entry
    from analyzer.reports.entry_text import entry_text
    from analyzer.reports.text import Style
    from analyzer.squawk.report import ReportError
    from analyzer.trends.entries import moment
    from analyzer.trends.work_done import work_of_day

    if len(tails.results) != 1:
        return "--entry compares the flights of one aircraft; name it"
    result = tails.results[0]
    work = work_of_day(result, moment(arguments.entry, datetime.now()))
    if not work.entries:
        known = ", ".join(f"{one.entry.when:%Y-%m-%d}" for one in result.comparisons) or "none"
        return f"nothing was entered for {result.tail} on {arguments.entry}; its entries: {known}"
    try:
        work = _with_symptoms(work, [one.entry for one in result.comparisons], arguments)
    except ReportError as problem:
        return str(problem)
    sys.stdout.write(laid_out(work_entry(work)) if arguments.json else entry_text(work, Style.of(sys.stdout)))
    if arguments.sheet is None:
        return None
    from analyzer.reports.sheets.entry_sheet import drawn_entries, entry_sheet

    charts = drawn_entries(tails.history(result.tail), work)
    return write_asked_sheet(arguments, entry_sheet(work, charts, date.today()))


def _with_symptoms(work: WorkOfDay, entries: Sequence[Entry], arguments: argparse.Namespace) -> WorkOfDay:
    """Count each symptom's flights before and after each entry, as far around it as a squawk looks back.

    Where none is named, those that the work is done for.

    Raises
    ------
    ReportError
        When a symptom is not known.
    """
    from analyzer.commands.squawk import look_up
    from analyzer.contract_squawk import around_entries
    from analyzer.limits import limit_value
    from analyzer.service.look_up_squawk import SquawkRequest
    from analyzer.squawk.around_work import neighbours, symptoms_around, symptoms_of_work
    from analyzer.squawk.report import report_of

    around = timedelta(days=limit_value("squawk_look_back"))
    told = []
    for one in work.entries:
        when, kind = one.comparison.entry.when, one.comparison.entry.kind
        wanted = arguments.symptoms or symptoms_of_work(kind)
        if not wanted:
            told.append(one)
            continue
        request = SquawkRequest(work.tail, report_of(None, wanted), when - around, when + around)
        squawk, between = look_up(request, arguments).result, neighbours(when, kind, entries)
        counts = [] if squawk is None else around_entries(symptoms_around(squawk.symptoms, when, between))
        told.append(replace(one, symptoms=tuple(counts)))
    return replace(work, entries=tuple(told))
