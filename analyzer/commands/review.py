"""``taper review``: what each flight says of battery, alternator and regulator."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from analyzer import CONTRACT
from analyzer.aircraft import Fleet, FleetFileError
from analyzer.commands.columns import add_map, parse_map
from analyzer.commands.logs import READ, REFUSED, fleet_beside_records, over_logs, read_with, usage
from analyzer.commands.records import add_limits_argument, judge_as_corrected
from analyzer.commands.sheets import add_sheet_arguments, sheet_in_the_way, write_asked_sheet
from analyzer.corrections import CorrectionsError

if TYPE_CHECKING:
    from analyzer.logs import Refusal, Source
    from analyzer.reports.sheets.flight_sheet import Drawn
    from analyzer.results import LogResult
    from analyzer.review import LogReview

T = TypeVar("T")

HELP = "say what each flight shows of battery, alternator and regulator"
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

The exit status is 0 when every log was read, whatever was found in it; 1 when a log was refused; 2 for a
wrong call."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("paths", nargs="+", metavar="PATH", help="a CSV file, a folder of them, or a zip archive")
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft (else the records' own)")
    add_limits_argument(parser)
    add_map(parser)
    much = parser.add_mutually_exclusive_group()
    much.add_argument("--full", action="store_true", help="print every measure, cause and reason, not the shortest")
    much.add_argument("--brief", action="store_true", help="print one line a flight and no more")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_sheet_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Review the logs; the exit status."""
    try:
        judge_as_corrected(arguments)
        fleet, kept_at = fleet_beside_records(arguments)
    except (FleetFileError, CorrectionsError) as problem:
        return usage(str(problem))
    mapped, fault = parse_map(arguments.map)
    if fault := fault or sheet_in_the_way(arguments):
        return usage(fault)
    from functools import partial

    from analyzer.logs import find_logs

    sources = find_logs(Path(path) for path in arguments.paths)
    show = _print_json if arguments.json else partial(_print_text, brief=arguments.brief, full=arguments.full)
    known = _Known(fleet, kept_at)
    if arguments.sheet is None:
        review = partial(review_source, mapped=mapped)
        status = show(known.noting(_together(review, sources, fleet, lambda result: result)))
        known.tell()
        return status
    drawn: list[tuple[LogResult, tuple[Drawn, ...]]] = []
    draw = partial(draw_source, mapped=mapped)
    status = show(known.noting(_keeping(_together(draw, sources, fleet, lambda result: result[0]), drawn)))
    known.tell()
    from analyzer.reports.sheets.flight_sheet import flight_sheet

    fault = write_asked_sheet(arguments, flight_sheet(drawn, date.today()))
    return usage(fault) if fault else status


class _Known:
    """Which aircraft were judged by what the records' own fleet file says of them."""

    def __init__(self, fleet: Fleet, kept_at: Path | None) -> None:
        self._fleet, self._kept_at = fleet, kept_at
        self._tails: dict[str, None] = {}

    def noting(self, results: Iterable[LogResult]) -> Iterator[LogResult]:
        """Pass the results on, noting whose they are."""
        for result in results:
            if self._kept_at is not None and (result.tail or "").upper() in self._fleet.aircraft:
                self._tails[str(result.tail).upper()] = None
            yield result

    def tell(self) -> None:
        """Say so on standard error."""
        if self._tails:
            names = ", ".join(sorted(self._tails))
            sys.stderr.write(f"taper: {names}: judged by {self._kept_at}; --fleet FILE replaces it\n")


def review_source(source: Source | Refusal, fleet: Fleet, mapped: Mapping[str, str]) -> LogResult:
    """Read and review one log; its result, so that little travels between processes."""
    return _reviewed(source, fleet, mapped, lambda review: ())[0]


def draw_source(
    source: Source | Refusal, fleet: Fleet, mapped: Mapping[str, str]
) -> tuple[LogResult, tuple[Drawn, ...]]:
    """Read, review and draw one log; its result, and its flights as drawn for a sheet."""
    from analyzer.reports.sheets.flight_sheet import drawn

    return _reviewed(source, fleet, mapped, lambda review: tuple(drawn(one, review.log) for one in review.flights))


def _reviewed(
    source: Source | Refusal, fleet: Fleet, mapped: Mapping[str, str], draw: Callable[[LogReview], tuple[Drawn, ...]]
) -> tuple[LogResult, tuple[Drawn, ...]]:
    from analyzer.logs import Refusal
    from analyzer.logs.unit import whole_or_refused
    from analyzer.results import refused_result

    if isinstance(source, Refusal):
        return refused_result(source), ()
    done = whole_or_refused(source.name, lambda: _review(source, fleet, mapped, draw))
    return (refused_result(done), ()) if isinstance(done, Refusal) else done


def _review(
    source: Source, fleet: Fleet, mapped: Mapping[str, str], draw: Callable[[LogReview], tuple[Drawn, ...]]
) -> tuple[LogResult, tuple[Drawn, ...]]:
    """The work on one log, to the text that is printed of it."""
    from analyzer.contract import log_entry, written
    from analyzer.logs import Refusal
    from analyzer.reports.text import Style, log_text
    from analyzer.results import log_result, refused_result
    from analyzer.review import review_log

    log = read_with(source, fleet, mapped)
    if isinstance(log, Refusal):
        return refused_result(log), ()
    review = review_log(log, fleet.of(log.tail))
    result = log_result(review)
    written(log_entry(result))  # what cannot be written is found here, where it costs this log alone
    log_text(result, Style(colour=False))
    return result, draw(review)


def _together(
    work: Callable[[Source | Refusal, Fleet], T],
    sources: list[Source | Refusal],
    fleet: Fleet,
    result_of: Callable[[T], LogResult],
) -> Iterator[T]:
    """Review every log, and those anew whose ammeter the other logs of the same aircraft know better.

    What an ammeter senses is summed over all flights of an aircraft in the call, so that the result depends neither
    on the order of the logs nor on the number of processes. A log that no other can change is given at once, up to the
    first that may be judged anew.
    """
    results = iter(over_logs(work, sources, fleet))
    if len(sources) < 2:
        yield from results
        return
    done: list[T] = []
    for result in results:
        if not done and not _may_be_overturned(result_of(result), fleet):
            yield result
        else:
            done.append(result)
    sources = sources[len(sources) - len(done) :]
    from analyzer.flights.ammeter import overturned  # after the helpers: what it loads would keep them from forking

    by_tail: dict[str, list[int]] = {}
    for place, result in enumerate(done):
        if tail := (result_of(result).tail or "").upper():
            by_tail.setdefault(tail, []).append(place)
    for tail, places in by_tail.items():
        flights = [(one.ammeter, one.ammeter_log_odds) for place in places for one in result_of(done[place]).flights]
        aircraft = fleet.of(tail)
        if aircraft.ammeter is None and (told := overturned(flights)):
            known = fleet.with_aircraft(tail, aircraft.with_ammeter(*told))
            again = [place for place in places if _judged_otherwise(result_of(done[place]), told[0])]
            for place, result in zip(again, over_logs(work, [sources[p] for p in again], known), strict=True):
                done[place] = result
    yield from done


def _may_be_overturned(log: LogResult, fleet: Fleet) -> bool:
    """Whether other logs of the same aircraft can tell its ammeter's kind: neither header nor fleet file does."""
    return bool(log.tail) and fleet.of(log.tail).ammeter is None and _judged_otherwise(log, "")


def _judged_otherwise(log: LogResult, kind: str) -> bool:
    return any(flight.ammeter_log_odds is not None and flight.ammeter != kind for flight in log.flights)


def _keeping(
    results: Iterator[tuple[LogResult, tuple[Drawn, ...]]],
    kept: list[tuple[LogResult, tuple[Drawn, ...]]],
) -> Iterator[LogResult]:
    """Pass the results on, and keep each with its drawings for the sheet."""
    for result in results:
        kept.append(result)
        yield result[0]


def _print_json(results: Iterable[LogResult]) -> int:
    from analyzer.contract import log_entry, written

    refused = False
    sys.stdout.write(f'{{"contract": {CONTRACT}, "logs": [')
    for number, result in enumerate(results):
        refused |= result.refused
        sys.stdout.write(",\n" if number else "\n")
        sys.stdout.write(written(log_entry(result)))
    sys.stdout.write("\n]}\n")
    return REFUSED if refused else READ


def _print_text(results: Iterable[LogResult], brief: bool, full: bool) -> int:
    from analyzer.reports.flight_text import short_log_text
    from analyzer.reports.text import Style, brief_lines, closing, log_text

    style = Style.of(sys.stdout)
    lines: list[str] = []
    logs = flights = refused = 0
    for result in results:
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
