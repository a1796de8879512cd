"""The start: how far the bus fell, how long the starter turned, how often it was tried."""

from __future__ import annotations

import numpy as np

from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure, measured, not_measurable
from analyzer.measures.resting import ALREADY_RUNNING
from analyzer.phrases import counted, figures
from analyzer.series import median, runs

NAMES = ("cranking_voltage", "cranking_time", "start_attempts")


def cranking(flight: Flight) -> list[Measure]:
    """Lowest voltage, time and attempts of the start.

    The voltage at the first instant of a crank lasts a tenth of a second; a log that samples once a second
    or slower mostly misses it, and its lowest reading is an upper bound.
    """
    if flight.begins_running:
        return [not_measurable(name, ALREADY_RUNNING) for name in NAMES]
    if not flight.voltmeter.tells and flight.trace.engine_speed is None:
        return [not_measurable(name, flight.voltmeter.because) for name in NAMES]
    if not flight.crank.any():
        return [not_measurable(name, "no reading was taken while cranking") for name in NAMES]
    step = flight.trace.step_s
    volts = flight.trace.bus_voltage[flight.crank]
    if np.isfinite(volts).any():
        lowest = _lowest(flight, float(np.nanmin(volts)))
    else:
        lowest = not_measurable(NAMES[0], "no bus voltage was recorded while cranking")
    spans = attempts(flight)
    unseen = start_unseen(flight)
    seconds = sum(_lasts(flight, first, end) for first, end in spans)
    error = step * np.sqrt(len(spans))
    notes = []
    if step >= limit_value("crank_sampled_slowly"):
        notes.append(f"one reading every {figures(step, 2)} s: short cranks in between are not seen")
    if unseen is not None:
        notes.append("the crank that started the engine fell between two readings and is not counted")
    note = "; ".join(notes) or None
    unseen_rows = limit_value("crank_unseen" if flight.voltmeter.tells else "crank_unseen_by_speed")
    if step >= unseen_rows:
        because = f"with a reading every {figures(step, 2)} s cranks fall in between"
        because += "" if flight.voltmeter.tells else ", and no voltage shows them"
        return [lowest, not_measurable(NAMES[1], because), not_measurable(NAMES[2], because, at_least=len(spans))]
    turned = measured(NAMES[1], seconds, max(0.0, seconds - error), seconds + error + (unseen or 0.0), note)
    if step >= limit_value("tries_unseen"):
        because = f"with a reading every {figures(step, 2)} s a whole crank may fall in between"
        return [lowest, turned, not_measurable(NAMES[2], because, at_least=len(spans))]
    return [lowest, turned, measured(NAMES[2], len(spans), len(spans), len(spans) + (unseen is not None), note)]


def tries_seen(tries: Measure) -> float:
    """How many tries to start show for sure, by the measure of them; one where none is told of."""
    return tries.value or tries.at_least or 1.0


def tries_words(tries: Measure) -> str:
    """That number in words."""
    more = " or more" if tries.value is None else ""
    return f"{counted(round(tries_seen(tries)), 'try', 'tries')}{more}"


def _lasts(flight: Flight, first: int, end: int) -> float:
    """How long a try lasts [s]: from the middle between the row before it and its first to the same at its end.

    Of the last row only the share counts by which the bus is still down: many recorders average over their step.
    """
    time, volts = flight.trace.time, flight.trace.bus_voltage
    before = time[first] - time[first - 1] if first > 0 else flight.trace.step_s
    after = time[end] - time[end - 1] if end < time.size else flight.trace.step_s
    whole = float(time[end - 1] - time[first] + 0.5 * (before + after))
    fall = median(volts[: flight.first_crank]) - volts[first:end]
    told = end - first > 1 and np.isfinite(fall).all() and fall.max() > 0.0
    share = fall[-1] / fall.max() if told else 1.0
    return whole - (1.0 - float(np.clip(share, 0.0, 1.0))) * float(time[end - 1] - time[end - 2])


def start_unseen(flight: Flight) -> float | None:
    """Longest that a crank between two rows can have lasted [s], where the engine started with none recorded.

    So it is where the engine stands still after the last try that shows; None where that try started it.
    """
    speed, start = flight.trace.engine_speed, flight.run.start
    tries = attempts(flight)
    if speed is None or not tries or flight.begins_running:
        return None
    time, last = flight.trace.time, tries[-1][1]
    still = np.flatnonzero(speed[last:start] < limit_value("crank_speed"))
    if not still.size or time[last + int(still[-1])] - time[last - 1] < limit_value("start_unseen"):
        return None
    return float(time[start] - time[last + int(still[-1])])


def _lowest(flight: Flight, lowest: float) -> Measure:
    step = flight.trace.step_s
    half = 0.5 * flight.trace.voltage_step
    if step < limit_value("crank_sampled_well"):
        return measured(NAMES[0], lowest, lowest - half, lowest + half)
    rest = median(flight.trace.bus_voltage[: flight.first_crank])
    missed = limit_value("crank_missed_share") * max(0.0, rest - lowest) if np.isfinite(rest) else 0.0
    missed = min(missed, flight.limits["crank_missed_most"])
    note = f"the true low was this or less: one reading every {figures(step, 2)} s misses the first instant"
    return measured(NAMES[0], lowest, lowest - half - missed, lowest + half, note)


def attempts(flight: Flight) -> list[tuple[int, int]]:
    """Rows of each try to start, first and end; cranks within moments of each other are one.

    The starter is let go and engaged again, as it were, half way between two rows.
    """
    time = flight.trace.time
    tries: list[tuple[int, int]] = []
    for first, end in runs(flight.crank):
        if tries:
            let_go, again = tries[-1][1], first - 1
            pause = 0.5 * (time[first] + time[again] - time[let_go] - time[let_go - 1])
            if pause < limit_value("attempts_apart"):
                tries[-1] = (tries[-1][0], end)
                continue
        tries.append((first, end))
    return tries
