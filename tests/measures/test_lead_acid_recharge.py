"""The recharge against a porous-electrode model of the lead-acid cell, which is not our simulator's.

``tests/data/README.md`` says how the table was made. No single exponential describes a real taper: what a fit gives
depends on the window that it sees, so the reference is SciPy's plain least squares over that same window.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.optimize import curve_fit

from analyzer.decay import fit_decay
from analyzer.limits import limit_value
from analyzer.review import FlightReview, review_log
from analyzer.series import Z95
from tests.made import log_from

SECONDS, AMPERES = np.loadtxt(
    Path(__file__).parents[1] / "data" / "lead_acid_recharge.csv", delimiter=",", skiprows=1
).T
#: The model's cell takes 100 A at first; an aircraft's alternator gives a quarter of that beside its loads.
SHARE = 0.25


def least_squares_tau(t: np.ndarray, y: np.ndarray) -> float:
    """Time constant of the plain exponential with a level, by SciPy [s]."""
    found, _ = curve_fit(
        lambda t, level, amplitude, tau: level + amplitude * np.exp(-t / tau), t, y, p0=(1.0, y[0] - 1.0, 600.0)
    )
    return float(found[2])


@pytest.mark.parametrize(("minutes", "amperes"), [(1, 80.5), (5, 46.6), (10, 31.0), (20, 17.4), (30, 10.6), (45, 5.24)])
def test_the_table_is_the_curve_that_was_computed_independently(minutes: float, amperes: float) -> None:
    # The same experiment, run once before with the same library; printed to three digits.
    assert np.interp(60.0 * minutes, SECONDS, AMPERES) == pytest.approx(amperes, rel=0.003)


def test_late_in_the_taper_the_logarithm_falls_in_a_line_of_twenty_minutes() -> None:
    # the same source: a line through the logarithm from 10 to 40 min gives 19.9 min
    rows = (SECONDS >= 600.0) & (SECONDS <= 2400.0)
    assert -1.0 / np.polyfit(SECONDS[rows] / 60.0, np.log(AMPERES[rows]), 1)[0] == pytest.approx(19.9, abs=0.3)


@pytest.mark.parametrize("noise_a", [0.0, 0.1, 0.3])
@pytest.mark.parametrize("window_min", [(1, 40), (5, 40), (10, 40), (10, 50), (20, 60)])
def test_the_fit_holds_what_least_squares_gives_over_the_same_window(
    window_min: tuple[int, int], noise_a: float
) -> None:
    t = SECONDS - 60.0 * window_min[0]
    rows = (t >= 0.0) & (t <= 60.0 * (window_min[1] - window_min[0]))
    t = t[rows]
    y = SHARE * AMPERES[rows] + np.random.default_rng(window_min[0]).normal(0.0, noise_a, t.size)
    fit = fit_decay(t, y, tau_range=(limit_value("tau_shortest"), limit_value("tau_longest")), noise_floor=0.03)
    assert fit is not None
    assert fit.tau_low <= least_squares_tau(t, y) <= fit.tau_high


def reviewed(seed: int) -> tuple[FlightReview, float]:
    """A log at 1 Hz whose charging current is the model's, and what least squares makes of that current."""
    generator = np.random.default_rng(seed)
    before, cranking, after = 60, 3, int(SECONDS[-1])
    seconds = np.arange(before + cranking + after, dtype=np.float64)
    running = seconds >= before + cranking
    flow = SHARE * np.interp(seconds - before - cranking, SECONDS, AMPERES)
    flow = np.where(running, flow, np.where(seconds < before, -4.0, -150.0))
    volts = np.where(running, 14.1, np.where(seconds < before, 12.6, 9.9))
    flow = (flow + generator.normal(0.0, 0.15, seconds.size)).round(1)
    table = pl.DataFrame(
        {
            "time_s": seconds,
            "bus_voltage": (volts + generator.normal(0.0, 0.02, seconds.size)).round(2),
            "battery_current": flow,
            "engine_speed": np.where(running, 2300.0, np.where(seconds < before, 0.0, 120.0)),
            "outside_air_temperature": np.full(seconds.size, 20.0),
        }
    )
    review = review_log(log_from(table)).flights[0]
    window = running & (seconds <= before + cranking + limit_value("recharge_window"))
    return review, least_squares_tau(seconds[window] - before - cranking, flow[window]) / 60.0


@pytest.mark.parametrize("seed", range(6))
def test_the_measure_of_a_log_made_from_it_holds_what_least_squares_gives(seed: int) -> None:
    review, expected = reviewed(seed)
    measure = review.measures["recharge_time_constant"]
    assert measure.low is not None
    assert measure.high is not None
    assert measure.low <= expected <= measure.high
    # and the value lies as near as the interval says that one exponential meets a real recharge
    assert measure.value == pytest.approx(expected, rel=Z95 * limit_value("decay_model_error"))
