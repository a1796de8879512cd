"""``taper trend``: each tail over its flights, what drifts, what stepped, and when it will matter."""

from __future__ import annotations

import argparse
import json
import sys
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

if TYPE_CHECKING:
    from datetime import datetime

    from analyzer.logs import Refusal, Source
    from analyzer.trends.history import FlightSummary, History

HELP = "say what drifts or changes from flight to flight, and when it will matter"
EPILOG = """\
Without --from the flights are those kept by "taper add"; with it they are read from logs and nothing is kept.

  taper trend                              every aircraft kept
  taper trend N047KT                       one aircraft
  taper trend --from logs/                 straight from logs; a file entries.csv among them is the maintenance done
  taper trend N047KT --until 2026-03-29    what was known that day

The exit status is 0 when everything was read; 1 when a log was refused; 2 for a wrong call."""


class UnknownTailError(ValueError):
    """An aircraft that was asked for has no flights."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("tails", nargs="*", metavar="TAIL", help="aircraft to show; all when none is named")
    parser.add_argument("--from", dest="paths", nargs="+", metavar="PATH", help="read these logs and keep nothing")
    parser.add_argument("--until", metavar="DATE", help="leave out flights that began after this moment")
    parser.add_argument("--fleet", metavar="FILE.toml", help="what is known of each aircraft")
    parser.add_argument("--json", action="store_true", help="print one JSON document and nothing else")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Review each tail; the exit status."""
    from analyzer.records.problems import RecordsError
    from analyzer.trends.entries import EntriesError

    try:
        documents, refused = _documents(arguments)
    except (FleetFileError, EntriesError, UnknownTailError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)
    (_print_json if arguments.json else _print_text)(documents)
    return REFUSED if refused else READ


def _documents(arguments: argparse.Namespace) -> tuple[list[dict[str, Any]], bool]:
    """Each tail by the contract, and whether a log was refused."""
    until = None if arguments.until is None else until_named(arguments.until)
    if arguments.paths:
        from analyzer.trends.review import review_tail, tail_document

        histories, refused = histories_of(arguments.paths, fleet_of(arguments))
        wanted = {tail.upper() for tail in arguments.tails}
        _check(wanted, [history.tail for history in histories])
        histories = [history for history in histories if not wanted or history.tail in wanted]
        return [tail_document(review_tail(history.until(until))) for history in histories], refused
    return _of_records(arguments, until), False


def _of_records(arguments: argparse.Namespace, until: datetime | None) -> list[dict[str, Any]]:
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
            return tail_reviews(store, chosen, fleet, over_tails)
        return [tail_document(review_tail(kept_history(store, name, fleet).until(until))) for name in chosen]


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
    summaries = [summarize(review) for review in review_log(log, fleet.of(log.tail)).flights]
    return log.source, log.tail, None, [one for one in summaries if one is not None]


def _print_json(documents: list[dict[str, Any]]) -> None:
    whole = {"contract": CONTRACT, "tails": documents}
    sys.stdout.write(json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False) + "\n")


def _print_text(documents: list[dict[str, Any]]) -> None:
    from analyzer.reports.trend_text import trend_text

    sys.stdout.write(trend_text(documents))
