"""Numbers that say nothing are left out, and what is alike is said once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import pytest

from analyzer.findings.finding import Severity
from analyzer.quantity import Quantity
from analyzer.reports.alarm_words import usual_words
from analyzer.reports.load_words import load_line, load_rows
from analyzer.reports.trend_words import cold_volts, cold_words, latest_words
from analyzer.trends.alarm_limits import Alarm
from analyzer.trends.cold import ColdOutlook, ColdStart, SeenStart
from analyzer.trends.history import FlightAt
from analyzer.trends.load_list import LoadList, OwnLoad
from analyzer.trends.open_findings import OfFlight


@dataclass(frozen=True)
class Named:
    name: str
    severity: Severity = Severity.CAUTION


def of_flight(day: int | None, name: str, flight: int = 0) -> OfFlight[Named]:
    return OfFlight(Named(name), flight, None if day is None else datetime(2026, 8, day, 9, 0))


def test_flights_that_show_the_same_are_named_together() -> None:
    told = [of_flight(30, "slow_recharge"), of_flight(23, "slow_recharge"), of_flight(16, "weak_cranking")]
    assert latest_words(told) == (
        "in the flights of 2026-08-30 and 2026-08-23: Slow recharge (caution); "
        "in the flight of 2026-08-16: Weak cranking (caution)"
    )
    told.append(of_flight(9, "slow_recharge"))
    assert "in the flights of 2026-08-30, 2026-08-23 and 2026-08-09: Slow recharge" in latest_words(told)
    without_clock = [of_flight(None, "slow_recharge", 4), of_flight(None, "slow_recharge", 2)]
    assert latest_words(without_clock) == "in flight 5 and flight 3: Slow recharge (caution)"


def alarm(value: float, low: float, high: float) -> Alarm:
    return Alarm("high_voltage", "V", usual=Quantity(value, "V", low, high))


def test_an_interval_that_its_digits_do_not_show_is_left_out() -> None:
    assert usual_words(alarm(14.1, 14.08, 14.12)) == "highest 14.1 V"
    assert usual_words(alarm(14.1, 14.0, 14.12)) == "highest 14.1 V (14.0 to 14.1)"


def test_a_load_is_told_in_a_plain_sentence() -> None:
    one = OwnLoad(Quantity(5.5, "A", 5.1, 5.9), 31, 1, 31, 8, ("Strobes",), named=False)
    (row,) = load_rows(LoadList(31, (one,), 0, None))
    assert load_line(row) == (
        "5.5 A (5.1 to 5.9): came on 31 times and went off once, in 31 of 31 flights; 8 times before take-off, "
        "24 times after take-off; as large as Strobes"
    )


@pytest.mark.parametrize(("low", "high", "told"), [(7.1, 9.2, True), (4.5, 8.6, True), (0.4, 10.0, False)])
def test_a_start_in_the_cold_of_which_all_may_be_is_not_measurable(low: float, high: float, *, told: bool) -> None:
    start = ColdStart(-20.0, Quantity(8.06, "V", low, high), 0.05)
    outlook = ColdOutlook((start,), 8.4, 32, SeenStart(FlightAt(0, datetime(2026, 3, 1)), 0.0, 9.8))
    words = cold_volts(start, outlook)
    assert words == ("8.06 V" if told else "too wide to tell")
    assert ("8.06 V" in cold_words(outlook)) == told
    level = f"at -20 °C {words} ({low:.2f} to {high:.2f} V). Above 8.40 V: at -20 °C in fewer than 1 of 10."
    assert level in cold_words(outlook), "the chance is still told, apart"
