"""Which column plays which role: a second engine, a turbine's core speed, a backup battery."""

from __future__ import annotations

import pytest

ROWS = 120


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
