"""Logs that begin with the engine running: the recharge is seen from its middle, and nothing before it is known."""

from __future__ import annotations

import warnings

import numpy as np
import polars as pl
import pytest

from analyzer.review import FlightReview, review_log
from tests.as_json import flight_json
from tests.made import log_from


def flown(
    current: np.ndarray, *, step_s: float = 1.0, role: str = "battery_current", scale: int = 1, volts: float = 14.1
) -> FlightReview:
    """A flight that was already under way as its log began, the bus held throughout."""
    rng = np.random.default_rng(current.size)
    shown = np.round(volts * scale + rng.normal(0.0, 0.02, current.size), 2)
    table = pl.DataFrame(
        {
            "time_s": np.arange(current.size) * step_s,
            "bus_voltage": shown,
            role: np.round(current, 1),
            "engine_speed": np.full(current.size, 2350.0),
        }
    )
    [review] = review_log(log_from(table)).flights
    return review


def taper(tau_min: float, amps: float, *, minutes: float = 60.0, step_s: float = 1.0, noise: float = 0.15, level=1.0):
    """A charging current that falls to its settled level [A]."""
    time = np.arange(0.0, 60.0 * minutes, step_s)
    rng = np.random.default_rng([int(100 * tau_min), int(10 * amps)])
    return level + amps * np.exp(-time / (60.0 * tau_min)) + rng.normal(0.0, noise, time.size)


@pytest.mark.parametrize("tau", [2.8, 4.4, 6.8])
@pytest.mark.parametrize(("step_s", "noise", "scale"), [(1.0, 0.05, 1), (1.0, 0.25, 2), (5.0, 0.15, 1)])
def test_a_taper_is_measured_from_its_middle(tau, step_s, noise, scale):
    review = flown(taper(tau, 6.0, step_s=step_s, noise=noise), step_s=step_s, scale=scale)
    found = review.measures["recharge_time_constant"]
    assert found.value == pytest.approx(tau, rel=0.1)
    assert found.low < tau < found.high < 2.2 * found.low
    assert "start not recorded" in found.note
    assert flight_json(review)["start_recorded"] is False


@pytest.mark.parametrize("tau", [2.8, 6.8])
def test_the_floor_of_an_alternator_ammeter_is_the_load(tau):
    current = taper(tau, 9.0, level=14.0)
    current[700:] += 6.0  # a load comes on
    review = flown(current, role="alternator_current")
    found = review.measures["recharge_time_constant"]
    assert found.low < tau < found.high < 4.0 * found.low
    assert found.value == pytest.approx(tau, rel=0.25)


def test_what_went_before_is_refused_with_what_is_plain():
    review = flown(taper(4.0, 8.0))
    seen = {
        "recharge_peak_current": 8.0,
        "recharge_settling_time": 4.0 * np.log(8.0),
        "recharge_returned": 8.0 * 4 / 60,
    }
    for name, most in seen.items():
        measure = review.measures[name]
        assert measure.value is None
        assert 0.4 * most < measure.at_least <= 1.1 * most
        document = flight_json(review)["measures"][name]
        assert document["state"] == "not_measurable"
        assert document["at_least"] == pytest.approx(measure.at_least, abs=1e-3)


def test_its_phases_and_regulated_rows_begin_where_the_current_has_settled():
    review = flown(taper(4.0, 8.0))
    flight = review.flight
    assert [phase.name for phase in flight.phases] == ["recharge", "steady"]
    assert flight.phases[0].to_s == pytest.approx(60.0 * 4.0 * np.log(8.0), rel=0.15)
    assert flight.trace.time[np.argmax(flight.regulated)] >= flight.recharge.settled_s
    assert review.measures["maintenance_current"].value == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("role", ["battery_current", "alternator_current"])
def test_no_decay_is_made_up_where_the_current_is_flat(role):
    level = 1.2 if role == "battery_current" else 15.0
    review = flown(taper(4.0, 0.0, level=level), role=role)
    assert review.measures["recharge_time_constant"].value is None
    assert [phase.name for phase in review.flight.phases] == ["steady"]


def test_less_than_the_battery_shows_for_sure_is_no_decay():
    assert flown(taper(5.0, 0.9, noise=0.3)).measures["recharge_time_constant"].value is None


def test_a_slow_recharge_is_advisory_and_says_what_is_not_known():
    [finding] = flown(taper(16.0, 12.0, minutes=90.0)).findings
    assert (finding.name, finding.severity) == ("slow_recharge", "advisory")
    assert "not known" in finding.says
    assert "Ah had been drawn" not in finding.says
    assert "drawn_before_ah" not in finding.evidence


def test_a_recharge_that_is_only_perhaps_slow_is_not_accused():
    assert flown(taper(6.3, 8.0)).findings == ()


def test_a_current_that_is_flat_at_the_end_is_settled_whatever_the_fit_says():
    # medians of ten minutes 2.6 2.3 1.7 1.3 1.1 1.1 1.1 1.0 A: no exponential, and settled
    time = np.arange(0.0, 4800.0)
    current = np.interp(time, 300.0 + 600.0 * np.arange(8), [2.6, 2.3, 1.7, 1.3, 1.1, 1.1, 1.1, 1.0])
    review = flown(current + np.random.default_rng(3).normal(0.0, 0.1, time.size))
    settled = review.measures["maintenance_current"]
    assert settled.value == pytest.approx(1.05, abs=0.1)
    assert review.flight.recharge.settled_s < 3000.0


def test_a_current_that_still_falls_is_not_settled():
    review = flown(taper(90.0, 20.0, minutes=50.0, level=2.0))
    assert review.measures["maintenance_current"].value is None
    assert review.flight.recharge.unsettled


def test_the_charge_returned_by_the_end_of_a_log_is_a_bound():
    # 30 A falling with 25 min, seen for 22 min: more than 3 Ah lie above the last current seen
    review = flown(taper(25.0, 30.0, minutes=22.0, level=2.0))
    measure = review.measures["recharge_returned"]
    seconds = np.arange(22.0 * 60.0)
    above = 30.0 * (np.exp(-seconds / 1500.0) - np.exp(-22.0 / 25.0))
    assert measure.value is None
    assert 0.7 * above.sum() / 3600.0 < measure.at_least < above.sum() / 3600.0
    assert review.measures["recharge_settling_time"].at_least == pytest.approx(22.0, abs=0.1)


def test_a_settled_current_that_never_moves_warns_nobody():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        review = flown(np.full(3000, 1.0))
    assert review.measures["maintenance_current"].value == pytest.approx(1.0)
