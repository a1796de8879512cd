"""The endurance of batteries that have lost capacity: what flights show of it shortens it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyzer.aircraft import Aircraft
from analyzer.findings.battery_state import shows_wear
from analyzer.measures.battery_life import Share
from analyzer.measures.endurance import charge_left
from analyzer.measures.planning import plan, preset
from analyzer.reports.wording import value_words
from analyzer.review import FlightReview, review_log
from analyzer.simulator import Scenario, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.faults import Worn
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import FAULTY


def reviewed(scenario: Scenario) -> tuple[FlightReview, float]:
    """A flight of an aircraft whose rated capacity is known, and the minutes that its battery would really last."""
    flown = simulate(scenario)
    aircraft = Aircraft(battery_capacity=scenario.battery.capacity_ah)
    (review,) = review_log(as_log(flown), aircraft).flights
    return review, flown.truth.measures["endurance"].value


@pytest.mark.parametrize(("seed", "health"), [(401, 0.35), (402, 0.35), (403, 0.35), (404, 0.45), (405, 0.35)])
def test_a_battery_whose_flight_shows_its_wear_is_not_said_to_last_longer_than_it_does(
    seed: int, health: float
) -> None:
    sound = healthy(seed, 14, "alternator")
    worn = replace(sound, faults=(Worn(health=health, resistance_factor=1.0 / health),))
    review, minutes = reviewed(worn)
    endurance = review.measures["endurance"]
    assert "weak_cranking" in {finding.name for finding in review.findings}
    assert endurance.value is not None
    assert endurance.low is not None
    assert "this flight shows wear" in (endurance.note or "")
    assert endurance.low < minutes
    assert endurance.value <= 1.3 * minutes, "never above what the truth's own interval allows"
    before, _ = reviewed(sound)
    assert endurance.value < 0.65 * before.measures["endurance"].value


def test_a_sound_battery_keeps_the_usual_condition() -> None:
    review, minutes = reviewed(healthy(411, 14, "alternator"))
    endurance = review.measures["endurance"]
    assert "wear" not in (endurance.note or "")
    assert endurance.low is not None
    assert endurance.value is not None
    assert endurance.low <= endurance.value <= minutes, "a new battery lasts longer than one in service"


def test_wear_is_told_by_the_share_of_all_causes_that_cost_capacity() -> None:
    assert not shows_wear([])
    assert not shows_wear([[("battery_worn", 0.2), ("battery_cell", 0.15), ("lead_cranking", 0.65)]])
    assert shows_wear([[("battery_worn", 0.25), ("battery_cell", 0.2), ("lead_cranking", 0.55)]])
    assert shows_wear([[("brushes", 1.0)], [("battery_worn", 0.5), ("cold", 0.5)]])


def test_wear_that_no_finding_shows_lies_within_the_interval() -> None:
    worn = replace(healthy(403, 14, "alternator"), faults=(Worn(health=0.55, resistance_factor=1.0 / 0.55),))
    review, minutes = reviewed(worn)
    endurance = review.measures["endurance"]
    assert not review.findings
    assert endurance.low is not None
    assert endurance.high is not None
    assert endurance.low <= minutes <= endurance.high


def test_what_was_drawn_without_the_alternator_is_taken_off_the_charge_each_end_from_its_own() -> None:
    scenario = FAULTY["alternator_lost"](5, 14, "battery")
    review, _ = reviewed(scenario)
    drawn, capacity = review.measures["offline_discharge"], scenario.battery.capacity_ah
    assert drawn.value is not None
    assert drawn.low is not None
    assert drawn.high is not None
    assert drawn.value > 1.0
    left, says = charge_left(review.flight, Share(0.9, 0.85, 1.0), drawn)
    assert left.value == pytest.approx(max(0.0, 0.9 - drawn.value / capacity))
    assert left.low == pytest.approx(max(0.0, 0.85 - drawn.high / capacity))
    assert left.high == pytest.approx(max(0.0, 1.0 - drawn.low / capacity))
    assert f"what is left after {drawn.value:.1f} Ah" in says


def test_a_charge_that_came_back_before_the_end_is_not_taken_off() -> None:
    review, _ = reviewed(healthy(411, 14, "battery"))
    full = Share(0.9, 0.85, 1.0)
    assert charge_left(review.flight, full, review.measures["offline_discharge"]) == (full, "")


@pytest.mark.parametrize("seed", range(520, 532))
def test_what_a_worn_battery_is_said_to_last_is_never_longer_than_it_does(seed: int) -> None:
    """Drawn wear, seen by a finding or not: the number that people read stays below the truth."""
    draw = np.random.default_rng(seed)
    health, nominal = float(draw.uniform(0.5, 0.75)), int(draw.choice([14, 28]))
    worn = replace(healthy(seed, nominal, "alternator"), faults=(Worn(health=health, resistance_factor=1.0 / health),))
    review, minutes = reviewed(worn)
    endurance = review.measures["endurance"]
    assert endurance.low is not None
    assert endurance.high is not None
    assert endurance.low <= minutes <= endurance.high
    read = float(value_words(endurance).split()[0])
    assert read <= minutes + 0.5
    given = preset(review.flight, review.measures, worn=any("battery" in one.name for one in review.findings))
    as_flown = plan(given)[0].lasts
    assert as_flown.low is not None
    assert as_flown.low <= minutes


def test_what_is_read_would_be_wrong_if_it_were_the_middle() -> None:
    worn = replace(healthy(403, 14, "alternator"), faults=(Worn(health=0.55, resistance_factor=1.0 / 0.55),))
    review, minutes = reviewed(worn)
    endurance = review.measures["endurance"]
    assert endurance.value is not None
    assert endurance.value > 1.2 * minutes, "the middle overstates a battery whose wear no finding shows"
    assert float(value_words(endurance).split()[0]) < minutes
