"""Values and ends of intervals of made readings, worked out here by formula and by reference libraries.

The flights hold only what a measure asks of them. Model errors and shares are read from the table of limits; what
surrounds them is worked out anew.
"""

from __future__ import annotations

from math import hypot, sqrt
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from analyzer.decay import Decay
from analyzer.flights.outage_kinds import OFFLINE, AlternatorOutage
from analyzer.flights.recharge import Recharge, _least_time_constant, _with_decay
from analyzer.limits import Limits, limit_value
from analyzer.measures.cranking import attempts, cranking
from analyzer.measures.measure import Measure, around, not_measurable
from analyzer.measures.offline import bus_load, offline
from analyzer.measures.power_flow import _by_taper
from analyzer.measures.recharge import _decay_measures
from analyzer.measures.regulation import regulation
from analyzer.measures.resistance import _combined, _Stretch
from analyzer.measures.resting import drawn_charge, resting

Z95 = 1.96  # 97.5 % of a normal distribution lies below it (any table)
STEP = 0.01  # of the voltmeter [V]


def flight(
    volts: np.ndarray, *, amps: np.ndarray | None = None, output: np.ndarray | None = None, step_s: float = 1.0,
    speed: np.ndarray | None = None, **more: Any,
) -> Any:  # fmt: skip
    """A flight of one engine run, a row each ``step_s``, the alternator on line in each but where it is told."""
    size = volts.size
    every = np.ones(size, dtype=np.bool_)
    trace = SimpleNamespace(
        time=step_s * np.arange(size), seconds=np.full(size, step_s), step_s=step_s, voltage_step=STEP,
        bus_voltage=volts, battery_current=amps, alternator_output=output, engine_speed=speed,
        outside_air_temperature=None, rows_in=lambda seconds: max(1, round(seconds / step_s)),
    )  # fmt: skip
    told = {
        "trace": trace, "limits": Limits(14, {}), "recharge": SimpleNamespace(decay=None),
        "regulated_rows": every, "regulated_volts": volts, "regulated": every, "alternator_online": every,
        "rpm_sufficient": every, "running": every, "takeoff": 0, "outages": [], "dips": [], "reading_faults": [],
        "ammeter": SimpleNamespace(charge_at_rest=0.0, kind="battery"), "bus_told": True, "begins_running": False,
        "voltmeter": SimpleNamespace(tells=True, because=None), "run": SimpleNamespace(start=0, stop=size),
        "battery": SimpleNamespace(charge_unknown="not asked for here", is_lithium=False),
        "crank": ~every, "first_crank": 0,
    }  # fmt: skip
    return SimpleNamespace(**told | more)


def noise(size: int, sigma: float) -> np.ndarray:
    """Normal readings of an exact spread without a trend: quantiles in an order drawn once."""
    quantiles = stats.norm.ppf((np.arange(size) + 0.5) / size)
    return sigma * np.random.default_rng(5).permutation(quantiles)


def ends(measure: Measure) -> tuple[float, float, float]:
    """Value and both ends."""
    assert measure.value is not None, measure.because
    assert measure.low is not None
    assert measure.high is not None
    return measure.value, measure.low, measure.high


def regulated(volts: np.ndarray, output: np.ndarray | None = None) -> dict[str, Measure]:
    return {one.name: one for one in regulation(flight(volts, output=output))}


def test_the_scatter_s_interval_is_that_of_a_median_absolute_deviation() -> None:
    rows, sigma = 100, 0.05
    value, low, high = ends(regulated(14.0 + noise(rows, sigma))["regulation_scatter"])
    assert value == pytest.approx(sigma, rel=0.02)
    # efficiency 36.7 % against the standard deviation, whose error is sigma / sqrt(2 n)
    # (Rousseeuw and Croux, Journal of the American Statistical Association 88, 1993; from memory)
    error = hypot(sigma / sqrt(0.367 * 2.0 * rows), 0.5 * STEP / Z95, limit_value("scatter_model_error") * sigma)
    # neighbours may look alike by chance, which counts as fewer readings
    assert Z95 * error * 0.97 < 0.5 * (high - low) < Z95 * error * 1.3


def test_the_slope_s_interval_reaches_from_one_fit_of_a_bent_course_to_the_other() -> None:
    minutes = np.arange(40)
    course = 14.0 + 0.004 * minutes + 0.3 * (minutes > 36)
    value, low, high = ends(regulated(np.repeat(course, 60))["regulation_slope"])
    by_median = 60.0 * stats.theilslopes(course, minutes).slope
    by_squares = 60.0 * stats.linregress(minutes, course).slope
    assert value == pytest.approx(by_median, rel=1e-6)
    assert by_squares > 1.2 * by_median
    half = 0.5 * (high - low)
    residual = course - course.mean() - by_median / 60.0 * (minutes - minutes.mean())
    widest = 60.0 * residual.std() / sqrt(((minutes - minutes.mean()) ** 2).sum() * 3.0 / minutes.size)
    hidden = 60.0 * limit_value("slope_hidden_share") * STEP / 39.0
    assert by_squares - by_median < half <= by_squares - by_median + Z95 * hypot(widest, hidden) + 1e-9
    assert half < by_squares + by_median, "the two fits are set apart, not added"


def test_the_highest_voltage_is_known_to_half_a_step_and_the_voltmeter_s_error() -> None:
    value, low, high = ends(regulated(np.r_[np.full(300, 14.0), 14.7, np.full(300, 14.0)])["highest_voltage"])
    half = 0.5 * STEP + Z95 * limit_value("volts_model_error")
    assert (value, value - low, high - value) == pytest.approx((14.7, half, half), rel=1e-6)


def test_a_bus_that_falls_under_load_droops_by_positive_milliohms() -> None:
    amps = 20.0 + 10.0 * (np.arange(1200) // 60 % 2)
    value, low, high = ends(regulated(14.2 - 0.012 * amps + noise(1200, 0.004), amps)["regulation_droop"])
    assert value == pytest.approx(12.0, abs=0.3)
    assert low < 12.0 < high


def test_the_load_s_interval_is_that_of_a_median() -> None:
    rows, sigma = 900, 4.0
    value, low, high = ends(bus_load(flight(np.full(rows, 14.0), output=20.0 + noise(rows, sigma))))
    assert value == pytest.approx(20.0, abs=0.05)
    # a median's error is sqrt(pi / 2) times a mean's (any textbook of statistics)
    error = hypot(sqrt(np.pi / 2.0) * sigma / sqrt(rows), limit_value("ammeter_zero_error"))
    assert 0.97 * Z95 * error < 0.5 * (high - low) < 1.25 * Z95 * error


def test_a_meter_that_shows_charge_at_rest_leaves_the_load_open_upwards() -> None:
    output, amps = np.full(600, 20.0), np.full(600, 3.0)
    plain = ends(bus_load(flight(np.full(600, 14.0), output=output, amps=amps)))
    off = SimpleNamespace(charge_at_rest=2.0, kind="battery")
    more = ends(bus_load(flight(np.full(600, 14.0), output=output, amps=amps, ammeter=off)))
    assert plain[0] == pytest.approx(17.0)
    assert more[0] == pytest.approx(19.0)
    assert more[1] - plain[1] == pytest.approx(2.0)
    assert more[2] - plain[2] == pytest.approx(2.0 + limit_value("panel_load"))


def test_without_a_loss_the_time_off_line_is_none_and_at_most_one_row() -> None:
    lasts, drawn = offline(flight(np.full(600, 14.0), step_s=2.0), not_measurable("bus_load", "nothing shows it"))
    assert ends(lasts) == (0.0, 0.0, pytest.approx(2.0 / 60.0))
    assert ends(drawn) == (0.0, 0.0, 0.0)


def test_a_loss_is_as_long_as_its_rows_and_surely_all_but_a_row_at_either_end() -> None:
    online = np.ones(1800, dtype=np.bool_)
    online[600:1200] = False
    lost = [AlternatorOutage(600, 1200, OFFLINE)]
    amps = np.where(online, 1.0, -12.0)
    lasts, drawn = offline(
        flight(np.full(1800, 13.0), amps=amps, alternator_online=online, outages=lost),
        not_measurable("bus_load", "not asked for here"),
    )
    assert ends(lasts) == pytest.approx((10.0, 10.0 - 2.0 / 60.0, 10.0 + 2.0 / 60.0))
    value, low, high = ends(drawn)
    error = Z95 * hypot(limit_value("ammeter_zero_error") * 600.0, limit_value("ammeter_scale_error") * 12.0 * 600.0)
    half = (error + 2.0 * 12.0) / 3600.0  # and a row at either end
    assert value == pytest.approx(2.0)
    assert 0.5 * (high - low) == pytest.approx(half, rel=0.01)


def test_a_loss_without_an_ammeter_draws_the_load_less_what_may_have_been_shed() -> None:
    online = np.ones(1800, dtype=np.bool_)
    online[600:1200] = False
    _, drawn = offline(
        flight(np.full(1800, 13.0), alternator_online=online, outages=[AlternatorOutage(600, 1200, OFFLINE)]),
        around("bus_load", 18.0, 1.0),
    )
    charge = 18.0 * 600.0 / 3600.0
    shares = (1.0, limit_value("offline_load_least"), limit_value("offline_load_most"))
    assert ends(drawn) == pytest.approx(tuple(charge * share for share in shares))


def test_what_is_drawn_counts_the_meter_s_errors_and_a_row_at_either_end() -> None:
    value, low, high = ends(drawn_charge("prestart_discharge", flight(np.full(360, 12.5), amps=np.full(360, -10.0)),
                                         slice(0, 360)))  # fmt: skip
    error = Z95 * hypot(limit_value("ammeter_zero_error") * 0.1, limit_value("ammeter_scale_error"))
    assert value == pytest.approx(1.0)
    assert high - value == pytest.approx(value - low) == pytest.approx(error + 2.0 * 10.0 / 3600.0, rel=0.01)


@pytest.mark.parametrize(("amps", "lifted"), [(-5.0, 0.1), (0.0, 0.0), (3.0, 0.0)])
def test_a_rest_under_load_is_lifted_by_ohm_s_law_and_never_lowered(amps: float, lifted: float) -> None:
    volts = np.full(120, 12.5)
    rested = flight(volts, amps=np.full(120, amps), first_crank=110)
    value, low, high = ends(resting(rested, around("battery_resistance", 20.0, 5.0))[0])
    assert value == pytest.approx(12.5 + lifted)
    error = Z95 * hypot(STEP / sqrt(12.0), rested.limits["rest_model_error"])
    assert 0.5 * (high - low) == pytest.approx(error + 0.25 * 0.02 * abs(amps), rel=1e-6)


def started(volts: list[float], cranks: list[int], step_s: float = 1.0, **more: Any) -> Any:
    crank = np.array(cranks, dtype=np.bool_)
    return flight(np.array(volts), crank=crank, first_crank=int(np.argmax(crank)), step_s=step_s, **more)


def test_tries_are_parted_by_the_time_between_letting_go_and_engaging_again() -> None:
    # let go and engaged half way between two rows: a row between two cranks is a pause of one step of the recorder
    near = started([12.5, 10.0, 12.0, 12.0, 10.0, 14.0], [0, 1, 0, 0, 1, 0])
    assert attempts(near) == [(1, 5)], "2 s apart"
    far = started([12.5, 10.0, 12.0, 12.0, 12.0, 10.0, 14.0], [0, 1, 0, 0, 0, 1, 0])
    assert attempts(far) == [(1, 2), (5, 6)], "3 s apart"


def test_a_slow_recorder_misses_part_of_the_fall_and_says_so_below_only() -> None:
    seen = started([12.6, 12.6, 12.6, 10.2, 13.0], [0, 0, 0, 1, 0])
    value, low, high = ends(cranking(seen)[0])
    missed = min(limit_value("crank_missed_share") * (12.6 - 10.2), seen.limits["crank_missed_most"])
    assert (value, high - value, value - low) == pytest.approx((10.2, 0.5 * STEP, 0.5 * STEP + missed))
    quick = started([12.6] * 3 + [10.2] * 4 + [13.0], [0] * 3 + [1] * 4 + [0], step_s=0.1)
    value, low, high = ends(cranking(quick)[0])
    assert (value, high - value, value - low) == pytest.approx((10.2, 0.5 * STEP, 0.5 * STEP))


def test_a_crank_s_last_row_counts_by_the_share_that_is_still_down() -> None:
    # four rows a second apart fall by 2.4 V, the last by 0.6 V: it holds a quarter of a second of cranking
    turned = started([12.6, 12.6, 10.2, 10.2, 10.2, 12.0, 13.0], [0, 0, 1, 1, 1, 1, 0])
    value, low, high = ends(cranking(turned)[1])
    assert (value, low, high) == pytest.approx((3.25, 2.25, 4.25))


def test_stretches_that_differ_by_more_than_their_errors_share_the_difference() -> None:
    # DerSimonian and Laird by hand: Q = 50 of 1 expected, over weights' 1e6 gives 4.9e-5 between the two
    assert _combined([_Stretch(0.010, 0.001, 5.0), _Stretch(0.020, 0.001, 5.0)]) == pytest.approx((0.015, 0.005))
    alike = _combined([_Stretch(0.010, 0.001, 5.0), _Stretch(0.010, 0.001, 5.0)])
    assert alike == pytest.approx((0.010, 0.001 / sqrt(2.0)))


#: 20 A that fall by a time constant of 10 minutes, which may be 400 to 800 s.
DECAY = Decay(600.0, 400.0, 800.0, 20.0, 0.5, 1.0, 0.1, (), (), 0.1, 1200.0, False)


def test_a_recharge_has_settled_when_what_is_left_of_its_decay_is_an_ampere() -> None:
    begun = Recharge(60.0, 90.0, 100.0, 500.0, None, None)
    place: Any = SimpleNamespace(kind="battery", start_recorded=True, stop_s=9000.0)
    found = _with_decay(begun, place, np.ones(3, dtype=np.bool_), DECAY, None)
    assert found.settled_s - 100.0 == pytest.approx(600.0 * np.log(20.0))
    place.stop_s = 700.0
    assert _with_decay(begun, place, np.ones(3, dtype=np.bool_), DECAY, None).settled_s == 700.0


def test_a_decay_that_has_not_settled_lasts_at_least_as_long_as_the_less_of_fit_and_watch_allows() -> None:
    by_watch = DECAY.span / limit_value("decay_span_share")
    assert _least_time_constant(DECAY, True) == pytest.approx(min(DECAY.tau_low, by_watch))
    short = Decay(600.0, 400.0, 800.0, 20.0, 0.5, 1.0, 0.1, (), (), 0.1, 60.0, False)
    assert _least_time_constant(short, True) == pytest.approx(60.0 / limit_value("decay_span_share"))
    assert 60.0 / limit_value("decay_span_share") < 400.0 < by_watch, "either is the less of two"


def test_what_a_taper_gives_is_known_as_far_as_the_slower_and_the_faster_fit_differ() -> None:
    tapering = flight(
        np.full(1300, 14.0), output=np.full(1300, 30.0), recharge=SimpleNamespace(decay=DECAY, origin_s=0.0)
    )
    told = _by_taper(tapering, np.ones(1300, dtype=np.bool_), 600.0)
    assert told is not None
    # 20 A times exp(-1), exp(-600 / 400) and exp(-600 / 800)
    half = 2.0 * 0.5 * 0.36788 + max(9.4473 - 7.3576, 7.3576 - 4.4626) + limit_value("settled_most")
    assert told.amps.value == 7.4
    assert (told.amps.low, told.amps.high) == (round(7.3576 - half, 1), round(7.3576 + half, 1))


def test_what_an_unsettled_recharge_has_come_to_is_counted_above_its_last_level_and_its_error() -> None:
    flow = np.r_[np.full(600, 20.0), np.full(600, 8.0)]
    found = SimpleNamespace(
        because="the log ends", unsettled=True, plain=None, decay=None, on_s=0.0, settled_s=1199.0, at_least_s=300.0,
        start_recorded=True,
    )  # fmt: skip
    charging = flight(np.full(1200, 14.0), amps=flow, recharge=found)
    told = {one.name: one.at_least for one in _decay_measures(charging)}
    margin = Z95 * limit_value("level_error")
    assert told["recharge_peak_current"] == pytest.approx(12.0 - margin, abs=1e-6)
    assert told["recharge_returned"] == pytest.approx((12.0 - margin) * 600.0 / 3600.0, rel=0.01)
    assert told["recharge_time_constant"] == pytest.approx(5.0)
