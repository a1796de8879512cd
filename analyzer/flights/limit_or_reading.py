"""What a low bus beside a lasting output is: an alternator at its limit, or only a reading that is low.

Both alternatives stand until all that was recorded has spoken for or against each; every piece of evidence keeps
its words, so that the verdict can be read line by line.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.phrases import fixed
from analyzer.series import Floats, Mask, finite_of, median, middle_range, percentile, running_median, runs, step_noise


class Evidence(Struct, frozen=True):
    """One observation, in words that go on from "the alternator gave something, but the bus read low: "."""

    words: str
    odds: float  # natural log odds for an alternator at its limit, against a reading that is low


def limit_or_reading(trace: Trace, low: Mask, rpm_sufficient: Mask, limits: Limits) -> tuple[Evidence, ...]:
    """Evidence on the rows of a ``low`` bus at fast engine speed; empty where no alternator ammeter tells.

    An alternator at its limit gives all it has and no more, so its output stands still at its highest while the
    bus goes where battery and loads take it. Behind a resistance in the voltmeter's wire the reading moves with the
    output and with nothing else, and the output is what the loads ask for.
    """
    output = trace.alternator_output
    rows = np.flatnonzero(low)
    if output is None or rows.size < limit_value("outage_fewest_rows") or not np.isfinite(output[rows]).any():
        return ()
    width = trace.rows_in(limit_value("outage_smoothed"))
    smooth = running_median(output, width)
    volts = running_median(trace.bus_voltage, width)
    amps = median(smooth[rows])
    height, sank = _height(smooth, amps, rpm_sufficient), _sank(trace, smooth, low, rpm_sufficient, limits)
    # at its limit an alternator lets every load's step through to the bus, and its output does not move
    steps = None if height is not None and height.odds > 0.0 else _steps(trace, low, limits)
    found = [steps, height, sank, _battery_answers(trace, rows, limits)]
    spare = height is not None and height.odds < 0.0 and sank is None  # it gives what is asked for, and could give more
    moved, swing = middle_range(volts[rows], 90.0), middle_range(smooth[rows], 90.0)
    far = max(limits["outage_moved"], limit_value("dip_noise") * step_noise(trace.bus_voltage), trace.voltage_step)
    still = max(limit_value("output_alike") * amps, limit_value("dip_volts_noise") * step_noise(output))
    if moved > far and swing <= still and not spare:
        words = f"the output stood still at {amps:.0f} A while the bus moved by {moved:.1f} V"
        found.append(Evidence(words, limit_value("odds_stands_still")))
    elif moved > far and swing > still:
        found += _follows(smooth[rows], volts[rows], far)
    if trace.engine_speed is not None:
        found.append(_follows_speed(smooth[rows], running_median(trace.engine_speed, width)[rows]))
    return tuple(one for one in found if one is not None)


def _battery_answers(trace: Trace, rows: NDArray[np.int64], limits: Limits) -> Evidence | None:
    """What the battery gave meanwhile: it feeds a bus that is not held, and rests on one that is."""
    flow = trace.battery_current
    if flow is None or not np.isfinite(flow[rows]).any():
        return None
    given, volts = -median(flow[rows]), median(trace.bus_voltage[rows])
    if given > limit_value("answer_for_sure"):
        return Evidence(f"the battery gave {given:.0f} A meanwhile", limit_value("odds_battery"))
    if given < limit_value("discharge_smallest") and volts < limits["resting_low"]:
        words = f"the battery gave {max(0.0, given):.0f} A, though the bus read {volts:.1f} V, less than it rests at"
        return Evidence(words, -limit_value("odds_battery"))
    return None


def _height(smooth: Floats, amps: float, rpm_sufficient: Mask) -> Evidence | None:
    """How near the output was to the highest of the flight."""
    most = percentile(finite_of(smooth[rpm_sufficient]), limit_value("output_highest"))
    if amps >= limit_value("at_limit_share") * most:
        return Evidence(f"the output was the highest of the flight, {amps:.0f} A", limit_value("odds_highest"))
    if amps < limit_value("path_output_most") * most:
        words = f"the output was {fixed(amps)} A, though the alternator gives {most:.0f} A"
        return Evidence(words, -limit_value("odds_spare"))
    return None


def _steps(trace: Trace, low: Mask, limits: Limits) -> Evidence | None:
    """Whether the bus mostly steps down and back at once while the output does not move: a contact at the meter."""
    output = trace.alternator_output
    spans = runs(low)
    if output is None or len(spans) < limit_value("connection_fewest"):
        return None
    width = max(2, trace.rows_in(limit_value("dip_at_once")))
    silent, silent_s = 0, 0.0
    for first, end in spans:
        before, after = slice(max(0, first - width - 1), max(1, first - 1)), slice(end + 1, end + 1 + width)
        volts, amps = median(trace.bus_voltage[first:end]), median(output[first:end])
        still = max(limit_value("output_smallest"), limit_value("output_alike") * amps)
        edges = (
            (median(trace.bus_voltage[before]), median(trace.bus_voltage[first + 1 : first + 1 + width]), before),
            (median(trace.bus_voltage[after]), median(trace.bus_voltage[max(first, end - 1 - width) : end - 1]), after),
        )
        stepped = all(
            held - volts > limits["connection_step"]
            and held - near > limit_value("outage_at_once") * (held - volts)
            and abs(median(output[rows]) - amps) < still
            for held, near, rows in edges
        )
        silent += stepped
        silent_s += stepped * float(trace.seconds[first:end].sum())
    if silent >= limit_value("connection_fewest") and silent_s > 0.5 * float(trace.seconds[low].sum()):
        words = f"the bus stepped down and back {silent} times while the output did not move"
        return Evidence(words, -limit_value("odds_steps"))
    return None


def _sank(trace: Trace, smooth: Floats, low: Mask, rpm_sufficient: Mask, limits: Limits) -> Evidence | None:
    """Whether the output in the longest stretch of the low bus is clearly below that of before, the bus still held.

    A bus that comes down over minutes is not held in those just before, and the output may have sunk already. The
    longest says it: an idle or a short dip earlier in the flight has nothing before it to be held against.
    """
    first, end = max(runs(low), key=lambda span: trace.time[span[1] - 1] - trace.time[span[0]])
    amps = median(smooth[first:end][low[first:end]])
    held = rpm_sufficient[:first] & np.isfinite(trace.bus_voltage[:first])
    if held.any():
        level = percentile(trace.bus_voltage[:first][held], limit_value("held_percentile"))
        held &= trace.bus_voltage[:first] >= level - limits["held_margin"]
    before = np.flatnonzero(held)[-trace.rows_in(limit_value("slow_rise_window")) :]
    if before.size < trace.rows_in(limit_value("outage_before")):
        return None
    usual = median(smooth[before])
    gradual = trace.time[first] - trace.time[before[-1]] > limit_value("outage_gradual")
    share = 1.0 - limit_value("output_alike") if gradual else limit_value("outage_sunk")
    if amps < share * usual:
        words = f"the output sank to {fixed(amps)} A, from {usual:.0f} A, as the bus fell"
        return Evidence(words, limit_value("odds_sank"))
    return None


def _follows_speed(amps: Floats, speed: Floats) -> Evidence | None:
    """Whether the output rises and falls with engine speed: what loads ask for does not, all a source can give does.

    In proportion to the speed, or somewhat more steeply, as sources do that give nothing at a low speed.
    """
    both = np.isfinite(amps) & np.isfinite(speed)
    if both.sum() < limit_value("outage_fewest_rows"):
        return None
    amps, speed = amps[both], speed[both]
    if middle_range(speed, 90.0) < limit_value("outage_speed_swing") * median(speed):
        return None
    slope, level = np.polyfit(speed, amps, 1)
    residual = middle_range(amps - slope * speed - level, 90.0)
    steepness = slope * median(speed) / median(amps)
    alike = limit_value("outage_speed_share") <= steepness <= 1.0 / limit_value("outage_speed_share")
    if alike and residual < (1.0 - limit_value("outage_speed_share")) * middle_range(amps, 90.0):
        words = f"the output followed engine speed, {fixed(amps.min())} to {amps.max():.0f} A"
        return Evidence(words, limit_value("odds_with_speed"))
    return None


def _follows(amps: Floats, volts: Floats, far: float) -> list[Evidence]:
    """Whether the reading moves with the output, and with nothing else."""
    both = np.isfinite(amps) & np.isfinite(volts)
    if both.sum() < limit_value("outage_fewest_rows") or np.ptp(amps[both]) == 0.0:
        return []
    slope, level = np.polyfit(amps[both], volts[both], 1)
    residual = middle_range(volts[both] - slope * amps[both] - level, 90.0)
    if slope > 0.0 and residual < middle_range(volts[both], 90.0) * limit_value("outage_explained"):
        words = f"bus and output sank together, by {slope:.2f} V with every ampere"
        return [Evidence(words, limit_value("odds_sank_together"))]
    if slope < 0.0 and residual < far:
        words = f"the reading falls by {-1000.0 * slope:.0f} mV with every ampere of output, and with nothing else"
        return [Evidence(words, -limit_value("odds_follows"))]
    if residual > far:
        return [
            Evidence(f"the bus moved by {residual:.1f} V that the output does not explain", limit_value("odds_moves"))
        ]
    return []


def odds(evidence: tuple[Evidence, ...]) -> float:
    """Log odds for an alternator at its limit, all evidence together."""
    return sum(one.odds for one in evidence)
