"""``taper review``: what each flight says of battery, alternator and regulator."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from functools import partial
from importlib import import_module
from itertools import chain, islice
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from analyzer import CONTRACT
from analyzer.aircraft import Fleet, FleetFileError
from analyzer.commands.clusters import HELP, add_cluster_argument, spread_by
from analyzer.commands.columns import add_map, parse_map
from analyzer.commands.logs import READ, REFUSED, find_named, fleet_beside_records, usage
from analyzer.commands.records import add_limits_argument, judge_as_corrected
from analyzer.commands.sheets import add_sheet_arguments, sheet_in_the_way, write_asked_sheet
from analyzer.corrections import CorrectionsError
from analyzer.logs.log import Refusal
from analyzer.logs.unit import source_name

if TYPE_CHECKING:
    from analyzer.logs.log import Log
    from analyzer.logs.source import Source
    from analyzer.records.in_order import OverLogs
    from analyzer.reports.sheets.flight_sheet import Drawn
    from analyzer.results import LogResult
    from analyzer.review import FlightReview
    from analyzer.service.review_logs import Made, Reviewed

S = TypeVar("S")
T = TypeVar("T")
EPILOG = """\
A flight takes at most 15 lines: findings first, most severe first, each with what was seen and what to check
first; then the five measures that tell most, with their 95 % intervals; then what could not be measured. --full
adds every measure, the likeliest causes, more checks and every reason.

  taper review flight.csv                     one flight
  taper review flight.csv --full              all of it
  taper review logs/ --fleet fleet.toml       every log below a folder, with what is known of each aircraft
  taper review club.zip --json > out.json     for a script
  taper review flight.csv --sheet flight.pdf  one or two pages to print and hand to a shop

A sheet of several flights has an index first and then a page or two for each. It is PDF or HTML by the name's
ending, needs no network to be read, and is written over an older one only with --force.

The exit status is 0 when every log was read, whatever was found in it; 1 when a log was refused, or not
reviewed because the cluster went away after the first results; 2 for a wrong call, or a cluster that cannot be used.

""" + HELP.format(
    example="taper review /shared/logs --brief --cluster tcp://10.0.0.5:8786",
    sees="Folders of logs must be shared by all machines, under the same name.",
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument(
        "paths", nargs="+", metavar="PATH", help="a CSV file, a folder of them, a zip archive, or an address of logs"
    )
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft (else the records' own)")
    add_limits_argument(parser)
    add_map(parser)
    much = parser.add_mutually_exclusive_group()
    much.add_argument("--full", action="store_true", help="print every measure, cause and reason, not the shortest")
    much.add_argument("--brief", action="store_true", help="print one line a flight and no more")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_sheet_arguments(parser)
    add_cluster_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Review the logs; the exit status."""
    from analyzer.records.problems import RecordsError

    try:
        judge_as_corrected(arguments)
        fleet, kept_at = fleet_beside_records(arguments)
    except (FleetFileError, CorrectionsError, RecordsError) as problem:
        return usage(str(problem))
    mapped, fault = parse_map(arguments.map)
    if fault := fault or sheet_in_the_way(arguments):
        return usage(fault)
    from analyzer.cluster.problems import ClusterError

    try:
        with spread_by(arguments) as over:
            return _review(arguments, _Known(fleet, kept_at), mapped, over)
    except ClusterError as problem:
        return usage(str(problem))


def _review(arguments: argparse.Namespace, known: _Known, mapped: Mapping[str, str], over: OverLogs) -> int:
    """Review the logs as they are spread; the exit status."""
    # what writes a log is loaded before helpers are copied from this process
    if arguments.json:
        import_module("analyzer.contract")
        return _shown(arguments, known, mapped, over, told_as_json, _print_json)
    import_module("analyzer.reports.text")
    show = partial(_print_text, brief=arguments.brief, full=arguments.full)
    return _shown(arguments, known, mapped, over, told_as_text, show)


def _shown(
    arguments: argparse.Namespace,
    known: _Known,
    mapped: Mapping[str, str],
    over: OverLogs,
    told: Callable[[LogResult, object], S],
    show: Callable[[Iterable[Reviewed[S]]], int],
) -> int:
    """Review the logs, show what is ``told`` of each, and write the sheet where one is asked for; the exit status."""
    from analyzer.service.review_logs import Made

    sources = find_named(arguments.paths)
    if arguments.sheet is None:
        status = show(_reviewed(Made(not_drawn, told), sources, known, mapped, over))
        known.tell()
        return status
    kept: list[tuple[LogResult, tuple[Drawn, ...]]] = []
    drawn = Made(drawn_for_sheet, partial(told_and_kept, told))
    status = show(_keeping(_reviewed(drawn, sources, known, mapped, over), kept))
    known.tell()
    from analyzer.reports.sheets.flight_sheet import flight_sheet

    fault = write_asked_sheet(arguments, flight_sheet(kept, date.today()))
    return usage(fault) if fault else status


def _reviewed(
    made: Made[T, S], sources: list[Source | Refusal], known: _Known, mapped: Mapping[str, str], over: OverLogs
) -> Iterator[Reviewed[S]]:
    from analyzer.service.review_logs import review_logs_with

    return known.noting(_to_the_end(review_logs_with(made, sources, known.fleet, mapped, over), made, sources))


def _to_the_end(
    reviewed: Iterator[Reviewed[S]], made: Made[T, S], sources: list[Source | Refusal]
) -> Iterator[Reviewed[S]]:
    """Pass on what comes of each log; of those left when a cluster goes away in mid-run, that they were not reviewed.

    Raises
    ------
    ClusterError
        When it goes away before the first result.
    """
    from analyzer.cluster.problems import KEPT, ClusterError
    from analyzer.service.review_logs import refused_with

    number = 0
    try:
        for number, one in enumerate(reviewed, 1):  # noqa: B007
            yield one
    except ClusterError as problem:
        if not number:
            raise
        because = f"The log was not reviewed. {str(problem).partition(KEPT)[0].rstrip()}"  # a review keeps nothing
        for source in sources[number:]:
            yield refused_with(made, Refusal(source_name(source), because))


class _Known:
    """Which aircraft were judged by what the records' own fleet file says of them."""

    def __init__(self, fleet: Fleet, kept_at: Path | None) -> None:
        self.fleet, self._kept_at = fleet, kept_at
        self._tails: dict[str, None] = {}

    def noting(self, reviewed: Iterable[Reviewed[S]]) -> Iterator[Reviewed[S]]:
        """Pass the logs on, noting whose they are."""
        for one in reviewed:
            if self._kept_at is not None and (one.tail or "").upper() in self.fleet.aircraft:
                self._tails[str(one.tail).upper()] = None
            yield one

    def tell(self) -> None:
        """Say so on standard error."""
        if self._tails:
            names = ", ".join(sorted(self._tails))
            sys.stderr.write(f"taper: {names}: judged by {self._kept_at}; --fleet FILE replaces it\n")


def told_as_json(result: LogResult, _: object = ()) -> str:
    """A log's entry. It is written where the log is read: what cannot be written costs that log alone."""
    from analyzer.contract import log_entry, written

    return written(log_entry(result))


def told_as_text(result: LogResult, _: object = ()) -> LogResult:
    """What a log comes to, its text written once for the same reason; its style is known where it is printed."""
    from analyzer.reports.text import Style, log_text

    log_text(result, Style(colour=False))
    return result


def told_and_kept(
    told: Callable[[LogResult, object], S], result: LogResult, drawn: tuple[Drawn, ...]
) -> tuple[S, LogResult, tuple[Drawn, ...]]:
    """What is told of a log, with what a sheet shows of it."""
    return told(result, drawn), result, drawn


def not_drawn(review: FlightReview, log: Log) -> None:
    """Nothing of a flight, where no sheet is asked for."""


def drawn_for_sheet(review: FlightReview, log: Log) -> Drawn:
    """A flight as drawn for a sheet."""
    from analyzer.reports.sheets.flight_sheet import drawn

    return drawn(review, log)


def _keeping(
    reviewed: Iterator[Reviewed[tuple[S, LogResult, tuple[Drawn, ...]]]],
    kept: list[tuple[LogResult, tuple[Drawn, ...]]],
) -> Iterator[Reviewed[S]]:
    """Pass on what is told of the logs, and keep each one's result with its drawings for the sheet."""
    from analyzer.service.review_logs import Reviewed

    for one in reviewed:
        told, result, drawn = one.told
        kept.append((result, drawn))
        yield Reviewed.of(result, told)


def _print_json(reviewed: Iterable[Reviewed[str]]) -> int:
    refused, left = False, iter(reviewed)
    first = list(islice(left, 1))  # before anything is written: what cannot begin leaves no half of a document
    sys.stdout.write(f'{{"contract": {CONTRACT}, "logs": [')
    for number, one in enumerate(chain(first, left)):
        refused |= one.refused
        sys.stdout.write(",\n" if number else "\n")
        sys.stdout.write(one.told)
    sys.stdout.write("\n]}\n")
    return REFUSED if refused else READ


def _print_text(reviewed: Iterable[Reviewed[LogResult]], brief: bool, full: bool) -> int:
    from analyzer.reports.flight_text import short_log_text
    from analyzer.reports.text import Style, brief_lines, closing, log_text

    style = Style.of(sys.stdout)
    lines: list[str] = []
    logs = flights = refused = 0
    for one in reviewed:
        result = one.told
        logs += 1
        flights += len(result.flights)
        refused += result.refused
        lines += brief_lines(result, style)
        if not brief:
            sys.stdout.write((log_text if full else short_log_text)(result, style) + "\n")
            sys.stdout.flush()
    if brief or logs > 1:
        sys.stdout.write("\n".join(lines) + "\n\n")
    sys.stdout.write(closing(logs, flights, refused, style, full=full))
    return REFUSED if refused else READ
