"""A measure point by point for its chart."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from analyzer.trends.chart import chart_points, limits_of
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import follow_tail
from analyzer.trends.history import FlightSummary, Reading, history_of
from analyzer.trends.tracked_series import BY_MEASURE

FIRST = datetime(2026, 1, 1, 9)
#: Hours of each flight, and the voltage under the starter in those that show it.
FLOWN = ((1.0, 9.6), (2.0, 9.4), (0.5, None), (1.5, 10.1), (1.0, 10.2))


def test_a_chart_has_each_flight_s_value_with_its_interval_behind_the_hours_flown_before_it() -> None:
    flights = []
    for place, (hours, volts) in enumerate(FLOWN):
        start = FIRST + timedelta(days=place)
        read = {} if volts is None else {"cranking_voltage": Reading(volts, volts - 0.3, volts + 0.1)}
        flights.append(
            FlightSummary(start, start + timedelta(hours=hours), hours, 14, "battery", 15.0, 15.0, 0.3, read)
        )
    work = Entry("N0001A", FIRST + timedelta(days=2.5), "battery_replaced", "")
    history = replace(history_of("N0001A", flights), entries=(work,))
    tail = follow_tail(history, [BY_MEASURE["cranking_voltage"]])
    points = chart_points(tail, "cranking_voltage")
    assert [(one.flight, one.hours, one.value, one.low, one.high, one.stretch) for one in points] == [
        (0, 0.0, 9.6, pytest.approx(9.3), pytest.approx(9.7), 0),
        (1, 1.0, 9.4, pytest.approx(9.1), pytest.approx(9.5), 0),
        (3, 3.5, 10.1, pytest.approx(9.8), pytest.approx(10.2), 1),  # anew with another battery
        (4, 5.0, 10.2, pytest.approx(9.9), pytest.approx(10.3), 1),
    ]
    assert [one.start for one in points] == [FIRST + timedelta(days=place) for place in (0, 1, 3, 4)]
    assert [one.adjusted for one in points] == pytest.approx([one.value for one in points]), "all in the same air"
    assert limits_of(tail, "cranking_voltage") == [8.4]
