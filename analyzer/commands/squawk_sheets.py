"""The sheet of ``taper squawk``: its occasions are read once more to be drawn."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.commands.logs import fleet_of
from analyzer.commands.records import fleet_for, open_named
from analyzer.commands.sheets import write_asked_sheet

if TYPE_CHECKING:
    from analyzer.review import FlightReview
    from analyzer.squawk.examine import SquawkFlight
    from analyzer.squawk.result import SquawkResult

    ReviewOf = Callable[[SquawkFlight], FlightReview | None]


def write_squawk_sheet(arguments: argparse.Namespace, result: SquawkResult) -> str | None:
    """Write the sheet when one is asked for; why it cannot be written, or None.

    Raises
    ------
    RecordsError
        When the records cannot be used.
    """
    if arguments.sheet is None:
        return None
    from analyzer.reports.sheets.squawk_sheet import drawn_occasions, squawk_sheet

    review_of = _from_logs(arguments) if arguments.paths else _from_records(arguments, result)
    return write_asked_sheet(arguments, squawk_sheet(result, drawn_occasions(result, review_of), date.today()))


def _from_logs(arguments: argparse.Namespace) -> ReviewOf:
    from analyzer.logs import Refusal, find_logs
    from analyzer.review import review_log
    from analyzer.service.read_logs import read_with

    fleet = fleet_of(arguments)
    sources = {
        source.name: source for source in find_logs(map(Path, arguments.paths)) if not isinstance(source, Refusal)
    }

    @cache
    def flights(name: str) -> tuple[FlightReview, ...]:
        log = read_with(sources[name], fleet, {}) if name in sources else None
        if log is None or isinstance(log, Refusal):
            return ()
        return review_log(log, fleet.of(arguments.tail)).flights

    def review_of(flight: SquawkFlight) -> FlightReview | None:
        found = flights(flight.source)
        return found[flight.number - 1] if flight.number <= len(found) else None

    return review_of


def _from_records(arguments: argparse.Namespace, result: SquawkResult) -> ReviewOf:
    from analyzer.records.problems import RecordsError
    from analyzer.records.replay import kept_readings, replay_log

    with open_named(arguments) as store:
        fleet = fleet_for(arguments, store)
        readings = kept_readings(store, result.tail, result.since, result.until)
        logs = {cut.id: kept for kept in readings for cut in kept.cuts}

    def review_of(flight: SquawkFlight) -> FlightReview | None:
        kept = None if flight.id is None else logs.get(flight.id)
        try:
            found = [] if kept is None else replay_log(kept, fleet.of(kept.tail))
        except RecordsError:
            return None  # said when it was looked through
        return next((one.review for one in found if one.id == flight.id), None)

    return review_of
