"""The sample logs: an invented club, its aircraft, and a season's more instructive flights."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Literal

from analyzer.simulator import scenarios
from analyzer.simulator.healthy import Volts
from analyzer.simulator.instruments import Ammeter, Recorder, Voltmeter
from analyzer.simulator.simulate import Scenario, SimulatedFlight, simulate
from analyzer.simulator.writers import COMMA, SEMICOLON, TAB, UTC, Style, write_csv

CLUB = "Lowfen Flying Group"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubAircraft:
    """One aircraft of the club and how it is recorded."""

    tail: str
    words: str
    volts: Volts
    kind: Literal["battery", "alternator"]
    battery_ah: float
    alternator_a: float
    set_point_v: float  # of a 14 V system
    essential_a: float
    style: Style
    voltmeter: Voltmeter
    period_s: float = 1.0
    second_bus: Voltmeter | None = None
    zero_error_a: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubFlight:
    """One flight: which named scenario, when, and what a person would say of it."""

    tail: str
    begins: datetime
    scenario: str
    seed: int
    words: str


AIRCRAFT = {
    aircraft.tail: aircraft
    for aircraft in (
        ClubAircraft(
            tail="N012LF", words="two-seat trainer", volts=14, kind="battery", battery_ah=26,
            alternator_a=60, set_point_v=14.1, essential_a=7, style=COMMA,
            voltmeter=Voltmeter(resolution_v=0.1),
        ),
        ClubAircraft(
            tail="N037LF", words="four-seat trainer", volts=28, kind="alternator", battery_ah=17,
            alternator_a=60, set_point_v=14.05, essential_a=9, style=UTC,
            voltmeter=Voltmeter(resolution_v=0.01, noise_v=0.015),
            second_bus=Voltmeter(resolution_v=0.01, offset_v=-0.12, noise_v=0.015), zero_error_a=-0.8,
        ),
        ClubAircraft(
            tail="N058LF", words="tourer", volts=14, kind="alternator", battery_ah=34,
            alternator_a=70, set_point_v=14.0, essential_a=8, style=SEMICOLON,
            voltmeter=Voltmeter(resolution_v=0.05),
        ),
        ClubAircraft(
            tail="N074LF", words="tailwheel two-seater", volts=14, kind="battery", battery_ah=26,
            alternator_a=40, set_point_v=14.15, essential_a=5, style=TAB,
            voltmeter=Voltmeter(resolution_v=0.1, noise_v=0.04), period_s=2.0,
        ),
        ClubAircraft(
            tail="N091LF", words="six-seat tourer", volts=28, kind="battery", battery_ah=24,
            alternator_a=70, set_point_v=14.1, essential_a=14, style=COMMA,
            voltmeter=Voltmeter(resolution_v=0.1),
        ),
    )
}  # fmt: skip

FLIGHTS = (
    ClubFlight(
        tail="N012LF", begins=datetime(2026, 5, 2, 9, 12), scenario="healthy", seed=21,
        words="An ordinary morning's flight of a sound aircraft.",
    ),
    ClubFlight(
        tail="N012LF", begins=datetime(2026, 5, 9, 10, 3), scenario="trip_with_reset", seed=22,
        words="In cruise the voltage runs up, protection takes the alternator off, a reset 50 s later holds.",
    ),
    ClubFlight(
        tail="N012LF", begins=datetime(2026, 5, 16, 14, 40), scenario="touch_and_goes", seed=23,
        words="Six circuits by a student: the bus sags on each final, throttle closed. The aircraft is well.",
    ),
    ClubFlight(
        tail="N037LF", begins=datetime(2026, 4, 19, 8, 55), scenario="healthy", seed=31,
        words="A sound 28 V aircraft. Its ammeter rests at -0.8 A, which is a zero error.",
    ),
    ClubFlight(
        tail="N037LF", begins=datetime(2026, 4, 26, 13, 20), scenario="avionics_in_recharge", seed=32,
        words="Avionics and pitot heat come on while the battery is still being recharged. All is well.",
    ),
    ClubFlight(
        tail="N037LF", begins=datetime(2026, 5, 3, 11, 5), scenario="alternator_lost", seed=33,
        words="A field wire breaks in cruise; nobody notices, and the battery carries the flight home.",
    ),
    ClubFlight(
        tail="N058LF", begins=datetime(2026, 6, 6, 16, 30), scenario="regulator_high", seed=41,
        words="The regulator holds the bus 0.9 V too high.",
    ),
    ClubFlight(
        tail="N058LF", begins=datetime(2026, 6, 13, 9, 45), scenario="volts_spikes", seed=42,
        words="Single readings of 19.4 V with nothing in the current: the voltmeter, not the aircraft.",
    ),
    ClubFlight(
        tail="N058LF", begins=datetime(2026, 9, 12, 20, 10), scenario="output_fading", seed=43,
        words="Night and rain: the belt slips and the alternator's output sinks for twenty minutes.",
    ),
    ClubFlight(
        tail="N074LF", begins=datetime(2026, 1, 24, 9, 0), scenario="worn_battery", seed=51,
        words="A cold morning and a worn battery: three attempts, deep sag, little charge taken afterwards.",
    ),
    ClubFlight(
        tail="N074LF", begins=datetime(2026, 7, 4, 17, 15), scenario="slow_recharge", seed=52,
        words="The charging current takes half an hour to die away after an ordinary start.",
    ),
    ClubFlight(
        tail="N074LF", begins=datetime(2026, 7, 18, 10, 25), scenario="left_low", seed=53,
        words="Something was left on: the battery rests at 30 % charge before start.",
    ),
    ClubFlight(
        tail="N091LF", begins=datetime(2026, 3, 15, 10, 50), scenario="low_idle", seed=61,
        words="Taxied with the throttle closed: the bus sags on the ground and in the descent. No fault.",
    ),
    ClubFlight(
        tail="N091LF", begins=datetime(2026, 8, 9, 15, 35), scenario="never_settles", seed=62,
        words="One cell is softly shorted: the battery goes on taking current to the end of the flight.",
    ),
)  # fmt: skip


def scenario_of(flight: ClubFlight) -> Scenario:
    """The named scenario, flown by this aircraft."""
    aircraft = AIRCRAFT[flight.tail]
    maker = {**scenarios.HEALTHY, **scenarios.FAULTY}[flight.scenario]
    made = maker(flight.seed, aircraft.volts, aircraft.kind)
    return replace(
        made,
        tail=flight.tail,
        begins=flight.begins,
        battery=replace(made.battery, capacity_ah=aircraft.battery_ah),
        alternator=replace(made.alternator, rated_a=aircraft.alternator_a),
        regulator=replace(made.regulator, set_point_v=aircraft.set_point_v),
        voltmeter=aircraft.voltmeter,
        ammeters=(Ammeter(kind=aircraft.kind, offset_a=aircraft.zero_error_a),),
        recorder=replace(Recorder(), period_s=aircraft.period_s, second_bus=aircraft.second_bus),
    )


def file_name(flight: ClubFlight) -> str:
    """The log's name: registration and day."""
    return f"{flight.tail}_{flight.begins:%Y-%m-%d}.csv"


def write_club(folder: Path) -> list[Path]:
    """Write every log, ``fleet.toml`` and ``README.md`` into a folder, made when absent; gives the paths.

    Raises
    ------
    OSError
        If the folder or a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    paths, rows = [], []
    for flight in FLIGHTS:
        flown = simulate(scenario_of(flight))
        path = folder / file_name(flight)
        write_csv(flown, path, AIRCRAFT[flight.tail].style)
        paths.append(path)
        rows.append(_table_row(flight, flown))
    for name, text in (("fleet.toml", fleet_toml()), ("README.md", _readme(rows))):
        (folder / name).write_bytes(text.encode())
        paths.append(folder / name)
    return paths


def fleet_toml() -> str:
    """The club's aircraft as an electrical profile a tail."""
    parts = [f"# The aircraft of the {CLUB}, an invented club.\n"]
    for aircraft in AIRCRAFT.values():
        factor = aircraft.volts / 14
        low, high = factor * (aircraft.set_point_v - 0.35), factor * (aircraft.set_point_v + 0.35)
        parts.append(
            f"\n[aircraft.{aircraft.tail}]  # {aircraft.words}\n"
            f"nominal_voltage = {aircraft.volts}\n"
            f"battery_capacity = {aircraft.battery_ah:g}  # Ah at the one-hour rate\n"
            f'ammeter = "{aircraft.kind}"\n'
            f"alternator_rating = {aircraft.alternator_a:g}\n"
            f"regulated_voltage = [{low:.2f}, {high:.2f}]\n"
            f"overvoltage = {16.0 * factor:.1f}\n"
            f"low_voltage = {13.0 * factor:.1f}\n"
            f"essential_load = {aircraft.essential_a:g}\n"
        )
    return "".join(parts)


def _table_row(flight: ClubFlight, flown: SimulatedFlight) -> str:
    names = ", ".join(f"`{name}`" for name in sorted(flown.truth.findings)) or "nothing"
    return f"| {file_name(flight)} | {flight.words} | {names} |\n"


def _readme(rows: list[str]) -> str:
    fleet = "".join(
        f"| {a.tail} | {a.words} | {a.volts} V | {a.battery_ah:g} Ah | {a.kind} | {a.style.name} | {a.period_s:g} s |\n"
        for a in AIRCRAFT.values()
    )
    return (
        f"# Sample logs of the {CLUB}\n\n"
        "Club, aircraft and flights are invented; a real registration never begins N0. The logs come from\n"
        "a physical model of battery, alternator, regulator and instruments, so what is in each is known.\n"
        "This folder is written, byte for byte, by\n\n"
        "    python -m analyzer.simulator sample_logs\n\n"
        "## Aircraft\n\n"
        "| aircraft | | system | battery | ammeter | writes | every |\n|---|---|---|---|---|---|---|\n"
        f"{fleet}\n"
        "`fleet.toml` holds the same for the analysis. Everything works without it.\n\n"
        "## Flights\n\n"
        "| log | what is in it | what should be found |\n|---|---|---|\n"
        f"{''.join(rows)}\n"
        "Findings that follow from the one named are no error: a battery that rests low recharges for long.\n"
    )
