"""Looking a pilot's report up in the background, so that a page can say how far it has come."""

from __future__ import annotations

import logging
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import Any

from analyzer.aircraft import FleetFileError
from analyzer.endable import EndedError, Helper
from analyzer.logs.apart import in_helper, task_in_helper
from analyzer.records.changing import kept_entries
from analyzer.records.problems import RecordsError
from analyzer.records.replay import KeptReadings, kept_readings, newest_flight
from analyzer.reports.plainly import plainly
from analyzer.review import FlightReview
from analyzer.service.look_up_squawk import examine_kept
from analyzer.squawk.across import look_back
from analyzer.squawk.examine import ExaminedFlight
from analyzer.squawk.report import Report, ReportError, report_of
from analyzer.squawk.result import SquawkResult, squawk_result
from analyzer.trends.entries import EntriesError, last_moment, moment
from dashboards.background import Workers
from dashboards.kept import Kept

#: Reports looked up that are held at hand.
SEARCHES_AT_HAND = 20
#: What was found just now is told though the records have changed meanwhile, as beside an import they always do [s].
FRESH_S = 10.0
#: Occasions of each symptom that are drawn; the others are told.
DRAWN = 4
FAULT = "The search could not be finished. The window where these pages were started shows why."


@dataclass(frozen=True, slots=True)
class Asked:
    """What an address asks for; ``symptoms`` None where the words alone say them."""

    tail: str
    words: str
    symptoms: tuple[str, ...] | None
    since: datetime | None
    until: datetime | None = None

    @classmethod
    def of(cls, query: Mapping[str, str]) -> Asked:
        """What stands in an address, days from their beginning and to their end; a day that is none is left out."""
        since, until = _moment(query.get("since"), moment), _moment(query.get("until"), last_moment)
        picked = tuple(name for name in query.get("symptom", "").split(",") if name)
        return cls(query.get("tail", "").upper(), query.get("words", ""), picked or None, since, until)

    def report(self) -> Report:
        """The report: the symptoms that were picked, where any were, whatever else the words may mean.

        Raises
        ------
        ReportError
            When neither words nor picks name a symptom, or a pick is none.
        """
        report = report_of(self.words, self.symptoms or ())
        if self.symptoms is None:
            return report
        told = tuple(match for match in report.understood.matches if match.symptom in self.symptoms)
        return replace(report, understood=replace(report.understood, matches=told))


def _moment(words: str | None, named: Callable[[str], datetime]) -> datetime | None:
    try:
        return named(words) if words else None
    except EntriesError:
        return None


@dataclass(slots=True)
class Search:
    """One report being looked up. ``result`` is there once it is done, ``because`` says why when it cannot be."""

    asked: Asked
    total: int = 0  # logs to look through
    done: int = 0
    result: SquawkResult | None = None
    because: str | None = None
    unread: list[str] = field(default_factory=list)  # logs that could not be read again, and why
    reviews: dict[int, FlightReview] = field(default_factory=dict)  # of occasions that are drawn, by flight
    over: threading.Event = field(default_factory=threading.Event)
    ended: float = 0.0  # when it was over [s]
    marks: tuple[Any, ...] = ()  # of the records when it was asked for

    def good(self, marks: tuple[Any, ...]) -> bool:
        """Whether it need not be done again: it goes on, the records are as they were, or it was over just now."""
        return not self.over.is_set() or self.marks == marks or time.monotonic() - self.ended < FRESH_S


class Searches:
    """The reports that this server has looked up, one at a time."""

    def __init__(self, kept: Kept) -> None:
        self._kept = kept
        self._worker, self._helper = Workers(1, "looking"), Helper()
        self._lock = threading.Lock()
        self._found: OrderedDict[Asked, Search] = OrderedDict()

    def ask(self, asked: Asked) -> Search:
        """The search for a report, begun when it is asked for first or the records have changed since."""
        marks = self._kept.marks()
        with self._lock:
            if (found := self._found.get(asked)) is not None and found.good(marks):
                self._found.move_to_end(asked)
                return found
            search = self._found[asked] = Search(asked, marks=marks)
            self._found.move_to_end(asked)
            while len(self._found) > SEARCHES_AT_HAND:
                self._found.popitem(last=False)
        try:
            self._worker.submit(partial(self._run, search))
        except BaseException:
            with self._lock:
                self._found.pop(asked, None)  # else it would be waited for
            raise
        return search

    def close(self) -> None:
        """Begin no more searches, and end the one that goes on."""
        self._worker.close()
        self._helper.close()

    def _run(self, search: Search) -> None:
        try:
            self._look_up(search)
        except (RecordsError, FleetFileError, ReportError) as problem:
            search.because = plainly(problem)
        except EndedError as ended:
            search.because = f"The report could not be looked up: {ended}"
        except Exception:  # whatever it was, the page must not wait for ever
            logging.getLogger(__name__).exception("A report could not be looked up")
            search.because = FAULT
        finally:
            search.ended = time.monotonic()
            search.over.set()

    def _look_up(self, search: Search) -> None:
        """Look through each log, and weigh what was found, in a process that can be ended."""
        asked, fleet, report = search.asked, self._kept.fleet_file(), search.asked.report()
        since, logs = self._logs(asked)
        search.total = len(logs)
        examined: list[ExaminedFlight] = []
        for log in logs:
            looked = in_helper(self._helper, partial(examine_kept, fleet=fleet, symptoms=report.symptoms), log)
            examined += looked.flights
            search.unread += [f"{looked.source}: {plainly(looked.because)}"] if looked.because else []
            search.done += 1
        work = [one.entry for one in kept_entries(self._kept.store(), asked.tail)]
        weighed = partial(squawk_result, asked.tail, report, examined, since=since, until=asked.until, entries=work)
        result = task_in_helper(self._helper, weighed)
        wanted = {one.flight.id for symptom in result.symptoms for one in symptom.occasions[:DRAWN]}
        for flight_id in wanted:
            with suppress(RecordsError):  # what cannot be read again is told, and not drawn
                if flight_id is not None and (kept := self._kept.flight_waited_for(flight_id)) is not None:
                    search.reviews[flight_id] = kept.review
        search.result = result

    def _logs(self, asked: Asked) -> tuple[datetime | None, list[KeptReadings]]:
        """From when flights count, and the logs that hold them; some days back when no day is named."""
        store = self._kept.store()
        since = asked.since or look_back(newest_flight(store, asked.tail), asked.until)
        return since, kept_readings(store, asked.tail, since, asked.until)
