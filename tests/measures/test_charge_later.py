"""Charge after a start and later: what a log does not show is not taken for given, and what was given counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyzer.aircraft import Aircraft
from analyzer.measures.battery_life import Share
from analyzer.measures.charge_now import ChargeUnknownError, charge_now
from analyzer.measures.jump_start import charge_back
from analyzer.measures.meter_record import Loss
from analyzer.reports.jump_words import CANNOT_TELL, jump_sentences
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy

SLOW_S = 1600


def flown(begins: int = 0, *, slow_later: bool = False) -> FlightReview:
    """A sound flight; its log may begin later, and the engine idle for long near its end, the battery giving 10 A."""
    log = as_log(simulate(healthy(3, 14, "battery")))
    table = log.table
    if slow_later:
        rows = slice(table.height - 600 - SLOW_S, table.height - 600)
        noise = np.random.default_rng(3).normal(0.0, 0.2, SLOW_S)
        for name, value in (("battery_current", -10.0), ("bus_voltage", 12.2), ("engine_speed", 700.0)):
            readings = table[name].to_numpy().copy()
            readings[rows] = value + noise * (0.1 if name == "bus_voltage" else 1.0)
            table = table.with_columns(**{name: readings})
    return review_log(replace(log, table=table[begins:]), Aircraft("N0JUMP", battery_capacity=26.0)).flights[0]


def test_what_the_battery_gives_while_the_engine_idles_later_is_not_back() -> None:
    sound, later = (flown(slow_later=slow) for slow in (False, True))
    before, after = (charge_back(one.flight, one.measures) for one in (sound, later))
    assert before.amp_hours is not None
    assert before.amp_hours > 0.3
    assert after.amp_hours == 0.0, "10 A for 27 min are 4.4 Ah, more than came back"


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
