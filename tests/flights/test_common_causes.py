"""What several drawn flights were misjudged by, each cause on a made course of which every moment is known."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.flights.outage_kinds import OFFLINE, OUTPUT_LIMITED
from analyzer.flights.outages import outages
from analyzer.flights.reading_faults import clean
from analyzer.flights.run_up import run_up
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.review import review_log
from tests.benchmarks.drawn_flights import drawn
from tests.flown import names, the

ROWS = 1800


def _trace(volts: np.ndarray, step_s: float = 1.0, **channels: np.ndarray) -> Trace:
    time = np.arange(volts.size) * step_s
    return Trace(time=time, bus_voltage=volts, engine_speed=np.full(volts.size, 2300.0), **channels)


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(
    ("held_s", "peak", "rose"),
    [
        (60, 14.4, False),  # it may just have come up to what the regulator holds
        (60, 15.2, True),  # above the band nothing holds it
        (600, 14.4, True),  # ten minutes at 13.7 V are a level
    ],
)
def test_a_bus_that_was_not_held_for_long_rises_only_above_the_band(volts, held_s, peak, rose):
    scale = volts / 14.0
    lost = 900
    bus = np.full(ROWS, 12.5)
    bus[lost - held_s : lost] = 13.7
    bus[lost - 6 : lost] = peak
    online = np.zeros(ROWS, dtype=np.bool_)
    online[lost - held_s : lost] = True
    assert run_up(_trace(bus * scale), online, lost, ROWS, Limits(volts, {})).rose is rose


@pytest.mark.parametrize("volts", [14, 28])
def test_an_output_that_ends_in_a_bus_that_was_low_anyhow_is_a_loss_of_its_own(volts):
    """At its limit at 34 A from row 300, nothing from 800 to 1200, and 34 A again: the bus is low all the while."""
    scale = volts / 14.0
    output, bus = np.full(ROWS, 20.0), np.full(ROWS, 14.0)
    output[300:], bus[300:] = 34.0, np.linspace(12.9, 12.5, ROWS - 300)
    output[800:1200], bus[800:1200] = 0.0, 12.1
    whole = np.ones(ROWS, dtype=np.bool_)
    trace = _trace(bus * scale, alternator_current=output)
    found = outages(trace, whole, np.arange(ROWS) < 300, whole, 0, 0, 14.0 * scale, Limits(volts, {}))
    assert [(one.kind, one.first, one.end) for one in found] == [
        (OUTPUT_LIMITED, 300, 800),
        (OFFLINE, 800, 1200),
        (OUTPUT_LIMITED, 1200, ROWS),
    ]


@pytest.mark.parametrize(("level", "spike"), [(12.6, True), (10.5, False)])
def test_a_reading_that_falls_far_below_a_flat_battery_is_its_load_and_below_a_sound_one_an_error(level, spike):
    bus = np.full(ROWS, 14.0)
    bus[400:700] = level
    bus[550] = 4.0
    stopped = np.zeros(ROWS, dtype=np.bool_)
    cleaned, faults = clean(_trace(bus), Limits(14, {}), stopped)
    assert bool(faults) is spike
    assert bool(np.isnan(cleaned.bus_voltage[550])) is spike


def test_two_dropouts_with_a_reading_between_them_are_no_spent_battery():
    """Six seconds a row; the alternator's 12 A go on all the while."""
    rng = np.random.default_rng(5)
    bus = np.full(600, 28.0) + rng.normal(0.0, 0.05, 600)
    bus[300:303] = bus[304:307] = 0.0
    output = 12.0 + rng.normal(0.0, 0.2, 600)
    _, faults = clean(_trace(bus, 6.0, alternator_current=output), Limits(28, {}), np.zeros(600, dtype=np.bool_))
    assert [(fault.kind, fault.times) for fault in faults] == [("dropout", 2)]


def test_a_bus_that_reads_nothing_while_the_current_goes_on_is_no_battery_off_the_bus():
    found = names(review_log(drawn(41000304).log).flights[0])
    assert found == {"reading_fault"}


def test_charge_shown_with_the_engine_stopped_is_an_error_though_the_panel_hides_much_of_it():
    """The ammeter is off by 6.6 A and the panel takes 4.6 A of it."""
    review = review_log(drawn(41000613).log).flights[0]
    assert the(review, "reading_fault").evidence["reading"].value == pytest.approx(2.0, abs=0.5)
