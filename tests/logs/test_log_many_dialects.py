"""One flight in hundreds of dialects: encoding, delimiter, header, clock, wording, units and faults crossed."""

from __future__ import annotations

import numpy as np
import pytest
from dialect_writer import TABLE_UNITS, TOLERANCE, Choice, Expected, Writer, choices, truth

from analyzer.logs.read import NO_CLOCK

GAP_S = 7200.0
OF_DAY = {"day,", "day", "hours,"}  # words of a basis that tells the time of day, if no date


def check_columns(log, expected: Expected) -> None:
    assert {c.role: (c.name, c.converted_from) for c in log.columns} == expected.columns
    assert all(0 < c.confidence <= 1 and c.why for c in log.columns)


def check_time(log, expected: Expected, choice: Choice) -> None:
    time_s = log.table["time_s"].to_numpy()
    assert (np.diff(time_s) > 0).all()
    gap = GAP_S if choice.fault == "gap" else 0.0
    wanted = np.array([row * expected.step_s + (gap if row >= 120 else 0.0) for row in expected.source_rows])
    assert np.abs(time_s - (wanted - wanted[0])).max() < 0.3 * max(1.0, expected.step_s)
    assert log.clock.step_s == pytest.approx(expected.step_s, rel=0.02)
    assert log.clock.start == expected.start
    if expected.offset:
        assert log.clock.utc_offset == expected.offset


def check_values(log, expected: Expected, choice: Choice) -> None:
    for role in expected.columns:
        values = log.table[role].to_list()
        for row, source_row in enumerate(expected.source_rows):
            if (role, row) in expected.blanks:
                continue
            if choice.fault == "slow columns" and role != "bus_voltage" and row % 4:
                assert values[row] is None
                continue
            wanted = truth(role, source_row)
            tolerance = TOLERANCE[TABLE_UNITS[role]] + 0.002 * abs(wanted)
            assert values[row] == pytest.approx(wanted, abs=tolerance), f"{role} in row {row}"


@pytest.mark.long(keep=60)
@pytest.mark.parametrize(
    "choice", choices(400, seed=20260304), ids=lambda c: f"{c.seed}-{c.clock}-{c.fault}".replace(" ", "_")
)
def test_a_flight_written_in_any_dialect_comes_out_as_it_went_in(choice: Choice, read):
    data, expected = Writer(choice).write()
    log = read(data)
    check_columns(log, expected)
    assert log.rows == expected.rows
    assert expected.dropped[0] <= log.rows_dropped <= expected.dropped[1]
    check_time(log, expected, choice)
    check_values(log, expected, choice)
    warnings = [warning for warning in log.warnings if warning != NO_CLOCK]
    assert len(warnings) == len(log.warnings) - (log.clock.start is None and not OF_DAY & set(log.clock.basis.split()))
    assert (expected.warns in " ".join(warnings)) if expected.warns else not warnings
    assert log.tail == expected.tail
    assert log.breaks == ((120,) if expected.breaks else ())


@pytest.mark.parametrize("choice", choices(40, seed=7), ids=lambda c: str(c.seed))
def test_no_column_is_lost(choice: Choice, read):
    data, _ = Writer(choice).write()
    log = read(data)
    header = [name for name in Writer(choice).header_names() if name]
    listed = [c.name for c in log.columns] + list(log.unused) + list(log.clock.columns)
    for name in header:
        # the sign column is part of the current beside it; a second clock gives the offset
        assert name in listed or name == "Chg/Dis" or "UTC" in name, name
