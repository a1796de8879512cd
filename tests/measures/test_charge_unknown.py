"""A plan takes no charge for granted where what was recorded speaks against it."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest
from msgspec.structs import replace

from analyzer.aircraft import Aircraft
from analyzer.logs.readings import Readings
from analyzer.measures.battery_life import UNKNOWN_BATTERY
from analyzer.measures.charge_now import ChargeUnknownError, charge_now
from analyzer.measures.planning import preset
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy

TODAY = datetime(2026, 6, 1)


def flown(less: float, begins: int = 0) -> FlightReview:
    """A flight whose bus is lower by some volts before the start; its log begins at a row."""
    log = as_log(simulate(healthy(3, 14, "alternator")))
    table, speed = log.table, log.table["engine_speed"].to_numpy()
    volts = table["bus_voltage"].to_numpy() - np.where(np.arange(table.height) < int(np.argmax(speed > 0.0)), less, 0.0)
    changed = replace(log, readings=Readings.of(table.with_columns(bus_voltage=volts)[begins:]))
    return review_log(changed, Aircraft("N0PLAN")).flights[0]


def test_a_rest_below_an_empty_battery_leaves_plan_and_endurance_without_a_charge() -> None:
    review = flown(2.0)
    assert review.measures["resting_charge"].value is None
    assert "a cell may be dead" in (review.measures["resting_charge"].because or "")
    given = preset(review.flight, review.measures, UNKNOWN_BATTERY, TODAY)
    assert given.charge is None
    assert "a cell may be dead" in given.basis["charge"]
    assert review.measures["endurance"].value is None
    with pytest.raises(ChargeUnknownError, match="a cell may be dead"):
        charge_now(review.flight, review.measures, 1000, given.condition)


@pytest.mark.parametrize(("more", "told"), [(0.3, True), (1.3, False)], ids=["full", "on a charger"])
def test_a_battery_that_is_being_charged_does_not_rest_and_shows_no_charge(more: float, told: bool) -> None:
    charge = flown(-more).measures["resting_charge"]
    assert (charge.value is not None) == told
    assert told or "it did not rest: a charger or the alternator fed it" in (charge.because or "")


def test_a_sound_rest_tells_the_charge_and_a_log_that_begins_running_takes_one_with_its_reason() -> None:
    sound = flown(0.0)
    told = preset(sound.flight, sound.measures, UNKNOWN_BATTERY, TODAY).charge
    assert told is not None
    assert told.value == pytest.approx((sound.measures["resting_charge"].value or 0.0) / 100.0)
    running = flown(0.0, begins=900)
    taken = preset(running.flight, running.measures, UNKNOWN_BATTERY, TODAY)
    assert taken.charge is not None
    assert taken.charge.low == pytest.approx(0.7)
    assert "begins with the engine running" in taken.basis["charge"]
