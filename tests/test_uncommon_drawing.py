"""The drawing of uncommon logs: the same from a seed, true to its own physics, and not to be fooled."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.benchmarks.uncommon_logs.cases import Case
from tests.benchmarks.uncommon_logs.files import written
from tests.benchmarks.uncommon_logs.kinds import ROUND, draw_case
from tests.benchmarks.uncommon_logs.physics import Battery, Inputs, fly
from tests.benchmarks.uncommon_logs.truth import FINDINGS, Mark, Truth, mark

#: Kinds whose clock is moved or whose rows of the second flight alone are measured.
MOVED = {"clock_set", "joined_downloads"}
#: A kind of each module, and those whose truth is the most involved.
TRIED = (
    "running_taper", "idle_sags", "lost_with_steps", "columns_height", "dead_volts", "bus_dies", "twin_both_lost",
    "joined_downloads", "low_voltmeter", "lithium", "backup_battery", "contactor_open", "switch_off_on",
    "amps_only_lost", "plain",
)  # fmt: skip


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [draw_case(7, ROUND.index(name)) for name in TRIED]


def test_the_same_seed_and_number_draw_the_same_file_and_others_another() -> None:
    first, again, other = draw_case(3, 0), draw_case(3, 0), draw_case(4, 0)
    assert written(first.record, first.layout) == written(again.record, again.layout)
    assert first.truth == again.truth
    assert written(first.record, first.layout) != written(other.record, other.layout)


def test_every_finding_that_is_asked_for_lies_in_its_log(cases: list[Case]) -> None:
    for made in cases:
        length = made.record.time_s[-1] - made.record.time_s[0]
        for must in made.truth.musts:
            assert 0.0 <= must.from_s < must.to_s <= length + 60.0, made.kind
            assert set(must.names) <= set(FINDINGS)


def test_what_the_regulator_holds_is_what_the_voltmeter_shows_in_flight(cases: list[Case]) -> None:
    seen = 0
    for made in cases:
        want = made.truth.measures.get("regulated_voltage")
        if want is None or want.need != "measured" or made.kind in MOVED or "volts" not in made.record.columns:
            continue
        volts = made.record.columns["volts"]
        high = volts[volts > 0.97 * np.percentile(volts, 90)]
        assert want.low <= np.median(high) <= want.high, made.kind
        seen += 1
    assert seen > 7


def _bus(seconds: float, load: Any, available: float, battery: Battery, switched_off_s: float = 1e9) -> Any:
    time = np.arange(int(seconds * 4)) / 4.0
    rested = np.full(time.size, np.inf)
    gives = np.where(time < switched_off_s, available, 0.0)
    on = np.ones(time.size, dtype=np.bool_)
    return fly(battery, Inputs(load(time), rested, np.full(time.size, 14.0), gives, on, np.zeros(time.size)))


BATTERY = Battery(
    capacity_ah=30.0, charge=0.9, resistance_ohm=0.03, cranking_ohm=0.01, tau_s=240.0, missing_as=2400.0, lasting_a=0.5
)


def test_the_charging_current_decays_with_the_time_constant_that_is_called_true() -> None:
    course = _bus(1200.0, lambda time: np.full(time.size, 8.0), 60.0, BATTERY)
    above = course.battery_a[course.time_s > 1.0] - BATTERY.lasting_a
    slope = np.polyfit(course.time_s[course.time_s > 1.0], np.log(above), 1)[0]
    assert -1.0 / slope == pytest.approx(BATTERY.tau_s, rel=0.01)
    assert above[0] == pytest.approx(10.0, rel=0.02)
    assert course.source_a == pytest.approx(course.battery_a + 8.0)


def test_a_load_step_on_the_battery_alone_shows_the_resistance_that_is_called_true() -> None:
    course = _bus(400.0, lambda time: np.where(time < 300.0, 5.0, 15.0), 60.0, BATTERY, switched_off_s=100.0)
    before, after = course.bus_v[300 * 4 - 2], course.bus_v[300 * 4 + 8]  # two seconds later
    ohm = (before - after) / 10.0
    assert BATTERY.resistance_ohm < ohm < BATTERY.resistance_ohm * (1.0 + BATTERY.quick) * 1.05
    assert np.all(course.battery_a[405:] < 0.0)


def test_the_charge_drawn_is_the_integral_of_the_current() -> None:
    course = _bus(3600.0, lambda time: np.full(time.size, 6.0), 0.0, BATTERY)
    assert BATTERY.charge - course.charge[-1] == pytest.approx(6.0 / 30.0, rel=0.01)


def _entry(made: Case, findings: list[dict[str, Any]], values: bool) -> dict[str, Any]:
    truth = made.truth
    measures = {}
    for name, want in truth.measures.items():
        measured = {"value": want.low, "low": want.low, "high": want.high, "state": "measured"}
        refused = {"value": None, "state": "not_measurable", "because": "x"}
        measures[name] = measured if values and want.need in ("measured", "band") else refused
    lengths = [(0.5 * (a + b)) for a, b in truth.spans] or [100.0]
    flights: list[dict[str, Any]] = []
    for number in range(truth.flights[0]):
        flight = {
            "from_s": 0.0,
            "to_s": lengths[min(number, len(lengths) - 1)],
            "ammeter": truth.ammeter[0] if truth.ammeter else "none",
            "nominal_voltage": truth.nominal[0] if truth.nominal else 14,
            "measures": measures,
            "findings": [] if number else findings,
        }
        flights.append(flight if truth.start_recorded is None else flight | {"start_recorded": truth.start_recorded})
    said = "possible loss of bus power; taken as lead-acid"
    return {"state": "read", "because": None, "warnings": [said], "flights": flights}


def _columns(truth: Truth) -> dict[str, Any]:
    return {"columns": [{"role": role, "name": name} for role, name in truth.roles.items() if name]}


def _told(made: Case) -> list[dict[str, Any]]:
    cause = "battery contactor open; alternator switch off; path to the voltmeter; overload"
    return [
        {
            "finding": must.names[0],
            "severity": (must.severities or ("caution",))[0],
            "from_s": must.from_s,
            "to_s": must.to_s,
            "says": "seen",
            "likely": [{"cause": cause, "weight": 1.0}],
            "evidence": dict(must.evidence),
        }
        for must in made.truth.musts
    ]


def _share(marks: list[Mark]) -> float:
    return sum(one.missed is None for one in marks) / len(marks)


def test_an_answer_that_knows_everything_earns_every_point(cases: list[Case]) -> None:
    for made in cases:
        marks = mark(made.truth, _entry(made, _told(made), True), _columns(made.truth), "")
        assert [one for one in marks if one.missed] == [], made.kind


def test_silence_misses_every_finding_and_every_measure(cases: list[Case]) -> None:
    for made in cases:
        marks = mark(made.truth, _entry(made, [], False), _columns(made.truth), "")
        missed = [one.what for one in marks if one.missed]
        needed = [name for name, want in made.truth.measures.items() if want.need in ("measured", "band")]
        assert missed.count("must") == len(made.truth.musts), made.kind
        assert set(needed) <= set(missed), made.kind


def test_finding_everything_everywhere_is_told_off_in_every_log(cases: list[Case]) -> None:
    everything = [
        {"finding": name, "severity": "caution", "from_s": 0.0, "to_s": 1e6, "says": "", "likely": [], "evidence": {}}
        for name in FINDINGS
    ]
    for made in cases:
        marks = mark(made.truth, _entry(made, everything, True), _columns(made.truth), "")
        assert "must not" in [one.what for one in marks if one.missed], made.kind


def test_a_finding_days_late_or_a_refused_log_earns_nothing_for_it(cases: list[Case]) -> None:
    made = next(one for one in cases if one.kind == "twin_both_lost")
    late = [finding | {"from_s": finding["from_s"] + 1e5, "to_s": finding["to_s"] + 1e5} for finding in _told(made)]
    assert "must" in [one.what for one in mark(made.truth, _entry(made, late, True), {}, "") if one.missed]
    refused = {"state": "refused", "because": "no idea", "warnings": [], "flights": []}
    assert _share(mark(made.truth, refused, {}, "")) < 0.4
