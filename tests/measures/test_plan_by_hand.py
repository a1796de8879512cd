"""What a plan begins with and what is made of it, number by number."""

from __future__ import annotations

from datetime import datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from msgspec import structs

from analyzer.aircraft import Aircraft
from analyzer.flights.battery_kind import Chemistry
from analyzer.limits import Limits
from analyzer.measures.battery_life import UNKNOWN_BATTERY, CapacityTest, Share, battery_life
from analyzer.measures.measure import around, measured, not_measurable
from analyzer.measures.planning import Preset, about, plan, planned_endurance, preset
from tests.measures.test_numbers_by_hand import flight

TODAY = datetime(2026, 11, 1)
WHOLE = Share(1.0, 1.0, 1.0)
MEASURES = {"bus_load": measured("bus_load", 20.0, 17.0, 26.0), "resting_charge": around("resting_charge", 80.0, 10.0)}


def begins_with(nominal: int | None = 28, tested: float | None = None, **told: Any) -> Preset:
    """The preset of a flight with an alternator's ammeter, in air of 5 degC."""
    own = Aircraft(tail="N0001A", battery_capacity=30.0, essential_load=7.0, loads={"strobes": 1.5})
    times = {"start": datetime(2026, 9, 12, 12, 0), "from_s": 0.0, "to_s": 1200.0} | told
    flown = flight(
        np.full(1200, 28.0), output=np.full(1200, 20.0), nominal_voltage=nominal, aircraft=own, first_crank=60,
        limits=Limits(nominal, {"battery_capacity": 30.0}), clock=lambda seconds: "2026-09-12 12:00:00",
        battery=SimpleNamespace(charge_unknown=None, is_lithium=False, is_taken=False, chemistry=Chemistry.LEAD_ACID),
        **times,
    )  # fmt: skip
    flown.trace.outside_air_temperature = np.full(1200, 5.0)
    test = None if tested is None else CapacityTest(TODAY, tested)
    return preset(flown, MEASURES, structs.replace(UNKNOWN_BATTERY, tested=test), TODAY)


def test_a_plan_begins_with_what_the_flight_shows() -> None:
    given = begins_with()
    assert (given.load, given.load_more, given.floor) == (20.0, 6.0, 7.0), "which may be 26 A"
    assert given.charge == Share(0.8, 0.7, 0.9)
    assert (given.capacity, given.temperature, given.capacity_assumed) == (30.0, 5.0, False)
    assert (given.held["load"], given.held["charge"], given.held["temperature"]) == (20.0, 80.0, 5.0)
    assert "condition" not in given.held, "nobody tested it"
    assert begins_with(tested=92.0).held["condition"] == pytest.approx(92.0)


@pytest.mark.parametrize(("nominal", "amps"), [(28, 2.8), (14, 5.5), (None, 5.5)])
def test_usual_loads_are_those_of_its_system_and_its_own_go_first(nominal: int | None, amps: float) -> None:
    given = begins_with(nominal)
    loads = {one.name: one for one in given.loads}
    assert loads["position_lights"].amps == amps
    assert (loads["strobes"].amps, loads["strobes"].own) == (1.5, True)
    assert given.night == ("position_lights", "strobes", "panel_lights")
    assert ("nominal_voltage" in given.basis) is (nominal is None)


@pytest.mark.parametrize(("minutes", "dark"), [(100.0, False), (140.0, True)])
def test_a_flight_s_middle_is_half_of_its_own_time_after_its_start(minutes: float, dark: bool) -> None:
    # from 17:00, an hour into the log: half of 100 minutes is 17:50
    flown = {"start": datetime(2026, 9, 12, 17, 0), "from_s": 3600.0, "to_s": 3600.0 + 60.0 * minutes}
    assert ("night" in begins_with(**flown).basis) is dark


@pytest.mark.parametrize(("percent", "share"), [(90.0, (0.9, 0.81, 0.99)), (95.0, (0.95, 0.855, 1.0))])
def test_what_a_person_gives_is_known_to_a_tenth_and_never_above_all(
    percent: float, share: tuple[float, float, float]
) -> None:
    given = about(percent)
    assert (given.value, given.low, given.high) == pytest.approx(share)


@pytest.mark.parametrize(
    ("lacks", "because"), [("load", "the load is not known"), ("charge", "the charge is not known")]
)
def test_a_plan_without_load_or_charge_says_which_is_missing(lacks: str, because: str) -> None:
    (case,) = plan(structs.replace(begins_with(), **{lacks: None}))
    assert case.lasts == not_measurable("endurance", because)


def test_the_cases_add_what_comes_on_and_take_what_goes_off() -> None:
    cases = plan(begins_with(), ["position_lights"], ["strobes"])
    assert [(one.words, one.load) for one in cases] == [
        ("At this load", 20.0),
        ("At this load, after shedding", 18.5),
        ("Night loads added", 22.8),
        ("Night loads added, after shedding", pytest.approx(21.3)),
    ]


def test_the_low_end_of_a_case_stands_at_the_most_that_the_load_may_be() -> None:
    kept = (30.0, Share(0.8, 0.7, 0.9), 25.0, Share(0.9, 0.8, 1.0))
    lasts = planned_endurance(20.0, *kept, more=6.0)
    usual, most = (battery_life(amps, *kept, None) for amps in (20.0, 26.0))
    assert (lasts.value, lasts.low, lasts.high) == (usual.value, most.low, usual.high)
    assert (lasts.note or "").endswith("at 20.0 A")


@pytest.mark.parametrize(
    ("load", "charge", "because"),
    [(20.0, 0.0, "nothing may be left in the battery"),
     (0.0, 0.0, "load, capacity, charge and condition must all be above zero"),
     (0.0, 0.5, "load, capacity, charge and condition must all be above zero")],
)  # fmt: skip
def test_no_charge_and_nothing_to_plan_with_are_told_apart(load: float, charge: float, because: str) -> None:
    lasts = planned_endurance(load, 30.0, Share(charge, 0.0, charge), 25.0, WHOLE)
    assert (lasts.value, lasts.because) == (None, because)


def test_a_battery_lasts_by_peukert_at_each_end_by_hand() -> None:
    # 30 Ah whole, at 25 degC, where the cold takes nothing to a part in a thousand (IEEE 485's fit): 15 A for
    # 60 (30 / 15)^k minutes, with k = 1.05, 1.15 and 1.3 for the least, the usual and the most of the exponents
    life = battery_life(15.0, 30.0, WHOLE, 25.0, WHOLE, None)
    assert (life.low, life.value, life.high) == pytest.approx((124.23, 133.15, 147.74), rel=2e-3)
    # half of the charge is 15 Ah, which lasts an hour by any exponent; where what is missing is missing of what the
    # plates hold, the time falls by half and no more
    half = battery_life(15.0, 30.0, Share(0.5, 0.5, 0.5), 25.0, WHOLE, None)
    assert (half.low, half.value, half.high) == pytest.approx((60.0, 60.0, 73.87), rel=2e-3)
