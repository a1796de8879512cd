"""What comes and goes is one finding with all its flights; what comes back after work that ended it is another."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from made_histories import made

from analyzer.findings.finding import FindingName, Severity
from analyzer.records.changing import Disposition, settled_findings
from analyzer.records.verdicts import Disposed
from analyzer.trends.entries import Entry
from analyzer.trends.fleet_result import fleet_result
from analyzer.trends.followed_tail import follow_tail, trends_of
from analyzer.trends.history import FlightFinding, History, Reading
from analyzer.trends.judging import TrendFinding, judge_tail
from analyzer.trends.since import raised, still_open
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import review_tail

NAME = "unsteady_connection"
#: Flights of six spells, each of three flights and more than ten flights after the one before.
SPELLS = [[k, k + 1, k + 3] for k in (2, 18, 34, 50, 66, 82)]
SEEN = [place for spell in SPELLS for place in spell]


def found_in(places: list[int], flights: int = 88) -> History:
    history = made("plain", 305, flights).history
    own = (FlightFinding(FindingName(NAME), Severity.CAUTION),)
    return replace(
        history,
        flights=tuple(replace(f, findings=own if i in places else ()) for i, f in enumerate(history.flights)),
    )


def told(history: History) -> list[TrendFinding]:
    tail = follow_tail(history)
    return [one for one in judge_tail(tail, trends_of(tail)) if one.name == NAME]


def test_six_spells_are_one_finding_with_all_its_flights():
    history = found_in(SEEN)
    (one,) = told(history)
    assert (one.flights, one.shift) == (tuple(SEEN), None)
    assert (one.raised_flight, one.raisings[-1].flight, one.open) == (5, 85, True)
    assert [again.flight for again in one.again] == [21, 37, 53, 69, 85]
    assert one.began == history.flights[2].start
    assert "Seen on 18 flights" in one.says
    assert "in 6 spells" in one.says


def test_the_worst_of_the_flights_that_show_a_finding_is_told_with_its_day():
    history = found_in(SEEN)
    low = Reading(9.05, 9.0, 9.1)
    flights = list(history.flights)
    own = (FlightFinding(FindingName.WEAK_CRANKING, Severity.CAUTION),)
    for place in (2, 3, 4, 5):
        own_low = low if place == 3 else Reading(9.5, 9.4, 9.6)
        flights[place] = replace(flights[place], findings=own, readings={"cranking_voltage": own_low})
    flights[40] = replace(flights[40], readings={"cranking_voltage": Reading(8.0, 7.9, 8.1)})  # shows no finding
    tail = follow_tail(replace(history, flights=tuple(flights)))
    (one,) = [found for found in judge_tail(tail, trends_of(tail)) if found.name == FindingName.WEAK_CRANKING]
    assert one.says.endswith(f" Worst: 9.1 V while cranking, {history.day(3)}."), one.says
    assert "Worst" not in told(history)[0].says, "nothing measures how bad a loose connection is"


def test_it_has_lapsed_when_its_last_spell_has():
    history = found_in(SEEN[:15])
    (one,) = told(history)
    assert one.lapsed_flight == 69 + 10 + 1
    assert one.lapsed_at == history.flights[80].start
    then = history.until(history.flights[79].start)
    assert [own.open for own in told(then)] == [True]


def test_what_comes_back_after_work_is_another_finding():
    history = found_in(SEEN)
    when = history.flights[45].start
    assert when is not None
    entry = Entry(history.tail, when - timedelta(hours=1), "connection_repaired", "")
    told_now = sorted(told(replace(history, entries=(entry,))), key=lambda one: one.raised_flight)
    assert [(one.raised_flight, one.lapsed_by) for one in told_now] == [(5, entry.when), (53, None)]
    assert [list(one.flights) for one in told_now] == [SEEN[:9], SEEN[9:]]


def test_what_a_person_settled_stands_again_when_it_comes_back():
    history = found_in(SEEN)
    result = tail_result(review_tail(history))
    (one,) = [finding for finding in result.findings if finding.name == NAME]
    assert one.key == history.flights[85].start.isoformat()

    def names(at: str) -> list[str]:
        said = Disposition(
            1, history.tail, NAME, at, Disposed.FIXED, "A. Person", "", None, "2027-01-01T00:00:00+00:00"
        )
        return [found.name for found in result.stands(settled_findings([said])[history.tail]).over_many]

    assert NAME in names(one.raised_at.isoformat())
    assert NAME not in names(one.key)


def test_what_came_back_is_new_since_a_moment_before_that():
    history = found_in(SEEN)
    result = tail_result(review_tail(history))
    since = history.flights[80].start
    assert [one.name for one in raised(result, since)] == [NAME]
    assert NAME not in [one.name for one in still_open(result, since)]
    (row,) = fleet_result([result], {}, since).rows
    assert [(one.what, one.when) for one in row.changed] == [("raised", history.flights[85].start)]
