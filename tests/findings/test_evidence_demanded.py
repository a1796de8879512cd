"""What each rule demands before it speaks, by made courses and by drawn flights that lack it."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from msgspec.structs import replace

from analyzer.aircraft import Aircraft, Battery
from analyzer.findings.battery import _gassing, _turning_seen
from analyzer.findings.finding import FindingName, Severity
from analyzer.findings.regulation import _around, _one_sided, _Restless, _turns
from analyzer.flights.battery_kind import BatteryKind, Chemistry
from analyzer.flights.dips import _before_losses, _silent, _sudden_drops
from analyzer.flights.engine import _crank_inside
from analyzer.flights.kind_of_outage import _answers_throttle, _kind_by_volts, _stands_above_a_battery, battery_holds
from analyzer.flights.outage_kinds import LOW_RPM, OFFLINE, OUTPUT_LIMITED, VOLTMETER_ONLY, AlternatorOutage, OutageKind
from analyzer.flights.outages import _short_ones
from analyzer.flights.reading_faults import _battery_spent
from analyzer.flights.trace import Trace
from analyzer.flights.voltmeter import stands_still_below
from analyzer.limits import Limits, limit_value
from analyzer.logs.log import Log
from analyzer.review import FlightReview, review_log
from analyzer.simulator.healthy import healthy
from tests.benchmarks.drawn_flights import drawn
from tests.flown import judged, names
from tests.made import log_from

ROWS = 3600
SCALES = pytest.mark.parametrize("volts", [14, 28])


def _trace(bus: np.ndarray, **channels: np.ndarray) -> Trace:
    return Trace(time=np.arange(bus.size, dtype=np.float64), bus_voltage=bus, **channels)


def _course(*levels: tuple[float, int]) -> np.ndarray:
    return np.concatenate([np.full(rows, level) for level, rows in levels])


def _review(number: int, kind: str | None = None) -> FlightReview:
    return review_log(drawn(number, kind).log).flights[0]


@SCALES
@pytest.mark.parametrize(
    ("course", "rest", "above"),
    [
        (_course((12.95, 300)), 12.4, True),  # stands still above any battery of that rest
        (_course((12.85, 300)), 12.4, False),  # surface charge: five minutes show no sag
        (_course((12.75, 1500)), 12.4, True),  # twenty-five do
        (_course((12.65, 1500)), 12.4, False),
        (_course((12.82, 1500)), 12.8, False),  # a sealed battery rests higher
        (_course((12.88, 1500)), 12.8, True),
        (_course((13.1, 1500)), 12.9, False),  # lithium rests so, half used up, and does not sag
        (_course((13.4, 1500)), 12.9, True),
        (_course((13.1, 1500)), np.nan, False),  # it may be any battery
        (_course((13.2, 300)), np.nan, True),
        (np.linspace(13.2, 12.95, 300), 12.4, False),  # sags, if from high up: surface charge
        (np.linspace(12.9, 12.75, 3000), 12.4, False),
        (np.linspace(12.68, 12.84, 300), 12.4, True),  # climbs as it is charged
        (np.linspace(12.68, 12.84, 300), 12.9, False),
        (_course((12.4, 300)), 12.4, False),
        (_course((12.3, 150), (13.0, 150)), 12.4, False),  # lost, and back at its limit
        (_course((13.0, 20), (12.2, 10), (13.0, 10)), 12.4, True),  # a contact that falls in steps
        (np.linspace(13.1, 12.95, 40), 12.4, False),  # a short loss sags as well
    ],
)
def test_a_low_bus_is_a_loss_wherever_its_battery_could_stand(
    volts: int, course: np.ndarray, rest: float, above: bool
) -> None:
    scale = volts / 14.0
    rows = np.ones(course.size, dtype=np.bool_)
    trace = _trace(course * scale)
    limits = Limits(volts, {})
    holds = battery_holds(rest * scale, limits, charged=True)
    assert _stands_above_a_battery(trace, 0, course.size, rows, holds, limits) == above

    def kind(trace: Trace, *, rose: bool) -> OutageKind:
        return _kind_by_volts(trace, 0, course.size, rows, rows, limits, holds, rose=rose)

    assert kind(trace, rose=False) == (VOLTMETER_ONLY if above else OFFLINE)
    assert kind(trace, rose=True) == OFFLINE  # a surge says enough
    assert kind(trace.with_channels(battery_current=np.full(course.size, -10.0)), rose=False) == OFFLINE


@SCALES
@pytest.mark.parametrize(
    ("charged", "level", "above"), [(False, 12.7, True), (False, 12.6, False), (True, 12.7, False)]
)
@pytest.mark.parametrize("rest", [12.4, np.nan])
def test_before_the_alternator_takes_the_bus_no_surface_charge_holds_it(
    volts: int, charged: bool, level: float, above: bool, rest: float
) -> None:
    scale, limits, rows = volts / 14.0, Limits(volts, {}), np.ones(300, dtype=np.bool_)
    holds = battery_holds(rest * scale, limits, charged=charged)
    assert _stands_above_a_battery(_trace(np.full(300, level * scale)), 0, 300, rows, holds, limits) == above


@SCALES
@pytest.mark.parametrize(("fast", "answers"), [(12.4, True), (12.1, False), (11.8, False)])
def test_a_bus_that_comes_up_with_the_throttle_has_a_source(volts: int, fast: float, answers: bool) -> None:
    scale = volts / 14.0
    trace = _trace(_course((12.0, 120), (fast, 120), (11.5, 60)) * scale)  # the taxi in counts for nothing
    quick = _course((0.0, 120), (1.0, 120), (0.0, 60)).astype(np.bool_)
    rows = quick.copy()
    rows[120:126] = False
    limits = Limits(volts, {})
    assert _answers_throttle(trace, 0, 300, rows, limits) == answers
    holds = battery_holds(12.4 * scale, limits, charged=True)
    kind = _kind_by_volts(trace, 0, 300, quick, rows, limits, holds, rose=False)
    assert kind == (LOW_RPM if answers else OFFLINE)


@SCALES
def test_a_bus_that_stands_still_below_the_rest_is_a_reading_and_one_that_sinks_a_battery(volts: int) -> None:
    scale, fast = volts / 14.0, np.ones(ROWS, dtype=np.bool_)
    limits = Limits(volts, {})
    still, sinking = np.full(ROWS, 11.7 * scale), np.linspace(11.8, 11.6, ROWS) * scale

    def told(
        bus: np.ndarray, rest: float, rows: int = ROWS, of: Chemistry = Chemistry.TAKEN_LEAD_ACID, lifted: float = 14.0
    ) -> bool:
        bus = np.concatenate([bus[:-60], np.full(60, lifted * scale)])  # a source is seen at the end, the loads off
        bus = (bus + np.random.default_rng(7).normal(0.0, 0.005, ROWS)).round(2)
        rows = min(rows, ROWS - 60)
        return stands_still_below(_trace(bus), 0, rows, fast, rest * scale, BatteryKind(of, ""), limits)

    assert told(still, 12.4)
    assert not told(still, 12.4, lifted=12.5)  # no source was ever seen
    assert not told(still, 11.6)  # above its rest something may feed it
    assert not told(still, float("nan"))
    assert not told(still, 12.4, 600)  # ten minutes show no sinking
    assert not told(sinking, 12.4)
    assert not told(still + 0.7 * scale, 12.6)  # a large charged battery under few loads
    assert told(still, 12.4, of=Chemistry.LEAD_ACID)
    for may_be_lithium in (Chemistry.LITHIUM, Chemistry.LOOKS_LITHIUM, Chemistry.NOT_PLAIN):
        assert not told(still, 12.4, of=may_be_lithium)
    metered = _trace(still, battery_current=np.full(ROWS, -10.0))
    lead_acid = BatteryKind(Chemistry.LEAD_ACID, "")
    assert not stands_still_below(metered, 0, ROWS, fast, 12.4 * scale, lead_acid, limits)


def _lost_in_cruise(volts: int, rest: float, level: float, sinks: float, minutes: float) -> Log:
    """A log of volts and engine speed: half an hour held, then ``minutes`` at power on the battery, then the landing.

    ``rest`` and ``level`` [V] and ``sinks`` [V/h] as in a 14 V system; a row a second, readings of 0.01 V. With a rest
    of NaN the log begins when the alternator has the bus.
    """
    lost = round(60 * minutes)
    sinking = level - sinks / 3600.0 * np.arange(lost + 240)
    bus = np.concatenate([np.full(120, rest), np.full(3, 10.4), np.full(1800, 14.2), sinking]) * volts / 14.0
    rpm = _course((0.0, 120), (200.0, 3), (2400.0, 1800 + lost), (1000.0, 240))
    bus += np.random.default_rng(5).normal(0.0, 0.004, bus.size)
    shown = slice(0 if np.isfinite(rest) else 123, None)
    bus, rpm = bus[shown], rpm[shown]
    table = {"time_s": np.arange(bus.size, dtype=np.float64), "bus_voltage": bus.round(2), "engine_speed": rpm}
    return log_from(pl.DataFrame(table))


@SCALES
@pytest.mark.parametrize(
    ("battery", "rest", "level", "sinks", "minutes"),
    [
        (Battery.LITHIUM, 13.25, 13.2, 0.04, 30.0),  # its voltage hardly falls
        (Battery.LITHIUM, 13.25, 13.2, 0.04, 45.0),
        (Battery.LITHIUM, 13.3, 13.1, 0.0, 45.0),
        (None, 13.2, 13.1, 0.02, 45.0),  # lithium of which nobody told
        (None, 13.05, 13.12, 0.02, 45.0),  # and fuller than before the start
        (None, 12.5, 12.85, 0.3, 3.0),  # sealed, charged since
        (None, 12.7, 12.5, 0.045, 50.0),  # large, under few loads
        (None, 12.6, 12.4, 0.03, 60.0),
        (None, 12.9, 12.8, 0.15, 10.0),  # sealed, resting higher
        (None, 12.9, 12.75, 0.15, 8.0),
        (None, 12.9, 12.75, 0.3, 5.0),
        (None, 13.0, 12.95, 0.1, 25.0),
        (None, 12.65, 12.75, 0.15, 8.0),  # what is left of surface charge
        (None, 12.65, 12.6, 0.15, 5.0),
        (None, 12.4, 11.9, 0.3, 30.0),
        (None, 12.65, 12.8, 0.3, 2.0),
        (None, np.nan, 12.9, 0.15, 8.0),  # any battery, since no rest is recorded
        (None, np.nan, 12.95, 0.04, 40.0),
        (None, np.nan, 12.1, 0.04, 40.0),
    ],
)
def test_a_total_loss_is_a_warning_whatever_its_battery_holds(
    volts: int, battery: Battery | None, rest: float, level: float, sinks: float, minutes: float
) -> None:
    log = _lost_in_cruise(volts, rest, level, sinks, minutes)
    findings = review_log(log, Aircraft(battery=battery)).flights[0].findings
    told = {finding.name: finding.severity for finding in findings}
    assert told.get(FindingName.ALTERNATOR_OFFLINE) == Severity.WARNING
    assert FindingName.READING_FAULT not in told


def test_a_bus_hunts_only_where_it_goes_to_and_fro_about_the_level_that_it_holds() -> None:
    time = np.arange(60.0)
    swinging, ramp = np.sin(time / 2.0), np.interp(time, [0, 30, 60], [-1.0, 1.0, -1.0])
    need = limit_value("hunting_fewest_turns")
    assert _turns(swinging, np.array([0.7]))[0] >= need
    assert _turns(ramp, np.array([0.6]))[0] < need

    course = _course((13.0, 600), (14.0, 300), (13.0, 600))
    course[600:900] += 0.3 * np.sin(np.arange(300.0))
    every = np.arange(1500.0)
    rows = (every >= 600) & (every < 900)
    for calm, one_sided in (([], False), ([14.3] * 50, True)):  # elsewhere in the flight the regulator holds all of it
        restless = _Restless(rows, np.array(calm), 0.2, 0.05, begins_later=True)
        assert _one_sided(every, course, restless, 0.1) == one_sided
    # A coarse voltmeter shows a level between two of its readings by both: 14.0 and 14.2 V alike are 14.1 V.
    coarse = np.where(rows, 14.1 + 0.2 * np.sign(np.sin(every)), np.where(every % 2, 14.0, 14.2))
    assert not _one_sided(every, coarse, _Restless(rows, np.array([]), 0.2, 0.05, begins_later=True), 0.2)
    assert _one_sided(every, coarse - 0.2 * rows, _Restless(rows, np.array([]), 0.2, 0.05, begins_later=True), 0.2)


def test_what_lies_on_either_side_of_a_gap_is_no_swing() -> None:
    time = np.concatenate([np.arange(100.0), np.arange(400.0, 500.0)])
    volts = _course((15.0, 100), (14.0, 100))
    assert np.abs(_around(time, volts, 31)).max() == 0.0
    assert np.abs(_around(np.arange(200.0), volts + 0.2 * (np.arange(200) == 150), 31)).max() == pytest.approx(0.2)


@pytest.mark.parametrize(("answer", "silent"), [(0.0, True), (-2.0, False), (2.0, True)])
def test_a_small_current_that_falls_and_returns_with_the_bus_has_answered(answer: float, silent: bool) -> None:
    bus, rng = np.full(100, 14.0), np.random.default_rng(1)
    bus[50:60] -= 0.6
    flow = 6.0 + rng.normal(0.0, 0.2, 100)
    flow[50:60] += answer
    assert _silent(_trace(bus, battery_current=flow), 50, 60) == silent


def test_drops_that_come_evenly_are_a_flashing_load_and_uneven_ones_are_not_where_each_flash_is_seen() -> None:
    time = np.arange(0.0, 200.0, 0.25)

    def counted(starts: np.ndarray, step_s: float) -> int:
        every = round(step_s / 0.25)
        bus = np.full(time.size, 14.0)
        for start in starts:
            bus[(time >= start) & (time < start + 1.0)] = 12.5
        bus = bus[::every]
        trace = Trace(time=time[::every], bus_voltage=bus)
        return len(_sudden_drops(trace, bus < 13.0, 1.0))

    even, uneven = np.arange(10.0, 150.0, 5.0), 10.0 + np.cumsum([2, 9, 2, 8, 5, 2, 9, 2, 8, 5])
    assert counted(even, 0.25) == 0
    assert counted(uneven, 0.25) == uneven.size
    assert counted(uneven, 1.0) == 0


def test_an_output_that_fades_to_nothing_takes_the_drops_before_its_loss() -> None:
    trace = _trace(np.full(ROWS, 14.0))
    ahead = int(limit_value("limited_ahead"))
    before = _before_losses(trace, [AlternatorOutage(2000, 3000, OFFLINE), AlternatorOutage(500, 520, OFFLINE)])
    assert np.flatnonzero(before).tolist() == list(range(2000 - ahead, 2000))


@SCALES
def test_a_voltmeter_that_reads_high_shows_the_start_by_its_crank(volts: int) -> None:
    scale, limits = volts / 14.0, Limits(volts, {})
    course = _course((14.2, 100), (11.9, 3), (15.6, 500)) * scale
    dips = np.flatnonzero(course < 13.4 * scale)
    assert _crank_inside(_trace(course), 600, dips, 14.2 * scale, limits) == 103
    contact = _course((14.0, 100), (11.9, 3), (14.0, 500)) * scale  # and is as it was before
    assert _crank_inside(_trace(contact), 600, np.arange(100, 103), 14.0 * scale, limits) == 0
    shallow = _course((14.2, 100), (13.0, 3), (15.6, 500)) * scale
    assert _crank_inside(_trace(shallow), 600, np.arange(100, 103), 14.2 * scale, limits) == 0


@SCALES
def test_a_dead_bus_that_climbs_back_from_nothing_is_no_dropout_of_its_meter(volts: int) -> None:
    scale, limits = volts / 14.0, Limits(volts, {})
    climbs = np.concatenate([np.full(60, 12.6), np.zeros(60), np.linspace(4.0, 14.0, 60)]) * scale
    steps = _course((12.6, 60), (0.0, 60), (14.0, 60)) * scale
    assert _battery_spent(_trace(climbs), 60, 120, limits)
    assert not _battery_spent(_trace(steps), 60, 120, limits)


def test_an_alternator_that_swings_the_current_by_more_than_a_load_was_gone_and_so_in_its_other_outages() -> None:
    limits = Limits(14, {})
    flow, bus = np.full(1200, 1.0), np.full(1200, 14.0)
    for first, drawn_a, charged_a in ((200, 12.0, 8.0), (700, 12.0, 25.0)):
        flow[first : first + 100], bus[first : first + 100] = -drawn_a, 12.2
        flow[first + 100 : first + 200], bus[first + 100 : first + 200] = charged_a, 12.9
    found = [AlternatorOutage(200, 300, OFFLINE), AlternatorOutage(700, 800, OFFLINE)]
    trace, fast = _trace(bus, battery_current=flow), np.ones(1200, dtype=np.bool_)
    assert [one.kind for one in _short_ones(trace, fast, found, 14.0, limits)] == [OFFLINE, OFFLINE]
    assert _short_ones(trace, fast, found[:1], 14.0, limits)[0].kind == OUTPUT_LIMITED
    assert _short_ones(trace, ~fast, found[:1], 14.0, limits)[0].kind == OFFLINE  # any is at its limit when it idles


@pytest.mark.parametrize(
    ("air", "times"), [(20.0, 1.0), (35.0, 1.0), (45.0, np.exp(0.6)), (70.0, np.exp(0.6)), (float("nan"), 1.0)]
)
def test_warmth_allows_a_sound_battery_more_and_a_probe_in_the_sun_no_more_yet(air: float, times: float) -> None:
    flight = _review(21000002).flight
    warm = replace(
        flight, trace=flight.trace.with_channels(outside_air_temperature=np.full(flight.trace.time.size, air))
    )
    assert _gassing(warm) == pytest.approx(times)


def test_a_lone_reading_under_the_starter_may_be_its_first_instant() -> None:
    flight = judged(healthy(1, 14, "battery")).flight  # a row a second
    crank = np.zeros(flight.trace.time.size, dtype=np.bool_)
    crank[20] = True
    assert not _turning_seen(replace(flight, crank=crank))
    crank[21] = True
    assert _turning_seen(replace(flight, crank=crank))


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (21000080, set()),  # at its limit for minutes after the start, no ammeter: not switched on late
        (21001814, {"regulator_hunting"}),
        (21001075, set()),
        (21001345, set()),  # circuits with the lights on: the bus comes up with the throttle
        (21000990, set()),  # flashes that an alternator at its limit lets through
        (21000042, set()),  # one run-up that lets go by itself is no hunting
        (21000920, set()),  # touch and go, no engine speed recorded
        (21001116, set()),
        (21001712, {"reading_fault"}),  # ten minutes of flashes at idle hold a recharge up
        (21001117, {"low_resting_voltage"}),  # a dead battery takes the bus down, and all the alternator gives
        (21001821, set()),  # a coarse ammeter stands still when the flashing ends
        (21001384, set()),  # an ammeter that shows 19 A from the first row shows a running engine
        (21000841, set()),  # 40 degC
        (21000273, {"output_short"}),  # what an alternator at its limit has left is no settled current
        (21001912, {"unsteady_connection"}),  # steps that leave the bus above any battery
        (21000499, {"reading_fault"}),  # 100 minutes at 11.7 V, and 12.4 V before and after
        (21000577, {"output_short"}),
        (21001177, {"alternator_offline"}),
        (21001439, {"alternator_offline"}),
        (21001672, {"reading_fault"}),  # a voltmeter 2.6 V high: its rest looks like a charge
        (21001197, {"reading_fault"}),  # 4 A with the engine stopped, whichever current it is
        (21000158, {"slow_recharge"}),  # 46 minutes, and 1.6 Ah drawn do not explain them
        (21001024, {"slow_recharge"}),
        (21001122, {"regulator_hunting"}),  # an ammeter of half amperes shows no answer of the battery
        (22000178, {"alternator_offline"}),  # forty seconds on a battery's surface charge
        (22000033, {"low_resting_voltage"}),  # a shorted cell holds the output at 73 A, and the bus down
        (21001744, {"alternator_offline", "output_short"}),  # at its limit an output does not answer the loads' steps
        (22000409, {"regulator_high"}),  # an alternator that goes on giving has not tripped
        (21001453, {"alternator_offline", "reading_fault"}),  # behind a resistance a start reads low
        (25000408, set()),  # a contact only drops; a battery that is off lets the bus go both ways
        (21000145, set()),  # an hour of radios explains fourteen minutes
        (21000663, {"output_short"}),  # what an idling alternator gives is none to spare
        (28000051, set()),  # a coarse voltmeter that toggles by one step follows no load
        (28001176, set()),  # a battery that answers each step by a little answers
        (27000058, {"regulator_hunting"}),
        (28000500, set()),  # an output that stands still at its highest while the bus climbs is at its limit
        (28000535, set()),  # flashes until the bus has come up from idling
        (28001054, {"regulator_low"}),  # on 12.9 V any battery comes back slowly
        (29000387, {"alternator_offline"}),  # it climbs and comes down between two charges of a minute
        (29000213, {"output_short", "unsteady_connection"}),  # no meter's path drains a battery
        (27001668, {"alternator_offline"}),
        (27001759, {"alternator_offline"}),  # its own ammeter shows nothing, however the battery comes back
        (27001939, {"output_short"}),  # a battery 10 Ah short that takes nothing stands on a low bus
        (27000943, {"alternator_offline"}),  # a bus that was never held says nothing of the way to the meter
        (27000046, set()),  # strobes while the bus still climbs back from idling
        (27001736, set()),
        (27001031, set()),  # three steps within five seconds are one moment
        (27000583, set()),  # 15.8 V for a second, and no ammeter to answer: the bus itself may have done it
        (27001604, {"reading_fault"}),  # a climb into the band, as a voltmeter shows it that is 1.5 V high
        (27000477, {"reading_fault"}),  # what reads 1.6 V low does not drift by 0.4 V
        (27000247, {"alternator_offline"}),  # eleven minutes after the last of six losses
        (27000437, {"reading_fault"}),  # ten minutes' idling drew what an ammeter 8 A high does not show
    ],
)
def test_what_is_told_of_a_drawn_flight_is_what_its_readings_bear_out(number: int, told: set[str]) -> None:
    assert names(_review(number)) == told
