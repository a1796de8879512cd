"""The decay fit against a certified regression."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.decay import fit_decay

#: NIST StRD nonlinear regression, BoxBOD (Box, Hunter and Hunter 1978): y = b1 (1 - exp(-b2 x)). Certified
#: b1 = 213.80940889 (standard error 12.354515176), b2 = 0.54723748542 (standard error 0.10455993237).
BOXBOD_X = np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0])
BOXBOD_Y = np.array([109.0, 149.0, 149.0, 191.0, 213.0, 224.0])
BOXBOD_TAU, BOXBOD_TAU_ERROR = 1.0 / 0.54723748542, 0.10455993237 / 0.54723748542**2


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
