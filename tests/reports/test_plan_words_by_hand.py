"""What is said of what falls due, what waiting costs, alarms, loads and a lost alternator, numbers put in by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from icalendar import Calendar
from msgspec import structs

from analyzer.measures.alternator_quit import AlternatorQuits, Light
from analyzer.measures.jump_start import ChargeBack
from analyzer.measures.load_analysis import LoadAnalysis
from analyzer.measures.measure import Measure, measured, not_measurable
from analyzer.measures.planning import Case
from analyzer.measures.power_flow import Current, Feeder, PowerFlow
from analyzer.quantity import Quantity
from analyzer.reports.alarm_words import (
    alarm_rows,
    basis_sentences,
    false_words,
    light_sentence,
    limit_words,
    loss_rows,
    usual_words,
)
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.digest_words import sections
from analyzer.reports.due_calendar import due_calendar
from analyzer.reports.due_words import due_words, when_words
from analyzer.reports.flow_words import current_label, current_words, flow_line, flow_sentence, instruments
from analyzer.reports.handout import current_way
from analyzer.reports.jump_words import jump_sentences
from analyzer.reports.load_words import load_line, load_rows, load_sentence
from analyzer.reports.peer_words import beside_row, cause_row, outcome_row
from analyzer.reports.plan_text import form_words
from analyzer.reports.quit_words import MASTER_OFF, case_rows, quit_notes, quit_sentences
from analyzer.reports.waiting_words import percent, waiting_words
from analyzer.service.digest_result import Digest, LogsToLookAt, Soon
from analyzer.service.due_result import (
    BatteryAgeDue,
    BrushesDue,
    CapacityTestDue,
    Due,
    DueKind,
    DueList,
    DueState,
    ForecastDue,
    Origin,
    Since,
    Unknown,
)
from analyzer.service.own_meters import MeteredFlight, OwnMeters
from analyzer.service.waiting import Coming, Costs, Visit, Waiting
from analyzer.trends.alarm_limits import Alarm, AlarmLimits, Warned
from analyzer.trends.fleet_result import NextLimit
from analyzer.trends.followed_tail import PASSED, Projection
from analyzer.trends.load_list import LoadList, OwnLoad
from analyzer.trends.open_findings import OpenFindings
from analyzer.trends.peers import Beside
from analyzer.trends.repairs import Outcome, ShiftedCause
from analyzer.trends.risk import EventRecord, Exposure
from analyzer.trends.since import ComingLimit
from tests.made_results import trend_finding

TODAY = date(2026, 5, 6)
NOW = datetime(2026, 5, 6, 12, 0)


def ahead(likely: float | None, earliest: float, latest: float) -> Projection:
    return Projection(likely, earliest, latest, earliest, latest, latest)


# What falls due

FITTED = Since(date(2023, 5, 2), Origin.SET)
SOON_ON = date(2026, 5, 20)


def capacity(state: DueState = DueState.SOON, on: date | None = SOON_ON, **more) -> CapacityTestDue:
    told = {"unknown": None, "since": Since(date(2025, 5, 20), Origin.TESTED), "low": None} | more
    return CapacityTestDue("N0D", state, on, **told)


def brushes(state: DueState = DueState.LATER, on: date | None = date(2026, 9, 1), **more) -> BrushesDue:
    told = {"unknown": None, "since": FITTED, "run": 412.4, "hours_a_week": 2.25, "logs_begin": None} | more
    return BrushesDue("N0D", state, on, **told)


def forecast(state: DueState = DueState.SOON, reached: Projection | None = None, **more) -> ForecastDue:
    coming = NextLimit("regulated_voltage", 14.5, reached or ahead(50.0, 40.0, 66.0))
    told = {"on": SOON_ON, "unknown": None, "level": 14.412, "hours_a_week": 1.5,
            "last_flight": datetime(2026, 5, 2, 9, 0), "reset": None} | more  # fmt: skip
    return ForecastDue("N0D", state, coming=coming, **told)


#: One thing that falls due: its title, when, and why. Intervals: 12 months, 85 %, 36 months and 500 h (limits due_*).
DUE: dict[str, tuple[Due, str, str, str]] = {
    "a capacity test": (
        capacity(), "Battery capacity test", "2026-05-20",
        "12 months after the last capacity test, on 2025-05-20; its manual decides.",
    ),
    "a capacity test never done": (
        capacity(since=FITTED), "Battery capacity test", "2026-05-20",
        "12 months after the battery was fitted on 2023-05-02 (settings), since no test of it is entered; its manual "
        "decides.",
    ),
    "a low capacity": (
        capacity(DueState.OVERDUE, None, low=84.5), "Battery capacity test", "due now",
        "84.5 % of rated in the last capacity test, on 2025-05-20, is less than 85 %. Some manuals end a battery's "
        "service there, others at 80 %; its own decides.",
    ),
    "a battery's age": (
        BatteryAgeDue("N0D", DueState.OVERDUE, date(2026, 5, 2), None, Since(date(2023, 5, 2), Origin.ENTERED)),
        "Battery age", "due since 2026-05-02",
        "36 months after the battery was fitted on 2023-05-02 (maintenance log); its manual decides.",
    ),
    "an age that nobody knows": (
        BatteryAgeDue("N0D", DueState.UNKNOWN, None, Unknown.NOT_FITTED, None), "Battery age", "not known",
        "Not known, because no fitting date is entered; enter it in settings.",
    ),
    "brushes": (
        brushes(), "Alternator brushes", "2026-09-01",
        "412 of 500 h run since the alternator was fitted on 2023-05-02 (settings); the rest at 2.2 h a week from the "
        "last flight on. Its manual decides.",
    ),
    "brushes of an aircraft that does not fly": (
        brushes(on=None, hours_a_week=None), "Alternator brushes", "no date",
        "412 of 500 h run since the alternator was fitted on 2023-05-02 (settings); the aircraft is not flying, so no "
        "date can be given. Its manual decides.",
    ),
    "brushes that are past": (
        brushes(DueState.OVERDUE, None, run=500.0, hours_a_week=None), "Alternator brushes", "due now",
        "500 of 500 h run since the alternator was fitted on 2023-05-02 (settings). Its manual decides.",
    ),
    "brushes older than the logs": (
        brushes(DueState.UNKNOWN, None, unknown=Unknown.LOGS_BEGIN_LATER, run=99.5, logs_begin=date(2024, 1, 1)),
        "Alternator brushes", "not known",
        "Not known, because the alternator was fitted on 2023-05-02 and logs are kept only from 2024-01-01 on; 100 of "
        "500 h are run at least. Enter in settings a date from 2024-01-01 on, with its hours on that date.",
    ),
    "a forecast": (
        forecast(), "Regulated voltage may reach its limit of 14.50 V", "2026-05-20",
        "Now 14.41 V; in about 50 engine hours (40 to 66); the date is that of the early end, at 1.5 h a week from the "
        "last flight, 2026-05-02, on.",
    ),
    "a forecast of an hour": (
        forecast(reached=ahead(1.0, 0.2, 3.0), last_flight=None),
        "Regulated voltage may reach its limit of 14.50 V", "2026-05-20",
        "Now 14.41 V; in about 1 engine hour (0 to 3); the date is that of the early end, at 1.5 h a week.",
    ),
    "a forecast of an aircraft that does not fly": (
        forecast(DueState.LATER, on=None, hours_a_week=None),
        "Regulated voltage may reach its limit of 14.50 V", "no date",
        "Now 14.41 V; in about 50 engine hours (40 to 66); the aircraft is not flying, so no date can be given.",
    ),
    "a limit that is passed": (
        forecast(DueState.OVERDUE, PASSED, on=TODAY), "Regulated voltage is past its limit of 14.50 V", "now",
        "Now 14.41 V by its trend.",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("one", "title", "when", "why"), DUE.values(), ids=DUE)
def test_what_falls_due_says_what_when_and_why(one: Due, title: str, when: str, why: str) -> None:
    told = due_words(one)
    assert (told.title, told.when, told.why) == (title, when, why)
    assert when_words(one) == when


def test_the_calendar_holds_a_day_each_and_what_is_overdue_today() -> None:
    """An all-day event ends on the day after, which RFC 5545 leaves out of it (section 3.6.1)."""
    items = tuple(one for one, *_ in DUE.values())
    text = due_calendar(DueList(NOW, ("N0D",), items), datetime(2026, 5, 6, 12, 0, 0, 999, UTC))
    events = [
        (str(one["summary"]), one["dtstart"].dt, one["dtend"].dt)
        for one in Calendar.from_ical(text).walk("VEVENT")
    ]  # fmt: skip
    assert ("N0D: Battery capacity test", SOON_ON, date(2026, 5, 21)) in events
    assert ("N0D: Battery age (due since 2026-05-02)", TODAY, date(2026, 5, 7)) in events
    assert ("N0D: Regulated voltage is past its limit of 14.50 V", TODAY, date(2026, 5, 7)) in events
    assert ("N0D: Battery capacity test (due now)", TODAY, date(2026, 5, 7)) in events
    undated = sum(one.on is None and one.state is not DueState.OVERDUE for one in items)
    assert len(events) == len(items) - undated


# What waiting costs

CALM = EventRecord(Exposure(1, 400.4), Exposure(3, 60.0))
WAITS = Waiting(
    tail="N0W", as_of=TODAY, stands=OpenFindings((), ()), overdue=(), visit=Visit(SOON_ON, DueKind.CAPACITY_TEST),
    hours=4.6, coming=(), record=CALM, aircraft=1, chance=Quantity(0.024, "1", 0.004, 0.0671), because=None,
    costs=Costs(None, None, None), urgent=False, check_by=None, with_item=None,
)  # fmt: skip


def test_an_event_and_an_aircraft_alone_are_no_plural() -> None:
    assert waiting_words(WAITS) == [
        "Next visit: 2026-05-20 (battery capacity test); until then about 5 h, counted from the last flight.",
        "No measure is foretold to reach a limit.",
        "Chance of losing the alternator or being stranded before then: 2 % (less than 1 % to 7 %), at least, by these "
        "records (1 event in 400 h with nothing open, 3 in 60 h with something open, 1 aircraft).",
        "No forecast tells a day for a check.",
    ]
    more = replace(WAITS, record=EventRecord(Exposure(2, 400.0), Exposure(1, 60.0)), aircraft=4)
    assert "(2 events in 400 h with nothing open, 1 in 60 h with something open, 4 aircraft)" in waiting_words(more)[2]


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "less than 1 %"), (0.0099, "less than 1 %"), (0.01, "1 %"), (0.5, "50 %"), (0.99, "99 %"),
     (0.991, "more than 99 %"), (1.0, "more than 99 %")],
)  # fmt: skip
def test_a_chance_is_never_none_and_never_certain(chance: float, said: str) -> None:
    assert percent(chance) == said


WAITING_SAYS = {
    "no visit known": ({"visit": None}, "Next visit: not known."),
    "a day that was named": (
        {"visit": Visit(SOON_ON, None), "hours": None}, "Next visit: 2026-05-20 (as named).",
    ),
    "overdue": (
        {"overdue": (Visit(date(2026, 5, 2), DueKind.BRUSHES),)},
        "Alternator brushes: overdue since 2026-05-02; name the day.",
    ),
    "due today, the day named": (
        {"overdue": (Visit(TODAY, DueKind.BRUSHES),), "visit": Visit(SOON_ON, None)}, "Alternator brushes: due today.",
    ),
    "a limit that may be reached": (
        {"coming": (Coming("regulated_voltage", 14.5, False, 0.124, date(2026, 5, 18)),)},
        "Regulated voltage reaches 14.50 V before then: chance 12 %; one in ten by 2026-05-18.",
    ),
    "a limit without a visit": (
        {"coming": (Coming("regulated_voltage", 14.5, False, None, None),)},
        "Regulated voltage reaches 14.50 V: not known by when.",
    ),
    "a limit that is passed": (
        {"coming": (Coming("regulated_voltage", 14.5, True, None, None),)},
        "Regulated voltage is past its limit of 14.50 V.",
    ),
    "too few events": (
        {"chance": None, "because": "fewer than 5 events are kept"},
        "Chance of losing the alternator or being stranded before then: not known, because fewer than 5 events are "
        "kept.",
    ),
    "what it costs": (
        {"costs": Costs(1.5, 12.0, Quantity(0.288, "h", 0.048, 0.8052))},
        "A check takes 1.5 h. Waiting costs at least 0.3 h on average (0.0 to 0.8), at 12 h for being stranded.",
    ),
    "what a check costs where one is due anyhow": (
        {"costs": Costs(1.5, 12.0, None), "urgent": True},
        "A check takes 1.5 h. What waiting costs is not set beside it: what stands above asks for a check whatever it "
        "costs.",
    ),
    "a check by a day": (
        {"check_by": date(2026, 5, 18)},
        "The forecasts ask for a check by 2026-05-18; no other known work falls due by then.",
    ),
    "a check today, with other work": (
        {"check_by": TODAY, "with_item": Visit(SOON_ON, DueKind.CAPACITY_TEST)},
        "The forecasts ask for a check today, best together with battery capacity test, due 2026-05-20.",
    ),
    "what stands open": (
        {"stands": OpenFindings((trend_finding(),), ())},
        "Check before flight: Regulated voltage drifting (caution), raised 2026-05-06.",
    ),
    "what stands open, at the end": (
        {"stands": OpenFindings((trend_finding(),), ())},
        "Check what stands open before flight. No forecast tells a day for a check.",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("changed", "says"), WAITING_SAYS.values(), ids=WAITING_SAYS)
def test_what_waiting_costs_is_told_sentence_by_sentence(changed: dict, says: str) -> None:
    assert says in waiting_words(replace(WAITS, **changed))


def soon(reached: Projection, weeks: Projection | None, hours_a_week: float | None = 1.5) -> tuple[str, ...]:
    coming = ComingLimit(NextLimit("regulated_voltage", 14.5, reached), 14.412, weeks)
    nothing = LogsToLookAt((), (), 0, 0)
    told = Digest(NOW, NOW, 1, 1, 1.0, (), (), (), (), (Soon("N0S", hours_a_week, coming),), (), (), nothing)
    ((item,),) = (one.items for one in sections(told))
    return (item.title, *item.lines)


@pytest.mark.parametrize(
    ("hours", "weeks", "says"),
    [
        (ahead(50.0, 40.0, 66.0), ahead(33.0, 27.0, 44.0),
         "in about 50 engine hours (40 to 66); about 33 weeks (27 to 44) at its 1.5 h a week"),
        (ahead(1.0, 0.4, 2.0), ahead(0.7, 0.3, 1.3),
         "in about 1 engine hour (0 to 2); about 1 week (0 to 1) at its 1.5 h a week"),
        (ahead(0.4, 0.1, 3.0), ahead(0.3, 0.1, 2.0),
         "in less than 1 engine hour (0 to 3); less than 1 week (0 to 2) at its 1.5 h a week"),
        (ahead(0.2, 0.1, 0.4), ahead(0.1, 0.1, 0.3),
         "in less than 1 engine hour; less than 1 week at its 1.5 h a week"),
        (ahead(None, 40.0, 66.0), None,
         "in 40 to 66 engine hours; the aircraft is not flying, so no date can be given"),
    ],
)  # fmt: skip
def test_the_digest_counts_hours_and_weeks_and_never_none(hours, weeks, says: str) -> None:
    assert soon(hours, weeks) == ("Regulated voltage reaches its limit", "now 14.41 V, limit 14.50 V", says)


def test_the_digest_tells_of_a_limit_that_is_passed_where_the_measure_stands() -> None:
    assert soon(PASSED, None) == ("Regulated voltage is past its limit", "now 14.41 V, limit 14.50 V")


# Alarms

LOW = Alarm("low_voltage", "V", None, 13.25, Quantity(13.62, "V", 13.44, 13.7), 2, 2, 40, 0.149)


def test_an_alarm_s_limit_what_is_usual_and_how_often_it_sounds_falsely() -> None:
    """A limit in volts has one digit and one in amperes none; 13.25 is a float's own half and goes to the even 13.2."""
    discharge = Alarm("discharge", "A", None, -5.0, Quantity(-3.25, "A", -3.62, -3.04), 1, 0, 1, 0.95)
    assert alarm_rows(AlarmLimits(40, 40, Quantity(12.8, "V"), (LOW, discharge), ())) == [
        ("Low voltage", "below 13.2 V", "lowest 13.6 V (13.4 to 13.7)",
         "in 2 of 40 flights, at low rpm only (may be up to 15 % of flights)"),
        ("Discharge", "below −5 A", "lowest −3.2 A (−3.6 to −3.0)", "in 1 of 1 flight (may be up to 95 % of flights)"),
    ]  # fmt: skip
    high = replace(LOW, name="high_voltage", limit=15.0, false_slow=1)
    assert limit_words(high) == "above 15.0 V"
    assert usual_words(high) == "highest 13.6 V (13.4 to 13.7)"
    assert false_words(high) == "in 2 of 40 flights, 1 at low rpm (may be up to 15 % of flights)"
    none = Alarm("low_voltage", "V", "too few flights")
    assert (limit_words(none), usual_words(none), false_words(none)) == ("not measurable: too few flights", "", "")
    alike = replace(LOW, usual=Quantity(13.62, "V", 13.58, 13.64))
    assert usual_words(alike) == "lowest 13.6 V", "an interval that its digits do not show tells nothing"


def loss(**more) -> Warned:
    told = {"flight": 0, "from_s": 1500.0, "lasts": 240.0, "light": 12.4, "low_voltage": -3.0, "discharge": None,
            "told": True} | more  # fmt: skip
    return Warned(**told)


def own(*losses: Warned, alarms: tuple[Alarm, ...] | None = None, assumed: bool = True) -> OwnMeters:
    three = (LOW, replace(LOW, name="high_voltage"), replace(LOW, name="discharge", unit="A", limit=-5.0))
    limits = AlarmLimits(1, 1, Quantity(12.8, "V", assumed=assumed), three if alarms is None else alarms, losses)
    flights = (MeteredFlight(7, datetime(2026, 5, 6, 9, 0)),)
    return OwnMeters("N0A", flights, limits, LoadList(1, (), 0), None, ())


LOSSES = {
    "before and after": (loss(), ("2026-05-06, 25 min into the log", "4 min", "12 s after", "3 s before the loss",
                                  "not while it lasted")),
    "a long one": (loss(lasts=601.0, light=600.0), ("2026-05-06, 25 min into the log", "10 min", "10 min after",
                                                    "3 s before the loss", "not within 10 min")),
    "just as long as is looked": (loss(lasts=600.0, light=0.0), ("2026-05-06, 25 min into the log", "10 min", "1 s "
                                                                                                              "after",
                                                                 "3 s before the loss", "not while it lasted")),
    "without a voltmeter": (loss(told=False), ("2026-05-06, 25 min into the log", "4 min", "not recorded",
                                               "not recorded", "not while it lasted")),
}  # fmt: skip


@pytest.mark.parametrize(("one", "row"), LOSSES.values(), ids=LOSSES)
def test_each_loss_says_when_light_and_alarms_came(one: Warned, row: tuple[str, ...]) -> None:
    """The time after a loss that is looked at is 600 s (limit alarm_around)."""
    assert loss_rows(own(one)) == [row]


def test_an_alarm_without_a_limit_watches_nothing() -> None:
    none = Alarm("low_voltage", "V", "too few flights")
    alarms = (none, replace(none, name="high_voltage"), replace(none, name="discharge", unit="A"))
    assert loss_rows(own(loss(), alarms=alarms))[0][2:] == ("12 s after", "no limit", "no limit")


@pytest.mark.parametrize(
    ("lights", "soon_on"),
    [((60.0,), "1 of 1 recorded loss"), ((60.1, 5.0), "1 of 2 recorded losses"), ((None,), "0 of 1 recorded loss")],
)  # fmt: skip
def test_a_light_within_a_minute_warns_in_time(lights: tuple[float | None, ...], soon_on: str) -> None:
    told = light_sentence(own(*(loss(light=light) for light in lights)))
    assert told == (
        f"Would the low-voltage light (12.8 V, assumed) have warned in time? In {soon_on} it would have been on within "
        "60 s."
    )


def test_alarms_rest_on_so_many_flights_and_a_discharge_below_the_limit_is_silent() -> None:
    told = basis_sentences(own())
    assert told[0] == "From the latest 1 flight: used is the 1 flight without a finding."
    assert told[1].startswith(
        "An alarm is taken to sound when readings stay beyond its limit for 5 s."
    )  # alarm_lasting
    assert told[2] == "A discharge alarm stays silent while the battery gives less than 5 A."


def test_what_alarms_rest_on_names_work_logs_that_were_not_read_and_no_alarm_that_is_none() -> None:
    none = Alarm("discharge", "A", "no ammeter")
    told = own(alarms=(none, replace(none, name="low_voltage"), replace(none, name="high_voltage")), assumed=False)
    since = replace(told, since=datetime(2026, 3, 1, 12, 0), unread=("no such file", "damaged"))
    assert basis_sentences(since)[:2] == [
        "2 logs could not be read, the first because: no such file",
        "From the latest 1 flight: used is the 1 flight without a finding since 2026-03-01, when the regulator or an "
        "instrument was replaced.",
    ]
    assert basis_sentences(replace(told, unread=("damaged",)))[0] == "1 log could not be read because: damaged"
    assert not [one for one in basis_sentences(told) if one.startswith("A discharge alarm")]
    assert basis_sentences(replace(told, flights=()))[0].startswith("An alarm is taken to sound")
    assert light_sentence(replace(told, alarms=None)).startswith("No limit can be given")
    blind = replace(told, alarms=replace(own(loss(told=False)).alarms, light_at=Quantity(12.8, "V")))
    assert light_sentence(blind) == (
        "No loss of the alternator with a bus voltage is recorded: whether a light at 12.8 V warns in time is not "
        "known."
    )


# Loads


def load(**more) -> OwnLoad:
    told = {"amps": Quantity(5.5, "A", 5.1, 5.94), "on": 3, "off": 1, "flights": 2, "before_take_off": 1,
            "as_large_as": ("landing light", "pitot heat")} | more  # fmt: skip
    return OwnLoad(**told)


LOADS = {
    "on and off": (load(), "5.5 A (5.1 to 5.9): came on 3 times and went off once, in 2 of 9 flights; once before "
                           "take-off, 3 times after take-off; as large as landing light, pitot heat"),
    "never off": (load(on=1, off=0, before_take_off=1), "5.5 A (5.1 to 5.9): came on once and went off never, in 2 of "
                  "9 flights; once before take-off; as large as landing light, pitot heat"),
    "named in the settings": (load(as_large_as=("pitot heat",), named=True, before_take_off=0),
                              "5.5 A (5.1 to 5.9): came on 3 times and went off once, in 2 of 9 flights; 4 times "
                              "after take-off; as large as pitot heat (from the settings)"),
    "like none": (load(as_large_as=(), before_take_off=4), "5.5 A (5.1 to 5.9): came on 3 times and went off once, in "
                  "2 of 9 flights; 4 times before take-off; as large as no usual load"),
}  # fmt: skip


@pytest.mark.parametrize(("one", "line"), LOADS.values(), ids=LOADS)
def test_a_load_is_told_by_its_size_its_steps_and_when_they_came(one: OwnLoad, line: str) -> None:
    assert [load_line(row) for row in load_rows(LoadList(9, (one,), 0))] == [line]


@pytest.mark.parametrize(
    ("flights", "others", "says"),
    [(9, 0, "Lasting steps of the load in 9 flights."),
     (1, 1, "Lasting steps of the load in 1 flight. 1 step of other sizes came too seldom to list."),
     (9, 4, "Lasting steps of the load in 9 flights. 4 steps of other sizes came too seldom to list.")],
)  # fmt: skip
def test_steps_that_are_not_listed_are_counted(flights: int, others: int, says: str) -> None:
    assert load_sentence(LoadList(flights, (), others)) == says


# Where the power goes, what follows a loss, and what is back after a jump start


def amps(value: float, basis: str = "", low: float | None = None, high: float | None = None) -> Current:
    return Current(Quantity(value, "A", low, high), basis)


def flow(feeder: Feeder, battery: Current | None = None, bus: float | None = 14.1, **more) -> PowerFlow:
    told = {"alternator": amps(22.4), "load": amps(17.0, "the difference of the other two"), "light_on": False,
            "light_at": Quantity(12.8, "V", assumed=True), "running": True} | more  # fmt: skip
    return PowerFlow(600.0, feeder, None if bus is None else Quantity(bus, "V"), battery=battery, **told)


#: What feeds the bus, what the battery takes, what is said of it and which way the current goes. A charged battery
#: takes less than 1 A (limit settled_most).
FLOWS = {
    "charging": (
        flow(Feeder.ALTERNATOR, amps(5.4)),
        "The alternator at 14.1 V is above battery voltage, so it feeds the bus and puts 5 A into the battery.",
        "from the alternator to the loads and into the battery",
    ),
    "charging, by the taper": (
        flow(Feeder.ALTERNATOR, amps(5.4, "from the charging current's taper", 4.0, 6.8), None),
        "The alternator is above battery voltage, so it feeds the bus and puts about 5 A into the battery.",
        "from the alternator to the loads and into the battery",
    ),
    "charged": (
        flow(Feeder.ALTERNATOR, amps(0.99)),
        "The alternator at 14.1 V is above battery voltage, so it feeds the bus, and the battery takes next to "
        "nothing.",
        "from the alternator to the loads",
    ),
    "just not charged": (
        flow(Feeder.ALTERNATOR, amps(1.0)),
        "The alternator at 14.1 V is above battery voltage, so it feeds the bus and puts 1 A into the battery.",
        "from the alternator to the loads and into the battery",
    ),
    "still giving": (
        flow(Feeder.ALTERNATOR, amps(-1.6)),
        "The alternator at 14.1 V is above battery voltage, so it feeds the bus, while the battery still gives 2 A.",
        "from the alternator and the battery to the loads",
    ),
    "not recorded": (
        flow(Feeder.ALTERNATOR),
        "The alternator at 14.1 V is above battery voltage, so it feeds the bus; what the battery takes is not "
        "recorded.",
        "from the alternator to the loads, and to the battery what it takes",
    ),
    "lost": (
        flow(Feeder.BATTERY, amps(-11.6), 12.3),
        "The alternator gives nothing, so the battery at 12.3 V feeds the bus, 12 A.",
        "from the battery to the loads",
    ),
    "before the start, next to nothing": (
        flow(Feeder.BATTERY, amps(-0.99), 12.6, running=False),
        "The alternator is not turning, so the battery at 12.6 V feeds the bus.",
        "from the battery to the loads",
    ),
    "both": (
        flow(Feeder.BOTH, amps(-4.0), 12.9),
        "The alternator cannot carry the load on its own; the bus sags to 12.9 V until the battery adds the rest, 4 A.",
        "from the alternator and the battery to the loads",
    ),
    "the starter": (
        flow(Feeder.STARTER, None, 9.4),
        "The starter draws hundreds of amperes from the battery, and the bus dips to 9.4 V.",
        "from the battery to the starter",
    ),
    "outside": (
        flow(Feeder.OUTSIDE, amps(8.0)),
        "The alternator is not turning, yet the battery is charging: external power feeds the bus.",
        "from outside the aircraft to the loads and into the battery",
    ),
}


@pytest.mark.parametrize(("one", "says", "way"), FLOWS.values(), ids=FLOWS)
def test_where_the_power_goes_and_why(one: PowerFlow, says: str, way: str) -> None:
    assert (flow_sentence(one), current_way(one)) == (says, way)


@pytest.mark.parametrize(
    ("current", "said", "label"),
    [
        (None, "not recorded", "?"),
        (amps(22.44), "+22.4 A", "22 A"),
        (amps(-4.0), "−4.0 A", "4 A"),
        (amps(-0.04), "0.0 A", "0 A"),
        (amps(0.0), "0.0 A", "0 A"),
        (amps(10.0), "+10.0 A", "10 A"),
        (amps(-10.04), "−10.0 A", "10 A"),
        (amps(5.4, "by x", 4.4, 6.6), "+5.4 A (4 to 7 A), by x", "≈ 5 A"),
        (amps(0.2, "by x", -0.4, 0.8), "+0.2 A (0 to 1 A), by x", "≈ 0 A"),
        (amps(-3.0, "by x", -4.6, -1.4), "−3.0 A (−5 to −1 A), by x", "≈ 3 A"),
        (amps(0.0, "the alternator is not turning"), "0.0 A, the alternator is not turning", "≈ 0 A"),
    ],
)
def test_a_current_has_a_sign_where_it_flows_and_none_where_it_does_not(current, said: str, label: str) -> None:
    assert (current_words(current), current_label(current)) == (said, label)


def test_instruments_show_what_is_recorded_and_what_a_light_would() -> None:
    one = flow(Feeder.ALTERNATOR, amps(5.4, "worked out"))
    assert instruments(one) == [
        ("Voltmeter", "14.1 V"),
        ("Alternator ammeter", "+22.4 A"),
        ("Low-voltage light", "off (comes on below 12.8 V, assumed)"),
    ]
    assert instruments(flow(Feeder.BATTERY, amps(-3.0), None, alternator=None, light_on=None)) == [
        ("Voltmeter", "not recorded"),
        ("Battery ammeter", "−3.0 A"),
    ]
    assert flow_line(one) == (
        "alternator +22.4 A; battery +5.4 A, worked out; loads +17.0 A, the difference of the other two."
    )


def test_what_follows_a_loss_has_the_bus_the_light_and_each_case() -> None:
    lasts = measured("endurance", 84.0, 52.3, 121.9)
    cases = (Case("As flown", 11.25, lasts), Case("After shedding", 4.0, not_measurable("endurance", "no capacity")))
    said = AlternatorQuits(
        600.0, flow(Feeder.ALTERNATOR), bus=Quantity(12.34, "V", 12.08, 12.61), light=Light.WITHIN_A_MINUTE, cases=cases
    )
    assert quit_sentences(said) == [
        "The bus would go from 14.1 V to about 12.3 V (12.1 to 12.6 V, worked out) within a minute: battery voltage "
        "under load.",
        "A low-voltage light (12.8 V, assumed) would come on within a minute.",
    ]
    assert case_rows(said) == [
        ("As flown", "11.2 A", "52 min", "52 to 122 min"),
        ("After shedding", "4.0 A", "not measurable: no capacity", ""),
    ]


@pytest.mark.parametrize(
    ("back", "says"),
    [
        (ChargeBack((), 8.7, 30.0), "At least 8.7 Ah was back by engine stop, 29 % of its rated 30 Ah."),
        (ChargeBack((), 8.79, 30.0), "At least 8.7 Ah was back by engine stop, 29 % of its rated 30 Ah."),
        (ChargeBack((), 8.799, 30.0), "At least 8.7 Ah was back by engine stop, 29 % of its rated 30 Ah."),
        (ChargeBack((), 0.3, 34.0), "At least 0.3 Ah was back by engine stop, 0 % of its rated 34 Ah."),
        (ChargeBack((), 2.3, None), "At least 2.3 Ah was back by engine stop; its rated capacity is not known."),
        (ChargeBack((), None, 34.0, "no ammeter"), "How much charge is back is not known: no ammeter."),
    ],
)
def test_what_is_back_at_the_least_is_rounded_down_and_no_further(back: ChargeBack, says: str) -> None:
    """8.7 of 30 Ah are 29 %, though the nearest floats make 28.999999999999996 of it."""
    assert jump_sentences(back)[1] == says


@pytest.mark.parametrize(
    ("signs", "shows_start", "says"),
    [
        (("it rested at 20 % charge", "it was charged at rest"), True,
         "Signs of it: it rested at 20 % charge; it was charged at rest."),
        ((), True, "Nothing in the log shows one."),
        ((), False, "The log does not show the battery's charge before the start, so it cannot show whether there was "
                    "one."),
    ],
)  # fmt: skip
def test_a_jump_start_is_told_by_its_signs_and_a_log_that_begins_later_shows_none(signs, shows_start, says) -> None:
    assert jump_sentences(ChargeBack(signs, None, None, "no ammeter", shows_start))[0] == says


def test_where_nothing_is_known_of_a_loss_nothing_is_said_of_bus_or_light() -> None:
    blind = structs.replace(flow(Feeder.ALTERNATOR), bus=None, light_at=None)
    untold = AlternatorQuits(600.0, blind, because="the alternator did not carry the bus")
    assert quit_sentences(untold) == [
        "What would happen if the alternator quit here is not known: the alternator did not carry the bus."
    ]
    assert quit_notes(untold) == []
    assert quit_sentences(AlternatorQuits(600.0, blind)) == [
        "A low-voltage light may come on late or never: the voltage that the battery would hold is not known."
    ]
    said = AlternatorQuits(600.0, blind, bus=Quantity(12.3, "V", 12.1, 12.6), light=Light.ON_ALREADY, basis=("Rest.",))
    assert quit_sentences(said)[0].startswith("The bus would go to about 12.3 V (12.1 to 12.6 V, worked out)")
    assert quit_notes(said) == ["Rest.", CAUTIONS[1]]
    off = structs.replace(said, cases=(Case("As flown", 9.0, not_measurable("endurance", "x")),
                               Case("Then with the master off", 1.0, not_measurable("endurance", "x"))))  # fmt: skip
    assert quit_notes(off) == ["Rest.", MASTER_OFF, CAUTIONS[1]]


def test_a_load_analysis_counts_whole_minutes() -> None:
    """32.9 min do not make 33: minutes of the form are rounded down; 5 and 10 min are its own (limits form_*)."""
    form = LoadAnalysis(32.9, 40.0, 18.44, 9.0, 14.0, 20.44, 0.6, False)
    assert form_words(form).startswith(
        "Load-analysis form: 5 min at 18.4 A, cruise at 9.0 A, 10 min of landing at 14.0 A, from 20.4 Ah (60 % of "
        "rated; less in the cold and at a high load): 32 min."
    )


# Beside others


@pytest.mark.parametrize(
    ("one", "row"),
    [
        (Beside("regulated_voltage", 14.2, True, {"N1": 14.0, "N2": 14.3, "N3": 13.9, "N4": 14.1, "N5": 14.4}, 60.0),
         ("Regulated voltage", "14.20 V", "13.90 to 14.40 V, middle 14.10", "higher than 3 of 5; percentile 60")),
        (Beside("regulated_voltage", 14.2, False, {"N1": 14.0}, None),
         ("Regulated voltage", "14.20 V, as recorded", "14.00 to 14.00 V, middle 14.00",
          "too few peers: 1 carries it, 5 are needed")),
        (Beside("regulated_voltage", 14.2, True, {}, None),
         ("Regulated voltage", "14.20 V", "none", "no peer carries it")),
    ],
)  # fmt: skip
def test_a_measure_beside_those_of_its_peers(one: Beside, row: tuple[str, ...]) -> None:
    assert beside_row(one) == row


@pytest.mark.parametrize(
    ("weight", "why"),
    [
        (0.42, "raised from 0.3: ended by work that mends it on 6 of 9 aircraft"),
        (0.21, "lowered from 0.3: ended by work that mends it on 6 of 9 aircraft"),
        (0.302, "as judged"),  # shows as 0.30 too
    ],
)
def test_a_cause_whose_weight_shows_the_same_stands_as_judged(weight: float, why: str) -> None:
    assert cause_row(ShiftedCause("a", "worn brushes", 0.3, weight, 6, 9)) == ("worn brushes", f"{weight:.2f}", why)


def test_how_work_turned_out_counts_only_what_flights_tell() -> None:
    name = trend_finding("regulator_low").name
    assert outcome_row(Outcome(name, "regulator_replaced", 3, 4, 2))[2:] == ("3 of 4", "2")
    assert outcome_row(Outcome(name, "regulator_replaced", 0, 0, 2))[2:] == ("not told yet", "2")


@pytest.mark.parametrize(("high", "said"), [(62.4, "52.5 min"), (62.5, "52 min"), (121.9, "52 min")])
def test_an_endurance_is_told_by_its_lower_end_and_without_decimals_where_it_is_ten_minutes_wide(
    high: float, said: str
) -> None:
    lasts: Measure = measured("endurance", 55.0, 52.5, high)
    assert case_rows(AlternatorQuits(0.0, flow(Feeder.BATTERY), cases=(Case("x", 1.0, lasts),)))[0][2] == said
