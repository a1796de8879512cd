"""Charge after a start and later: what a log does not show is not taken for given, and what was given counts."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from analyzer.aircraft import Aircraft
from analyzer.limits import limit_value
from analyzer.logs.readings import Readings
from analyzer.measures.battery_life import Share
from analyzer.measures.charge_now import ChargeUnknownError, charge_now
from analyzer.measures.jump_start import GAVE_LATER, ChargeBack, _given_since, charge_back
from analyzer.measures.meter_record import Loss
from analyzer.reports.jump_words import CANNOT_TELL, jump_sentences
from analyzer.review import FlightReview, review_log
from analyzer.series import Z95
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy

SLOW_S = 1600


def flown(begins: int = 0, *, slow_later: bool = False, kind: str = "battery", off_a: float = 0.0) -> FlightReview:
    """A sound flight; its log may begin later, and the engine idle for long near its end, the battery giving 10 A."""
    log = as_log(simulate(healthy(3, 14, kind)))  # type: ignore[arg-type]
    table = log.table
    if off_a:
        table = table.with_columns(battery_current=table["battery_current"] + off_a)
    if slow_later:
        rows = slice(table.height - 600 - SLOW_S, table.height - 600)
        noise = np.random.default_rng(3).normal(0.0, 0.2, SLOW_S)
        of_meter = (f"{kind}_current", -10.0 if kind == "battery" else 0.0)
        for name, value in (of_meter, ("bus_voltage", 12.2), ("engine_speed", 700.0)):
            readings = table[name].to_numpy().copy()
            readings[rows] = value + noise * (0.1 if name == "bus_voltage" else 1.0)
            table = table.with_columns(**{name: readings})
    return review_log(
        replace(log, readings=Readings.of(table[begins:])), Aircraft("N0JUMP", battery_capacity=26.0)
    ).flights[0]


def test_what_the_battery_gives_while_the_engine_idles_later_is_not_back() -> None:
    sound, later = (flown(slow_later=slow) for slow in (False, True))
    before, after = (charge_back(one.flight, one.measures) for one in (sound, later))
    assert before.amp_hours is not None
    assert before.amp_hours > 0.3
    assert after.amp_hours == 0.0, "10 A for 27 min are 4.4 Ah, more than came back"


def _back(review: FlightReview) -> ChargeBack:
    return charge_back(review.flight, review.measures)


@pytest.mark.parametrize("kind", ["battery", "alternator"])
def test_without_a_battery_ammeter_a_low_bus_later_leaves_it_open_and_a_held_one_does_not(kind: str) -> None:
    sound = flown(kind=kind)
    assert charge_back(sound.flight, sound.measures).amp_hours is not None
    if kind == "alternator":
        later = _back(flown(kind=kind, slow_later=True))
        assert (later.amp_hours, later.because) == (None, GAVE_LATER)


def test_what_was_given_later_is_the_meters_own_and_its_error_at_zero_and_no_drain_within_that_error() -> None:
    error = Z95 * limit_value("ammeter_zero_error")
    hours = SLOW_S / 3600.0
    given = _given_since(flown(slow_later=True).flight)
    assert given == pytest.approx((10.0 + error) * hours, rel=0.02)
    assert _given_since(flown(off_a=-0.6).flight) == pytest.approx(0.0, abs=0.02), "shown as a drain within the error"


def test_a_log_that_begins_running_cannot_tell_of_a_start_nor_of_the_charge_at_a_moment() -> None:
    review = flown(begins=900)
    assert jump_sentences(charge_back(review.flight, review.measures))[0] == CANNOT_TELL
    with pytest.raises(ChargeUnknownError, match="running"):
        charge_now(review.flight, review.measures, 100, Share(0.9, 0.5, 1.0))


@pytest.mark.parametrize(
    ("dip_s", "in_loss", "expected"),
    [((-240, -200), None, None), ((-240, -200), (30, 90), 35.0), ((-240, 60), None, -235.0), ((2, 60), None, 7.0)],
)
def test_a_dip_that_came_back_before_the_loss_is_no_warning_of_it(dip_s, in_loss, expected) -> None:
    time = np.arange(-600.0, 121.0)
    volts = np.full(time.size, 13.2)
    for span in (dip_s, in_loss):
        if span is not None:
            volts[(time >= span[0]) & (time <= span[1])] = 12.4
    loss = Loss(0.0, 120.0, time, volts, np.full(time.size, np.nan))
    assert loss.first_below(12.8, volts) == expected
