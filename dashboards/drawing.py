"""Sheets drawn in a process that can be ended: from results that were gathered before, to the bytes that are sent.

The functions of this module are what the helper does, so it loads no more than they need.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from typing import TYPE_CHECKING

from analyzer.endable import EndedError, Helper
from analyzer.logs.apart import WHOLE_TAIL, task_in_helper
from analyzer.reports.sheets import PAPERS

if TYPE_CHECKING:
    from analyzer.logs.log import Log
    from analyzer.measures.battery_life import BatteryKnown
    from analyzer.reports.sheets.document import Sheet
    from analyzer.results import LogResult
    from analyzer.review import FlightReview
    from analyzer.squawk.examine import SquawkFlight
    from analyzer.squawk.result import SquawkResult
    from analyzer.trends.history import History
    from analyzer.trends.tail_result import TailResult
    from analyzer.trends.work_done import WorkOfDay

ENDINGS = ("html", "pdf")
ENDED = "This sheet takes more time or memory to draw than allowed; its page shows the same."


class NoSheetError(Exception):
    """What was asked for cannot be printed; the text says why."""


@dataclass(frozen=True, slots=True)
class Gathered:
    """All that a sheet is drawn from: what draws it, and the size of a log with the same limits [bytes]."""

    draw: Callable[[], Sheet]
    size: int = WHOLE_TAIL


def printed(helper: Helper, gathered: Gathered, ending: str, paper: str) -> bytes:
    """Draw a sheet in a helper, as HTML or PDF.

    Raises
    ------
    NoSheetError
        When there is no such kind of file or paper, or drawing it took too long or too much.
    ModuleNotFoundError
        When the libraries for sheets are not installed.
    """
    if ending not in ENDINGS:
        raise NoSheetError("A sheet is .html or .pdf.")
    if paper not in PAPERS:
        raise NoSheetError(f"The paper is {' or '.join(PAPERS)}.")
    try:
        return task_in_helper(helper, partial(_on_paper, gathered.draw, ending, paper), gathered.size)
    except EndedError as ended:
        raise NoSheetError(ENDED) from ended


def _on_paper(draw: Callable[[], Sheet], ending: str, paper: str) -> bytes:
    if ending == "pdf":
        from analyzer.reports.sheets.pdf import pdf

        return pdf(draw(), paper)
    from analyzer.reports.sheets.html import html

    return html(draw(), paper).encode()


def flight_drawn(result: LogResult, number: int, review: FlightReview, log: Log, outlook: str) -> Sheet:
    """The sheet of one flight of a log, with what was foretold after it."""
    from analyzer.reports.sheets.flight_sheet import drawn, one_flight_sheet

    return one_flight_sheet(result, number, replace(drawn(review, log), outlook=outlook), date.today())


def handout_drawn(tail: str | None, review: FlightReview, known: BatteryKnown) -> Sheet:
    """The lesson of one flight as a handout with its answers."""
    from analyzer.reports.sheets.handout_sheet import handout_sheet

    return handout_sheet(tail, review, known, datetime.now())


def tail_drawn(history: History, result: TailResult) -> Sheet:
    """The sheet of an aircraft."""
    from analyzer.reports.sheets.trend_sheet import drawn_tail, trend_sheet

    return trend_sheet([(result, drawn_tail(history, result))], date.today())


def entry_drawn(history: History, work: WorkOfDay) -> Sheet:
    """The sheet of what was done to an aircraft on a day."""
    from analyzer.reports.sheets.entry_sheet import drawn_entries, entry_sheet

    return entry_sheet(work, drawn_entries(history, work), date.today())


def squawk_drawn(result: SquawkResult, reviews: Mapping[int, FlightReview], unread: Sequence[str]) -> Sheet:
    """The sheet of a report, with the reviews of the flights that are drawn."""
    from analyzer.reports.sheets.squawk_sheet import drawn_occasions, squawk_sheet

    def review_of(flight: SquawkFlight) -> FlightReview | None:
        return None if flight.id is None else reviews.get(flight.id)

    return squawk_sheet(result, drawn_occasions(result, review_of), date.today(), unread)
