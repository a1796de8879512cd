"""An aircraft's alarms and loads from flights of which some show no bus voltage, or another system's."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from analyzer.aircraft import Aircraft
from analyzer.records.replay import ReplayedFlight
from analyzer.reports.alarm_words import basis_sentences, light_sentence, loss_rows
from analyzer.reports.load_words import load_sentence
from analyzer.review import FlightReview, review_log
from analyzer.service import own_meters as service
from analyzer.service.own_meters import MetersAsked, OwnMeters
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.system_faults import FieldOpen
from analyzer.trends.load_list import load_list

FIRST = datetime(2026, 5, 1, 9, 0)


def flown(volts: int = 14, *, lost: bool = False, voltmeter: bool = True) -> FlightReview:
    scenario = healthy(3, volts, "alternator")
    if lost:
        scenario = scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 300.0))
    without = () if voltmeter else ("bus_voltage", "bus_voltage_2")
    return review_log(as_log(simulate(scenario), without=without)).flights[0]


def meters(monkeypatch: pytest.MonkeyPatch, *reviews: FlightReview) -> OwnMeters:
    """What flights on days in a row come to, each in a log of its own."""
    kept: Any = tuple(
        [ReplayedFlight(number, "a.csv", 1, FIRST + timedelta(days=number), one)] for number, one in enumerate(reviews)
    )
    monkeypatch.setattr(service, "replay_log", lambda replayed, _aircraft: replayed)
    return service.own_meters(MetersAsked("N0OWN", kept, Aircraft()))


def test_a_loss_is_dated_by_its_own_flight_where_flights_without_volts_or_of_another_system_stand_between(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    blind, other, lost, sound = flown(voltmeter=False), flown(28), flown(lost=True), flown()
    own = meters(monkeypatch, blind, other, lost, sound, blind)
    assert [one.id for one in own.flights] == [2, 3], "those of the latest system that is known"
    (row,) = loss_rows(own)
    assert row[0].startswith("2026-05-03, ")
    assert row[2].endswith(" after"), "the light comes on at 12.8 V or so"
    assert own.alarms is not None
    assert (own.alarms.flights, own.alarms.sound) == (2, 1)
    assert own.loads.flights == 4, "an ammeter tells loads without volts, of this system"


def test_where_no_flight_tells_the_voltage_no_limit_is_told_and_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    own = meters(monkeypatch, flown(voltmeter=False))
    assert own.alarms is None
    assert [one.id for one in own.flights] == [0]
    assert "shows the system voltage" in light_sentence(own)
    assert loss_rows(own) == []


def test_logs_that_could_not_be_read_are_counted_and_told_once() -> None:
    none = OwnMeters("N0", (), None, load_list([], None), None, ("Gone. Run: taper rebuild.",) * 3)
    told = " ".join(basis_sentences(none))
    assert "3 logs could not be read, the first because: Gone." in told
    assert told.count("Gone.") == 1
    assert "From the latest" not in told
    one = " ".join(basis_sentences(replace(none, unread=("Gone.",))))
    assert "1 log could not be read because: Gone." in one
    assert load_sentence(none.loads) == "Not measurable: no flight could be read."
