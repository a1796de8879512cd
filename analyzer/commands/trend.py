"""``taper trend``: each tail over its flights, what drifts, what stepped, and when it will matter."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer import CONTRACT
from analyzer.aircraft import Fleet, FleetFileError
from analyzer.commands.logs import READ, REFUSED, fleet_of, over_logs, read_with, usage
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
    from analyzer.logs import Refusal, Source
    from analyzer.trends.entries import Entry
    from analyzer.trends.history import FlightSummary, History

    #: A tail by the contract, and a way to its history.
    Reviewed = tuple[dict[str, Any], Callable[[], History]]

HELP = "say what drifts or changes from flight to flight, and when it will matter"
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


class UnknownTailError(ValueError):
    """An aircraft that was asked for has no flights."""


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
    from analyzer.trends.entries import EntriesError

    if arguments.symptoms and not arguments.entry:
        return usage("--symptom goes with --entry DATE, the day of the work")
    if fault := sheet_in_the_way(arguments):
        return usage(fault)
    try:
        chosen, refused = _reviewed(arguments)
        fault = _entry(arguments, chosen) if arguments.entry else _trends(arguments, chosen)
    except (FleetFileError, EntriesError, UnknownTailError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    if fault:
        return usage(fault)
    return REFUSED if refused else READ


def _trends(arguments: argparse.Namespace, chosen: list[Reviewed]) -> str | None:
    """Print the tails and write their sheet when one is asked for; what went wrong, or None."""
    documents = [document for document, _ in chosen]
    if arguments.json:
        _print_json({"tails": documents})
    else:
        _print_text(documents)
    if arguments.sheet is None:
        return None
    if not chosen:
        return "no flight was found, so there is no sheet to write"
    from analyzer.reports.sheets.trend_sheet import drawn_tail, trend_sheet

    drawn = [(document, drawn_tail(history(), document)) for document, history in chosen]
    return write_asked_sheet(arguments, trend_sheet(drawn, date.today()))


def _entry(arguments: argparse.Namespace, chosen: list[Reviewed]) -> str | None:
    """Print what one day's maintenance did to one tail, and write its sheet; what went wrong, or None."""
    from analyzer.reports.entry_text import entry_text
    from analyzer.reports.text import Style
    from analyzer.trends.entries import moment
    from analyzer.trends.entry_document import entry_document

    when = moment(arguments.entry, datetime.now())
    if len(chosen) != 1:
        return "--entry compares the flights of one aircraft; name it"
    review, load = chosen[0]
    history = load()
    document = entry_document(history, review, when)
    if not document["entries"]:
        known = ", ".join(entry["when"][:10] for entry in review["entries"]) or "none"
        return f"nothing was entered for {review['tail']} on {arguments.entry}; its entries: {known}"
    if fault := _add_symptoms(document, history.entries, arguments):
        return fault
    if arguments.json:
        _print_json(document)
    else:
        sys.stdout.write(entry_text(document, Style.of(sys.stdout)))
    if arguments.sheet is None:
        return None
    from analyzer.reports.sheets.entry_sheet import drawn_entries, entry_sheet

    return write_asked_sheet(arguments, entry_sheet(document, drawn_entries(history, document), date.today()))


def _add_symptoms(document: dict[str, Any], entries: Sequence[Entry], arguments: argparse.Namespace) -> str | None:
    """Count each symptom's flights before and after each entry, as far around it as a squawk looks back.

    Where none is named, those that the work is done for. Gives what is wrong with a symptom's name, or None.
    """
    from analyzer.commands.squawk import Asked, look_up
    from analyzer.limits import limit_value
    from analyzer.squawk.around_work import neighbours, symptom_counts, symptoms_of_work
    from analyzer.squawk.document import ReportError, report_of

    around = timedelta(days=limit_value("squawk_look_back"))
    for entry in document["entries"]:
        wanted = arguments.symptoms or symptoms_of_work(entry["kind"])
        if not wanted:
            continue
        try:
            report = report_of(None, wanted)
        except ReportError as problem:
            return str(problem)
        when = datetime.fromisoformat(entry["when"])
        squawk, _, _ = look_up(Asked(document["tail"], report, when - around, when + around), arguments)
        between = neighbours(when, entry["kind"], entries)
        entry["symptoms"] = [] if squawk is None else symptom_counts(squawk, when, between)
    return None


def _reviewed(arguments: argparse.Namespace) -> tuple[list[Reviewed], bool]:
    """Each tail by the contract and a way to its history, and whether a log was refused."""
    until = None if arguments.until is None else until_named(arguments.until)
    if arguments.paths:
        from analyzer.trends.review import review_tail, tail_document

        histories, refused = histories_of(arguments.paths, fleet_of(arguments))
        wanted = {tail.upper() for tail in arguments.tails}
        _check(wanted, [history.tail for history in histories])
        known = [history.until(until) for history in histories if not wanted or history.tail in wanted]
        return [(tail_document(review_tail(one)), partial(_same, one)) for one in known], refused
    return _of_records(arguments, until), False


def _same(history: History) -> History:
    return history


def _of_records(arguments: argparse.Namespace, until: datetime | None) -> list[Reviewed]:
    from analyzer.records.kept import kept_history, tail_reviews
    from analyzer.records.latest import tail_names
    from analyzer.trends.review import review_tail, tail_document

    with open_named(arguments) as store:
        fleet = fleet_for(arguments, store)
        names = tail_names(store)
        wanted = {tail.upper() for tail in arguments.tails}
        _check(wanted, names)
        chosen = [name for name in names if name in wanted] if wanted else names
        if until is None:
            documents = tail_reviews(store, chosen, fleet, over_tails)
        else:
            documents = [tail_document(review_tail(kept_history(store, one, fleet).until(until))) for one in chosen]
    return [(document, partial(_kept, arguments, document["tail"], until)) for document in documents]


def _kept(arguments: argparse.Namespace, tail: str, until: datetime | None) -> History:
    """A tail's history from the records, read only where more is drawn or compared than the review holds."""
    from analyzer.records.kept import kept_history

    with open_named(arguments) as store:
        return kept_history(store, tail, fleet_for(arguments, store)).until(until)


def _check(wanted: set[str], known: list[str]) -> None:
    """See that every aircraft asked for is there, before anything is worked out.

    Raises
    ------
    UnknownTailError
        Naming those that are not, and those that are.
    """
    unknown = sorted(wanted - set(known))
    if unknown:
        raise UnknownTailError(
            f"no flight of {', '.join(unknown)} was found; aircraft found: {', '.join(known) or 'none'}"
        )


def histories_of(paths: list[str], fleet: Fleet) -> tuple[list[History], bool]:
    """Give each tail's history straight from logs, and whether a log was refused.

    Raises
    ------
    EntriesError
        When a file of maintenance entries cannot be read.
    """
    from analyzer.logs import find_logs
    from analyzer.trends.entries import entries_beside
    from analyzer.trends.history import history_of

    entries = entries_beside(Path(path) for path in paths)
    flights: dict[str, list[FlightSummary]] = {}
    refused = False
    for source, tail, because, found in over_logs(summarize_source, find_logs(Path(p) for p in paths), fleet):
        if because is not None:
            refused = True
            sys.stderr.write(f"{source}: {because}\n")
        elif tail is None:
            sys.stderr.write(f"{source}: names no aircraft, so its flights belong to no trend\n")
        else:
            flights.setdefault(tail.upper(), []).extend(found)
    histories = [
        history_of(tail, found, [entry for entry in entries if entry.tail == tail], fleet.of(tail))
        for tail, found in sorted(flights.items())
    ]
    return histories, refused


def summarize_source(source: Source | Refusal, fleet: Fleet) -> tuple[str, str | None, str | None, list[FlightSummary]]:
    """Read and review one log; its name, tail, why it was refused, and its flights' summaries."""
    from analyzer.logs import Refusal
    from analyzer.review import review_log
    from analyzer.trends.history import summarize

    log = read_with(source, fleet, {})
    if isinstance(log, Refusal):
        return log.source, None, log.because, []
    reviews = review_log(log, fleet.of(log.tail)).flights
    return log.source, log.tail, None, [summarize(one, log.source, place) for place, one in enumerate(reviews, 1)]


def _print_json(whole: dict[str, Any]) -> None:
    whole = {"contract": CONTRACT} | whole
    sys.stdout.write(json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False) + "\n")


def _print_text(documents: list[dict[str, Any]]) -> None:
    from analyzer.reports.trend_text import trend_text

    sys.stdout.write(trend_text(documents))
