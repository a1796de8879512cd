"""Limits for alarms from an aircraft's own flights, and when light and alarms come, against the simulator's truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from msgspec import structs
from scipy.stats import binom

from analyzer.limits import Limits
from analyzer.measures.meter_record import Extremes, Loss, MeterRecord, meter_record
from analyzer.quantity import Quantity
from analyzer.simulator import simulate
from analyzer.simulator.healthy import healthy, low_idle
from analyzer.simulator.scenarios import FAULTY
from analyzer.simulator.system_faults import FieldOpen
from analyzer.trends.alarm_limits import AlarmLimits, alarm_limits
from tests.flown import judged

LIGHT = Quantity(13.0, "V")
NOTHING = Extremes(None, None)


def made(lowest: float, highest: float = 14.2, amps: float | None = 0.2, slow: Extremes = NOTHING) -> MeterRecord:
    battery = None if amps is None else Extremes(amps, 12.0)
    return MeterRecord(True, Extremes(lowest, highest), slow, battery, NOTHING, ())


def limits_of(records: list[MeterRecord], **own: float) -> AlarmLimits:
    return alarm_limits(records, Limits(14, own), LIGHT)


def test_a_limit_stands_clear_of_what_is_usual_and_no_nearer_than_the_band() -> None:
    """The 5 % quantile of 19 at 14.0 V and one at 13.0 V is 13.95 V; the band's foot, 13.4 V, is further from it."""
    found = limits_of([made(14.0)] * 19 + [made(13.0)])
    assert found.alarm("low_voltage").limit == pytest.approx(13.4)
    assert found.alarm("high_voltage").limit == pytest.approx(14.5)
    assert found.alarm("discharge").limit == -3.0
    lower = limits_of([made(13.5)] * 20)
    assert lower.alarm("low_voltage").limit == pytest.approx(13.3)
    assert limits_of([made(14.0, 14.45)] * 20).alarm("high_voltage").limit == pytest.approx(14.7)
    assert limits_of([made(14.0, amps=-2.5)] * 20).alarm("discharge").limit == -6.0


def test_a_false_alarm_is_counted_by_a_limit_from_the_other_flights() -> None:
    found = limits_of([made(14.0)] * 19 + [made(13.0)]).alarm("low_voltage")
    assert (found.false_flights, found.false_slow, found.of_flights) == (1, 0, 20)
    assert binom.cdf(1, 20, found.false_most) == pytest.approx(0.05, abs=1e-6)
    own = limits_of([made(14.0)] * 9 + [made(13.55)], regulated_low=13.9).alarm("low_voltage")
    assert own.limit == pytest.approx(13.5), "with the flight itself, which that limit leaves silent"
    assert own.false_flights == 1
    slow = Extremes(12.6, 14.0)
    idling = limits_of([made(14.0, slow=slow)] * 3 + [made(14.0)] * 17).alarm("low_voltage")
    assert (idling.false_flights, idling.false_slow) == (3, 3)
    assert limits_of([made(14.0, 14.2)] * 19 + [made(14.0, 15.0)]).alarm("high_voltage").false_flights == 1


def test_where_no_limit_tells_an_alternator_from_a_battery_none_is_given() -> None:
    found = limits_of([made(13.2)] * 20).alarm("low_voltage")
    assert found.limit is None
    assert "a battery alone may hold up to 13.2 V" in (found.because or "")
    assert "too near to 16.0 V" in (limits_of([made(14.0, 15.9)] * 20).alarm("high_voltage").because or "")


def test_too_few_sound_flights_and_no_battery_ammeter_give_the_reason() -> None:
    few = limits_of([made(14.0)] * 9 + [structs.replace(made(14.0), sound=False)] * 5)
    assert (few.flights, few.sound) == (14, 9)
    assert (
        few.alarm("low_voltage").because
        == "9 flights without a finding showed a bus voltage for long enough; 10 are needed"
    )
    assert "no battery ammeter" in (limits_of([made(14.0, amps=None)] * 12).alarm("discharge").because or "")


def test_a_warning_comes_when_the_reading_has_lasted() -> None:
    time = np.arange(-20.0, 60.0)
    volts = np.where(time < 0.0, 14.0, 12.5)
    volts[5:8] = 12.0  # three seconds are too short
    loss = Loss(100.0, 60.0, time, volts, np.full(80, np.nan))
    assert loss.first_below(13.0, loss.volts) == 5.0
    assert loss.first_below(12.4, loss.volts) is None
    assert loss.first_below(-3.0, loss.battery) is None
    early = structs.replace(loss, volts=np.where(time < -10.0, 14.0, 12.5))
    assert early.first_below(13.0, early.volts) == -5.0


@pytest.fixture(scope="module")
def flown() -> list[MeterRecord]:
    """Twelve sound flights of one aircraft, and two in which its alternator is lost: at once, and fading."""
    own = healthy(861, 14, "battery")
    lost = own.with_fault(FieldOpen(from_s=own.times.cruise_s + 300.0))
    fading = FAULTY["output_fading"](861, 14, "battery")
    scenarios = [replace(own, seed=900 + place) for place in range(12)] + [lost, fading]
    reviews = [judged(simulate(one)) for one in scenarios]
    return [meter_record(one.flight, sound=not one.findings) for one in reviews]


def test_flown_losses_are_warned_of_when_the_simulated_bus_falls(flown: list[MeterRecord]) -> None:
    found = limits_of(flown)
    assert found.sound == 12
    assert all(one.limit is not None and one.false_flights == 0 for one in found.alarms)
    own = healthy(861, 14, "battery")
    gone = own.times.cruise_s + 300.0
    lost = simulate(own.with_fault(FieldOpen(from_s=gone))).course
    at_once = [one for one in found.losses if one.flight == 12]
    assert len(at_once) == 1
    below = lost.time_s[(lost.time_s > gone) & (lost.bus_v < 13.0)][0] - gone
    for warned in (at_once[0].light, at_once[0].low_voltage, at_once[0].discharge):
        assert warned is not None
        assert below + 3.0 <= warned <= below + 9.0
    fading = [one for one in found.losses if one.flight == 13]
    assert fading
    assert fading[0].low_voltage is not None
    assert fading[0].light is not None
    assert fading[0].low_voltage <= fading[0].light


def test_a_bus_that_sags_at_idle_counts_apart_and_sets_no_limit() -> None:
    review = judged(simulate(low_idle(862, 14, "battery")))
    one = meter_record(review.flight, sound=True)
    assert one.bus_slow.lowest is not None
    assert one.bus.lowest is not None
    assert one.bus_slow.lowest < 13.0 < one.bus.lowest
