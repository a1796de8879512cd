"""The files of tables that pages show page by page: whole, at addresses of their own."""

from __future__ import annotations

from collections.abc import Callable

from flask import Flask, Response, request

from analyzer.service.follow_tails import UnknownTailError
from analyzer.service.periods import USUAL_DAYS
from dashboards.downloads import answered
from dashboards.due_rows import DUE_CAPTION, DUE_HEAD, dated, due_cells
from dashboards.fleet_rows import FLEET_CAPTION, FLEET_HEAD, fleet_cells, matching
from dashboards.grid import grid_file
from dashboards.kept import Kept
from dashboards.table_files import csv_file, file_name
from dashboards.tail_series import FLIGHTS_CAPTION, flight_columns, flight_rows


def add_whole_tables(server: Flask, kept: Kept) -> None:
    """Give each at GET /....csv."""

    @server.get("/fleet.csv")
    def whole_fleet() -> Response:
        def text() -> str:
            search, condition = (request.args.get(name, "") for name in ("search", "condition"))
            found = matching(kept.fleet(USUAL_DAYS), search, condition or "all")
            return csv_file(FLEET_HEAD, map(fleet_cells, found))

        return _saved(text, FLEET_CAPTION)

    @server.get("/due.csv")
    def whole_due() -> Response:
        tail = request.args.get("tail", "").upper() or None
        return _saved(lambda: csv_file(DUE_HEAD, map(due_cells, dated(kept.due(tail)))), DUE_CAPTION)

    @server.get("/flights/<tail>.csv")
    def whole_flights(tail: str) -> Response:
        def text() -> str:
            view = kept.tail(tail.upper())
            if view is None:
                raise UnknownTailError(f"No flight of {tail} is kept.")
            return grid_file(flight_rows(view), flight_columns(view))

        return _saved(text, FLIGHTS_CAPTION)


def _saved(text: Callable[[], str], caption: str) -> Response:
    def answer() -> Response:
        made = Response(text(), mimetype="text/csv")
        made.headers.set("Content-Disposition", "attachment", filename=file_name(caption))
        return made

    return answered(answer)
