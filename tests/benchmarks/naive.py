"""What a user would write instead: the three principal judgements, the plain pandas and SciPy way.

``python tests/benchmarks/naive.py LOG [LOG ...]`` prints one JSON line a log. It takes for granted what
``taper`` finds out: one header row, known column names, known units, a battery ammeter, a 14 V system.
"""

from __future__ import annotations

import json
import sys

import numpy as np
import pandas as pd
from scipy.optimize import curve_fit


def judge(path: str) -> dict[str, object]:
    """Regulated voltage and its trend, overvoltage trips, and the recharge's time constant of one log."""
    table = pd.read_csv(
        path, usecols=["time", "bus volts [V]", "battery amps [A]", "rpm"], parse_dates=["time"]
    ).dropna()
    seconds = (table["time"] - table["time"].iloc[0]).dt.total_seconds().to_numpy()
    volts = table["bus volts [V]"].to_numpy()
    amps = table["battery amps [A]"].to_numpy()
    running = table["rpm"].to_numpy() > 400
    start = int(np.argmax(running))
    cruise = running & (seconds > seconds[start] + 900)
    slope = np.polyfit(seconds[cruise] / 3600.0, volts[cruise], 1)[0]
    high = np.flatnonzero(volts > 16.0)
    tripped = [float(seconds[row]) for row in high if volts[min(row + 10, volts.size - 1)] < 13.0]
    part = slice(start + 30, start + 1800)
    try:
        fit, _ = curve_fit(
            lambda t, level, amplitude, tau: level + amplitude * np.exp(-t / tau),
            seconds[part] - seconds[part][0],
            amps[part],
            p0=(1.0, 10.0, 200.0),
        )
        tau = float(fit[2]) / 60.0
    except RuntimeError:
        tau = None
    return {
        "source": path,
        "regulated_voltage": float(np.median(volts[cruise])),
        "slope": float(slope),
        "trips": tripped,
        "time_constant_min": tau,
    }


if __name__ == "__main__":
    for name in sys.argv[1:]:
        print(json.dumps(judge(name)))
