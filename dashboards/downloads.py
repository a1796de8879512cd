"""Sheets to print, at addresses of their own: /sheet/KIND/NAME.html in a tab, .pdf as a download."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from html import escape
from typing import Any

from flask import Flask, Response, request

from analyzer.aircraft import FleetFileError
from analyzer.contract_squawk import around_entries
from analyzer.limits import limit_value
from analyzer.records.changes_table import changes_csv
from analyzer.records.people import NotAllowedError
from analyzer.records.problems import RecordsError
from analyzer.records.sign_ins import sign_ins_csv
from analyzer.reports.plainly import plainly
from analyzer.reports.sheets import PAPERS
from analyzer.results import log_result
from analyzer.review import FlightReview
from analyzer.squawk.around_work import neighbours, symptoms_around, symptoms_of_work
from analyzer.squawk.examine import SquawkFlight
from analyzer.squawk.report import ReportError
from analyzer.trends.entries import EntriesError, Entry, moment
from dashboards.background import Once, StillWorkingError, Workers
from dashboards.kept import Kept
from dashboards.searching import Asked, Search, Searches
from dashboards.signing_in import person_here

MISSING = (
    "Sheets need some more libraries ({missing} is not installed). In this project's checkout: pip install '.[sheet]'"
)
STILL = "The sheet is being drawn; this page asks for it again by itself."
#: A page that waits for a sheet asks again after this time [s].
ASK_AGAIN_S = 4
#: Longest time that a report is waited for [s].
PATIENCE_S = 600.0


class NoSheetError(Exception):
    """What was asked for cannot be printed; the text says why."""


def add_sheets(server: Flask, kept: Kept, searches: Searches) -> None:
    """Give sheets of flights, aircraft, entries and reports at GET /sheet/..."""
    drawing = threading.Lock()  # the drawing library keeps its settings by process
    once = Once(Workers(2, "drawing"), STILL)

    def answered(name: str, ending: str, gather: Callable[[], Callable[[], Any]]) -> Response:
        """The sheet; where drawing it takes long, a page that asks for it again by itself."""
        paper, whose = request.args.get("paper", "a4"), f"{person_here().name} {request.remote_addr}"

        def drawn() -> Response:
            draw = gather()  # what it is drawn from is gathered first, so that no other waits for that
            with drawing:
                return _printed(draw(), name, ending, paper)

        try:
            return once.get(request.full_path, drawn, whose=whose)  # as the records are when it is begun
        except StillWorkingError as working:
            again = _sorry(plainly(working), 202)
            again.headers["Refresh"] = str(ASK_AGAIN_S)
            return again
        except ModuleNotFoundError as missing:
            return _sorry(MISSING.format(missing=missing.name), 501)
        except (NoSheetError, RecordsError, FleetFileError, ReportError, EntriesError) as problem:
            return _sorry(plainly(problem), 404)

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

    @server.get("/sheet/flight/<flight_id>.<ending>")
    def flight(flight_id: str, ending: str) -> Response:
        return answered(f"flight-{flight_id}", ending, lambda: _flight(kept, flight_id))

    @server.get("/sheet/aircraft/<tail>.<ending>")
    def aircraft(tail: str, ending: str) -> Response:
        return answered(tail, ending, lambda: _aircraft(kept, tail))

    @server.get("/sheet/entry/<tail>/<when>.<ending>")
    def entry(tail: str, when: str, ending: str) -> Response:
        return answered(f"{tail}-{when[:10]}", ending, lambda: _entry(kept, searches, tail, when))

    @server.get("/sheet/squawk.<ending>")
    def squawk(ending: str) -> Response:
        asked = Asked.of(request.args)
        return answered(f"{asked.tail}-squawk", ending, lambda: _squawk(kept, searches, asked))


def _printed(sheet: Any, name: str, ending: str, paper: str) -> Response:
    if paper not in PAPERS:
        raise NoSheetError(f"The paper is {' or '.join(PAPERS)}.")
    if ending == "pdf":
        from analyzer.reports.sheets.pdf import pdf

        answer = Response(pdf(sheet, paper), mimetype="application/pdf")
        answer.headers.set("Content-Disposition", "attachment", filename=f"{name}.pdf")
        return answer
    if ending != "html":
        raise NoSheetError("A sheet is .html or .pdf.")
    from analyzer.reports.sheets.html import html

    return Response(html(sheet, paper), mimetype="text/html")


def _sorry(says: str, status: int) -> Response:
    words = f"<!DOCTYPE html><html lang=en><title>taper: no sheet</title><p>{escape(says)}</p>"
    return Response(words, status, mimetype="text/html")


def _flight(kept: Kept, flight_id: str) -> Callable[[], Any]:
    from analyzer.reports.sheets.flight_sheet import drawn, one_flight_sheet

    found = kept.flight(flight_id)
    if found is None:
        raise NoSheetError(f"No flight is kept as {flight_id!r}.")
    result = replace(log_result(found.log), tail=found.tail)
    return lambda: one_flight_sheet(result, found.number, drawn(found.review, found.log.log), date.today())


def _aircraft(kept: Kept, tail: str) -> Callable[[], Any]:
    from analyzer.reports.sheets.trend_sheet import drawn_tail, trend_sheet

    view = kept.tail(tail.upper())
    if view is None:
        raise NoSheetError(f"No flight of {tail} is kept.")
    return lambda: trend_sheet([(view.result, drawn_tail(view.history, view.result))], date.today())


def _entry(kept: Kept, searches: Searches, tail: str, when: str) -> Callable[[], Any]:
    from analyzer.reports.sheets.entry_sheet import drawn_entries, entry_sheet
    from analyzer.trends.work_done import work_of_day

    view, at = kept.tail(tail.upper()), moment(when)
    work = None if view is None else work_of_day(view.result, at)
    if view is None or work is None or not work.entries:
        raise NoSheetError(f"Nothing was entered for {tail} on {when}.")
    entries = [
        replace(one, symptoms=_symptoms_around(searches, work.tail, one.comparison.entry, view.history.entries))
        for one in work.entries
    ]
    told = replace(work, entries=tuple(entries))
    return lambda: entry_sheet(told, drawn_entries(view.history, told), date.today())


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


def _squawk(kept: Kept, searches: Searches, asked: Asked) -> Callable[[], Any]:
    from analyzer.reports.sheets.squawk_sheet import drawn_occasions, squawk_sheet

    if asked.tail not in kept.names():
        raise NoSheetError(f"No flight of {asked.tail or 'that aircraft'} is kept.")
    asked.report()
    search = _looked_up(searches, asked)
    result = search.result
    assert result is not None  # else there is no search that is over

    def review_of(flight: SquawkFlight) -> FlightReview | None:
        return None if flight.id is None else search.reviews.get(flight.id)

    return lambda: squawk_sheet(result, drawn_occasions(result, review_of), date.today(), search.unread)


def _looked_up(searches: Searches, asked: Asked) -> Search:
    """A report once it has been looked up, with the flights that are drawn."""
    search = searches.ask(asked)
    search.over.wait(PATIENCE_S)
    if search.result is None:
        raise NoSheetError(search.trouble or "The report is still being looked up; try again in a moment.")
    return search
