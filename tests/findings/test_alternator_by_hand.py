"""Numbers of the rules on the alternator, on made courses a row a second."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyzer.findings.alternator import (
    _after,
    _by_current,
    _fades,
    _follows_engine_speed,
    _joined,
    _never_or_late,
    _signs,
    _steady_speed,
    drained_stretches,
    output_short,
    overvoltage,
)
from analyzer.findings.finding import FindingName
from analyzer.flights.outage_kinds import OFFLINE, OUTPUT_LIMITED, AlternatorOutage, OutageKind
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.quantity import Quantity
from analyzer.series import Floats

ROWS = 2400


def course(usual: float, *parts: tuple[int, int, float]) -> Floats:
    """A level, with others in some rows."""
    values = np.full(ROWS, usual)
    for first, end, level in parts:
        values[first:end] = level
    return values


def flight(bus: Floats | None = None, *outages: AlternatorOutage, stop: int = ROWS, **channels: Any) -> Any:
    """A flight whose engine runs fast from its first row; the alternator is on line but in its outages."""
    online = np.ones(ROWS, dtype=np.bool_)
    for one in outages:
        online[one.first : one.end] = False
    every = np.ones(ROWS, dtype=np.bool_)
    trace = Trace(time=np.arange(float(ROWS)), bus_voltage=np.full(ROWS, 14.0) if bus is None else bus, **channels)
    return SimpleNamespace(
        trace=trace, limits=Limits(14, {}), outages=list(outages), alternator_online=online, rpm_sufficient=every,
        running=every, run=SimpleNamespace(start=0, stop=stop), reading_faults=[], alternator_on_row=0,
        voltmeter=SimpleNamespace(tells=True),
        ammeter=SimpleNamespace(charge_at_rest=0.0, kind="battery"),
    )  # fmt: skip


def lost(first: int, end: int, kind: OutageKind = OFFLINE) -> AlternatorOutage:
    return AlternatorOutage(first, end, kind)


@pytest.mark.parametrize(("gap", "parts"), [(18, 1), (20, 2)])
def test_losses_within_twenty_seconds_are_one(gap: int, parts: int) -> None:
    # from the last row of the one to the first of the next
    losses = [lost(500, 600), lost(600 + gap, 700)]
    assert len(_joined(losses, flight(None, *losses))) == parts


def test_so_are_those_between_which_the_alternator_gives_nothing() -> None:
    losses = [lost(500, 600), lost(800, 900)]
    away = flight(None, lost(500, 900))
    assert [(one.first, one.end) for one in _joined(losses, away)] == [(500, 900)]
    too_little = flight(None, lost(500, 600), lost(650, 700, OUTPUT_LIMITED), lost(700, 900))
    assert len(_joined(losses, too_little)) == 2


@pytest.mark.parametrize(
    ("outages", "stop", "returned", "said"),
    [
        ([lost(500, 644)], ROWS, True, "; back after 2.4 min"),
        ([lost(500, 644)], 644, False, "; off until the engine stopped"),
        ([lost(500, 644)], 700, False, "; what came after 2.4 min is not recorded"),
        (
            [lost(500, 644), lost(700, 900, OUTPUT_LIMITED)],
            ROWS,
            False,
            "; then gave 12 A, too little; not back on line",
        ),
    ],
)
def test_what_became_of_a_loss_is_told(outages: list[AlternatorOutage], stop: int, returned: bool, said: str) -> None:
    shown = flight(None, *outages, stop=stop, alternator_current=course(30.0, (700, 900, 12.0)))
    assert _after(shown, outages[0], returned, 144.0 / 60.0) == said


@pytest.mark.parametrize(("away", "swing", "steady"), [(9, 79.0, True), (9, 81.0, False), (11, 81.0, True)])
def test_an_engine_holds_its_speed_within_80_rpm_for_ten_seconds_about_a_loss(
    away: int, swing: float, steady: bool
) -> None:
    speed = course(2300.0, (500 + away, ROWS, 2300.0 - swing))
    assert _steady_speed(flight(engine_speed=speed), 500) is steady


@pytest.mark.parametrize(("at_once", "abrupt"), [(1.15, False), (1.25, True)])
@pytest.mark.parametrize("returned", [False, True])
def test_a_loss_is_abrupt_that_makes_six_tenths_of_its_fall_within_nine_seconds(
    at_once: float, abrupt: bool, returned: bool
) -> None:
    # from 14 V to 12 V: 1.2 V of it between 12 to 3 s before and 3 to 9 s after; what lies nearer says nothing
    bus = course(14.0, (497, 500, 13.0), (500, 503, 14.0), (503, 512, 14.0 - at_once), (512, 740, 12.0))
    speed = course(2300.0, (735, ROWS, 2100.0))  # a hand on the throttle as it comes back
    shown = flight(bus, lost(500, 740), engine_speed=speed)
    before: Any = SimpleNamespace(rose=False, lately=14.0, level=14.3)
    signs = _signs(shown, lost(500, 740), before, returned, 2)
    assert signs["abrupt_loss"] is abrupt
    assert signs["steady_speed"] is not returned
    assert (signs["restored"], signs["repeated"], signs.get("back_soon")) == (
        returned,
        True,
        True if returned else None,
    )
    later = _signs(flight(bus, lost(500, 742)), lost(500, 742), before, True, 1)
    assert (later["back_soon"], later["repeated"]) == (False, False), "after more than four minutes"


@pytest.mark.parametrize(
    ("on_row", "evidence", "said"),
    [
        (800, {"drawn_a": 12.0},
         "The alternator came on line 4 min after the engine was fast enough: switched on late, or slow to build up."),
        (None, {"lowest_voltage": 11.84, "drawn_a": 12.0},
         "The alternator never came on line in 4 min with the engine running: the battery carried the load, down to "
         "11.8 V."),
        (None, {"drawn_a": 12.4},
         "The alternator never came on line in 4 min with the engine running: the battery carried the load with 12 A."),
    ],
)  # fmt: skip
def test_an_alternator_that_came_late_or_never_is_told_with_its_time(
    on_row: int | None, evidence: dict[str, float], said: str
) -> None:
    shown = flight()
    shown.alternator_on_row = on_row
    numbers: Any = {name: Quantity(value, "V") for name, value in evidence.items()}
    assert _never_or_late(shown, lost(500, 740), numbers, {}, 4.0).says == said


@pytest.mark.parametrize(
    ("parts", "minutes", "from_s", "to_s"),
    [
        ([(500, 504, 16.2)], 4.0 / 60.0, 500.0, 503.0),  # three seconds from the first reading to the last
        ([(500, 503, 16.2)], None, None, None),
        ([(500, 560, 15.9)], None, None, None),  # 16 V
        # 15 s apart they are one, 25 s apart two; in both the time between is not above
        ([(500, 560, 16.2), (574, 634, 16.5)], 134.0 / 60.0, 500.0, 633.0),
        ([(500, 560, 16.2), (585, 645, 16.5)], 120.0 / 60.0, 500.0, 644.0),
    ],
)
def test_a_bus_above_its_limit_for_three_seconds_is_an_overvoltage(
    parts: list[tuple[int, int, float]], minutes: float | None, from_s: float, to_s: float
) -> None:
    found = overvoltage(flight(course(14.0, *parts)), {})
    assert bool(found) is (minutes is not None)
    if found:
        (one,) = found
        assert one.evidence["duration_min"].value == pytest.approx(minutes, abs=0.006)
        assert (one.from_s, one.to_s) == (from_s, to_s)
        assert one.evidence["peak_voltage"].value == parts[-1][2]


@pytest.mark.parametrize(("after", "trips"), [(14, True), (16, False)])
def test_one_that_ends_in_a_loss_within_fifteen_seconds_is_its_trip(after: int, trips: bool) -> None:
    loss = lost(560 + after, 700)
    assert bool(overvoltage(flight(course(14.0, (500, 560, 16.2)), loss), {})) is not trips


@pytest.mark.parametrize(
    ("rpm", "per_rpm", "follows"),
    [(300.0, 0.002, True), (300.0, -0.002, False), (70.0, 0.002, False), (300.0, 0.0, False)],
)
def test_a_bus_that_nothing_regulates_follows_engine_speed(rpm: float, per_rpm: float, follows: bool) -> None:
    speed = 2300.0 + 0.5 * rpm * np.where(np.arange(ROWS) // 60 % 2, 1.0, -1.0)
    assert _follows_engine_speed(flight(16.0 + per_rpm * (speed - 2300.0), engine_speed=speed), 500, 900) is follows
    assert not _follows_engine_speed(flight(16.0 + per_rpm * (speed - 2300.0), engine_speed=speed), 500, 529)


@pytest.mark.parametrize(
    ("amps", "bus", "rows", "drained"),
    [
        (-1.6, 13.3, 200, True),
        (-1.4, 13.3, 200, False),  # an ampere and a half
        (-1.6, 13.5, 200, False),  # a bus below 13.4 V
        (-1.6, 13.3, 40, False),  # for three quarters of a minute
    ],
)
def test_a_battery_that_gives_beside_an_alternator_shows_that_it_gives_too_little(
    amps: float, bus: float, rows: int, drained: bool
) -> None:
    end = 500 + rows
    shown = flight(course(14.0, (500, end, bus)), battery_current=course(1.0, (500, end, amps)))
    found = [(one.first, one.end, one.kind) for one in drained_stretches(shown)]
    assert bool(found) is drained
    if drained:
        assert found == [(pytest.approx(500, abs=1), pytest.approx(end, abs=1), OUTPUT_LIMITED)]


@pytest.mark.parametrize(("rows", "told"), [(44, False), (45, True)])
def test_an_output_too_low_for_three_quarters_of_a_minute_is_told_with_what_it_came_to(rows: int, told: bool) -> None:
    limited = AlternatorOutage(500, 500 + rows, OUTPUT_LIMITED)
    end = 500 + rows
    bus = course(14.0, (500, end, 12.6), (510, 511, 12.1))
    shown = flight(
        bus, limited, battery_current=course(1.0, (500, end, -6.0)), alternator_current=course(20.0, (500, end, 15.0)),
        engine_speed=np.full(ROWS, 2300.0),
    )  # fmt: skip
    found = output_short(shown, {})
    assert [one.name for one in found] == ([FindingName.OUTPUT_SHORT] if told else [])
    if told:
        (one,) = found
        values = {name: number.value for name, number in one.evidence.items()}
        assert values == {
            "voltage": 12.6, "lowest_voltage": 12.1, "duration_min": 0.75, "times": 1.0, "battery_a": -6.0,
            "output_a": 15.0,
        }  # fmt: skip
        assert one.says.startswith(
            "At normal rpm the alternator could not carry the load for 45 s: bus 12.6 V, battery giving 6 A, output "
            "only 15 A; it recovered later."
        )
        assert one.signs["drained_at_speed"]


@pytest.mark.parametrize(("falls", "fades"), [(2.9, False), (3.1, True)])
def test_an_output_that_sank_by_three_amperes_since_ten_minutes_ago_fades(falls: float, fades: bool) -> None:
    # what it was 15 to 10 minutes before the outage, and in the minute before; what lies between says nothing
    output = course(30.0, (1200, 1739, 99.0), (1740, 1801, 30.0 - falls))
    assert _fades(flight(alternator_current=output), lost(1800, 1900, OUTPUT_LIMITED)) is fades
    assert _fades(flight(), lost(1800, 1900, OUTPUT_LIMITED)) is None


@pytest.mark.parametrize(
    ("before", "then", "fell"),
    [
        (22.44, -0.04, ": its output fell from 22.4 A to 0.0 A"),  # no "-0.0 A"
        (22.44, 1.26, ": its output fell from 22.4 A to 1.3 A"),
        (np.nan, 0.0, ""),  # the ammeter dropped out just before the loss
    ],
)
def test_a_loss_that_an_ammeter_shows_is_told_with_numbers_that_it_has(before: float, then: float, fell: str) -> None:
    amps = course(22.44, (300, 500, before), (500, 740, then))
    shown = flight(None, lost(500, 740), alternator_current=amps)
    shown.ammeter.kind = "alternator"
    found = _by_current(
        shown, lost(500, 740), {"times": Quantity(1.0, "1")}, {"restored": True}, "It was lost", "; back"
    )
    assert found.says == f"It was lost{fell}; back. No voltmeter shows whether the voltage rose before."
    assert ("current_before" in found.evidence) is bool(fell)
