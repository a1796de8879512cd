"""The decay's model by hand, and what a fit must not depend on: units, the height of the curve, a second time over."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from analyzer.decay import Decay, _crossing, fit_decay, load_steps

PLAIN = Decay(
    tau=100.0, tau_low=90.0, tau_high=110.0, amplitude=20.0, amplitude_error=0.1, level=3.0, level_error=0.1,
    steps=(), restarts=(), residual=0.1, span=1000.0, at_edge=False,
)  # fmt: skip
#: Of exp(-1), exp(-2) and exp(-4): what is left after one, two and four time constants.
E1, E2, E4 = 0.36787944, 0.13533528, 0.01831564

CURVES = {
    "plain": (PLAIN, [23.0, 3.0 + 20.0 * E1, 3.0 + 20.0 * E2, 3.0 + 20.0 * E4]),
    "a load from 100 on": (
        replace(PLAIN, steps=((100.0, 5.0),)),
        [23.0, 8.0 + 20.0 * E1, 8.0 + 20.0 * E2, 8.0 + 20.0 * E4],
    ),
    "a load a moment later": (
        replace(PLAIN, steps=((100.1, 5.0),)),
        [23.0, 3.0 + 20.0 * E1, 8.0 + 20.0 * E2, 8.0 + 20.0 * E4],
    ),
    "a load on and off": (
        replace(PLAIN, steps=((50.0, 5.0), (150.0, -5.0))),
        [23.0, 8.0 + 20.0 * E1, 3.0 + 20.0 * E2, 3.0 + 20.0 * E4],
    ),
    "anew from 200 on": (
        replace(PLAIN, restarts=((200.0, 10.0),)),
        [23.0, 3.0 + 20.0 * E1, 13.0 + 20.0 * E2, 3.0 + 20.0 * E4 + 10.0 * E2],
    ),
}


@pytest.mark.parametrize(("decay", "values"), CURVES.values(), ids=CURVES)
def test_a_decay_is_its_level_what_is_left_of_its_height_its_loads_and_what_began_anew(decay: Decay, values) -> None:
    assert decay.curve(np.array([0.0, 100.0, 200.0, 400.0])) == pytest.approx(values, abs=1e-6)


def made(tau: float = 180.0, scale: float = 1.0, level: float = 3.0, noise: float = 0.1, seed: int = 4):
    """A charging current over 40 minutes, every 4 s: 12 A above its level at first."""
    t = np.arange(0.0, 2400.0, 4.0)
    y = level + 12.0 * np.exp(-t / tau) + np.random.default_rng(seed).normal(0.0, noise, t.size)
    return t, scale * y


def fitted(t, y, **more) -> Decay:
    fit = fit_decay(t, y, **{"tau_range": (20.0, 7200.0)} | more)
    assert fit is not None
    return fit


@pytest.mark.parametrize("factor", [0.5, 2.0, 7.0])
def test_a_current_in_another_unit_has_the_same_time_constant(factor: float) -> None:
    t, y = made()
    one, other = fitted(t, y), fitted(t, factor * y)
    assert (other.tau, other.tau_low, other.tau_high) == pytest.approx((one.tau, one.tau_low, one.tau_high), rel=1e-3)
    assert (other.amplitude, other.level, other.residual) == pytest.approx(
        (factor * one.amplitude, factor * one.level, factor * one.residual), rel=1e-3
    )


def test_time_in_minutes_gives_the_time_constant_in_minutes() -> None:
    t, y = made()
    one, other = fitted(t, y), fitted(t / 60.0, y, tau_range=(20.0 / 60.0, 120.0))
    assert 60.0 * other.tau == pytest.approx(one.tau, rel=1e-6)
    assert (other.amplitude, other.span) == pytest.approx((one.amplitude, one.span / 60.0), rel=1e-6)


def test_a_load_that_was_on_throughout_lifts_the_level_and_nothing_else() -> None:
    t, y = made()
    one, other = fitted(t, y), fitted(t, y + 25.0)
    assert other.level == pytest.approx(one.level + 25.0, abs=1e-5)
    assert (other.tau, other.amplitude, other.residual) == pytest.approx(
        (one.tau, one.amplitude, one.residual), rel=1e-5
    )


def test_the_residual_is_the_noise_and_never_below_what_the_instrument_adds() -> None:
    assert fitted(*made(noise=0.1)).residual == pytest.approx(0.1, rel=0.15)
    # 0.1 A of noise beside 0.3 A of the instrument's own: the root of 0.01 + 0.09
    assert fitted(*made(noise=0.1), noise_floor=0.3).residual == pytest.approx(np.sqrt(0.1), rel=0.05)


@pytest.mark.parametrize(("readings", "fits"), [(8, True), (7, False)])
def test_eight_readings_more_than_there_are_loads_are_needed(readings: int, fits: bool) -> None:
    t = 40.0 * np.arange(readings)
    y = 3.0 + 12.0 * np.exp(-t / 100.0)
    assert (fit_decay(t, y, tau_range=(20.0, 7200.0)) is not None) is fits
    more = 40.0 * np.arange(readings + 1)
    y = 3.0 + 12.0 * np.exp(-more / 100.0) + 5.0 * (more >= 160.0)
    assert (fit_decay(more, y, tau_range=(20.0, 7200.0), steps=(160.0,)) is not None) is fits


@pytest.mark.parametrize(("size", "kept"), [(0.5, ()), (2.0, (2.0,))])
def test_a_step_that_comes_out_smaller_than_is_asked_for_is_none(size: float, kept: tuple[float, ...]) -> None:
    t, y = made()
    fit = fitted(t, y + size * (t >= 1200.0), steps=(1200.0,), smallest_step=1.0)
    assert [step for _, step in fit.steps] == pytest.approx(list(kept), abs=0.05)


@pytest.mark.parametrize(("tau", "edge"), [(10.0, True), (180.0, False), (50_000.0, True)])
def test_a_time_constant_at_the_end_of_those_tried_is_said_to_be_there(tau: float, edge: bool) -> None:
    """From 20 s to 2 h are tried."""
    assert fitted(*made(tau, noise=0.01)).at_edge is edge


STEPS = {
    "one": ([(400, 4.0)], [400]),
    "two, the smaller first": ([(200, 3.0), (400, -5.0)], [200, 400]),
    "smaller than asked for": ([(400, 0.9)], []),
    "as large as asked for": ([(400, 1.2)], [400]),
}


@pytest.mark.parametrize(("sizes", "rows"), STEPS.values(), ids=STEPS)
def test_loads_that_come_and_go_are_found_at_their_rows(sizes, rows: list[int]) -> None:
    """A level with a noise of 0.05 A; at least 1 A is asked for, over 10 rows."""
    y = np.random.default_rng(2).normal(5.0, 0.05, 600)
    for row, size in sizes:
        y[row:] += size
    found = load_steps(2.0 * np.arange(600.0), y, smallest=1.0, width=10, most=10)
    assert found == pytest.approx([2.0 * row for row in rows], abs=2.0)


def test_of_more_loads_than_are_asked_for_the_largest_are_told_in_order() -> None:
    y = np.random.default_rng(3).normal(5.0, 0.05, 600)
    for row, size in ((100, 4.0), (200, 2.0), (300, -6.0), (400, 3.0)):
        y[row:] += size
    assert load_steps(np.arange(600.0), y, smallest=1.0, width=10, most=2) == pytest.approx([100.0, 300.0], abs=1.0)


@pytest.mark.parametrize(
    ("direction", "allowed", "tau"),
    [
        (1, 3.0, 200.0 * 2.0**0.5),  # costs 1, 5 at 200 and 400: half way, so half of the doubling
        (1, 5.0, 400.0),  # just allowed at 400; the next is not, and lies at once beyond
        (-1, 2.0, 200.0 * 0.5**0.25),  # costs 1, 5 at 200 and 100: a quarter of the halving
        (1, 99.0, 800.0),  # nothing above it: the last that was tried
    ],
)
def test_the_end_of_an_interval_lies_between_two_trials_by_their_logarithms(direction, allowed, tau) -> None:
    taus, costs = np.array([100.0, 200.0, 400.0, 800.0]), np.array([5.0, 1.0, 5.0, 9.0])
    assert _crossing(taus, costs, 1, direction, allowed) == pytest.approx(tau)
