"""How much charge is back after a low battery's start, against the simulator: never more than truly is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from analyzer.aircraft import Aircraft
from analyzer.measures.jump_start import ChargeBack, charge_back
from analyzer.reports.jump_words import NEVER_A_GO, jump_sentences
from analyzer.review import FlightReview, review_log
from analyzer.simulator import Scenario, SimulatedFlight, simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.faults import LeftLow, NeverSettles, Sulphated, Worn
from analyzer.simulator.healthy import cold_morning, healthy, short_hop
from analyzer.simulator.system_faults import FieldOpen


def drawn(seed: int) -> Scenario:
    """A low battery, sound, worn, with a soft cell or sulphated, on a flight of any length, warm or cold."""
    draw = np.random.default_rng([seed, *b"jump"])
    make = (healthy, short_hop, cold_morning)[int(draw.integers(3))]
    scenario = make(seed, int(draw.choice([14, 28])), str(draw.choice(["battery", "alternator"])))  # type: ignore[arg-type]
    scenario = scenario.with_fault(LeftLow(charge=float(draw.uniform(0.1, 0.7))))
    health = float(draw.uniform(0.4, 0.9))
    more = (
        (),
        (Worn(health=health, resistance_factor=1.0 / health),),
        (NeverSettles(),),
        (Sulphated(slower=4.0, charge=0.4),),
    )
    return scenario.with_fault(*more[int(draw.integers(4))])


def reviewed(flown: SimulatedFlight, aircraft: Aircraft | None = None) -> FlightReview:
    own = aircraft or Aircraft(battery_capacity=flown.scenario.battery.capacity_ah)
    (review,) = review_log(as_log(flown), own).flights
    return review


def truly_back(flown: SimulatedFlight) -> float:
    """Charge in the plates and on their surface at the engine's stop less that after the start [Ah]."""
    course, times = flown.course, flown.scenario.times
    first, last = (int(np.searchsorted(course.time_s, at)) for at in (times.engine_start_s, times.engine_stop_s))
    in_plates = course.missing_ah[first] - course.missing_ah[last]
    return float(in_plates + course.surface_ah[last] - course.surface_ah[first])


@pytest.mark.parametrize("seed", range(7000, 7030))
def test_never_more_is_said_to_be_back_than_is(seed: int) -> None:
    flown = simulate(drawn(seed))
    review = reviewed(flown)
    back = charge_back(review.flight, review.measures)
    if back.amp_hours is None:
        assert "not measurable" in (back.because or "")
    else:
        assert 0.0 <= back.amp_hours <= truly_back(flown)
    assert jump_sentences(back)[-1] == NEVER_A_GO


LOW = healthy(7050, 14, "battery").with_fault(LeftLow(charge=0.3))


def test_what_is_back_is_most_of_it_and_a_share_of_the_rated_capacity() -> None:
    flown = simulate(LOW)
    review = reviewed(flown)
    back = charge_back(review.flight, review.measures)
    assert back.amp_hours is not None
    assert back.amp_hours > 0.4 * truly_back(flown)
    assert back.share == pytest.approx(back.amp_hours / LOW.battery.capacity_ah)
    assert "it rested at" in back.signs[0]
    unknown = charge_back(*(lambda one: (one.flight, one.measures))(reviewed(flown, Aircraft())))
    assert unknown.share is None
    assert "its rated capacity is not known" in jump_sentences(unknown)[1]


def test_what_a_lost_alternator_drew_since_is_taken_off() -> None:
    lost = LOW.with_fault(FieldOpen(from_s=LOW.times.cruise_s + 1200.0))
    review, whole = reviewed(simulate(lost)), reviewed(simulate(LOW))
    drew = review.measures["offline_discharge"].high
    back = charge_back(review.flight, review.measures)
    assert drew is not None
    assert drew > 1.0
    returned = review.measures["recharge_returned"]
    least = returned.low if returned.value is not None else returned.at_least
    assert least is not None
    assert back.amp_hours == pytest.approx(max(0.0, 0.85 * least - drew))
    assert back.amp_hours < (charge_back(whole.flight, whole.measures).amp_hours or 0.0)


def test_a_battery_charged_before_the_start_is_a_sign_and_a_full_one_is_none() -> None:
    flown = simulate(healthy(7060, 14, "battery"))
    assert charge_back(*(lambda one: (one.flight, one.measures))(reviewed(flown))).signs == ()
    rest = flown.table["time_s"] < 20.0
    charged = flown.table.with_columns(battery_current=pl.when(rest).then(9.0).otherwise(pl.col("battery_current")))
    review = reviewed(replace(flown, table=charged))
    signs = charge_back(review.flight, review.measures).signs
    assert "the battery was charged with the engine stopped" in signs


def test_the_words_round_down_and_never_say_go() -> None:
    told = jump_sentences(ChargeBack((), 4.19, 34.0))
    assert told[0] == "Nothing in the log shows one."
    assert told[1] == "At least 4.1 Ah was back by engine stop, 12 % of its rated 34 Ah."
    assert told[2].startswith("This does not clear the aircraft")
    assert "is not known: because of it" in jump_sentences(ChargeBack((), None, None, "because of it"))[1]
