"""What was foretold once a flight was flown: as it was known then, the limits that are passed first."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analyzer.aircraft import Fleet
from analyzer.contract_outlook import outlook_at_entry
from analyzer.records.store import open_records
from analyzer.reports.text import Style
from analyzer.reports.trend_text import outlook_at_text
from analyzer.reports.trend_words import outlook_at_words
from analyzer.service import outlook_at as module
from analyzer.service.outlook_at import OutlookAt, outlook_at, outlook_of
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import follow_tail, trends_of
from analyzer.trends.history import FlightSummary, History, Reading, history_of
from tests.made_results import trend

FLEET = Fleet()


def history(flights: int = 60, per_flight: float = 0.012, volts: float = 14.1, tail: str = "N0001A") -> History:
    """Flights of an hour whose cranking voltage falls from 9.6 V towards its limit of 8.4 V."""
    rng = np.random.default_rng(5)
    told = []
    for place in range(flights):
        start = datetime(2026, 1, 1, 9) + timedelta(days=2 * place)
        cranking = 9.6 - per_flight * place + float(rng.normal(0.0, 0.05))
        bus = volts + float(rng.normal(0.0, 0.01))
        readings = {
            "cranking_voltage": Reading(cranking, cranking - 0.1, cranking + 0.1),
            "regulated_voltage": Reading(bus, bus - 0.02, bus + 0.02),
        }
        end = start + timedelta(hours=1)
        told.append(FlightSummary(start, end, 1.0, 14, "battery", 15.0, 11.0, 0.3, readings, id=100 + place))
    return history_of(tail, told)


@pytest.fixture
def at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The outlook after a flight of a history."""

    def asked(own: History, flight_id: int) -> OutlookAt:
        monkeypatch.setattr(module, "kept_history", lambda store, tail, fleet: own)
        with open_records(tmp_path / "records", create=True) as store:
            return outlook_at(own.tail, FLEET, store, flight_id)

    return asked


def test_it_rests_on_the_flight_and_those_before_it_alone(at) -> None:
    whole = history()
    then, now = at(whole, 139), at(whole, 159)
    assert (then.flights, now.flights) == (40, 60)
    cut = trends_of(follow_tail(replace(whole, flights=whole.flights[:40])))["cranking_voltage"]
    (own,) = then.trends
    assert own == cut
    assert own.projection.one_in_two > now.trends[0].projection.one_in_two


def test_work_that_was_done_later_does_not_count_then_but_does_for_the_flights_after_it(at) -> None:
    replaced = Entry("N0001A", datetime(2026, 1, 1, 8) + timedelta(days=2 * 50), "battery_replaced", "")
    whole = replace(history(), entries=(replaced,))
    assert at(whole, 149).trends == at(history(), 149).trends
    assert not at(whole, 159).trends, "ten hours since the battery was replaced"


def test_what_is_past_its_limit_comes_first_then_the_soonest() -> None:
    outlook = outlook_of(history(volts=13.2))
    assert [one.measure for one in outlook.trends] == ["regulated_voltage", "cranking_voltage"]
    first, second = outlook_at_words(outlook)
    assert first.startswith("Regulated voltage 13.1")
    assert first.endswith(" V: past its limit of 13.40 V")
    assert second.startswith("Lowest cranking voltage 8.8")
    assert ": reaches 8.40 V in " in second
    limits = outlook_at_entry(outlook).limits
    assert [(one.measure, one.past, one.limit) for one in limits] == [
        ("regulated_voltage", True, 13.4),
        ("cranking_voltage", False, 8.4),
    ]
    assert limits[1].earliest_h < limits[1].reaches_limit_in_h < limits[1].latest_h


def test_what_heads_for_its_limit_at_no_known_time_is_told_last(monkeypatch: pytest.MonkeyPatch) -> None:
    untold = trend("regulated_voltage", level=14.3, limit=14.5, ends=None)
    coming = trend("cranking_voltage", level=8.8, slope=-0.2, low=-0.3, high=-0.1, limit=8.4)
    away = trend("resting_voltage", level=12.6, limit=12.2, ends=None)
    monkeypatch.setattr(module, "trends_of", lambda tail: {one.measure: one for one in (untold, coming, away)})
    outlook = outlook_of(history(12))
    assert outlook.trends == (coming, untold)
    assert outlook_at_words(outlook) == [
        "Lowest cranking voltage 8.80 V: reaches 8.40 V in 150 h (100 to 300)",
        "Regulated voltage 14.30 V: heads for 14.50 V; when cannot be told yet",
    ]
    last = outlook_at_entry(outlook).limits[-1]
    assert (last.measure, last.past, last.reaches_limit_in_h) == ("regulated_voltage", False, None)


def test_nothing_ahead_and_nothing_measurable_are_told_apart(at) -> None:
    assert outlook_at_words(outlook_of(history(per_flight=0.0))) == [
        "No measure lies past its limit or surely comes to one."
    ]
    few = outlook_of(history(flights=8))
    assert few.of == "cranking_voltage"
    (words,) = outlook_at_words(few)
    assert words.startswith("No limit can be foretold yet: too few hours for a slope: ")
    assert words.endswith(" (lowest cranking voltage).")
    bare = history_of("N0001A", [replace(one, readings={}) for one in history(12).flights])
    assert outlook_at_words(outlook_of(bare)) == ["No limit can be foretold: no measure that has a limit was measured."]
    assert outlook_at_words(at(history(), 7)) == [
        "No limit can be foretold: another recording of this flight counts in the trends."
    ]


def test_without_a_clock_the_flights_before_it_in_file_order_count(at) -> None:
    whole = history()
    bare = [replace(one, start=None, end=None, file=f"flight {place}.csv") for place, one in enumerate(whole.flights)]
    outlook = at(history_of("N0001A", bare), 145)
    assert outlook.flights == 46
    assert outlook.because is None


def test_without_a_clock_among_timed_flights_nothing_tells_which_came_before_it(at) -> None:
    whole = history()
    bare = [replace(one, start=None, end=None, file="bare.csv") if one.id == 145 else one for one in whole.flights]
    mixed = history_of("N0001A", bare)
    assert mixed.flights[-1].id == 145, "flights without a clock come behind all others"
    outlook = at(mixed, 145)
    assert (outlook.flights, outlook.trends) == (0, ())
    assert outlook_at_words(outlook) == [
        "No limit can be foretold: without a clock nothing tells which flights came before it."
    ]
    assert at(mixed, 144).flights == 45


def test_no_flights_are_counted_where_nothing_tells_them() -> None:
    because = "another recording of this flight counts in the trends"
    heads = [outlook_at_text(OutlookAt(flights, because=because), Style(colour=False)) for flights in (40, 0)]
    assert heads[0].startswith("Outlook after this flight, by 40 flights so far\n")
    assert heads[1].startswith("Outlook after this flight\n")
