"""Numbers of the rules on the battery, on flights of a few rows that hold only what a rule asks of them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyzer.findings.battery import (
    _charge_lacking,
    _drawn_on_until,
    _given_and_had_back,
    _second_half,
    _share_held,
    _turning_level,
    discharge_before,
    low_resting_voltage,
    weak_cranking,
)
from analyzer.findings.finding import Severity
from analyzer.flights.outage_kinds import OFFLINE, VOLTMETER_ONLY, AlternatorOutage, OutageKind
from analyzer.flights.trace import Trace
from analyzer.limits import Limits
from analyzer.measures.measure import around, not_measurable
from analyzer.series import Floats

#: A battery of 20 Ah.
OWN = {"battery_capacity": 20.0}


def flight(bus: Floats, step_s: float = 1.0, *, volts: int = 14, **more: Any) -> Any:
    """A flight of these volts; what begins with a channel's name goes into its trace."""
    names = ("battery_current", "alternator_current", "backup_voltage")
    channels = {name: more.pop(name) for name in names if name in more}
    trace = Trace(time=step_s * np.arange(bus.size), bus_voltage=bus, **channels)
    told = {
        "trace": trace, "limits": Limits(volts, OWN), "source": None, "crank": np.zeros(bus.size, dtype=np.bool_),
        "air_at_start": 20.0, "first_crank": 0, "from_s": 0.0, "outages": [], "reading_faults": [],
        "ammeter": SimpleNamespace(charge_at_rest=0.0), "run": SimpleNamespace(start=0), "alternator_on_row": None,
    }  # fmt: skip
    return SimpleNamespace(**told | more)


def cranked(*tries: list[float], step_s: float = 0.5, **more: Any) -> Any:
    """A start of some tries, each by its readings, between rests of three rows."""
    bus, crank = [12.6] * 3, [False] * 3
    for volts in tries:
        bus += [*volts, 12.4, 12.4, 12.4]
        crank += [True] * len(volts) + [False] * 3
    return flight(np.array(bus), step_s, crank=np.array(crank), first_crank=3, **more)


@pytest.mark.parametrize(
    ("tries", "level"),
    [
        # the first instant is left out; of what follows the reading at a quarter, counted from the lowest
        ([[8.0, 9.1, 9.2, 9.3, 9.4, 9.5]], 9.2),
        ([[8.0, 9.1, 9.2, 9.3, 9.4]], 9.1),
        ([[8.0]], 8.0),  # a lone reading is all there is
        ([[8.0, 9.1], [8.0, 9.7], [8.0, 9.3]], 9.3),  # the middle of the tries
    ],
)
def test_the_level_while_the_starter_turns_is_a_low_quartile_of_each_try(
    tries: list[list[float]], level: float
) -> None:
    assert _turning_level(cranked(*tries), 7.0) == level


def crank_finding(level: float, air: float, *, lone: bool = False, seconds: float = 3.0, half: float = 1.0) -> Any:
    flown = cranked([level] if lone else [7.0, level, level, level], air_at_start=air)
    measures = {
        "cranking_voltage": around("cranking_voltage", level, 0.1),
        "cranking_time": around("cranking_time", seconds, half),
        "start_attempts": around("start_attempts", 3.0, 0.0),
    }
    return next(iter(weak_cranking(flown, measures)), None)


@pytest.mark.parametrize(
    ("air", "lone", "limit"),
    [
        (20.0, False, 8.4),
        (35.0, False, 8.4),  # warmth asks for no more
        (10.0, False, 8.1),  # 0.03 V for each degree below 20
        (-20.0, False, 7.2),
        (float("nan"), False, 8.25),  # taken as 15 degC
        (20.0, True, 7.5),  # a lone reading may be the first instant's, 0.9 V deeper
    ],
)
def test_a_bus_under_the_starter_is_held_against_what_the_cold_allows(air: float, lone: bool, limit: float) -> None:
    assert crank_finding(limit + 0.01, air, lone=lone) is None
    found = crank_finding(limit - 0.01, air, lone=lone)
    assert (found.severity, found.evidence["limit"].value) == (Severity.CAUTION, pytest.approx(limit))
    assert f"at least {limit:.1f} V expected" in found.says
    assert found.evidence["temperature"].assumed is bool(np.isnan(air))
    assert crank_finding(limit - 1.01, air, lone=lone).severity == Severity.WARNING
    assert found.signs["tried_often"]
    assert found.signs.get("cold") == (None if np.isnan(air) else air < 5.0)


@pytest.mark.parametrize(("seconds", "told"), [(26.1, True), (25.9, False)])
def test_a_starter_that_surely_turned_for_25_seconds_is_worth_a_word(seconds: float, told: bool) -> None:
    assert (crank_finding(9.0, 20.0, seconds=seconds, half=1.0) is not None) is told


@pytest.mark.parametrize(
    ("volts", "first_crank", "severity", "said"),
    [
        (12.25, 5, None, ""),
        (12.23, 5, Severity.CAUTION, "Backup battery 12.23 V before the start, below 12.24 V."),
        (11.88, 5, Severity.WARNING, "Backup battery 11.88 V before the start, below 12.24 V."),
        (24.47, 5, Severity.CAUTION, "Backup battery 24.47 V before the start, below 24.48 V."),
        (24.49, 5, None, ""),
        (12.0, 0, Severity.CAUTION, "Backup battery 12.00 V with the engine running, below 12.24 V."),
        (3.9, 5, None, ""),  # not connected
    ],
)
def test_a_backup_battery_is_judged_by_its_own_cells(
    volts: float, first_crank: int, severity: Severity | None, said: str
) -> None:
    flown = flight(np.full(10, 14.0), backup_voltage=np.full(10, volts), first_crank=first_crank)
    rest = {"resting_voltage": not_measurable("resting_voltage", "not asked for here"), "resting_charge": None}
    found = [(one.severity, one.says) for one in low_resting_voltage(flown, rest)]  # type: ignore[arg-type]
    assert found == ([] if severity is None else [(severity, said)])


def test_a_current_early_and_late_is_that_of_the_fifths_of_the_second_half() -> None:
    # rows 0 to 99: the second half begins at 50, its fifths are ten rows each
    flow = np.concatenate([np.full(50, 20.0), np.full(10, 8.0), np.full(30, 6.0), np.full(10, 4.0)])
    flown = flight(np.full(100, 14.0), battery_current=flow)
    assert _second_half(flown, np.arange(100)) == (8.0, 4.0)
    assert _second_half(flown, np.arange(19)) == (0.0, 0.0), "twenty rows are the fewest"
    assert _second_half(flight(np.full(100, 14.0)), np.arange(100)) == (0.0, 0.0)


def test_charge_given_and_had_back_counts_to_the_last_row_and_each_way_by_itself() -> None:
    flow = np.concatenate([np.full(60, -30.0), np.full(60, 12.0), np.full(60, 99.0)])
    flown = flight(np.full(180, 14.0), step_s=2.0, battery_current=flow)
    given, back = _given_and_had_back(flown, 119)
    assert (given, back) == pytest.approx((1.0, 0.4))  # 30 A and 12 A for two minutes


def test_a_battery_comes_back_by_a_sixth_less_than_it_is_given() -> None:
    # an ampere-hour drawn in an hour; 1.2 Ah in the next make it good, and more than that is no credit
    flow = np.concatenate([np.full(60, -1.0), np.full(60, 1.2), np.full(60, 1.2), np.full(60, -0.5)])
    lacks = _charge_lacking(flow, np.full(240, 60.0))
    assert lacks[[59, 89, 119, 179, 239]] == pytest.approx([1.0, 0.5, 0.0, 0.0, 0.5])


@pytest.mark.parametrize(("amps", "until"), [(-7.0, 0.0), (-7.4, 199.0)])
def test_a_battery_recharges_anew_from_where_it_gave_while_it_lacked_a_hundredth_of_itself(
    amps: float, until: float
) -> None:
    # 0.2 Ah of 20 Ah: 7.2 A for a hundred seconds
    flow = np.concatenate([np.full(100, 1.0), np.full(100, amps), np.full(100, 1.0)])
    lacks = flight(np.full(300, 14.0), battery_current=flow)
    assert _drawn_on_until(lacks, np.arange(300)) == pytest.approx(until, abs=1.0)


@pytest.mark.parametrize(
    ("kind", "low", "plain", "share"),
    [
        (OFFLINE, 14.0, False, 0.75),  # a hundred of four hundred seconds
        (VOLTMETER_ONLY, 14.0, False, 1.0),
        (VOLTMETER_ONLY, 13.74, False, 0.75),  # a bus a quarter of a volt below what is held
        (VOLTMETER_ONLY, 13.76, False, 1.0),
        (OFFLINE, 14.0, True, 1.0),  # the stretch that was fitted by itself begins later
    ],
)
def test_the_share_of_a_recharge_in_which_the_bus_was_held(
    kind: OutageKind, low: float, plain: bool, share: float
) -> None:
    bus = np.full(600, 14.0)
    bus[200:300] = low
    flown = flight(bus, outages=[AlternatorOutage(200, 300, kind)], regulated_volts=np.full(9, 14.0))
    recharge: Any = SimpleNamespace(knee_s=100.0, plain_s=300.0, settled_s=500.0)
    assert _share_held(flown, recharge, plain=plain) == pytest.approx(share)


def test_what_was_drawn_before_the_alternator_took_the_bus_is_taken_at_usual_loads_where_no_ammeter_tells() -> None:
    # six minutes at a lit panel's 5 A, 12 s of a starter of 150 A, three minutes running at 10 A
    flown = flight(np.full(1000, 12.5), first_crank=360, run=SimpleNamespace(start=372), alternator_on_row=552)
    measures = {
        "prestart_discharge": not_measurable("prestart_discharge", "no ammeter"),
        "cranking_time": around("cranking_time", 12.0, 1.0),
    }
    assert discharge_before(flown, measures) == pytest.approx(0.5 + 0.5 + 0.5)
    metered = flight(
        np.full(1000, 12.5), first_crank=360, run=SimpleNamespace(start=372), alternator_on_row=552,
        battery_current=np.full(1000, -4.0),
    )  # fmt: skip
    known = measures | {"prestart_discharge": around("prestart_discharge", 0.4, 0.1)}
    assert discharge_before(metered, known) == pytest.approx(0.4 + 0.5 + 0.2)
