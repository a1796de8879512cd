"""What the pages ask of the records; nothing else of ``dashboards`` opens them."""

from __future__ import annotations

import copy
import threading
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from analyzer.aircraft import Fleet
from analyzer.corrections import CORRECTIONS
from analyzer.endable import EndedError, Helper
from analyzer.logs import Source
from analyzer.logs.apart import in_helper, task_in_helper
from analyzer.logs.log import Refusal
from analyzer.measures.battery_life import UNKNOWN_BATTERY, BatteryKnown
from analyzer.records.adding import Added, add_logs
from analyzer.records.changes import Change, kept_changes
from analyzer.records.changing import Disposition, KeptEntry, kept_dispositions, kept_entries, settled_findings
from analyzer.records.copies import FlightOfLog, flights_at, flights_of_logs
from analyzer.records.correcting import keep_columns_of_tail
from analyzer.records.digest_flights import newest_start
from analyzer.records.files import size_of_log
from analyzer.records.flight_again import battery_known, judging_of, reviewed_again, same_flight
from analyzer.records.forgetting import Going, forget, going_of
from analyzer.records.in_order import OverTails
from analyzer.records.keeping import anything_kept
from analyzer.records.kept import (
    KeptFinding,
    KeptLog,
    KeptTail,
    fleet_kept,
    flight_findings,
    flight_record,
    kept_history,
    kept_logs,
    log_of_flight,
    tail_flights,
    tail_review,
    tail_reviews,
    tails,
)
from analyzer.records.kept import (
    KeptFlight as FlightRow,
)
from analyzer.records.latest import (
    LatestFlight,
    latest_flights,
    logs_without_tail,
    tail_kept,
    tail_names,
)
from analyzer.records.marks import flight_mark
from analyzer.records.people import NOBODY, Person, Role
from analyzer.records.place import FLEET, Place, place_of
from analyzer.records.problems import RecordsError
from analyzer.records.renewing import renew_flights
from analyzer.records.sign_ins import SignIn, kept_sign_ins
from analyzer.records.store import Store, are_there, judge_by_corrections, open_records
from analyzer.records.watch_status import WatchStatus, watch_status
from analyzer.review import FlightReview, LogReview
from analyzer.service.assign_logs import Assigned, assign_logs
from analyzer.service.beside_peers import RepairRecord, repair_record, tail_beside_peers
from analyzer.service.collect_digest import collect_digest
from analyzer.service.digest_result import Digest
from analyzer.service.due import due_list
from analyzer.service.due_result import DueList
from analyzer.service.outlook_at import OutlookAt, outlook_at
from analyzer.service.own_meters import OwnMeters, meters_asked, own_meters
from analyzer.service.periods import usual_since
from analyzer.service.waiting import Waiting, waiting_of
from analyzer.small_files import file_marks
from analyzer.trends.comparison import WorkVerdict
from analyzer.trends.fleet_result import FleetResult, fleet_result
from analyzer.trends.followed_tail import FollowedTail, follow_tail
from analyzer.trends.history import History
from analyzer.trends.peers import Peers
from analyzer.trends.tail_result import TailResult
from analyzer.trends.tracked_series import BY_MEASURE
from dashboards.at_hand import AtHand
from dashboards.background import Once, Workers
from dashboards.here_already import Here, HereAlready
from dashboards.staging import Staged

T = TypeVar("T")
Worked = TypeVar("Worked")
#: Logs worked out anew that are held at hand; six hours four times a second take about 15 MB.
LOGS_AT_HAND = 12
#: What is asked of the whole fleet, without a day or an aircraft: worked out ahead and held however much else is asked.
WHOLE_FLEET = "fleet"
OF_ALL: frozenset[Hashable] = frozenset({WHOLE_FLEET, ("digest", None), ("due", None)})
#: Answers that are held at hand beside those: the aircraft, days and lists asked for last; an aircraft of two thousand
#: flights takes about 10 MB.
ANSWERS_AT_HAND = 12
STILL = "This is being worked out, which takes a while with many aircraft; open the page again in a minute."
STILL_READ = "This flight's log is being read again, which takes a while; open the page again in a minute."
#: The largest number that the database can hold.
LARGEST_ID = 2**63 - 1
#: Latest flights of each aircraft that are read for the fleet.
LATEST = 24
#: Measures whose charts an aircraft's page draws, in their order.
DRAWN = (
    "regulated_voltage",
    "recharge_time_constant",
    "recharge_settling_time",
    "cranking_voltage",
    "resting_voltage",
    "maintenance_current",
    "battery_resistance",
    "regulation_scatter",
    "regulation_droop",
)


@dataclass(frozen=True, slots=True)
class KeptFlight:
    """One flight, worked out anew from its log, with what lies beside it."""

    id: int
    tail: str | None
    source: str
    log: LogReview  # all that its log says
    review: FlightReview
    warnings: tuple[str, ...]
    dispositions: tuple[Disposition, ...] = ()
    battery: BatteryKnown = UNKNOWN_BATTERY  # as things stand
    before: int | None = None  # ids of the flights before and after it
    after: int | None = None
    size: int = 0  # of its log, about [bytes]

    @property
    def number(self) -> int:
        """Its place among the flights of its log, from 1."""
        return next(place for place, one in enumerate(self.log.flights, 1) if one is self.review)


@dataclass(frozen=True, slots=True)
class FleetRead:
    """What is read of the whole fleet at once."""

    kept: dict[str, KeptTail]
    results: list[TailResult]
    latest: dict[str, list[LatestFlight]]
    dispositions: tuple[Disposition, ...]
    unassigned: int


@dataclass(frozen=True, slots=True)
class FleetView:
    """Everything that the fleet's page shows."""

    fleet: FleetResult
    kept: dict[str, KeptTail]
    latest: dict[str, list[LatestFlight]]
    dispositions: tuple[Disposition, ...]
    unassigned: int  # logs that name no aircraft
    since: datetime | None  # from when on changes are told, None where no flight has a clock
    newest: datetime | None  # start of the last flight


@dataclass(frozen=True, slots=True)
class TailView:
    """Everything that an aircraft's page shows."""

    result: TailResult
    history: History
    flights: list[FlightRow]
    findings: list[KeptFinding]  # of flights, the latest first
    entries: list[KeptEntry]
    dispositions: list[Disposition]
    followed: FollowedTail  # of the measures that are drawn


@dataclass(slots=True)
class _Opened:
    """The records once they are open, for everybody who asks."""

    store: Store | None = None


class Kept:
    """The records of one folder, which need not exist yet."""

    def __init__(self, where: Place | Path) -> None:
        self.place = where if isinstance(where, Place) else place_of(where)
        self.folder = self.place.folder
        self._person = NOBODY
        self._opened = _Opened()
        self._workers = Workers(3, "working out")
        self._once = Once(self._workers, STILL)
        self._reader = Workers(1, "reading flights")
        self._once_read = Once(self._reader, STILL_READ)
        self._importing, self._trends, self._reading = Helper(), Helper(), Helper()
        self._here = HereAlready()
        self._read_anew: dict[str, tuple[int, int]] = {}  # who has logs moved -> logs read anew, and of how many
        self._lock = threading.Lock()
        self._answers: AtHand[Any] = AtHand(ANSWERS_AT_HAND, OF_ALL)
        self._logs: AtHand[LogReview] = AtHand(LOGS_AT_HAND)
        self._meters: AtHand[OwnMeters] = AtHand(LOGS_AT_HAND)
        self._kept_up: tuple[Any, ...] | None = None  # marks and hour at which nothing was left to be worked out

    def asked_by(self, person: Person) -> Kept:
        """The same records as somebody asks something of them."""
        asked = copy.copy(self)
        asked._person = person
        return asked

    def store(self, *, create: bool = False) -> Store:
        """The records, open.

        Raises
        ------
        RecordsError
            When there are none (and none are to be made), or they cannot be used.
        """
        with self._lock:
            if self._opened.store is None:
                self._opened.store = open_records(self.place, create=create, person=NOBODY)
            return self._opened.store.asked_by(self._person)

    @property
    def empty(self) -> bool:
        """Whether nothing has ever been kept here."""
        return not self._there() or not anything_kept(self.store())

    def _there(self) -> bool:
        """Whether there are records."""
        with self._lock:
            opened = self._opened.store
        return are_there(self.place) if opened is None else opened.database.there()

    def fleet_file(self) -> Fleet:
        """What is known of each aircraft beforehand."""
        return fleet_kept(self.store()) if self._there() else Fleet()

    def close(self) -> None:
        """Begin nothing more that takes long, and end what is being worked on."""
        self._workers.close()
        self._reader.close()
        for helper in (self._importing, self._trends, self._reading):
            helper.close()

    def keep(self, staged: Iterable[Staged], told: Callable[[], None] = lambda: None) -> Added:
        """Keep logs that were brought in, with the columns that were corrected by hand.

        ``told`` is called after each.

        Raises
        ------
        RecordsError
            When the records cannot be written, or a corrected log names no aircraft.
        """
        store, whole = self.store(create=True), Added()
        for one in staged:
            told()
            if one.mapped and one.for_tail and not one.tail:
                raise RecordsError(f"Say whose log {one.name} is: its corrected columns are kept with the aircraft.")
            if one.mapped and one.for_tail:
                keep_columns_of_tail(store, str(one.tail), one.mapped)
            fleet = fleet_kept(store)
            whole.count_in(add_logs(store, [one.read_as], fleet, tail=one.named, columns=one.mapped, over=self._apart))
        renew_flights(store, fleet_kept(store), self._apart, tails=whole.tails)
        return whole

    def logs(self, tail: str | None) -> list[KeptLog]:
        """The logs of an aircraft, or those without a tail number, the latest first."""
        return [] if self.empty else kept_logs(self.store(), tail, without_tail=tail is None)[::-1]

    def whose(self, logs: Iterable[int]) -> dict[int, str]:
        """The aircraft of each of some logs, "" without a tail number; of those that are kept."""
        asked = set(logs)
        return {log.id: log.tail or "" for log in kept_logs(self.store()) if log.id in asked}

    def assign(self, tail: str | None, logs: Iterable[int]) -> Assigned:
        """Say whose logs these are, or take back what was said; they are read anew.

        Raises
        ------
        StillWorkingError
            When reading them anew takes long; it goes on.
        RecordsError
            When the tail is none, who asks may not, or the records cannot be written.
        """
        store, chosen, whose = self.store(), tuple(sorted(set(logs))), self._person.name
        store.allow(Role.EDITOR)
        over = partial(self._apart_counted, whose)

        def work() -> Assigned:
            self._read_anew[whose] = 0, 0
            try:
                done = assign_logs(store, tail, chosen, over)
                renew_flights(store, fleet_kept(store), over, tails=set(done.tails))
            finally:
                self._read_anew.pop(whose, None)
            return done

        return self._once.get(("assign", tail, chosen, self.marks()), work, whose=whose)

    def read_anew(self) -> tuple[int, int] | None:
        """How many logs are read anew for whoever asks, and of how many known so far; None while nothing is."""
        return self._read_anew.get(self._person.name)

    def _apart_counted(
        self, whose: str, work: Callable[[Source | Refusal, Fleet], Worked], sources: list[Source | Refusal],
        fleet: Fleet, /,
    ) -> Iterator[Worked]:  # fmt: skip
        """Work on some logs in the helper, and count them for whoever waits."""
        done, total = self._read_anew.get(whose, (0, 0))
        total += len(sources)
        self._read_anew[whose] = done, total
        for one in self._apart(work, sources, fleet):
            done += 1
            self._read_anew[whose] = done, total
            yield one

    def deleting(self, digests: Iterable[str]) -> Going:
        """What would be deleted with the logs of these hashes.

        Raises
        ------
        RecordsError
            When one of them is no longer kept.
        """
        return going_of(self.store(), list(digests))

    def delete(self, going: Going) -> None:
        """Delete logs with all that came from them, for good.

        Raises
        ------
        RecordsError
            When who asks may not, or the records cannot be written.
        """
        forget(self.store(), going)

    def flights_of_logs(self, digests: Iterable[str]) -> dict[str, list[FlightOfLog]]:
        """The flights of those of some logs that are kept, by the SHA-256 of each."""
        return {} if self.empty else flights_of_logs(self.store(), digests)

    def here_already(self, staged: Sequence[Staged]) -> dict[str, Here]:
        """What is kept of logs that were brought in, by the key of each; those still being read are left out."""
        return self._here.of(staged, self.marks(), self.flights_of_logs, self._flown_then)

    def _flown_then(self, one: Staged) -> list[FlightOfLog]:
        """Kept flights that a log brought in holds too, though its bytes are others."""
        if self.empty or not one.tail:
            return []
        return [
            kept
            for flight in one.flights
            if flight.start and flight.end
            for kept in flights_at(self.store(), one.tail, flight.start, flight.end)
        ]

    def _apart(
        self, work: Callable[[Source | Refusal, Fleet], Worked], sources: list[Source | Refusal], fleet: Fleet, /
    ) -> Iterator[Worked]:
        """Work on logs in a process of its own, one after the other."""
        return (in_helper(self._importing, _known(work, fleet), source) for source in sources)

    def _ahead(
        self, work: Callable[[Source | Refusal, Fleet], Worked], sources: list[Source | Refusal], fleet: Fleet, /
    ) -> Iterator[Worked]:
        """The same beside an import, in a process that works tails out."""
        return (in_helper(self._trends, _known(work, fleet), source) for source in sources)

    def _tails_apart(self, work: Callable[[str, Fleet], Worked], names: list[str], fleet: Fleet) -> Iterator[Worked]:
        """Work tails out in a process of its own, one after the other."""
        return (_worked_out(self._trends, work, name, fleet) for name in names)

    def _tails_now(self, work: Callable[[str, Fleet], Worked], names: list[str], fleet: Fleet) -> Iterator[Worked]:
        """The same beside those that are worked out ahead, for who asks for a few."""
        return (_worked_out(self._reading, work, name, fleet) for name in names)

    def _tails_soon(self, work: Callable[[str, Fleet], Worked], names: list[str], fleet: Fleet) -> Iterator[Worked]:
        """The same in the background, for a page."""
        for name in names:
            worked = partial(_worked_out, self._reading, work, name, fleet)
            yield self._once_read.get(("trend", name, self.marks()), worked)

    def work_ahead(self) -> None:
        """Judge stale flights anew and work out every trend that is missing, so that nobody need wait for it.

        Called again and again it does so once after each change of the records, the fleet file or the corrections.
        """
        before = self.marks(), _hour(datetime.now())
        if self.empty or before == self._kept_up:
            return
        store = self.store()
        judge_by_corrections(self.folder)
        if store.writable:
            renew_flights(store, fleet_kept(store), self._ahead)
        self._read_fleet()
        self.digest(None)
        self.due(None)
        self._kept_up = before  # where anything was written the next call looks once more

    def names(self) -> list[str]:
        """Tails that flights are kept of."""
        return [] if self.empty else tail_names(self.store())

    def fleet(self, days: int) -> FleetView:
        """The fleet, the aircraft in most need first, with what changed in some days before the last flight."""
        read = self._read_fleet()
        last = {tail: one.last for tail, one in read.kept.items()}
        now = datetime.now()
        newest = None
        if not self.empty:
            with self.store().reading() as connection:
                newest = newest_start(connection, now)
        since = usual_since(newest, now, days) if newest else None
        return FleetView(
            fleet_result(read.results, last, since, settled_findings(read.dispositions)),
            read.kept,
            read.latest,
            read.dispositions,
            read.unassigned,
            since,
            newest,
        )

    def _read_fleet(self) -> FleetRead:
        """What is read of the whole fleet, from the last time while no file of the records has changed since.

        Raises
        ------
        StillWorkingError
            When it takes long; it goes on.
        """
        return self._answer(WHOLE_FLEET, self.marks(), self._read_fleet_anew)

    def _read_fleet_anew(self) -> FleetRead:
        store = self.store()
        kept = {one.tail: one for one in tails(store)}
        return FleetRead(
            kept,
            tail_reviews(store, list(kept), fleet_kept(store), self._tails_apart),
            latest_flights(store, kept, LATEST),
            tuple(kept_dispositions(store)),
            logs_without_tail(store),
        )

    def _answer(self, asked: Hashable, marks: Hashable, work: Callable[[], T]) -> T:
        """What is held at hand of an answer, while its marks are those; else worked out once, however many ask.

        Raises
        ------
        StillWorkingError
            When it takes long; it goes on.
        """
        found: T | None = self._answers.get(asked, marks)
        if found is not None:
            return found

        def held_anew() -> T:
            found = work()
            self._answers.hold(asked, marks, found)
            return found

        return self._once.get((asked, marks), held_anew)

    def marks(self) -> tuple[Any, ...]:
        """The database's mark, time and size of the files beside it; any change of what is kept changes these."""
        beside = file_marks(self.folder / name for name in (FLEET, CORRECTIONS))
        return (self.store().database.mark() if self._there() else None, *beside)

    def tail(self, tail: str) -> TailView | None:
        """One aircraft; None when no flight of it is kept.

        Raises
        ------
        StillWorkingError
            When its trends are not at hand and working them out takes long; it goes on.
        """
        return self._tail(tail, self._tails_soon)

    def tail_waited_for(self, tail: str) -> TailView | None:
        """The same for work in the background, however long it takes."""
        return self._tail(tail, self._tails_now)

    def _tail(self, tail: str, over: OverTails) -> TailView | None:
        marks = self.marks()
        view: TailView | None = self._answers.get(("tail", tail), marks)
        if view is not None:
            return view
        if self.empty or not tail_kept(self.store(), tail):
            return None
        store = self.store()
        history = kept_history(store, tail)
        view = TailView(
            tail_review(store, tail, over=over),
            history,
            tail_flights(store, tail),
            flight_findings(store, tail),
            kept_entries(store, tail),
            kept_dispositions(store, tail),
            follow_tail(history, [BY_MEASURE[measure] for measure in DRAWN]),
        )
        self._answers.hold(("tail", tail), marks, view)
        return view

    def flights_of(self, tail: str) -> Sequence[FlightRow]:
        """The kept flights of an aircraft, in order."""
        return tail_flights(self.store(), tail)

    def own_meters(self, tail: str, patience_s: float) -> OwnMeters | None:
        """What an aircraft's own flights say of its alarms' limits; None when no flight of it is kept.

        Raises
        ------
        StillWorkingError
            When reading its flights takes longer than one waits; it goes on.
        """
        if self.empty or not tail_kept(self.store(), tail):
            return None
        marks = self.marks()
        if (held := self._meters.get(tail, marks)) is not None:
            return held
        asked = meters_asked(self.store(), tail)

        def work() -> OwnMeters:
            try:
                found = task_in_helper(self._reading, partial(own_meters, asked))
            except EndedError as ended:
                raise RecordsError(f"The flights of {tail} could not be read: {ended}") from ended
            return self._meters.hold(tail, marks, found)

        return self._once_read.get(("meters", tail, marks), work, patience_s)

    def changes(self, tail: str | None = None, newest: int | None = None, before: int | None = None) -> list[Change]:
        """Who changed what, the newest first: at most so many, those before a line of that number."""
        with self.store().reading() as connection:
            return kept_changes(connection, tail=tail, newest=newest, before=before)

    def sign_ins(self) -> list[SignIn]:
        """Who signed in or tried to, the newest first.

        Raises
        ------
        RecordsError
            When who asks is no manager.
        """
        return kept_sign_ins(self.folder, self._person)

    def digest(self, since: datetime | None) -> Digest:
        """The digest as of now, since a moment or of its usual days."""
        store, now = self.store(), datetime.now()
        begins = None if since is None else min(since, now)
        work = partial(collect_digest, store, begins, now, self.fleet_file(), self._tails_apart)
        return self._answer(("digest", since), (self.marks(), _hour(now)), work)

    def watched(self) -> WatchStatus | None:
        """How the watched folder fares; None where none ever was watched."""
        return watch_status(self.store()) if self._there() else None

    def due(self, tail: str | None) -> DueList:
        """What falls due of an aircraft, or of all, as of now."""
        now, wanted = datetime.now(), [tail] if tail else []
        work = partial(due_list, self.store(), now, wanted, self.fleet_file(), self._tails_apart)
        return self._answer(("due", tail), (self.marks(), _hour(now)), work)

    def waiting(self, tail: str) -> Waiting:
        """What waiting for its next visit costs an aircraft."""
        now = datetime.now()
        work = partial(waiting_of, self.store(), tail, now, None, self.fleet_file(), self._tails_apart)
        return self._once.get(("waiting", tail, now.date(), self.marks()), work)

    def peers(self, tail: str) -> Peers:
        """One aircraft beside the others of its type."""
        work = partial(tail_beside_peers, self.store(), tail, self.fleet_file(), self._tails_apart)
        return self._once.get(("peers", tail, self.marks()), work)

    def repairs(self) -> RepairRecord:
        """How the repairs of all aircraft turned out."""
        work = partial(repair_record, self.store(), self.fleet_file(), self._tails_apart)
        return self._once.get(("repairs", self.marks()), work)

    def entry_verdicts(self, names: Iterable[str]) -> dict[tuple[str, datetime, str], WorkVerdict]:
        """What came of each entry of some aircraft: (tail, when, kind) -> verdict."""
        return {
            (result.tail, one.entry.when, one.entry.kind): one.verdict
            for result in tail_reviews(self.store(), sorted(names), self.fleet_file(), self._tails_soon)
            for one in result.comparisons
        }

    def flight(self, flight_id: str | int) -> KeptFlight | None:
        """One flight; None when it is not kept.

        Raises
        ------
        RecordsError
            When its log is missing or damaged, or understood otherwise today.
        StillWorkingError
            When reading its log again takes long; it goes on.
        """
        return self._flight(flight_id, self._log_review_soon, self._tails_soon)

    def flight_waited_for(self, flight_id: str | int) -> KeptFlight | None:
        """The same for work in the background, however long it takes."""
        return self._flight(flight_id, self._log_review, self._tails_now)

    def outlook_at(self, flight: KeptFlight) -> OutlookAt | None:
        """What was foretold once a flight was flown; None where its log names no aircraft.

        Raises
        ------
        StillWorkingError
            When working it out takes long; it goes on.
        """
        if (tail := flight.tail) is None:
            return None
        store, fleet = self.store(), self.fleet_file()
        work = partial(outlook_at, store=store, flight_id=flight.id)
        asked = ("outlook", flight.id)
        return self._answer(asked, self.marks(), lambda: _worked_out(self._reading, work, tail, fleet))

    def _flight(
        self, flight_id: str | int, review_of: Callable[[KeptLog], LogReview], over: OverTails
    ) -> KeptFlight | None:
        told = str(flight_id)
        if self.empty or not told.isdecimal() or len(told) > len(str(LARGEST_ID)) or int(told) > LARGEST_ID:
            return None
        number = int(told)
        store = self.store()
        try:
            record = flight_record(store, number)
        except RecordsError:
            return None
        tail = record.tail
        log = log_of_flight(store, tail, record.log_id)
        beside = [one.id for one in tail_flights(store, tail)] if tail else []
        place = beside.index(number) if number in beside else None
        review = review_of(log)
        return KeptFlight(
            number,
            tail,
            log.source,
            review,
            same_flight(review, record.result.from_s, record.result.to_s),
            tuple(dict.fromkeys((*review.log.warnings, *log.warnings))),
            tuple(kept_dispositions(store, tail)) if tail else (),
            battery_known(store, tail, review, datetime.now(), over),
            beside[place - 1] if place else None,
            beside[place + 1] if place is not None and place + 1 < len(beside) else None,
            size_of_log(store.folder, log.hash, log.rows),
        )

    def _log_review_soon(self, log: KeptLog) -> LogReview:
        """A log's flights as judged today, from those at hand, else in the background."""
        mark, work = self._log_again(log)
        return self._logs.get(log.hash, mark) or self._once_read.get((log.hash, mark), work)

    def _log_review(self, log: KeptLog) -> LogReview:
        """The same, waited for."""
        mark, work = self._log_again(log)
        return self._logs.get(log.hash, mark) or work()

    def _log_again(self, log: KeptLog) -> tuple[str, Callable[[], LogReview]]:
        """The mark of today's judgement of a log, and what judges it in a process of its own and holds it at hand."""
        store, fleet = self.store(), self.fleet_file()
        judging = judging_of(store, log, fleet)
        mark = repr((flight_mark(fleet.of(log.tail)), judging.columns, judging.ammeter))

        def work() -> LogReview:
            again = partial(reviewed_again, store, log, fleet, judging)
            try:
                review = task_in_helper(self._reading, again, size_of_log(store.folder, log.hash, log.rows))
            except EndedError as ended:
                raise RecordsError(f"{log.source} cannot be shown: {ended}") from ended
            return self._logs.hold(log.hash, mark, review)

        return mark, work


def _hour(now: datetime) -> datetime:
    """The hour of a moment: what is as of now is made anew when it is over."""
    return now.replace(minute=0, second=0, microsecond=0)


def _worked_out(helper: Helper, work: Callable[[str, Fleet], Worked], name: str, fleet: Fleet) -> Worked:
    """Work one tail out in a helper."""
    try:
        return task_in_helper(helper, partial(work, name, fleet))
    except EndedError as ended:
        raise RecordsError(f"The trends of {name} could not be worked out: {ended}") from ended


def _known(work: Callable[[Source | Refusal, Fleet], Worked], fleet: Fleet) -> Callable[[Source | Refusal], Worked]:
    """Work on a log with what is known of its aircraft; unlike a lambda it can be handed to another process."""
    return partial(work, fleet=fleet)  # type: ignore[call-arg]  # every such work calls it so


__all__ = ["FleetView", "Kept", "KeptFlight", "TailView"]
