"""A season of the invented club: every aircraft flown about weekly, with what wears, what fails and what is mended.

The flights of ``club.FLIGHTS`` lie among them on their days.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import cos, pi
from pathlib import Path

import numpy as np

from analyzer.simulator import scenarios
from analyzer.simulator.club import AIRCRAFT, FLIGHTS, ClubAircraft, ClubFlight, scenario_of
from analyzer.simulator.simulate import Scenario, simulate
from analyzer.simulator.writers import COMMA, Style, write_csv

#: First and last week of the season.
BEGINS, WEEKS = datetime(2026, 2, 7), 30
#: Day of the year on which it is warmest, and the year's mean and swing of the air [degC].
WARMEST_DAY, MEAN_C, SWING_C = 205, 11.0, 9.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClubEntry:
    """Maintenance done; ``kind`` as in ``entries.csv``."""

    tail: str
    when: datetime
    kind: str
    words: str


ENTRIES = (
    ClubEntry(
        tail="N012LF", when=datetime(2026, 5, 12, 16, 0), kind="regulator_replaced",
        words="Tripped in cruise on 9 May. Regulator exchanged, field circuit checked.",
    ),
    ClubEntry(
        tail="N037LF", when=datetime(2026, 5, 5, 11, 30), kind="connection_repaired",
        words="Field wire found broken at its terminal; new terminal crimped and supported.",
    ),
    ClubEntry(
        tail="N058LF", when=datetime(2026, 6, 9, 15, 20), kind="regulator_replaced",
        words="Bus had crept up to 14.9 V. Regulator exchanged.",
    ),
    ClubEntry(
        tail="N091LF", when=datetime(2026, 4, 21, 9, 0), kind="instrument_replaced",
        words="Ammeter's shunt cleaned and its leads renewed.",
    ),
)  # fmt: skip


def season() -> Iterator[tuple[str, Scenario, Style]]:
    """Name of the log, flight and manner of writing of every flight, by aircraft and day."""
    for place, aircraft in enumerate(AIRCRAFT.values()):
        named = {flight.begins.date(): flight for flight in FLIGHTS if flight.tail == aircraft.tail}
        days = {(BEGINS + timedelta(weeks=week, days=place % 2)).date() for week in range(WEEKS)}
        for number, day in enumerate(sorted(days | named.keys())):
            if day in named:
                scenario = scenario_of(named[day])
            else:
                scenario = _ordinary(aircraft, datetime(day.year, day.month, day.day), 1000 * (place + 1) + number)
            yield f"{aircraft.tail}_{day:%Y-%m-%d}.csv", scenario, _style(aircraft)


def write_season(folder: Path) -> Iterator[Path]:
    """Write every log of the season into a folder, then ``entries.csv``; gives each path once it is written.

    Raises
    ------
    OSError
        If the folder or a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for name, scenario, style in season():
        write_csv(simulate(scenario), folder / name, style)
        yield folder / name
    lines = ["tail,when,kind,words"]
    lines += [f'{e.tail},{e.when.isoformat()},{e.kind},"{e.words}"' for e in ENTRIES]
    (folder / "entries.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    yield folder / "entries.csv"


def _style(aircraft: ClubAircraft) -> Style:
    """How the aircraft writes; one whose logs carry no day is given a clock, for a season needs days."""
    return COMMA if aircraft.style.name == "tab" else aircraft.style


def _ordinary(aircraft: ClubAircraft, day: datetime, seed: int) -> Scenario:
    """An ordinary flight on a day: the same battery and regulator as ever, worn as far as they are by then."""
    rng = np.random.default_rng(seed)
    begins = day + timedelta(hours=9, minutes=int(rng.integers(0, 480)))
    constant = scenarios.HEALTHY["healthy"](int(aircraft.tail[1:4]), aircraft.volts, aircraft.kind)
    flown = scenario_of(
        ClubFlight(tail=aircraft.tail, begins=begins, scenario="healthy", seed=seed, words="An ordinary flight.")
    )
    air = MEAN_C + SWING_C * cos(2.0 * pi * (begins.timetuple().tm_yday - WARMEST_DAY) / 365.25)
    same = replace(
        flown,
        regulator=replace(constant.regulator, set_point_v=aircraft.set_point_v),
        battery=replace(constant.battery, capacity_ah=aircraft.battery_ah, charge=flown.battery.charge),
        plan=replace(flown.plan, outside_c=air + float(rng.normal(0.0, 3.0))),
    )
    return _worn(same, aircraft.tail, begins)


def _worn(scenario: Scenario, tail: str, begins: datetime) -> Scenario:
    """What the season has done to the aircraft by that day."""
    weeks = (begins - BEGINS) / timedelta(weeks=1)
    if tail == "N058LF" and begins < datetime(2026, 6, 9):
        creep = 0.05 * max(0.0, weeks - 3.0)
        held = scenario.regulator.set_point_v + creep
        return replace(scenario, regulator=replace(scenario.regulator, set_point_v=held))
    if tail == "N074LF":
        aged = min(1.0, max(0.0, weeks - 6.0) / 24.0)
        battery = scenario.battery
        battery = replace(
            battery,
            health=1.0 - 0.45 * aged,
            resistance_factor=1.0 + 1.0 * aged,
            acceptance_s=battery.acceptance_s * (1.0 + 1.6 * aged),
        )
        return replace(scenario, battery=battery)
    if tail == "N091LF":
        gassing = scenario.battery.gassing_a + 0.22 * max(0.0, weeks - 12.0)
        return replace(scenario, battery=replace(scenario.battery, gassing_a=gassing))
    return scenario
