"""How soon a drift is raised, and how seldom where there is none, beside a CUSUM tuned to that drift.

    python tests/benchmarks/detection.py [--series 300] [--seed 1] [--measure regulated_voltage] [--check]

Series have weather, load, noise that lasts, odd flights and a baseline that must be learned. The run length in control
is flights watched over series raised, without any move and with an innocent one that comes and goes, within seven
tenths and all of what innocent causes may leave. A row each drift: the middle and mean delay in flights from its begin,
of ours and of the CUSUM that does best at that drift out of those in ``TUNINGS``, each at the decision interval that
raises as large a share of the series in control as ours
does (at least one in ``--series``). The CUSUM learns its level and what weather and load do from its first flights, by
the same beliefs as ours. Ours takes off all that innocent causes may leave, so that a drift is not raised before it has
passed that; a CUSUM tuned where none of it comes may do with less, and is sooner there by knowing so. Where all of it
comes both know the same. ``--check`` sets this script's CUSUM and EWMA beside published run lengths. No part of the
test run.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from itertools import product
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "trends"))

from made_series import Drift, made_series

from analyzer.trends.detection import follow
from analyzer.trends.regression import prefixes, variance_of, without_slope
from analyzer.trends.tracked_series import BY_MEASURE, Series

Array = np.ndarray
WATCHED = 200  # flights of a series
ONSETS, PACES = (0, 15, 40), (7.0, 15.0, 30.0)
WANDER = (0.0, 0.7, 1.0)
#: Flights learned from, dead band in innocent moves, and allowance in standard deviations of the CUSUMs tried.
TUNINGS = tuple(product((10, 20), (0.0, 0.5, 1.0), (0.25, 0.5, 1.0)))
#: Mean run lengths of a two-sided tabular CUSUM (allowance 1/2): decision interval, shift, flights. Montgomery,
#: Introduction to Statistical Quality Control, chapter on CUSUM and EWMA charts; from memory.
CUSUM_LENGTHS = ((4.0, 0.0, 168.0), (4.0, 1.0, 8.38), (5.0, 0.0, 465.0), (5.0, 0.5, 38.0), (5.0, 1.0, 10.4))
#: Of an EWMA: weight, reach, shift, flights. Lucas and Saccucci 1990, as in the same chapter; from memory.
EWMA_LENGTHS = ((0.1, 2.814, 0.0, 500.0), (0.1, 2.814, 0.5, 31.3), (0.1, 2.814, 1.0, 10.3), (0.2, 2.962, 1.0, 10.5))


def cusum_path(off: Array, allowance: Array | float) -> Array:
    """The larger of both sums after each value; ``off``: values from their target in standard deviations (..., n)."""
    sums, path = np.zeros((2, *off.shape[:-1])), np.empty(off.shape)
    allowed = np.broadcast_to(allowance, off.shape)
    for i in range(off.shape[-1]):
        both = np.stack([off[..., i], -off[..., i]])
        sums = np.maximum(0.0, sums + both - allowed[..., i])
        path[..., i] = sums.max(axis=0)
    return path


def ewma_path(off: Array, weight: float) -> Array:
    """The average that forgets after each value, from its target and in its own standard deviations (..., n)."""
    average, path = np.zeros(off.shape[:-1]), np.empty(off.shape)
    for i in range(off.shape[-1]):
        average = (1.0 - weight) * average + weight * off[..., i]
        path[..., i] = np.abs(average) / np.sqrt(weight / (2.0 - weight))
    return path


def run_length(path_of: Callable[[Array], Array], limit: float, shift: float, seed: int, longest: int = 6000) -> float:
    """Mean run length of a chart on normal noise with a shift; ``longest`` cuts those in control."""
    off = np.random.default_rng(seed).normal(shift, 1.0, (3000, longest if shift == 0.0 else 400))
    over = path_of(off) > limit
    return float(np.where(over.any(axis=1), over.argmax(axis=1) + 1, off.shape[1]).mean())


def ours(series: Series) -> Array:
    """Points at which the watch raises a move for the worse."""
    worse = series.kind.worse
    return np.array([one.raised for one in follow(series, []).alarms if worse * one.moved >= 0.0], dtype=np.int64)


def tuned_paths(series: Series) -> dict[tuple[float, ...], Array]:
    """The CUSUM of each tuning over a series."""
    flat, paths = without_slope(prefixes(series), series), {}
    for learned, band, allowance in TUNINGS:
        off = series.value - flat.coefficients[:, learned] @ flat.design
        doubt = variance_of(flat.design, flat.covariance[:, :, learned, None])
        spread = np.sqrt(series.variance + doubt) * flat.scale[learned]
        off = np.where(np.arange(series.n) < learned, 0.0, np.clip(off / spread, -6.0, 6.0))
        allowed = band * series.innocent_move / spread + allowance
        if series.kind.worse:
            off = np.maximum(off * series.kind.worse, 0.0) - np.maximum(-off * series.kind.worse, 0.0)
            allowed = np.where(off < 0.0, np.inf, allowed)
        paths[(learned, band, allowance)] = cusum_path(off, allowed)
    return paths


def in_control(measure: str, count: int, seed: int, wander: float) -> tuple[int, int, dict[tuple[float, ...], float]]:
    """Series raised, flights watched, and each tuned CUSUM's decision interval that raises as large a share."""
    raised = flights = 0
    highest: dict[tuple[float, ...], list[float]] = {}
    for number in range(count):
        series = made_series(measure, [seed, number, int(10 * wander)], WATCHED, wander=wander)
        at = ours(series)
        raised += bool(at.size)
        flights += int(at[0]) + 1 if at.size else WATCHED
        for tuning, path in tuned_paths(series).items():
            highest.setdefault(tuning, []).append(float(path.max()))
    share = max(raised, 1) / count
    return raised, flights, {tuning: float(np.quantile(found, 1.0 - share)) for tuning, found in highest.items()}


def delays(
    measure: str, drift: Drift, count: int, seed: int, wander: float, intervals: dict[tuple[float, ...], float]
) -> tuple[list[int], dict[tuple[float, ...], list[int]]]:
    """Flights from the begin of a drift until it is raised, by ours and by each tuned CUSUM."""
    own: list[int] = []
    tuned: dict[tuple[float, ...], list[int]] = {tuning: [] for tuning in intervals}
    for number in range(count):
        of = [seed, number, drift.onset, int(drift.flights_to_pass), 1]
        series = made_series(measure, of, drift.onset + WATCHED, wander=wander, drift=drift)
        own.append(first_raised(ours(series), drift.onset))
        for tuning, path in tuned_paths(series).items():
            tuned[tuning].append(first_raised(np.flatnonzero(path > intervals[tuning]), drift.onset))
    return own, tuned


def first_raised(at: Array, onset: int) -> int:
    """Flights from the begin of a drift until it was raised; as many as are watched where it was not."""
    late = at[at >= onset]
    return int(late[0]) - onset if late.size else WATCHED


def check(seed: int) -> None:
    """Print published run lengths beside simulated ones."""
    for interval, shift, published in CUSUM_LENGTHS:
        found = run_length(lambda off: cusum_path(off, 0.5), interval, shift, seed)
        print(f"CUSUM h={interval:g} shift {shift:g}: published {published:g}, here {found:.4g}")
    for weight, reach, shift, published in EWMA_LENGTHS:
        found = run_length(lambda off, own=weight: ewma_path(off, own), reach, shift, seed)
        print(f"EWMA weight {weight:g} reach {reach:g} shift {shift:g}: published {published:g}, here {found:.4g}")


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--series", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--measure", choices=[*BY_MEASURE], default="regulated_voltage")
    parser.add_argument("--check", action="store_true")
    given = parser.parse_args()
    if given.check:
        check(given.seed)
        return
    for wander in WANDER:
        raised, flights, intervals = in_control(given.measure, given.series, given.seed, wander)
        print(f"{given.measure}, innocent move {wander:g}: {raised} raised in {flights} flights in control")
        for onset, pace in product(ONSETS, PACES):
            own, tuned = delays(given.measure, Drift(onset, pace), given.series // 4, given.seed, wander, intervals)
            best = min(tuned, key=lambda one: float(np.mean(tuned[one])))
            print(
                f"  from flight {onset:2d}, past it in {pace:2g}: ours {np.median(own):4.1f} mean {np.mean(own):5.1f}, "
                f"CUSUM {np.median(tuned[best]):4.1f} mean {np.mean(tuned[best]):5.1f} {best}",
                flush=True,
            )


if __name__ == "__main__":
    main()
