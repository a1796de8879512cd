"""The digest of records with known answers: what is new, worse, fixed and near, and nothing from after its moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from analyzer.records.changing import add_entries, dispose
from analyzer.records.latest import latest_flights
from analyzer.records.refusals import REFUSED_FILE, keep_refusals, kept_refusals
from analyzer.records.store import Store, open_records
from analyzer.records.tables import flights, logs
from analyzer.reports.digest_text import digest_text
from analyzer.service.collect_digest import collect_digest
from analyzer.service.periods import period_words, usual_since
from analyzer.trends.entries import Entry
from analyzer.trends.history import History
from analyzer.trends.since import Then
from tests.as_json import digest_json
from tests.records.kept_histories import keep_history
from tests.trends.made_histories import made

LATER = datetime(2030, 1, 1)


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Store]:
    with open_records(tmp_path / "records", create=True) as store:
        yield store


def digest(store: Store, since: datetime | None, now: datetime) -> dict:
    return digest_json(collect_digest(store, since, now))


def flown(kind: str, seed: int) -> History:
    return made(kind, seed).history


def moment_of(history: History, place: int) -> datetime:
    """The moment before which a history has so many flights."""
    return history.flights[place].start - timedelta(minutes=1)


def test_empty_records_have_nothing_to_tell(kept):
    document = digest(kept, LATER - timedelta(days=7), LATER)
    assert document["tails"] == document["flights"] == 0
    assert not any(document[part] for part in ("new", "worse", "fixed", "soon", "still_open", "not_flown"))


def test_the_usual_period_is_the_week_before_the_last_flight_from_midnight_on():
    now = datetime(2026, 5, 11, 8, 30)
    assert usual_since(None, now) == datetime(2026, 5, 4)
    assert usual_since(datetime(2026, 4, 20, 17, 5), now) == datetime(2026, 4, 13)
    assert usual_since(datetime(2027, 1, 1), now) == datetime(2026, 5, 4), "a clock that is ahead is not believed"
    assert usual_since(datetime(2026, 4, 20), now, 30) == datetime(2026, 3, 21)
    assert usual_since(None, datetime(1, 1, 2)) == datetime.min


def test_a_period_is_said_in_words():
    now, last = datetime(2026, 5, 11, 8, 30), datetime(2026, 4, 20, 17, 5)
    assert period_words(usual_since(last, now), last, now) == "from 2026-04-13 on, 7 days before the last flight"
    assert period_words(datetime(2026, 4, 13, 6, 0), last, now) == "from 2026-04-13 06:00 on"
    assert period_words(datetime(2026, 5, 1), last, now) == "from 2026-05-01 on"
    assert period_words(datetime(2026, 5, 1), None, now) == "from 2026-05-01 on"


def test_without_a_date_it_tells_of_the_week_before_the_last_flight_by_then(kept):
    history = flown("drift_up", 7)
    keep_history(kept, "N0001D", history)
    last = history.flights[-1].start
    assert digest(kept, None, last + timedelta(days=90))["since"] == usual_since(last, last).isoformat()
    earlier = history.flights[20].start
    assert digest(kept, None, earlier)["since"] == usual_since(earlier, earlier).isoformat()


def test_a_drift_is_new_in_the_week_in_which_it_was_raised_and_stands_open_in_the_next(kept):
    history = flown("drift_up", 7)
    keep_history(kept, "N0001D", history)
    keep_history(kept, "N0002D", flown("plain", 6))
    at = 42  # the flight at which it is raised
    begin, end = moment_of(history, at), history.flights[at].start + timedelta(hours=1)
    (item,) = digest(kept, begin, end)["new"]
    assert (item["tail"], item["finding"], item["over"]) == ("N0001D", "regulator_drift", "many flights")
    assert item["raised_at"] == history.flights[at].start.isoformat()
    assert item["likely"]
    after = digest(kept, end, history.flights[-1].start)
    assert after["new"] == []
    assert [(one["tail"], one["finding"]) for one in after["still_open"]] == [("N0001D", "regulator_drift")]
    assert digest(kept, begin - timedelta(days=7), begin)["new"] == []


def test_a_worsening_trend_is_worse_and_its_limit_comes_soon_at_the_own_rate(kept):
    history = flown("drift_up", 7)
    keep_history(kept, "N0001D", history)
    since, now = moment_of(history, 45), history.flights[-1].start + timedelta(hours=1)
    document = digest(kept, since, now)
    (worse,) = [item for item in document["worse"] if item["what"] == "trend"]
    assert worse["measure"] == "regulated_voltage"
    assert worse["way"] in ("steeper", "nearer")
    for end in ("earliest_h", "latest_h"):  # too unsure for one number either time
        assert worse["now"][end] < worse["then"][end]
    quarter = [flight for flight in history.flights if flight.start > now - timedelta(days=90)]
    rate = sum(flight.hours for flight in quarter) / 90.0 * 7.0
    for item in document["soon"]:
        assert item["hours_a_week"] == pytest.approx(rate, abs=0.01)
        both_rounded = 0.051 + 0.051 / rate  # weeks and hours, each to 0.1
        assert item["weeks"]["earliest"] == pytest.approx(item["earliest_h"] / rate, abs=both_rounded)
    idle = digest(kept, now + timedelta(days=200), now + timedelta(days=207))
    assert idle["worse"] == []
    assert [one["tail"] for one in idle["not_flown"]] == ["N0001D"]
    assert all(item["weeks"] is None for item in idle["soon"])


def test_an_entry_that_helped_is_fixed_once_enough_flights_tell_and_not_again_later(kept):
    history = flown("battery_replaced", 6)
    keep_history(kept, "N0003D", history)
    (entry,) = history.entries
    after = [flight.start for flight in history.flights if flight.start > entry.when]
    early = digest(kept, after[0] - timedelta(days=7), after[1])
    assert early["fixed"] == []
    told = digest(kept, after[1] + timedelta(minutes=1), after[12])
    (item,) = told["fixed"]
    assert (item["how"], item["tail"], item["kind"]) == ("entry helped", "N0003D", "battery_replaced")
    assert item["measures"]
    assert all(one["verdict"] == "helped" for one in item["measures"])
    assert digest(kept, after[12] + timedelta(minutes=1), after[-1])["fixed"] == []


def test_a_finding_of_a_flight_is_new_once_and_worse_when_more_severe(kept):
    history = flown("plain", 6)
    found = {20: [("weak_cranking", "caution")], 24: [("weak_cranking", "warning"), ("reading_fault", "advisory")],
             36: [("weak_cranking", "caution")]}  # fmt: skip
    keep_history(kept, "N0004D", history, found)

    def week(place: int) -> dict:
        return digest(kept, moment_of(history, place), history.flights[place].start + timedelta(minutes=1))

    first = week(20)
    (item,) = first["new"]
    assert (item["finding"], item["severity"], item["over"]) == ("weak_cranking", "caution", "single flights")
    assert [flight["start"] for flight in item["flights"]] == [history.flights[20].start.isoformat()]
    assert first["worse"] == []
    second = week(24)
    assert [item["finding"] for item in second["new"]] == ["reading_fault"]
    assert [(i["finding"], i["severity"], i["severity_then"]) for i in second["worse"]] == [
        ("weak_cranking", "warning", "caution")
    ]
    assert [item["finding"] for item in week(36)["new"]] == ["weak_cranking"]  # more than ten flights later
    assert week(25)["new"] == week(25)["worse"] == []


def test_a_finding_that_recurs_is_told_once_with_its_flights(kept):
    history = flown("plain", 6)
    keep_history(kept, "N0004D", history, {i: [("weak_cranking", "caution")] for i in (20, 22, 24)})
    document = digest(kept, moment_of(history, 20), history.flights[24].start)
    (item,) = document["new"]
    assert item["raised_at"] == history.flights[24].start.isoformat()
    assert len(item["flights"]) == 3
    assert document["worse"] == []


def test_what_a_person_said_stands_beside_and_fixed_counts_as_fixed(kept):
    history = flown("plain", 6)
    keep_history(kept, "N0004D", history, {36: [("weak_cranking", "caution")]})
    at = history.flights[36].start.isoformat()
    dispose(kept, "N0004D", "weak_cranking", at, "confirmed", "A. Nobody", "cable loose")
    dispose(kept, "N0004D", "weak_cranking", at, "fixed", "A. Nobody")
    now = datetime.now() + timedelta(minutes=5)
    document = digest(kept, moment_of(history, 36), now)
    (new,), (done,) = document["new"], document["fixed"]
    assert new["disposition"]["verdict"] == "fixed"
    assert (done["how"], done["who"]) == ("called fixed", "A. Nobody")
    assert digest(kept, now, now + timedelta(days=7))["fixed"] == []
    past = digest(kept, moment_of(history, 36), history.flights[36].start + timedelta(hours=1))
    assert past["fixed"] == []
    assert past["new"][0]["disposition"] is None


def test_a_finding_that_lapsed_is_fixed_in_the_week_of_the_flight_at_which_it_lapsed(kept):
    history = flown("plain", 6)
    keep_history(kept, "N0004D", history, {i: [("weak_cranking", "caution")] for i in (10, 12, 14)})
    lapses = history.flights[14 + 10 + 1].start
    (item,) = digest(kept, lapses - timedelta(minutes=1), lapses)["fixed"]
    assert (item["how"], item["finding"], item["at"]) == ("lapsed", "weak_cranking", lapses.isoformat())
    assert digest(kept, moment_of(history, 20), lapses - timedelta(minutes=1))["fixed"] == []


def worked_on(kind: str, seed: int, place: int, work: str) -> History:
    """A made tail on which something was done before one of its flights."""
    history = flown(kind, seed)
    entry = Entry(history.tail, history.flights[place].start - timedelta(hours=2), work, "terminals cleaned")
    return replace(history, entries=(entry,))


def test_a_drift_is_not_fixed_by_work_that_is_not_known_to_have_helped(kept):
    history = worked_on("drift_up", 7, 46, "connection_repaired")  # raised at its 42nd flight
    keep_history(kept, "N0001D", history)
    soon = digest(kept, moment_of(history, 45), history.flights[47].start)
    assert soon["fixed"] == []
    (item,) = [one for one in soon["still_open"] if one["work"]]
    assert (item["finding"], item["work"]["verdict"]) == ("regulator_drift", "too few flights yet")
    assert item["work"]["words"] == "terminals cleaned"


def test_work_that_helped_ends_the_finding_that_it_was_for(kept):
    history = worked_on("drift_up", 6, 26, "regulator_adjusted")  # raised at its 20th flight
    mended = [
        replace(flight, readings=history.flights[place - 26].readings) if place >= 26 else flight
        for place, flight in enumerate(history.flights)
    ]
    keep_history(kept, "N0001D", replace(history, flights=tuple(mended)))
    early = digest(kept, moment_of(history, 25), history.flights[27].start)
    assert early["fixed"] == []
    assert [(one["finding"], one["work"]["verdict"]) for one in early["still_open"]] == [
        ("regulator_drift", "too few flights yet")
    ]
    told = digest(kept, moment_of(history, 25), history.flights[-1].start)
    assert {(one["how"], one.get("finding")) for one in told["fixed"]} == {
        ("lapsed", "regulator_drift"), ("entry helped", None),
    }  # fmt: skip
    assert told["still_open"] == []


def test_work_whose_help_shows_only_after_many_flights_is_told_in_the_week_in_which_it_does(kept):
    history = worked_on("plain", 6, 20, "connection_repaired")
    keep_history(kept, "N0004D", history, {i: [("alternator_offline", "caution")] for i in range(9, 20, 2)})
    weeks = []
    for place in range(20, len(history.flights) - 2, 2):
        found = digest(kept, moment_of(history, place), moment_of(history, place + 2))["fixed"]
        weeks += [place for one in found if one["how"] == "entry helped"]
    assert len(weeks) == 1
    assert weeks[0] in (
        30,
        32,
    )  # of six in twenty, none in twelve has a chance below 0.05 (Fisher), none in eleven has not


def test_what_a_person_said_last_of_a_finding_is_what_counts(kept):
    history = flown("drift_up", 7)
    keep_history(kept, "N0001D", history)
    at, now = history.flights[42].start.isoformat(), datetime.now() + timedelta(minutes=5)

    def said(*verdicts: str) -> list[str]:
        for verdict in verdicts:
            dispose(kept, "N0001D", "regulator_drift", at, verdict, "Kim", verdict)
        told = digest(kept, now - timedelta(days=1), now)["fixed"]
        return [one["words"] for one in told if one["how"] == "called fixed"]

    assert said("fixed", "fixed", "fixed") == ["fixed"]
    assert said("confirmed") == []
    assert said("fixed") == ["fixed"]


@pytest.mark.long(keep=2)
@pytest.mark.parametrize("place", [12, 31, 25])
def test_a_past_digest_is_the_one_that_records_without_the_later_flights_give(tmp_path, place):
    tails = {"N0001D": flown("drift_up", 6), "N0002D": flown("ageing", 6), "N0003D": flown("battery_replaced", 6),
             "N0004D": flown("plain", 6), "N0005D": flown("regulator_adjusted", 6)}  # fmt: skip
    found = {i: [("weak_cranking", ("caution", "warning")[i % 2])] for i in range(5, 40, 4)}
    now = tails["N0001D"].flights[place].start + timedelta(hours=3)
    documents = []
    for name, cut in (("whole", None), ("then", now)):
        with open_records(tmp_path / name, create=True) as store:
            for tail, history in tails.items():
                part = history.until(cut)
                if part.flights:
                    keep_history(store, tail, part, {k: v for k, v in found.items() if k < len(part.flights)})
            documents.append(digest(store, now - timedelta(days=21), now))
    whole, then = (without_ids(document) for document in documents)
    assert whole["logs"].pop("dated_later") > 0
    assert then["logs"].pop("dated_later") == 0
    assert whole == then


def without_ids(value: object) -> object:
    """A document without the numbers that the records count flights by."""
    if isinstance(value, dict):
        return {key: without_ids(inner) for key, inner in value.items() if key != "id"}
    return [without_ids(inner) for inner in value] if isinstance(value, list) else value


def test_flights_that_came_late_are_counted_by_aircraft(kept):
    history = flown("plain", 6)
    since = moment_of(history, 30)
    keep_history(kept, "N0004D", history, added_at=(since + timedelta(days=1)).isoformat() + "+00:00")
    (late,) = digest(kept, since, since + timedelta(days=30))["added_late"]
    assert late == {"tail": "N0004D", "flights": 30, "earliest": history.flights[0].start.isoformat()}


def test_logs_of_no_known_aircraft_and_refused_ones_are_named(kept):
    keep_history(kept, "N0004D", flown("plain", 6))
    with kept.writing() as connection:
        connection.execute(logs.update().where(logs.c.id == 3).values(tail=None))
        connection.execute(flights.update().where(flights.c.log_id == 3).values(tail=None))
    keep_refusals(kept, [("a.csv", "It holds no table."), ("made/4.csv", "It was cut short.")])
    keep_refusals(kept, [("a.csv", "It still holds no table, “really”.")])
    now = datetime.now() + timedelta(minutes=5)
    told = digest(kept, now - timedelta(days=7), now)["logs"]
    assert [log["source"] for log in told["without_tail"]] == ["made/3.csv"]
    assert [(log["source"], log["because"]) for log in told["refused"]] == [
        ("a.csv", "It still holds no table, “really”.")
    ]  # the other one has been read since
    assert digest(kept, now - timedelta(days=21), now - timedelta(days=14))["logs"]["refused"] == []


def test_a_finding_in_a_flight_of_no_known_aircraft_is_not_lost(kept):
    history = flown("plain", 6)
    keep_history(kept, "N0004D", history, {36: [("overvoltage", "warning")]})
    with kept.writing() as connection:
        of_log = select(flights.c.log_id).where(flights.c.number == 1, flights.c.id == 37).scalar_subquery()
        connection.execute(logs.update().where(logs.c.id == of_log).values(tail=None))
        connection.execute(flights.update().where(flights.c.id == 37).values(tail=None))
    document = digest(kept, moment_of(history, 36), LATER)
    assert [(item["tail"], item["finding"]) for item in document["new"]] == [(None, "overvoltage")]
    assert "unknown aircraft  WARNING: Overvoltage" in digest_text(collect_digest(kept, moment_of(history, 36), LATER))


def test_a_list_of_refusals_that_was_spoilt_by_hand_is_read_as_far_as_it_goes(kept):
    keep_refusals(kept, [("a.csv", "no table")])
    path = kept.folder / REFUSED_FILE
    path.write_bytes(path.read_bytes() + b"one,two\n\xff\xfe,,,,\n")
    assert [one.source for one in kept_refusals(kept)] == ["a.csv"]
    path.unlink()
    assert kept_refusals(kept) == []


def test_what_is_not_worse_is_not_worked_out_anew(kept, monkeypatch):
    keep_history(kept, "N0001D", flown("drift_up", 7))
    from analyzer.records import reviewing

    worked: list[str] = []
    as_of: Callable[[History, datetime, set], Then] = reviewing.as_of

    def counted(history: History, since: datetime, measures: set) -> Then:
        worked.append(history.tail)
        return as_of(history, since, measures)

    monkeypatch.setattr(reviewing, "as_of", counted)
    first = digest(kept, None, LATER)
    assert worked == ["N0001D"]
    assert digest(kept, None, LATER) == first  # as kept
    assert worked == ["N0001D"]
    written = kept.database.mark()
    for _ in range(2):  # of any other moment nothing is kept: two readers by turns would write without end
        digest(kept, datetime(2025, 8, 20), LATER)
    assert worked == ["N0001D"] * 3
    assert kept.database.mark() == written
    assert digest(kept, None, LATER) == first
    assert worked == ["N0001D"] * 3
    add_entries(kept, [Entry("N0001D", datetime(2025, 8, 1), "battery_replaced", "another")])
    digest(kept, None, LATER)  # anew, for the entry
    assert worked == ["N0001D"] * 4
    worked.clear()
    keep_history(kept, "N0004D", flown("plain", 6))
    digest(kept, datetime(2025, 8, 20), LATER)
    assert worked == ["N0001D"]  # and not the sound one
    worked.clear()
    digest(kept, LATER - timedelta(days=7), LATER)
    assert worked == []


@pytest.mark.parametrize("minutes", [None, 5])
def test_a_flight_that_came_in_two_files_counts_once(kept, minutes):
    """Both whole, in two layouts, or one cut to its first minutes."""
    history = flown("plain", 6)
    last = history.flights[-1]
    copy = last if minutes is None else replace(last, end=last.start + timedelta(minutes=minutes), hours=minutes / 60)
    keep_history(kept, "N0001D", replace(history, flights=(copy, *history.flights)),
                 {0: [("regulator_low", "caution")], len(history.flights): [("regulator_low", "caution")]})  # fmt: skip
    document = digest(kept, last.start, last.end)
    assert (document["flights"], document["hours"]) == (1, pytest.approx(last.hours, abs=0.06))
    (item,) = [one for one in document["new"] if one["finding"] == "regulator_low"]
    whole = 1 if minutes is None else len(history.flights) + 1  # ids begin at 1; of equal ones the first added counts
    assert item["flights"] == [{"id": whole, "start": last.start.isoformat()}]
    latest = latest_flights(kept, ["N0001D"], 3)["N0001D"]
    assert [one.start for one in latest] == [flight.start for flight in history.flights[-3:]]
    assert latest[-1].id == whole


def test_a_copy_of_a_flight_that_began_before_the_digest_is_not_counted_in_it(kept):
    history = flown("plain", 6)
    last = history.flights[-1]
    since = last.start + (last.end - last.start) / 3
    late = replace(last, start=since + timedelta(minutes=1), hours=0.3)
    keep_history(kept, "N0001D", replace(history, flights=(*history.flights, late)))
    assert digest(kept, since, last.end)["flights"] == 0


def test_a_digest_since_the_first_day_of_the_calendar_tells_of_all_flights(kept):
    history = flown("plain", 6)
    keep_history(kept, "N0001D", history)
    assert digest(kept, datetime.min, LATER)["flights"] == len(history.flights)


def test_flights_at_one_time_of_two_aircraft_are_two(kept):
    history = flown("plain", 6)
    keep_history(kept, "N0001D", history)
    keep_history(kept, "N0002D", history)
    last = history.flights[-1]
    assert digest(kept, last.start, last.end)["flights"] == 2


def test_flights_that_only_touch_are_two_in_the_digest(kept):
    history = flown("plain", 6)
    last = history.flights[-1]
    after = replace(last, start=last.end, end=last.end + timedelta(minutes=30), hours=0.5)
    keep_history(kept, "N0001D", replace(history, flights=(*history.flights, after)))
    assert digest(kept, last.start, after.end)["flights"] == 2


def test_the_digest_is_the_same_however_its_tails_are_worked_out(kept):
    keep_history(kept, "N0001D", flown("drift_up", 7))
    keep_history(kept, "N0002D", flown("ageing", 6))
    asked: list[list[str]] = []

    def backwards(work, names, fleet):
        asked.append(names)
        return list(reversed([work(name, fleet) for name in reversed(names)]))

    since, now = datetime(2025, 9, 1), datetime(2026, 1, 15)
    assert collect_digest(kept, since, now, over=backwards) == collect_digest(kept, since, now)
    assert any("N0001D" in names for names in asked)
