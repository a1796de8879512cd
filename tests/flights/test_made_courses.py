"""Dips, run-ups and outages told on made courses of which every moment is known."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.flights.alternator_online import without_shallow_falls
from analyzer.flights.dips import LEAD, PATH, UNTOLD, find_dips
from analyzer.flights.limit_or_reading import limit_or_reading, odds
from analyzer.flights.outage_kinds import LOW_RPM, OFFLINE, OUTPUT_LIMITED, AlternatorOutage
from analyzer.flights.outages import _recovering
from analyzer.flights.reading_faults import clean
from analyzer.flights.run_up import run_up
from analyzer.flights.trace import Trace
from analyzer.limits import Limits

#: A held bus for an hour, a row a second.
ROWS = 3600


def _limits(volts: int) -> Limits:
    return Limits(volts, {})


def _course(volts: int, seed: int = 1, **currents: float) -> Trace:
    """A bus held at 14 V (28 V) with currents that stand still, each with its meter's noise.

    In the first five minutes an alternator gives twice as much, so that it has output to spare later.
    """
    rng = np.random.default_rng(seed)
    scale = volts / 14.0
    channels = {name: amps + rng.normal(0.0, 0.1, ROWS) for name, amps in currents.items()}
    if "alternator_current" in channels:
        channels["alternator_current"][:300] *= 2.0
    bus = np.round(14.0 * scale + rng.normal(0.0, 0.01 * scale, ROWS), 2)
    time, speed = np.arange(ROWS, dtype=np.float64), np.full(ROWS, 2300.0)
    return Trace(time=time, bus_voltage=bus, engine_speed=speed, **channels)


def _moments(trace: Trace, volts: float, at: range, lasts: int = 4, **currents: float) -> Trace:
    """Give the course with the bus lower by ``volts`` for some rows from each moment on, and currents as given then."""
    bus = trace.bus_voltage.copy()
    channels = {name: getattr(trace, name).copy() for name in currents}
    for row in at:
        bus[row : row + lasts] -= volts
        for name, amps in currents.items():
            channels[name][row : row + lasts] = amps
    return trace.with_channels(bus_voltage=bus, **channels)


def _dips(trace: Trace, volts: int, outages: list[AlternatorOutage] | None = None):
    whole = np.ones(ROWS, dtype=np.bool_)
    return find_dips(trace, whole, whole, 0, outages or [], _limits(volts))


@pytest.mark.parametrize("volts", [14, 28])
def test_a_lead_that_opens_is_told_by_the_output_and_a_path_by_its_silence(volts):
    at = range(600, 3000, 240)
    held = _course(volts, alternator_current=20.0)
    opened = _dips(_moments(held, 0.4 * volts / 14, at, alternator_current=0.0), volts)
    assert [(dip.kind, dip.first, dip.end) for dip in opened] == [(LEAD, row, row + 4) for row in at]
    silent = _dips(_moments(held, 1.0 * volts / 14, at), volts)
    assert [(dip.kind, dip.first, dip.end) for dip in silent] == [(PATH, row, row + 4) for row in at]
    assert all(dip.depth == pytest.approx(1.0 * volts / 14, abs=0.06 * volts / 14) for dip in silent)


@pytest.mark.parametrize("volts", [14, 28])
def test_a_battery_that_answers_carries_the_load_of_a_lost_alternator(volts):
    at = range(600, 3000, 240)
    held = _course(volts, battery_current=1.0)
    found = _dips(_moments(held, 0.8 * volts / 14, at, battery_current=-18.0), volts)
    assert [dip.kind for dip in found] == [LEAD] * len(at)
    assert [dip.first for dip in found] == list(at)


def test_without_an_ammeter_nothing_tells_which_it_was():
    at = range(600, 3000, 240)
    assert {dip.kind for dip in _dips(_moments(_course(14), 1.6, at), 14)} == {UNTOLD}


def test_a_motor_that_the_alternator_answers_and_an_absence_that_lasts_are_no_dips():
    at = range(600, 3000, 240)
    held = _course(14, alternator_current=20.0)
    assert _dips(_moments(held, 0.6, at, alternator_current=38.0), 14) == []
    opened = _moments(held, 0.4, at, alternator_current=0.0)
    assert _dips(opened, 14, [AlternatorOutage(500, 3200, OUTPUT_LIMITED)]) == []


def test_where_no_engine_speed_is_recorded_an_engine_may_idle_beside_start_and_stop():
    """A step that no current answers is idling there, and a voltmeter's path in the middle of the flight."""
    early = _moments(_course(14, alternator_current=20.0), 1.0, range(400, 800, 60))
    middle = _moments(_course(14, alternator_current=20.0), 1.0, range(1200, 2400, 120))
    blind = [trace.with_channels(engine_speed=None) for trace in (early, middle)]
    assert _dips(blind[0], 14) == []
    assert [dip.first for dip in _dips(blind[1], 14)] == list(range(1200, 2400, 120))


@pytest.mark.parametrize("height", [True, False])
def test_in_a_slow_log_without_engine_speed_a_lead_is_told_where_the_aircraft_holds_its_height(height):
    """With a row each three seconds a throttle that closes and opens looks alike, unless the altitude tells."""
    opened = _moments(_course(14, alternator_current=20.0), 0.6, range(800, 2400, 150), 2, alternator_current=0.0)
    climbs = np.interp(opened.time, [0.0, 300.0, 3300.0, 3600.0], [500.0, 5000.0, 5000.0, 500.0])
    slow = opened.with_channels(time=3.0 * opened.time, engine_speed=None, altitude=climbs if height else None)
    assert [dip.kind for dip in _dips(slow, 14)] == ([LEAD] * 11 if height else [])


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("rise", [0.0, 0.2, 1.2, 3.0])
def test_a_run_up_gives_the_level_of_before_the_height_and_since_when(volts, rise):
    """A rise over four minutes to a loss at row 2000, which the bus does not make good."""
    scale = volts / 14.0
    trace = _course(volts)
    bus = trace.bus_voltage.copy()
    bus[1760:2000] += rise * scale * np.linspace(0.0, 1.0, 240)
    bus[2000:] = 12.4 * scale
    alternator_online = np.arange(ROWS) < 2000
    before = run_up(trace.with_channels(bus_voltage=bus), alternator_online, 2000, ROWS, _limits(volts))
    assert before.rose == (rise > 0.5)
    assert before.level == pytest.approx(14.0 * scale, abs=0.05 * scale)
    assert before.peak == pytest.approx((14.0 + rise) * scale, abs=0.06 * scale)
    if rise > 0.5:
        begins = 1760.0 + 240.0 * _limits(volts)["rise_begins"] / (rise * scale)
        assert before.from_s == pytest.approx(begins, abs=20.0)


def test_a_bus_that_only_climbs_to_the_band_has_not_run_up():
    trace = _course(14)
    bus = trace.bus_voltage.copy()
    bus[:1900] = np.linspace(12.9, 13.9, 1900)
    bus[2000:] = 12.4
    before = run_up(trace.with_channels(bus_voltage=bus), np.arange(ROWS) < 2000, 2000, ROWS, _limits(14))
    assert not before.rose


def _low_bus(output: np.ndarray, bus: np.ndarray) -> tuple:
    low = np.zeros(ROWS, dtype=np.bool_)
    low[1800:3000] = True
    trace = Trace(
        time=np.arange(ROWS, dtype=np.float64), bus_voltage=bus, alternator_current=output,
        engine_speed=np.full(ROWS, 2300.0),
    )  # fmt: skip
    return limit_or_reading(trace, low, np.ones(ROWS, dtype=np.bool_), _limits(14))


def test_an_output_that_stands_still_at_its_highest_is_at_its_limit():
    rng = np.random.default_rng(3)
    output, bus = np.full(ROWS, 30.0), np.full(ROWS, 14.0)
    output[1800:3000], bus[1800:3000] = 42.0, np.linspace(13.2, 12.3, 1200)
    told = _low_bus(output + rng.normal(0.0, 0.1, ROWS), bus + rng.normal(0.0, 0.01, ROWS))
    assert odds(told) >= Limits(14, {})["odds_sure"]
    assert any("stood still at 42 A while the bus moved by 0.8 V" in one.words for one in told)


def test_a_reading_that_falls_with_the_load_alone_is_a_reading():
    """0.1 ohm on the way to the meter: 100 mV with every ampere of output, which has plenty to spare."""
    rng = np.random.default_rng(4)
    output = np.full(ROWS, 10.0) + 8.0 * ((np.arange(ROWS) // 150) % 2)
    output[:600] = 40.0
    bus = 14.0 - 0.1 * output
    told = _low_bus(output + rng.normal(0.0, 0.1, ROWS), bus + rng.normal(0.0, 0.005, ROWS))
    assert odds(told) < 0.0
    assert any("by 100 mV with every ampere" in one.words or "by 99 mV" in one.words for one in told)


def test_a_bus_and_an_output_that_sink_together_are_an_alternator_that_fades():
    output, bus = np.full(ROWS, 30.0), np.full(ROWS, 14.0)
    output[1800:3000], bus[1800:3000] = np.linspace(28.0, 8.0, 1200), np.linspace(13.0, 12.0, 1200)
    told = _low_bus(output, bus)
    assert odds(told) > Limits(14, {})["odds_sure"]
    assert any("by 0.05 V with every ampere" in one.words for one in told)


@pytest.mark.parametrize(("given", "slides"), [(0.5, True), (12.0, False)])
def test_a_bus_that_slides_low_is_carried_while_the_battery_gives_next_to_nothing(given, slides):
    """From 14 V down to 12.7 V in half an hour: a regulator that drifts, or a battery that takes over the load."""
    bus = np.full(ROWS, 14.0)
    bus[1200:3000] = np.linspace(14.0, 12.7, 1800)
    bus[3000:] = 12.7
    low = bus < 13.1
    flow = np.where(low, -given, 1.0)
    trace = Trace(time=np.arange(ROWS, dtype=np.float64), bus_voltage=bus, battery_current=flow)
    whole = np.ones(ROWS, dtype=np.bool_)
    alternator_online = without_shallow_falls(trace, whole, ~low, whole, _limits(14))
    assert alternator_online.all() == slides


def test_a_bus_that_steps_low_is_not_carried_however_little_the_battery_gives():
    bus = np.where(np.arange(ROWS) < 2000, 14.0, 12.7)
    trace = Trace(time=np.arange(ROWS, dtype=np.float64), bus_voltage=bus, battery_current=np.full(ROWS, -0.5))
    whole = np.ones(ROWS, dtype=np.bool_)
    assert not without_shallow_falls(trace, whole, bus > 13.0, whole, _limits(14))[2000:].any()


@pytest.mark.parametrize(
    ("came_up_to", "lasts_s", "kind"),
    [
        (13.2, 10, LOW_RPM),  # still climbing back from idling
        (14.0, 10, OFFLINE),  # the regulator held it since
        (13.2, 90, OFFLINE),  # longer than any pulse of a load
    ],
)
def test_only_a_short_fall_before_the_bus_has_come_back_from_idling_belongs_to_it(came_up_to, lasts_s, kind):
    trace = _course(14)
    bus = trace.bus_voltage.copy()
    bus[600:900] = 12.4
    bus[900:960] = came_up_to
    bus[960 : 960 + lasts_s] = 12.4
    found = [AlternatorOutage(600, 900, LOW_RPM), AlternatorOutage(960, 960 + lasts_s, OFFLINE)]
    settled = _recovering(trace.with_channels(bus_voltage=bus), found, 14.0, _limits(14))
    assert [outage.kind for outage in settled] == [LOW_RPM, kind]
    metered = trace.with_channels(bus_voltage=bus, battery_current=np.zeros(ROWS))
    assert _recovering(metered, found, 14.0, _limits(14)) == found


@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize(("above", "ammeter", "told"), [(-0.3, False, False), (0.3, False, True), (-0.3, True, True)])
def test_a_jump_that_a_surge_may_be_is_the_instruments_only_where_an_ammeter_did_not_answer(
    volts, above, ammeter, told
):
    trace = _course(volts, **({"battery_current": 1.0} if ammeter else {}))
    bus = trace.bus_voltage.copy()
    bus[1800] = _limits(volts)["overvoltage"] + above
    _, faults = clean(trace.with_channels(bus_voltage=bus), _limits(volts), np.zeros(ROWS, dtype=np.bool_))
    assert [fault.kind for fault in faults] == (["spike"] if told else [])
