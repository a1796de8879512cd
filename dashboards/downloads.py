"""Sheets to print, at addresses of their own: /sheet/KIND/NAME.html in a tab, .pdf as a download."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from functools import partial
from html import escape
from typing import Any

from flask import Flask, Response, request
from msgspec import structs

from analyzer.aircraft import FleetFileError
from analyzer.contract_squawk import around_entries
from analyzer.endable import Helper
from analyzer.limits import limit_value
from analyzer.records.changes_table import changes_csv
from analyzer.records.people import NotAllowedError
from analyzer.records.problems import RecordsError
from analyzer.records.sign_ins import sign_ins_csv
from analyzer.reports.due_calendar import due_calendar
from analyzer.reports.plainly import plainly
from analyzer.reports.trend_words import outlook_line
from analyzer.results import log_result
from analyzer.service.follow_tails import UnknownTailError
from analyzer.squawk.around_work import neighbours, symptoms_around, symptoms_of_work
from analyzer.squawk.report import ReportError
from analyzer.trends.entries import EntriesError, Entry, moment
from analyzer.trends.work_done import work_of_day
from dashboards.background import Once, StillWorkingError, Workers
from dashboards.drawing import (
    Gathered,
    NoSheetError,
    entry_drawn,
    flight_drawn,
    handout_drawn,
    printed,
    squawk_drawn,
    tail_drawn,
)
from dashboards.kept import Kept, KeptFlight
from dashboards.searching import Asked, Search, Searches
from dashboards.signing_in import person_here

MISSING = (
    "Sheets need some more libraries ({missing} is not installed). In this project's checkout: pip install '.[sheet]'"
)
STILL = "The sheet is being drawn; this page fetches it as soon as it is ready."
#: A page that waits for a sheet asks again after this time [s].
ASK_AGAIN_S = 4
#: Longest time that a report is waited for [s].
PATIENCE_S = 600.0


class Sheets:
    """The sheets of this server: gathered in the background, drawn by a helper."""

    def __init__(self) -> None:
        self._workers, self._helper = Workers(2, "drawing"), Helper()
        self._once = Once(self._workers, STILL)

    def get(self, gather: Callable[[], Gathered], name: str, ending: str) -> Response:
        """The sheet; where drawing it takes long, a page that asks for it again by itself."""
        paper, whose = request.args.get("paper", "a4"), f"{person_here().name} {request.remote_addr}"

        def drawn() -> bytes:
            return printed(self._helper, gather(), ending, paper)

        try:
            sheet = self._once.get(request.full_path, drawn, whose=whose)  # as the records are when it is begun
        except StillWorkingError as working:
            again = _sorry(plainly(working), 202)
            again.headers["Refresh"] = str(ASK_AGAIN_S)
            return again
        except ModuleNotFoundError as missing:
            return _sorry(MISSING.format(missing=missing.name), 501)
        except (NoSheetError, RecordsError, FleetFileError, ReportError, EntriesError) as problem:
            return _sorry(plainly(problem), 404)
        if ending == "html":
            return Response(sheet, mimetype="text/html")
        answer = Response(sheet, mimetype="application/pdf")
        answer.headers.set("Content-Disposition", "attachment", filename=f"{name}.pdf")
        return answer

    def close(self) -> None:
        """Begin no more sheets, and end the one that is being drawn."""
        self._workers.close()
        self._helper.close()


def add_sheets(server: Flask, kept: Kept, searches: Searches) -> Sheets:
    """Give sheets of flights, aircraft, entries and reports at GET /sheet/..., and lists as files."""
    _add_lists(server, kept)
    sheets = Sheets()

    @server.get("/sheet/flight/<flight_id>.<ending>")
    def flight(flight_id: str, ending: str) -> Response:
        return sheets.get(lambda: _flight(kept, flight_id), f"flight-{flight_id}", ending)

    @server.get("/sheet/handout/<flight_id>.<ending>")
    def handout(flight_id: str, ending: str) -> Response:
        return sheets.get(lambda: _handout(kept, flight_id), f"handout-{flight_id}", ending)

    @server.get("/sheet/aircraft/<tail>.<ending>")
    def aircraft(tail: str, ending: str) -> Response:
        return sheets.get(lambda: _aircraft(kept, tail), tail, ending)

    @server.get("/sheet/entry/<tail>/<when>.<ending>")
    def entry(tail: str, when: str, ending: str) -> Response:
        return sheets.get(lambda: _entry(kept, searches, tail, when), f"{tail}-{when[:10]}", ending)

    @server.get("/sheet/squawk.<ending>")
    def squawk(ending: str) -> Response:
        asked = Asked.of(request.args)
        return sheets.get(lambda: _squawk(kept, searches, asked), f"{asked.tail}-squawk", ending)

    return sheets


def _add_lists(server: Flask, kept: Kept) -> None:
    """Give the log of changes, the sign-ins and what falls due as files."""

    @server.get("/changes.csv")
    def changes() -> Response:
        try:
            answer = Response(changes_csv(kept.changes()), mimetype="text/csv")
        except RecordsError as problem:
            return _sorry(plainly(problem), 404)
        answer.headers.set("Content-Disposition", "attachment", filename="changes.csv")
        return answer

    @server.get("/sign-ins.csv")
    def sign_ins() -> Response:
        try:
            answer = Response(sign_ins_csv(kept.asked_by(person_here()).sign_ins()), mimetype="text/csv")
        except NotAllowedError as problem:
            return _sorry(plainly(problem), 403)
        except RecordsError as problem:
            return _sorry(plainly(problem), 404)
        answer.headers.set("Content-Disposition", "attachment", filename="sign-ins.csv")
        return answer

    @server.get("/due.ics")
    def due() -> Response:
        tail = request.args.get("tail", "").upper() or None

        def made() -> Response:
            answer = Response(due_calendar(kept.due(tail)), mimetype="text/calendar")
            answer.headers.set("Content-Disposition", "attachment", filename=f"due-{tail}.ics" if tail else "due.ics")
            return answer

        return answered(made)


def answered(made: Callable[[], Response]) -> Response:
    """What is made of the records; where that cannot be, why."""
    try:
        return made()
    except StillWorkingError as working:
        return _sorry(plainly(working), 202)
    except (RecordsError, FleetFileError, UnknownTailError) as problem:
        return _sorry(plainly(problem), 404)


def _sorry(says: str, status: int) -> Response:
    words = f"<!DOCTYPE html><html lang=en><title>taper: no sheet</title><p>{escape(says)}</p>"
    return Response(words, status, mimetype="text/html")


def _kept_flight(kept: Kept, flight_id: str) -> KeptFlight:
    found = kept.flight_waited_for(flight_id)
    if found is None:
        raise NoSheetError(f"There is no flight {flight_id!r}.")
    return found


def _handout(kept: Kept, flight_id: str) -> Gathered:
    found = _kept_flight(kept, flight_id)
    return Gathered(partial(handout_drawn, found.tail, found.review, found.battery), found.size)


def _flight(kept: Kept, flight_id: str) -> Gathered:
    found = _kept_flight(kept, flight_id)
    result = structs.replace(log_result(found.log), tail=found.tail)
    try:
        outlook = kept.outlook_at(found)
    except StillWorkingError:  # the sheet is asked for again
        raise
    except RecordsError:  # a sheet without it is better than none
        outlook = None
    told = outlook_line(outlook) if outlook is not None else ""
    return Gathered(partial(flight_drawn, result, found.number, found.review, found.log.log, told), found.size)


def _aircraft(kept: Kept, tail: str) -> Gathered:
    view = kept.tail_waited_for(tail.upper())
    if view is None:
        raise NoSheetError(f"No flight of {tail} is kept.")
    return Gathered(partial(tail_drawn, view.history, view.result))


def _entry(kept: Kept, searches: Searches, tail: str, when: str) -> Gathered:
    view, at = kept.tail_waited_for(tail.upper()), moment(when)
    work = None if view is None else work_of_day(view.result, at)
    if view is None or work is None or not work.entries:
        raise NoSheetError(f"Nothing was entered for {tail} on {when}.")
    entries = [
        replace(one, symptoms=_symptoms_around(searches, work.tail, one.comparison.entry, view.history.entries))
        for one in work.entries
    ]
    return Gathered(partial(entry_drawn, view.history, replace(work, entries=tuple(entries))))


def _symptoms_around(
    searches: Searches, tail: str, entry: Entry, entries: Sequence[Entry]
) -> tuple[dict[str, Any], ...]:
    """In how many flights the symptoms that work is done for were seen before and after it."""
    symptoms, when = symptoms_of_work(entry.kind), entry.when
    if not symptoms:
        return ()
    around = timedelta(days=limit_value("squawk_look_back"))
    result = _looked_up(searches, Asked(tail, "", symptoms, when - around, when + around)).result
    assert result is not None  # else there is no search that is over
    return tuple(around_entries(symptoms_around(result.symptoms, when, neighbours(when, entry.kind, entries))))


def _squawk(kept: Kept, searches: Searches, asked: Asked) -> Gathered:
    if asked.tail not in kept.names():
        raise NoSheetError(f"No flight of {asked.tail or 'that aircraft'} is kept.")
    asked.report()
    search = _looked_up(searches, asked)
    assert search.result is not None  # else there is no search that is over
    return Gathered(partial(squawk_drawn, search.result, search.reviews, search.unread))


def _looked_up(searches: Searches, asked: Asked) -> Search:
    """A report once it has been looked up, with the flights that are drawn."""
    search = searches.ask(asked)
    search.over.wait(PATIENCE_S)
    if search.result is None:
        raise NoSheetError(search.because or "The report is still being looked up; try again in a moment.")
    return search
