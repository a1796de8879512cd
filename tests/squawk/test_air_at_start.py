"""The air at the start is one number, whoever tells it: findings, trends, and a report's conditions."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from msgspec.structs import replace

from analyzer.limits import limit_value
from analyzer.logs import Log, find_logs, read_log
from analyzer.logs.readings import Readings
from analyzer.review import LogReview, review_log
from analyzer.squawk.starting import crank_numbers
from analyzer.trends.history import circumstances

SAMPLES = Path(__file__).parents[2] / "sample_logs"
ROLE = "outside_air_temperature"


def cooling(name: str) -> LogReview:
    """A sample flight whose air cools by a degree every ten rows from the first on, to frost."""
    (source,) = find_logs([SAMPLES / name])
    log = read_log(source)
    assert isinstance(log, Log)
    falls = np.maximum(25.0 - 0.1 * np.arange(log.table.height), -10.0)
    return review_log(replace(log, readings=Readings.of(log.table.with_columns(pl.Series(ROLE, falls)))))


@pytest.mark.parametrize("name", ["N074LF_2026-01-24.csv", "N012LF_2026-05-02.csv"])
def test_findings_trends_and_reports_tell_the_same_air(name: str) -> None:
    (review,) = cooling(name).flights
    flight = review.flight
    rows = flight.run.start + flight.trace.rows_in(limit_value("start_air"))
    expected = float(np.median(flight.trace.outside_air_temperature[:rows]))
    assert flight.air_at_start == pytest.approx(expected)
    assert circumstances(review)[0] == pytest.approx(expected, abs=0.005)
    assert crank_numbers(review)[ROLE].value == pytest.approx(expected, abs=0.05)
