"""Layouts met in the field, rebuilt with invented numbers."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.logs.log import RefusedError


def at(second: int) -> str:
    whole = 9 * 3600 + second
    return f"{whole // 3600 % 24:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def volts(row: int) -> float:
    return 12.4 if row < 20 else 14.0 + 0.01 * (row % 5)


def text(header: str, rows: int, row) -> str:
    return "\n".join([header, *(row(i) for i in range(rows))]) + "\n"


def roles(log) -> dict[str, str]:
    return {c.role: c.name for c in log.columns}


def test_padded_cells_under_pairs_and_a_units_line_marked_as_comments(read):
    header = (
        '#flight, version="1.00", model="four seats", aircraft_ident="N047KT", unit="1",\n'
        "#yyy-mm-dd, hh:mm:ss,   hh:mm, ident, degrees, ft Baro, inch, ft msl, deg C,  kt,  kt, "
        "volts, volts, amps, gals, rpm,  psi, deg F\n"
        "  Lcl Date, Lcl Time, UTCOfst, Point,    Lat,    AltB, Baro, AltMSL,   OAT, IAS, GndSpd, "
        "volt1, volt2, amp1, FQtyL, E1 RPM, E1 OilP, E1 EGT1"
    )

    def row(i: int) -> str:
        known = f"2026-03-04, {at(i)},  -05:00,      , 41.200,  850.0, 29.92,  900.1,  15.5, 0.0, 0.0"
        unknown = "           ,         ,        ,      ,       ,       , 29.92,       ,      ,    ,    "
        electrical = f"{volts(i):5.2f}, {volts(i) - 0.2:5.2f}, {-3.1 + 0.4 * (i % 5):.1f}"
        return f"{unknown if i < 4 else known}, {electrical}, 20.0, {900 + i}.0, 55.0, 800.1"

    log = read(text(header, 100, row))
    assert roles(log) == {
        "bus_voltage": "volt1",
        "bus_voltage_2": "volt2",
        "ammeter_current": "amp1",
        "engine_speed": "E1 RPM",
        "oil_pressure": "E1 OilP",
        "outside_air_temperature": "OAT",
        "airspeed": "IAS",
        "ground_speed": "GndSpd",
        "altitude": "AltMSL",
    }
    assert (log.header_row, log.units_row) == (3, 2)
    assert (log.tail, log.tail_from) == ("N047KT", "metadata line")
    assert (log.clock.start, log.clock.utc_offset) == ("2026-03-04T09:00:00", "-05:00")
    assert log.rows == 100
    assert any("clock is blank" in w for w in log.warnings)


def test_a_header_on_the_twelfth_line_and_zero_bytes(read):
    lead = [
        "Serial: 0042",
        "Tail: N0930D",
        "Model: x",
        "Version: 1.2",
        "Units: F",
        "Fuel: gal",
        "A: 1",
        "B: 2",
        "C: 3",
        "D: 4\0\0",
        "",
    ]
    header = "\n".join([*lead, "Time,E1,C1,BAT,OAT,AMP,OILP,RPM,MARK"])
    log = read(text(header, 100, lambda i: f"{at(6 * i)},1200,300,{volts(i):.1f},15,{i % 7 - 3},55,{2300 + i % 9},\0"))
    assert log.header_row == 12
    assert log.rows == 100
    assert log.tail == "N0930D"
    assert roles(log)["bus_voltage"] == "BAT"
    assert any("--map bus_voltage" in w for w in log.warnings), "a guess by readings must say so"
    assert any("zero bytes" in w for w in log.warnings)
    assert log.table["bus_voltage"][30] == pytest.approx(14.0)


def test_130_columns_nameless_ones_and_signed_numbers_four_times_a_second(read):
    names = [
        "DATE",
        "TIME",
        "FIX",
        "",
        "",
        "",
        "EGT 1",
        "EGT 2",
        *[""] * 46,
        "VOLTS",
        "AMPS",
        "RPM",
        "OIL PRESSURE",
        *[""] * 72,
    ]
    assert len(names) == 130

    def row(i: int) -> str:
        cells = ["03/14/2026", at(i // 4), "3", *["+000"] * 3, *["+1200"] * 2, *["+0.00"] * 46]
        cells += [f"{volts(i):+06.1f}", f"{-3.2 if i < 20 else 5.0:+06.1f}", f"{2300 + i % 9:+06d}", "+055", *[""] * 72]
        return ",".join(cells)

    log = read(text(",".join(names), 203, row))
    assert log.rows == 203
    assert log.rows_dropped == 0
    assert log.clock.step_s == pytest.approx(0.25)
    assert log.table["time_s"].to_numpy() == pytest.approx(np.arange(203) * 0.25, abs=0.13)
    assert log.table["bus_voltage"][0] == pytest.approx(12.4)
    assert log.table["ammeter_current"][0] == pytest.approx(-3.2)
    assert "column 4" in log.unused


def test_without_a_clock_the_assumed_step_is_said(read):
    log = read(text("Volts,Amps,RPM", 50, lambda i: f"{volts(i)},{i % 4},{2300 + i}"))
    assert log.table["time_s"].to_list() == [float(i) for i in range(50)]
    assert any("step of 1 s" in w and "assumed" in w for w in log.warnings)


def test_without_a_clock_a_rate_above_the_header_counts(read):
    log = read(text("Log rate: 4 Hz\nVolts,Amps,RPM", 50, lambda i: f"{volts(i)},{i % 4},{2300 + i}"))
    assert log.clock.step_s == 0.25
    assert log.clock.start is None
    (said,) = log.warnings
    assert "no clock" in said


@pytest.mark.parametrize("dead", ["0.0", "-1", "99.9", ""])
def test_a_dead_voltage_channel_does_not_win_over_a_live_one(read, dead: str):
    log = read(text("Time,Volts 1,Volts 2,RPM", 60, lambda i: f"{at(i)},{dead},{volts(i)},{i}"))
    assert roles(log)["bus_voltage"] == "Volts 2"
    assert "Volts 1" in log.unused


def test_when_no_channel_ever_shows_a_voltage_the_log_is_read_and_says_so(read):
    log = read(text("Time,Main Bus Volts,RPM", 60, lambda i: f"{at(i)},0.0,{i}"))
    assert any("never shows a voltage" in w for w in log.warnings)


def test_without_any_electrical_column_the_refusal_says_what_was_looked_for_and_what_to_do(read):
    with pytest.raises(RefusedError, match=r"voltage.*current.*'RPM'.*--map bus_voltage=COLUMN"):
        read(text("Time,RPM,Oil Press,IAS", 60, lambda i: f"{at(i)},2300,55,100"))


@pytest.mark.parametrize(
    ("header", "role"),
    [
        *[("Alternator Amps", "alternator_current"), ("Batt Amps", "battery_current"), ("Amps", "ammeter_current")],
        *[("Loadmeter (A)", "alternator_current"), ("Courant batterie [A]", "battery_current")],
    ],
)
def test_an_ammeter_without_a_voltmeter_is_read_and_the_log_says_so(read, header: str, role: str):
    log = read(text(f"Time,{header},RPM", 60, lambda i: f"{at(i)},{i % 7 - 3},{2300 + i}"))
    assert roles(log) == {role: header, "engine_speed": "RPM"}
    assert log.table[role][4] == 1.0
    assert log.clock.step_s == 1.0
    (said,) = log.warnings
    assert said.startswith("no voltmeter is recorded: ")
    assert "--map bus_voltage=COLUMN" in said


def test_a_log_with_a_voltmeter_is_not_told_that_none_is_recorded(read):
    assert read(text("Time,Volts,Amps", 60, lambda i: f"{at(i)},{volts(i)},{i % 5}")).warnings == ()


@pytest.mark.parametrize(
    ("header", "cell", "voltage"),
    [
        ("Uhrzeit;Bordspannung [V];Höhe [m]", lambda i: f"{at(i)};12,{i:02d};1.{500 + i}", 12.03),
        ("Time;Volts;Alt", lambda i: f"{at(i)};12.{i:02d};1'{500 + i}", 12.03),
        ("Time;Volts;Alt", lambda i: f"{at(i)};12,{i:02d};1\u202f{500 + i},0", 12.03),
    ],
)
def test_thousands_groups_of_every_kind(read, header: str, cell, voltage: float):
    log = read(text(header, 60, cell))
    assert log.table["bus_voltage"][3] == pytest.approx(voltage)
    metres = log.table["altitude"][3] * (0.3048 if "[m]" in header else 1.0)
    assert metres == pytest.approx(1503.0)


def test_runs_of_blanks_divide_cells_where_no_delimiter_does(read):
    log = read(
        text("Time       Volts    Amps   RPM", 60, lambda i: f"{at(i)}   {volts(i):6.2f}   {-3.0:6.1f}   {2300 + i}")
    )
    assert log.delimiter == " "
    assert log.table["bus_voltage"][0] == pytest.approx(12.4)


def test_numbers_that_cannot_be_volts_are_millivolts_and_the_log_says_so(read):
    log = read(text("Time,Volts,RPM", 60, lambda i: f"{at(i)},{volts(i) * 1000:.0f},{i}"))
    assert log.columns[0].converted_from == "mV"
    assert any("mV" in w for w in log.warnings)


@pytest.mark.parametrize("last", ["12.", "1", "12.4", "12.40"])
def test_a_last_line_without_an_end_is_never_taken_for_a_whole_number_cut_short(read, last: str):
    body = text("Time,RPM,Volts", 60, lambda i: f"{at(i)},2300,{volts(i):.2f}") + f"{at(60)},2300,{last}"
    log = read(body)
    read_volts = log.table["bus_voltage"].to_list()
    assert len(read_volts) == 60 or read_volts[60] in (None, 12.4 if last == "12.40" else None)


def test_a_headerless_table_is_refused_with_what_to_do(read):
    with pytest.raises(RefusedError, match="No header row"):
        read("\n".join(f"{at(i)},{volts(i)},3" for i in range(50)) + "\n")


def test_names_of_groups_tell_apart_columns_that_are_called_alike(read):
    header = "Clock;Battery;;Alternator;Engine\nTime;Volts;Amps;Amps;RPM"
    log = read(text(header, 60, lambda i: f"{at(i)};{volts(i)};{-3 + i % 5};{i % 7};{2000 + i}"))
    assert log.header_row == 2
    assert roles(log) == {
        "bus_voltage": "Volts",
        "battery_current": "Amps",
        "alternator_current": "Amps",
        "engine_speed": "RPM",
    }
    assert log.table["battery_current"][0] == -3
    assert log.table["alternator_current"][1] == 1


def test_lines_of_metadata_as_wide_as_the_table_are_neither_header_nor_groups(read):
    header = "Pilot;Fuel system left;;;\nAircraft;N047KT;;;\nTime;Volts;Amps;RPM;OAT"
    log = read(text(header, 60, lambda i: f"{at(i)};{volts(i)};{i % 5};{2000 + i};{15 + i / 10}"))
    assert (log.header_row, log.tail) == (3, "N047KT")
    assert roles(log).keys() == {"bus_voltage", "ammeter_current", "engine_speed", "outside_air_temperature"}


def test_one_bad_byte_does_not_turn_utf_8_into_another_encoding(read):
    body = text("Time;Volts;Höhe (m);Temp (°C)", 60, lambda i: f"{at(i)};{volts(i)};1200;15").encode()
    log = read(body.replace(b"1200;15\n", b"12\xff0;15\n", 1))
    assert log.encoding == "utf-8"
    assert any("UTF-8" in w for w in log.warnings)
    assert log.table["altitude"][0] is None
    assert log.table["altitude"][1] == pytest.approx(1200 / 0.3048)


def test_two_blocks_with_metadata_and_header_each_are_two_recordings_of_one_log(read):
    def block(start: int) -> str:
        return text("aircraft=N047KT\n\nTime;Volts;Amps", 60, lambda i: f"{at(start + i)};{volts(i)};{i % 5}")

    log = read(block(0) + block(7200))
    assert (log.rows, log.rows_dropped, log.breaks) == (120, 2, (60,))
    assert log.table["time_s"][60] == 7200.0
    assert any("header is repeated" in w for w in log.warnings)


def test_amperes_of_a_consumer_nobody_knows_are_no_ammeter_beside_one(read):
    log = read(text("Time;Volts;Batt Amps;Zorp Amps", 60, lambda i: f"{at(i)};{volts(i)};{i % 5};{i % 3}"))
    assert roles(log) == {"bus_voltage": "Volts", "battery_current": "Batt Amps"}
    assert "Zorp Amps" in log.unused


def test_a_bus_that_a_failed_regulator_drives_far_too_high_is_still_the_bus(read) -> None:
    rows = [
        f"{second},{37.4 if 600 <= second < 700 else 28.1 if second > 60 else 25.2},{second % 7}"
        for second in range(1200)
    ]
    log = read("\n".join(["seconds,volts,amps", *rows]) + "\n")
    assert [column.name for column in log.columns if column.role == "bus_voltage"] == ["volts"]
    assert log.table["bus_voltage"].max() == 37.4
