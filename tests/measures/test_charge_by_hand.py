"""What a battery lacks at a moment, and the currents of a moment, worked out by hand; a row a second."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyzer.decay import Decay
from analyzer.flights.outage_kinds import LOW_RPM, OFFLINE, AlternatorOutage
from analyzer.limits import Limits
from analyzer.measures.alternator_quit import _bus_after
from analyzer.measures.battery_life import Share
from analyzer.measures.charge_now import _by_ammeter, _by_load, _known_flow, _not_returned, _surely_missing
from analyzer.measures.measure import around, measured, not_measurable
from analyzer.measures.meter_record import meter_record
from analyzer.measures.own_loads import flight_loads
from analyzer.measures.power_flow import Current, _difference, _steady_load
from analyzer.quantity import Quantity
from analyzer.series import Floats
from tests.measures.test_numbers_by_hand import flight

#: A battery of 24 Ah: a starter takes 120 A of it, or 240 A at the most.
LIMITS = Limits(14, {"battery_capacity": 24.0})


def rows(size: int, *spans: tuple[int, int]) -> Any:
    mask = np.zeros(size, dtype=np.bool_)
    for first, end in spans:
        mask[first:end] = True
    return mask


def started(amps: Floats | None, crank: tuple[int, int] = (60, 66), lost: tuple[int, int] | None = None) -> Any:
    """A minute at rest, six seconds of the starter, and the alternator from a minute after the start on."""
    size = 600
    online = rows(size, (126, size))
    if lost is not None:
        online[slice(*lost)] = False
    return flight(
        np.full(size, 14.0), amps=amps, limits=LIMITS, crank=rows(size, crank), first_crank=60,
        running=rows(size, (66, size)), alternator_online=online, alternator_on_row=126, recharge=None,
        run=SimpleNamespace(start=66, stop=size),
    )  # fmt: skip


def test_what_is_missing_by_a_battery_ammeter_is_its_ledger_s_with_the_starter_s_current() -> None:
    # out: 12 A for 60 s, the starter's 120 A for 6 s and 6 A for 60 s, 0.2 + 0.2 + 0.1 Ah; in: 18 A for 60 s, 0.3 Ah
    flow = np.concatenate([np.full(60, -12.0), np.zeros(6), np.full(60, -6.0), np.full(474, 18.0)])
    missing = _by_ammeter(started(flow), flow[:186])
    assert missing.value == pytest.approx(0.2)
    assert missing.low == 0.0, "nothing was given since the alternator last carried the bus"
    # at the most the meter is off by 0.49 A the wrong way, the starter takes 240 A, and 85 % of what goes in stays:
    # (12.49 + 6.49) / 60 + 0.4 less 0.85 x 17.51 / 60
    assert missing.high == pytest.approx(0.31633 + 0.4 - 0.24806, abs=1e-4)
    # surely what the meter shows with the same error in the battery's favour: 0.19183 + 0.2 + 0.09183 less 0.30817
    assert _surely_missing(started(flow), flow[:186]) == pytest.approx(0.1755, abs=1e-4)


def test_what_is_put_back_beyond_what_was_drawn_is_no_credit_for_what_is_drawn_later() -> None:
    flow = np.concatenate([np.full(60, -12.0), np.zeros(6), np.full(60, -6.0), np.full(294, 18.0), np.full(180, -10.0)])
    away = started(flow, lost=(420, 600))
    missing = _by_ammeter(away, flow)
    # 1.47 Ah went in for 0.5 Ah; then 10 A for three minutes are missing, of which 9.51 A for sure
    assert missing.value == pytest.approx(0.5)
    assert missing.low == pytest.approx(9.51 * 180.0 / 3600.0)


def test_a_crank_that_no_row_shows_is_taken_to_last_six_seconds() -> None:
    flow = np.zeros(600)
    unseen = started(flow, crank=(0, 0))
    assert _by_ammeter(unseen, flow).value == pytest.approx(120.0 * 6.0 / 3600.0)


def test_gaps_of_a_current_are_bridged_unless_it_is_blank_for_three_tenths_of_the_time() -> None:
    flow = np.full(600, -10.0)
    flow[100:279] = np.nan
    flow[279:] = -20.0
    bridged = _known_flow(started(flow), 599)
    assert bridged is not None
    assert bridged[189] == pytest.approx(-15.0, abs=0.1)
    flow = flow.copy()
    flow[100:282] = np.nan
    assert _known_flow(started(flow), 599) is None


def test_without_a_battery_ammeter_it_is_what_the_loads_took() -> None:
    load = measured("bus_load", 20.0, 15.0, 26.0)
    away = started(None, lost=(420, 600))
    missing = _by_load(away, load, 599)
    # half of a lit panel's 9 A for 60 s, the starter, 20 A for the minute before the alternator and three minutes later
    assert missing.value == pytest.approx(4.5 / 60.0 + 0.2 + 20.0 / 60.0 + 1.0)
    # at the most 9 A, 240 A, and a tenth more than 26 A
    assert missing.high == pytest.approx(9.0 / 60.0 + 0.4 + 28.6 / 60.0 + 28.6 / 20.0)
    # surely six tenths of 15 A since the alternator left, the rest shed
    assert missing.low == pytest.approx(9.0 * 180.0 / 3600.0)


def test_what_a_taper_still_owes_falls_with_its_time_constant() -> None:
    decay = Decay(600.0, 400.0, 800.0, 20.0, 0.5, 1.0, 0.1, (), (), 0.1, 1200.0, False)
    charging = started(None)
    charging.recharge = SimpleNamespace(decay=decay, origin_s=126.0)
    share, most, whole = _not_returned(charging, 726.0)
    assert share == pytest.approx(np.exp(-1.0))
    assert most > np.exp(-600.0 / 800.0), "at the slowest, model and all"
    slowest = -600.0 / np.log(most)
    assert whole == pytest.approx((20.0 + 1.96 * 0.5) * slowest / 3600.0)
    assert _not_returned(charging, 125.0) == (1.0, 1.0, 0.0), "before it begins all is owed"


def amps(value: float, *ends: float) -> Current:
    return Current(Quantity(value, "A", *ends))


def test_a_current_less_another_has_the_other_s_interval_the_other_way_round() -> None:
    assert _difference(amps(30.0), amps(12.04)).amps == Quantity(18.0, "A")
    assert _difference(amps(30.0), amps(12.0, 8.0, 15.0)).amps == Quantity(18.0, "A", 15.0, 22.0)


@pytest.mark.parametrize(("at", "told"), [(199.0, False), (200.0, True), (499.0, True), (500.0, False)])
def test_the_steady_load_stands_for_another_moment_in_the_air_within_half_of_itself(at: float, told: bool) -> None:
    flown = flight(np.full(600, 14.0), takeoff=200, stop_s=500.0)
    load = _steady_load(flown, measured("bus_load", 20.0, 17.0, 26.0), at)
    assert (load.amps if load else None) == (Quantity(20.0, "A", 7.0, 36.0, True) if told else None)


def metered(bus: Floats, *outages: AlternatorOutage) -> Any:
    return meter_record(flight(bus, outages=list(outages), alternator_on_row=0, limits=LIMITS), sound=True)


@pytest.mark.parametrize(("rows_low", "lowest"), [(4, 14.0), (5, 13.0)])
@pytest.mark.parametrize("size", [299, 300, 600])
def test_the_extreme_of_a_meter_is_what_lasts_for_five_seconds_of_five_minutes(
    rows_low: int, lowest: float, size: int
) -> None:
    bus = np.full(size, 14.0)
    bus[50 : 50 + rows_low], bus[150 : 150 + rows_low] = 13.0, 15.0
    found = metered(bus).bus
    assert (found.lowest, found.highest) == ((None, None) if size < 300 else (lowest, 28.0 - lowest))


@pytest.mark.parametrize("away", [9, 11])
def test_readings_within_ten_seconds_of_a_stretch_without_the_alternator_are_no_usual_ones(away: int) -> None:
    bus = np.full(900, 14.0)
    bus[400 - away - 5 : 400 - away + 1] = 13.0
    told = 14.0 if away == 9 else 13.0
    assert metered(bus, AlternatorOutage(400, 500, OFFLINE)).bus.lowest == (14.0 if away == 9 else told)
    assert metered(bus, AlternatorOutage(400, 500, LOW_RPM)).bus.lowest == told


def test_a_loss_is_recorded_with_what_came_ten_minutes_before_and_while_it_lasted() -> None:
    bus = np.full(2000, 14.0)
    (loss,) = metered(bus, AlternatorOutage(800, 900, OFFLINE)).losses
    assert (loss.from_s, loss.lasts, loss.time[0], loss.time[-1]) == (800.0, 99.0, -600.0, 99.0)
    (loss,) = metered(bus, AlternatorOutage(300, 1200, OFFLINE)).losses
    assert (loss.lasts, loss.time[0], loss.time[-1]) == (899.0, -300.0, 600.0)


@pytest.mark.parametrize(("size", "told"), [(1.4, False), (5.5, True)])
def test_a_load_that_comes_on_and_goes_off_is_told_with_its_size_and_when(size: float, told: bool) -> None:
    # a battery ammeter beside the alternator's: the load is what is left, 20 A and the step
    noise = 0.05 * np.sin(np.arange(1200) * 7.0)
    load = 20.0 + noise + np.where((np.arange(1200) >= 300) & (np.arange(1200) < 800), size, 0.0)
    charge = np.full(1200, 3.0)
    flown = flight(np.full(1200, 14.0), output=load + charge, amps=charge, takeoff=600, limits=LIMITS)
    steps = flight_loads(flown).steps
    assert len(steps) == (2 if told else 0)
    if told:
        assert [one.at_s for one in steps] == pytest.approx([300.0, 800.0], abs=1.0)
        assert [one.amps for one in steps] == pytest.approx([size, -size], abs=0.05)
        assert [one.in_flight for one in steps] == [False, True]


@pytest.mark.parametrize(
    ("nominal", "known", "volts"),
    [
        # At 80, 70 and 90 % charge a 12 V battery rests at 12.49, 12.408 and 12.57 V by the table, at 27 degC. 20 A (15
        # to 26 A) through 10 mohm (8 to 12, and half as much again): less 0.2 V; 26 x 18 mohm; 15 x 8 mohm and 0.35 V
        # of surface charge more.
        (14, True, (12.3, 11.9, 12.8)),
        # through 14 mohm as assumed, half of it either way, of a battery worn to 80 %: less 0.28 V; 26 x 26.25 mohm
        (14, False, (12.2, 11.7, 12.8)),
        (28, True, (24.6, 23.9, 25.6)),  # twice as much
        (28, False, (24.4, 23.5, 25.6)),
    ],
)
def test_the_bus_after_the_alternator_quit_is_the_rest_at_its_charge_less_what_the_load_takes(
    nominal: int, known: bool, volts: tuple[float, float, float]
) -> None:
    scale, name = nominal // 14, "battery_resistance"
    measures = {name: around(name, 10.0 * scale, 2.0 * scale) if known else not_measurable(name, "no ammeter")}
    given: Any = SimpleNamespace(condition=Share(0.9, 0.8, 1.0), temperature=27.0)
    for lithium in (False, True):
        own: Any = SimpleNamespace(
            battery=SimpleNamespace(is_lithium=lithium), nominal_voltage=nominal, limits=Limits(nominal, {})
        )
        bus = _bus_after(own, measures, Share(20.0, 15.0, 26.0), Share(0.8, 0.7, 0.9), given)
        assert bus == (None if lithium else Quantity(volts[0], "V", volts[1], volts[2], assumed=True))
