"""Batteries that are not lead-acid, flown from a model of our own: never overstated, and judged by their own limits.

A lithium iron phosphate battery of four cells: it rests by the table below, gives way by a resistance, takes all the
current that the alternator has left until it is full, and then stops within seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from analyzer.aircraft import UNKNOWN_AIRCRAFT, Aircraft, Battery
from analyzer.flights.battery_kind import Chemistry
from analyzer.measures.battery_facts import lithium_charge
from analyzer.measures.planning import about, planned_endurance
from analyzer.reports.story import story
from analyzer.reports.wording import measure_words
from analyzer.review import FlightReview, review_log
from analyzer.simulator.healthy import healthy
from tests.flown import judged, names, the
from tests.made import log_from

#: Rest of one cell against its charge; charts differ by 0.03 V a cell [%, V]
CHARGE = (0.0, 3.0, 10.0, 20.0, 35.0, 60.0, 90.0, 99.0, 100.0)
CELL = (2.6, 3.0, 3.17, 3.21, 3.265, 3.285, 3.33, 3.34, 3.36)
LITHIUM = Aircraft(battery=Battery.LITHIUM)


@dataclass(frozen=True)
class Lithium:
    """A flight with a lithium battery."""

    charge: float = 60.0  # before the start [%]
    capacity_ah: float = 24.0
    ohm: float = 0.012
    waiting_s: float = 90.0
    waiting_a: float = 2.5
    load_a: float = 10.0
    most_a: float = 45.0  # of the alternator
    set_v: float = 14.1
    minutes: float = 60.0
    idle_min: float = 0.0  # after the start, in which the alternator gives 6 A beside the load and no more
    scale: int = 1  # 2 for a 28 V system
    ammeter: str = "battery"
    seed: int = 1

    def log_table(self) -> pl.DataFrame:
        """The recorded table, a row a second."""
        noise = np.random.default_rng(self.seed)
        before, cranking = int(self.waiting_s), 3
        seconds = np.arange(before + cranking + int(60 * self.minutes), dtype=np.float64)
        volts, flow, out = np.zeros(seconds.size), np.zeros(seconds.size), np.zeros(seconds.size)
        charge = self.charge
        for row in range(seconds.size):
            rest = 4.0 * float(np.interp(charge, CHARGE, CELL))
            if row < before:
                flow[row] = -self.waiting_a
            elif row < before + cranking:
                flow[row] = -150.0
            else:
                room = (self.set_v - rest) / self.ohm * min(1.0, (100.0 - charge) / 1.5)
                idles = row < before + cranking + 60.0 * self.idle_min
                flow[row] = max(0.0, min(6.0 if idles else self.most_a - self.load_a, room))
                out[row] = self.load_a + flow[row]
            volts[row] = rest + self.ohm * flow[row]
            if row >= before + cranking + 60.0 * self.idle_min and flow[row] < self.most_a - self.load_a - 1.0:
                volts[row] = self.set_v
            charge = min(100.0, charge + 100.0 * flow[row] / 3600.0 / self.capacity_ah)
        running = seconds >= before + cranking
        current = flow if self.ammeter == "battery" else out
        return pl.DataFrame(
            {
                "time_s": seconds,
                "bus_voltage": (self.scale * volts + noise.normal(0.0, 0.01 * self.scale, seconds.size)).round(2),
                f"{self.ammeter}_current": (current + noise.normal(0.0, 0.1, seconds.size)).round(1),
                "engine_speed": np.where(running, 2300.0, np.where(seconds < before, 0.0, 120.0)),
                "outside_air_temperature": np.full(seconds.size, 20.0),
            }
        )

    def judged(self, aircraft: Aircraft = UNKNOWN_AIRCRAFT) -> FlightReview:
        """Its review."""
        (review,) = review_log(log_from(self.log_table()), aircraft).flights
        return review


def charge_of(review: FlightReview) -> tuple[float | None, float | None, float | None]:
    measure = review.measures["resting_charge"]
    return measure.low, measure.value, measure.high


@pytest.mark.parametrize("scale", [1, 2])
@pytest.mark.parametrize("ammeter", ["battery", "alternator"])
@pytest.mark.parametrize("charge", [6.0, 15.0, 30.0, 60.0, 95.0])
def test_a_lithium_battery_that_is_named_has_a_band_of_charge_and_endurance_from_its_lower_end(
    charge: float, ammeter: str, scale: int
) -> None:
    review = Lithium(charge=charge, scale=scale, ammeter=ammeter).judged(LITHIUM)
    low, value, high = charge_of(review)
    assert low is not None
    assert high is not None
    assert low <= charge <= high
    assert value == low  # never overstated
    endurance = review.measures["endurance"]
    if ammeter == "alternator":
        assert endurance.value is not None
        assert endurance.low is not None
        true_min = 60.0 * review.flight.limits["battery_capacity"] * charge / 100.0 / 10.0
        assert endurance.low <= endurance.value <= true_min
    assert not names(review) & {"slow_recharge", "recharge_never_settles", "regulator_high", "reading_fault"}
    assert ("low_resting_voltage" in names(review)) == (charge <= 15.0)


@pytest.mark.parametrize("ammeter", ["battery", "alternator"])
def test_without_the_fleet_file_a_part_charged_lithium_battery_is_not_taken_for_a_full_one(ammeter: str) -> None:
    review = Lithium(charge=80.0, ammeter=ammeter, minutes=75.0).judged()
    assert review.flight.battery.chemistry is Chemistry.LOOKS_LITHIUM
    for name in ("resting_charge", "endurance"):
        assert review.measures[name].value is None
    assert "looks like lithium" in (review.measures["resting_charge"].because or "")
    assert names(review) == set()


@pytest.mark.parametrize("ammeter", ["battery", "alternator"])
def test_an_alternator_that_idles_at_its_limit_first_does_not_hide_the_flat_top_and_the_cliff(ammeter: str) -> None:
    review = Lithium(charge=45.0, ammeter=ammeter, idle_min=9.0, most_a=52.0, waiting_a=8.0, minutes=75.0).judged()
    assert review.flight.battery.charge_unknown
    for name in ("resting_charge", "endurance"):
        assert review.measures[name].value is None


def test_an_all_but_empty_lithium_battery_is_never_called_full() -> None:
    # it rests where a full lead-acid battery does, and only its recharge tells
    review = Lithium(charge=10.0, minutes=80.0).judged()
    assert review.measures["resting_voltage"].value == pytest.approx(12.6, abs=0.1)
    assert review.flight.battery.chemistry is Chemistry.NOT_PLAIN
    assert charge_of(review) == (None, None, None)
    assert review.measures["endurance"].value is None


def test_the_set_point_that_a_lithium_battery_must_not_see_is_high_only_for_it() -> None:
    assert "regulator_high" not in names(Lithium(set_v=14.5).judged(LITHIUM))
    high = Lithium(set_v=14.75).judged(LITHIUM)
    assert "regulator_high" in names(high)
    assert the(high, "regulator_high").evidence["highest"].value == pytest.approx(14.6)
    assert "overvoltage" in names(Lithium(set_v=15.4).judged(LITHIUM))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("kind", ["battery", "alternator", "none"])
def test_a_lead_acid_battery_of_unknown_kind_is_taken_as_one_and_every_face_says_so(seed: int, kind: str) -> None:
    review = judged(healthy(seed, 14, kind))  # type: ignore[arg-type]
    assert review.flight.battery.is_taken
    charge = review.measures["resting_charge"]
    assert charge.value is not None
    assert "(taken as lead-acid)" in measure_words(charge)
    told = " ".join(sentence.says for sentence in story(review))
    assert f"about {charge.value:.0f} % charge (taken as lead-acid)" in told
    endurance = review.measures["endurance"]
    if endurance.value is not None:
        assert "(taken as lead-acid)" in measure_words(endurance)


def test_a_battery_that_the_fleet_file_names_is_taken_for_nothing_else() -> None:
    review = Lithium(charge=60.0).judged(Aircraft(battery=Battery.FLOODED))
    assert review.flight.battery.chemistry is Chemistry.LEAD_ACID
    note = review.measures["resting_charge"].note or ""
    assert "taken as" not in note


def test_a_plan_for_an_unknown_battery_says_what_it_was_taken_for_and_lithium_loses_less_at_high_rates() -> None:
    unknown = planned_endurance(30.0, 30.0, about(100.0), 25.0, about(100.0))
    lithium = planned_endurance(30.0, 30.0, about(100.0), 25.0, about(100.0), Battery.LITHIUM)
    assert "taken as lead-acid" in (unknown.note or "")
    assert "taken as" not in (lithium.note or "")
    fast = [
        planned_endurance(60.0, 30.0, about(100.0), 25.0, about(100.0), kind).value for kind in (None, Battery.LITHIUM)
    ]
    assert fast[0] is not None
    assert fast[1] is not None
    assert fast[0] < fast[1]


@pytest.mark.parametrize(
    ("low", "high", "cells", "band"),
    [
        (11.8, 11.9, 4, (0.0, 10.0)),
        (12.3, 12.5, 4, (3.0, 20.0)),
        (12.7, 12.8, 4, (8.0, 35.0)),
        (12.9, 12.95, 4, (15.0, 50.0)),
        (13.1, 13.3, 4, (25.0, 100.0)),
        (12.7, 13.2, 4, (8.0, 100.0)),
        (25.4, 25.6, 8, (8.0, 35.0)),
    ],
)
def test_a_rest_gives_the_band_that_charts_leave_open(
    low: float, high: float, cells: int, band: tuple[float, float]
) -> None:
    assert lithium_charge(low, high, cells) == band


def test_above_every_chart_nothing_is_said() -> None:
    assert lithium_charge(13.45, 13.55, 4) is None
    assert lithium_charge(13.3, 13.5, 4) == (25.0, 100.0)


def test_the_bands_hold_a_published_cell_model() -> None:
    # tests/data/README.md says how the table was made
    table = np.loadtxt(Path(__file__).parents[1] / "data" / "lithium_rest.csv", delimiter=",", skiprows=1)
    assert table.shape[0] >= 20
    for charge, volts in table:
        band = lithium_charge(4.0 * volts, 4.0 * volts, 4)
        assert band is not None
        assert band[0] <= charge <= band[1]
