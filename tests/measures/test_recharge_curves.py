"""The decay fit against curves that are not our simulator's: a certified regression, a porous-electrode model."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.decay import fit_decay
from analyzer.limits import limit_value
from analyzer.series import Z95

#: NIST StRD nonlinear regression, BoxBOD (Box, Hunter and Hunter 1978): y = b1 (1 - exp(-b2 x)). Certified
#: b1 = 213.80940889 (standard error 12.354515176), b2 = 0.54723748542 (standard error 0.10455993237).
BOXBOD_X = np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0])
BOXBOD_Y = np.array([109.0, 149.0, 149.0, 191.0, 213.0, 224.0])
BOXBOD_TAU, BOXBOD_TAU_ERROR = 1.0 / 0.54723748542, 0.10455993237 / 0.54723748542**2

#: Charging current [A] of a 17 Ah cell held at 2.35 V after 6 min at 17 A and 5 min of rest, from a published
#: porous-electrode model of the lead-acid cell (PyBaMM 26.10.1.1, lead_acid.Full, parameter set Sulzer2019).
#: A straight line through the logarithm over 10 to 40 min gives a time constant of 19.9 min.
MODEL_MINUTES = np.array([1.0, 5.0, 10.0, 20.0, 30.0, 45.0, 60.0])
MODEL_AMPERES = np.array([80.5, 46.6, 31.0, 17.4, 10.6, 5.24, 2.60])


def test_the_certified_single_exponential_comes_out() -> None:
    # b1 - b1 exp(-b2 x) is a decay of negative amplitude whose level and amplitude cancel at zero, a
    # constraint that the fit does not know; the reading at zero, weighed heavily, stands for it.
    x = np.concatenate((np.zeros(400), np.repeat(BOXBOD_X, 4)))
    y = np.concatenate((np.zeros(400), np.repeat(BOXBOD_Y, 4)))
    fit = fit_decay(x, y, tau_range=(0.5, 8.0), falling=False, noise_floor=60.0)  # the floor: least squares
    assert fit is not None
    assert fit.tau == pytest.approx(BOXBOD_TAU, rel=0.001)
    assert abs(fit.tau - BOXBOD_TAU) < 0.01 * BOXBOD_TAU_ERROR
    assert fit.level == pytest.approx(213.80940889, rel=0.001)
    assert fit.amplitude == pytest.approx(-fit.level, rel=0.01)


def _model_current(minutes: np.ndarray) -> np.ndarray:
    """The model's current between its tabled points: a smooth monotone curve through the logarithms [A]."""
    from scipy.interpolate import PchipInterpolator

    return np.asarray(np.exp(PchipInterpolator(MODEL_MINUTES, np.log(MODEL_AMPERES))(minutes)))


def _line_tau(minutes: np.ndarray) -> float:
    """Time constant of a straight line through the logarithm [min], which takes the final level for zero."""
    return float(-1.0 / np.polyfit(minutes, np.log(_model_current(minutes)), 1)[0])


def test_the_tabled_curve_has_the_published_slope() -> None:
    assert _line_tau(np.arange(10.0, 40.01, 0.25)) == pytest.approx(19.9, abs=0.3)


def test_late_in_the_porous_electrode_models_taper_the_fit_finds_its_time_constant_and_no_level() -> None:
    # from 20 min on the model's current is nearly one exponential that dies away to nothing
    minutes = np.arange(20.0, 60.01, 0.25)
    fit = fit_decay(minutes - minutes[0], _model_current(minutes), tau_range=(2.0, 120.0), noise_floor=0.1)
    assert fit is not None
    model_error = np.exp(Z95 * limit_value("decay_model_error"))
    assert fit.tau_low / model_error <= _line_tau(minutes) <= fit.tau_high * model_error
    assert abs(fit.level) < 1.0  # within what counts as settled


def test_earlier_in_that_taper_one_exponential_with_a_level_is_short_by_a_fifth_at_most() -> None:
    # Over 10 to 40 min the model's own rate still slows down, which a free level takes for a rest of 2 A: the
    # fit then gives 16 min where a line through the logarithm gives 20. It still follows the curve closely.
    minutes = np.arange(10.0, 40.01, 0.25)
    amperes = _model_current(minutes)
    fit = fit_decay(minutes - minutes[0], amperes, tau_range=(2.0, 120.0), noise_floor=0.1)
    assert fit is not None
    assert 0.8 * 19.9 <= fit.tau <= 19.9
    assert np.abs(fit.curve(minutes - minutes[0]) / amperes - 1.0).max() < 0.03
