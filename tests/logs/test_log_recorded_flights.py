"""Recorded flights: what their owner's notes say of them must come out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analyzer.logs import Log, find_logs
from analyzer.logs.read import read_or_raise

FILES = {
    "semicolon_14v_raw_download.csv": 765,
    "semicolon_14v_one_header.csv": 765,
    "semicolon_14v_one_session.csv": 342,
}


@pytest.fixture(params=FILES)
def recorded(request: pytest.FixtureRequest, shared: Path) -> Log:
    source = find_logs([shared / "real_logs" / request.param])[0]
    return read_or_raise(source, {})


def test_roles_units_and_decimal_commas_are_understood(recorded: Log):
    assert recorded.rows in FILES.values()
    assert recorded.rows_dropped == 0
    assert (recorded.delimiter, recorded.decimal_mark) == (";", ",")
    named = {c.role: c.name for c in recorded.columns}
    assert named == {
        "bus_voltage": "volts",
        "ammeter_current": "amps",
        "engine_speed": "rpm",
        "oil_pressure": "oil pres",
        "outside_air_temperature": "oat",
        "airspeed": "airspeed",
        "altitude": "altitude",
    }
    assert recorded.clock.columns == ("zulu hour", "zulu min", "zulu sec")
    assert recorded.clock.start is None


def test_the_record_number_is_not_taken_for_seconds(recorded: Log):
    assert recorded.clock.step_s == 5.0


def test_absurd_amperes_and_zero_volts_at_power_off_stay_for_the_judge(recorded: Log):
    assert recorded.table["ammeter_current"].min() < -80
    assert recorded.table["bus_voltage"].min() == 0


def test_an_open_temperature_probe_gives_no_reading(recorded: Log):
    assert recorded.table["outside_air_temperature"].null_count() == recorded.rows
    assert any("oat" in w for w in recorded.warnings)


def test_time_runs_on_at_power_cycles_and_each_is_a_break(shared: Path):
    for name in ("semicolon_14v_raw_download.csv", "semicolon_14v_one_header.csv"):
        log = read_or_raise(find_logs([shared / "real_logs" / name])[0], {})
        time_s = log.table["time_s"].to_numpy()
        assert (np.diff(time_s) > 0).all()
        assert log.breaks == (4, 346, 361, 662, 756)  # rows whose boot flag rises after the first
        # the clock reads 00:00:21 then 14:35:49 as it is set, 15:02:57 then 16:25:43 while power is off,
        # 16:26:46 then 12:32:24 on another day
        assert time_s[4] - time_s[3] == pytest.approx(5.0)
        assert time_s[346] - time_s[345] == pytest.approx(4966.0)
        assert time_s[361] - time_s[360] == pytest.approx(5.0)


def test_a_cranking_dip_is_where_the_owner_saw_it(shared: Path):
    log = read_or_raise(find_logs([shared / "real_logs" / "semicolon_14v_one_session.csv"])[0], {})
    at_rest_on_the_ground = log.table.head(30)  # before the engine runs for good
    assert at_rest_on_the_ground["bus_voltage"].min() == pytest.approx(10.4, abs=0.05)
