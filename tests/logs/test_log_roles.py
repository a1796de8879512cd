"""Which column plays which role: a second engine, a turbine's core speed, a backup battery."""

from __future__ import annotations

import pytest

from analyzer.logs.roles import ELECTRICAL

CURRENT_ROLES = {role for role in ELECTRICAL if role.endswith(("current", "current_2"))}

ROWS = 120
LONG = 600


def at(second: int) -> str:
    whole = 9 * 3600 + second
    return f"{whole // 3600 % 24:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def volts(i: int) -> float:
    return 12.4 if i < 20 else 14.0 + 0.01 * (i % 5)


def rpm(i: int) -> int:
    return 0 if i < 20 else 2300 + 5 * (i % 9)


def second_rpm(i: int) -> int:
    return 0 if i < 50 else 2250 + 5 * (i % 7)


def core(i: int) -> float:
    return min(96.0, 0.9 * i) if i < 110 else 0.0


def backup(i: int) -> float:
    return 13.1 - 0.002 * i


def log_of(read, header: str, *cells, delimiter: str = ",", above: str = ""):
    names = f"Time{delimiter}Volts{delimiter}{header}"
    rows = [
        delimiter.join([at(i), f"{volts(i):.2f}", *(str(cell(i)) if callable(cell) else str(cell) for cell in cells)])
        for i in range(ROWS)
    ]
    return read(above + "\n".join([names, *rows]) + "\n")


def roles(log) -> dict[str, str]:
    return {c.role: c.name for c in log.columns}


@pytest.mark.parametrize(
    "header",
    [
        *["RPM 1,RPM 2", "E1 RPM,E2 RPM", "Left RPM,Right RPM", "RPM L,RPM R", "eng1_rpm,eng2_rpm", "RPM,RPM"],
        *["Drehzahl links,Drehzahl rechts", "Régime gauche,Régime droit", "RPM,RPM.1", "n1 (1/min),n2 (1/min)"],
        *["Engine Speed (rpm),Engine Speed 2 (rpm)", "Tach 1,Tach 2", "Giri sinistro,Giri destro"],
    ],
)
def test_the_second_speed_of_a_twin_is_that_of_its_second_engine(read, header: str):
    first, second = header.split(",")
    log = log_of(read, header, rpm, second_rpm)
    named = [(c.role, c.name, c.unit) for c in log.columns if c.role.startswith("engine")]
    assert named == [("engine_speed", first, "rpm"), ("engine_speed_2", second, "rpm")]
    assert log.table["engine_speed"][30] == rpm(30)
    assert log.table["engine_speed_2"][30] == 0
    assert log.table["engine_speed_2"][60] == second_rpm(60)
    assert log.unused == ()


def test_groups_tell_two_engines_apart_whichever_comes_first(read):
    log = log_of(read, "RPM;RPM", second_rpm, rpm, delimiter=";", above=";Bus;Right engine;Left engine\n")
    assert log.table["engine_speed"][30] == rpm(30)
    assert log.table["engine_speed_2"][60] == second_rpm(60)


def test_a_second_engine_alone_is_the_engine(read):
    log = log_of(read, "RPM 2", rpm)
    assert roles(log)["engine_speed"] == "RPM 2"
    assert "engine_speed_2" not in roles(log)


def test_a_copy_of_the_engine_speed_or_the_propellers_is_no_second_engine(read):
    assert "engine_speed_2" not in roles(log_of(read, "RPM,RPM", rpm, rpm))
    log = log_of(read, "Engine RPM,Prop RPM", rpm, lambda i: round(0.44 * rpm(i)))
    assert roles(log)["engine_speed"] == "Engine RPM"
    assert "engine_speed_2" not in roles(log)


@pytest.mark.parametrize(
    "header", ["N2 (%)", "Ng %", "NG", "N2", "Gas generator speed (%)", "ng_pct", "E1 N2 (%)", "N1 (%)"]
)
def test_the_core_speed_of_a_turbine_is_a_percentage_and_no_engine_speed(read, header: str):
    log = log_of(read, header, core)
    (column,) = [c for c in log.columns if c.role.startswith("engine")]
    assert (column.role, column.name, column.unit) == ("engine_speed_percent", header, "%")
    assert log.table["engine_speed_percent"][60] == pytest.approx(54.0)


def test_of_two_spools_the_gas_generator_is_the_core(read):
    log = log_of(read, "N1 (%),N2 (%),Np (rpm)", lambda i: core(i) / 2, core, lambda i: 17 * core(i))
    assert roles(log)["engine_speed_percent"] == "N2 (%)"
    assert roles(log).get("engine_speed") in (None, "Np (rpm)")


@pytest.mark.parametrize("header", ["Power (%)", "Pct Power", "Fuel %", "Torque (%)", "Throttle Pct", "Core Temp (°C)"])
def test_another_percentage_is_no_core_speed(read, header: str):
    assert "engine_speed_percent" not in roles(log_of(read, header, core))


@pytest.mark.parametrize(
    "header",
    [
        *["Backup Batt Volts", "Standby Battery (V)", "STBY BATT V", "BackupBattVolts", "Aux Battery Voltage"],
        *["Emergency Batt V", "Spannung Notbatterie [V]", "Tension batterie de secours (V)", "backup_v"],
    ],
)
def test_a_backup_batterys_voltage_is_its_own_and_never_the_bus(read, header: str):
    log = log_of(read, header, backup)
    assert roles(log) == {"bus_voltage": "Volts", "backup_voltage": header}
    assert log.table["backup_voltage"][0] == pytest.approx(13.1)
    rows = [f"{at(i)},{backup(i)},{rpm(i)},{i % 9 - 3}" for i in range(ROWS)]
    alone = read("\n".join([f"Time,{header},RPM,Batt Amps", *rows]) + "\n")
    assert roles(alone)["backup_voltage"] == header
    assert "bus_voltage" not in roles(alone)


def test_a_group_named_backup_battery_keeps_its_volts_off_the_bus(read):
    log = log_of(read, "V;A", backup, 0.1, delimiter=";", above=";Bus;Standby battery;Standby battery\n")
    assert roles(log) == {"bus_voltage": "Volts", "backup_voltage": "V"}


def test_a_standby_bus_is_a_second_bus_and_no_battery(read):
    log = log_of(read, "Standby Bus Volts", lambda i: volts(i) - 0.2)
    assert roles(log) == {"bus_voltage": "Volts", "bus_voltage_2": "Standby Bus Volts"}


@pytest.mark.parametrize(
    ("role", "values"), [("engine_speed_2", second_rpm), ("engine_speed_percent", core), ("backup_voltage", backup)]
)
def test_a_column_that_the_user_names_plays_each_new_role(read, role: str, values):
    rows = [f"{at(i)},{volts(i)},{values(i)}" for i in range(ROWS)]
    log = read("\n".join(["Time,Volts,zorp", *rows]) + "\n", **{role: "zorp"})
    assert roles(log) == {"bus_voltage": "Volts", role: "zorp"}
    assert log.table[role][60] == pytest.approx(values(60))


def long_log(read, header: str, *cells):
    """Ten minutes: rest, a crank, a recharge, a climb; the bus moves by volts."""
    rows = [",".join([at(i), f"{long_volts(i):.2f}", *(f"{cell(i):.2f}" for cell in cells)]) for i in range(LONG)]
    return read("\n".join([f"Time,Volts,{header}", *rows]) + "\n")


def long_volts(i: int) -> float:
    return 12.5 if i < 60 else 10.4 if i < 64 else 14.1 + 0.01 * (i % 4)


def amperes(i: int) -> float:
    return -4.0 if i < 60 else 3.0 + 25.0 * 0.99 ** (i - 60)


def setting(i: int) -> float:
    return 29.92 if i < 300 else 30.02


def height(i: int) -> float:
    return 1400.0 + 8.0 * max(0, i - 100)


@pytest.mark.parametrize(
    ("header", "cell"), [("AltA", height), ("BaroA", setting), ("AltA", setting), ("HgtA", height)]
)
def test_a_capital_a_at_the_end_of_a_word_is_no_ampere(read, header: str, cell):
    log = long_log(read, header, cell)
    assert not CURRENT_ROLES & roles(log).keys()


@pytest.mark.parametrize(
    ("header", "role"),
    [
        ("Batt A", "battery_current"),
        ("alt_a", "alternator_current"),
        ("Gen (A)", "alternator_current"),
        ("Bat_A", "battery_current"),
    ],
)
def test_an_ampere_set_apart_by_space_underscore_or_bracket_is_one(read, header: str, role: str):
    assert roles(long_log(read, header, amperes))[role] == header


@pytest.mark.parametrize(
    ("header", "cell"), [("Alt A", height), ("Alt (A)", height), ("Baro A", setting), ("Alt A", setting)]
)
def test_readings_that_no_current_has_are_no_current_whatever_the_header(read, header: str, cell):
    assert not CURRENT_ROLES & roles(long_log(read, header, cell)).keys()


def test_todays_barometer_is_no_current_and_an_ammeter_that_reads_zero_is_one(read):
    assert not CURRENT_ROLES & roles(long_log(read, "Current setting", setting)).keys()
    assert roles(long_log(read, "Ammeter", lambda i: 0.0))["ammeter_current"] == "Ammeter"


@pytest.mark.parametrize(("moves", "told"), [(0.9, True), (1.1, False)])
def test_what_stands_still_is_no_current_only_beside_a_bus_that_moves_by_a_volt(read, moves: float, told: bool):
    rows = [f"{at(i)},{12.5 if i < 60 else 12.5 + moves:.2f},2.00" for i in range(LONG)]
    log = read("\n".join(["Time,Volts,Alt A", *rows]) + "\n")
    assert (roles(log).get("alternator_current") == "Alt A") is told


@pytest.mark.parametrize("header", ["Amps", "Ammeter (A)", "Alternator Amps"])
@pytest.mark.parametrize("level", [-0.1, 0.0, 1.2, 12.0])
def test_a_current_that_stays_within_a_tenth_while_the_bus_moves_is_no_ammeter(read, header: str, level: float):
    assert not CURRENT_ROLES & roles(long_log(read, header, lambda i: level + 0.1 * (i % 2))).keys()
    rests = roles(long_log(read, header, lambda i: level + 6.0 * (i == 3)))  # a coarse meter that mostly stands
    assert CURRENT_ROLES & rests.keys()


@pytest.mark.parametrize("header", ["Batt A,Zorp Batt Amps", "Batt (A),Battery Current zorp"])
def test_a_column_named_current_by_a_word_beats_one_named_by_a_letter(read, header: str):
    log = long_log(read, header, lambda i: amperes(i) + 7.0, amperes)
    assert roles(log)["battery_current"] == header.split(",")[1]


@pytest.mark.parametrize(
    ("header", "role", "cell"),
    [
        *[("RPM", "engine_speed", lambda i: 29000.0 + i), ("OAT (°C)", "outside_air_temperature", lambda i: 800.0 + i)],
        *[("Oil Press (psi)", "oil_pressure", lambda i: 5000.0 + i), ("IAS (kt)", "airspeed", lambda i: 2000.0 + i)],
    ],
)
def test_readings_impossible_for_a_role_disqualify_the_column(read, header: str, role: str, cell):
    assert role not in roles(long_log(read, header, cell))
    assert header in long_log(read, header, cell).unused


def test_a_few_impossible_readings_are_faults_and_disqualify_nothing(read):
    log = long_log(
        read, "Batt Amps,RPM", lambda i: 2034.0 if i % 10 == 3 else amperes(i), lambda i: 65535.0 if i == 9 else rpm(i)
    )
    assert {"battery_current", "engine_speed"} <= roles(log).keys()


def test_a_bus_that_reads_one_plausible_voltage_throughout_is_not_dead(read):
    log = read("\n".join(["Time,Volts,Amps", *(f"{at(i)},12.6,{i % 5}" for i in range(60))]) + "\n")
    assert roles(log)["bus_voltage"] == "Volts"
    assert log.warnings == ()


def test_of_two_buses_the_one_that_moves_is_the_bus(read):
    rows = [f"{at(i)},12.6,{volts(i)}" for i in range(60)]
    log = read("\n".join(["Time,Volts 1,Volts", *rows]) + "\n")
    assert roles(log)["bus_voltage"] == "Volts"


@pytest.mark.parametrize("nothing", ["", "0.0", "-"])
@pytest.mark.parametrize("header", ["Volts 2", "Essential Bus Volts", "Backup Batt Volts"])
def test_an_empty_or_zero_column_is_no_second_bus(read, header: str, nothing: str):
    rows = [f"{at(i)},{volts(i)},{nothing},{i % 5}" for i in range(60)]
    log = read("\n".join([f"Time,Volts,{header},Amps", *rows]) + "\n")
    assert roles(log) == {"bus_voltage": "Volts", "ammeter_current": "Amps"}
    assert header in log.unused


def test_a_calibrated_airspeed_called_as_czechs_call_time_is_no_clock(read):
    speed = [0] * 40 + [min(100, 3 * i) + i % 4 for i in range(LONG - 80)] + [0] * 40
    rows = [f"{long_volts(i):.2f},{amperes(i):.1f},{speed[i]}" for i in range(LONG)]
    log = read("\n".join(["Volts,Amps,CAS", *rows]) + "\n")
    assert log.table["time_s"].to_list() == [float(i) for i in range(LONG)]
    assert log.table["bus_voltage"].to_list() == [pytest.approx(long_volts(i), abs=0.006) for i in range(LONG)]
    assert roles(log)["airspeed"] == "CAS"
    assert log.clock.columns == ()
    assert log.clock.start is None


@pytest.mark.parametrize("header", ["Čas", "t", "t (s)", "Seconds"])
def test_a_word_of_time_that_means_another_thing_is_a_clock_when_its_numbers_rise(read, header: str):
    rows = [f"{2 * i},{long_volts(i):.2f},{amperes(i):.1f}" for i in range(LONG)]
    log = read("\n".join([f"{header},Volts,Amps", *rows]) + "\n")
    assert log.clock.columns == (header,)
    assert log.clock.step_s == 2.0


@pytest.mark.parametrize("where", ["below", "above"])
def test_a_comment_that_repeats_the_header_is_not_the_header(read, where: str):
    header, comment = "Time,Volts,Amps", "# Time,Volts,Amps"
    lines = [header, comment] if where == "below" else [comment, header]
    log = read("\n".join([*lines, *(f"{at(i)},{volts(i)},{i % 5}" for i in range(60))]) + "\n")
    assert log.header_row == (1 if where == "below" else 2)
    assert (log.rows, log.breaks) == (60, ())
    assert log.table["bus_voltage"][0] == pytest.approx(12.4)


@pytest.mark.parametrize("header", ["Alt Load %", "Alternator Load (%)", "Gen Load [%]", "Alternator load percent"])
def test_a_load_in_percent_is_no_ammeter(read, header: str):
    log = log_of(read, f"Volts,{header}", volts, lambda i: 0 if i < 20 else 30 + i % 9)
    assert roles(log) == {"bus_voltage": "Volts"}
    amps = log_of(read, "Volts,Alternator Load (A)", volts, lambda i: 0 if i < 20 else 30 + i % 9)
    assert roles(amps)["alternator_current"] == "Alternator Load (A)"


@pytest.mark.parametrize(("first", "step"), [(4.3, 0.1), (0.0, 0.1), (1234.5, 0.01)])
def test_a_counter_of_hours_that_is_called_tach_is_no_engine_speed(read, first: float, step: float):
    log = log_of(read, "Amps,Tach", lambda i: i % 3, lambda i: round(first + step * (i // 40), 2))
    assert "engine_speed" not in roles(log)
    assert roles(log_of(read, "Amps,Tach", lambda i: i % 3, rpm))["engine_speed"] == "Tach"
    assert roles(log_of(read, "Amps,Tach", lambda i: i % 3, 0))["engine_speed"] == "Tach"  # the engine stands still


@pytest.mark.parametrize(
    ("shown", "fitted"),
    [
        ((-40.0, -42.0), False),  # it stays within two degrees, at -40 degC or below
        ((-40.0, -42.1), True),  # so cold, but it moves
        ((-60.0, -40.0), True),
        ((-38.9, -40.9), True),  # its middle is above
    ],
)
def test_a_temperature_that_stays_where_no_flight_does_has_no_probe(read, shown: tuple[float, float], fitted: bool):
    log = log_of(read, "OAT (degC)", lambda i: shown[i % 2])
    assert any("where an open probe does" in warning for warning in log.warnings) is not fitted
    shows = [shown[0], shown[1], shown[0]] if fitted else [None, None, None]
    assert log.table["outside_air_temperature"].to_list()[:3] == shows
