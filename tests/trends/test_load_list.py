"""An aircraft's own loads, against those that the simulator switched."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analyzer.measures.own_loads import FlightLoads, LoadStep, flight_loads
from analyzer.reports.load_words import load_rows, load_sentence
from analyzer.simulator import LoadEvent
from analyzer.simulator.healthy import healthy, strobes
from analyzer.trends.load_list import LoadList, load_list
from tests.flown import judged, with_event


def flown(seed: int, nominal: int, large: float, small: float) -> LoadList:
    """Four flights of one aircraft: one load on from taxi to landing, one on in climb and off at the end of cruise."""
    own, found = healthy(seed, nominal, "alternator"), []
    for place in range(4):
        flight = healthy(seed + place, nominal, "alternator")
        flight = replace(flight, loads=replace(own.loads, events=()))
        times = flight.times
        flight = with_event(
            flight,
            LoadEvent(
                name="large", amps=large, from_s=times.take_off_s + 300.0 + 20.0 * place, to_s=times.cruise_end_s
            ),
            LoadEvent(name="small", amps=small, from_s=times.engine_start_s + 300.0, to_s=times.landing_s),
        )
        found.append(flight_loads(judged(flight).flight))
    return load_list(found, nominal)


@pytest.mark.parametrize("seed", range(6010, 6070, 10))
def test_each_switched_load_is_found_with_its_size_and_how_often(seed: int) -> None:
    draw = np.random.default_rng(seed)
    nominal, large, small = int(draw.choice([14, 28])), float(draw.uniform(8.5, 11.0)), float(draw.uniform(2.0, 3.2))
    found = flown(seed, nominal, large, small)
    for amps, early in ((large, 0), (small, 4)):
        (one,) = [load for load in found.loads if load.amps.low <= amps <= load.amps.high]
        assert (one.on, one.off, one.flights, one.before_take_off) == (4, 4, 4, early)


def test_a_battery_ammeter_shows_no_load_and_says_so() -> None:
    found = load_list([flight_loads(judged(healthy(6003, 14, "battery")).flight)], 14)
    assert (found.loads, found.because) == ((), "no alternator ammeter shows the load")
    assert load_sentence(found) == "Not measurable: no alternator ammeter shows the load."


def test_strobes_and_a_cycling_heater_are_no_load_that_somebody_switched() -> None:
    assert flight_loads(judged(strobes(6005, 14, "alternator")).flight).steps == ()


def made(*sizes: float) -> FlightLoads:
    return FlightLoads(tuple(LoadStep(100.0 * place, amps, 0.1, True) for place, amps in enumerate(sizes)))


def test_sizes_that_come_too_seldom_are_counted_and_not_listed() -> None:
    found = load_list([made(8.0, -8.1, 3.0), made(7.9, 5.0, 5.0, 5.0)], 14)
    assert [one.amps.value for one in found.loads] == [8.0]
    assert found.other_steps == 4
    assert found.loads[0].as_large_as == ("Landing light", "Pitot heat")
    ((size, on, off, flights, when, alike),) = load_rows(found)
    assert (on, off, flights, when) == ("2 times", "once", "2 of 2", "3 times after take-off")
    assert size.startswith("8.0 A (7.")
    assert alike == "Landing light, Pitot heat"
    assert "4 steps of other sizes came too seldom to list." in load_sentence(found)


def test_a_load_that_the_settings_name_goes_before_usual_ones() -> None:
    flights = [made(8.0, -8.1, 2.0, 2.0), made(7.9, 2.0)]
    own = load_list(flights, 14, {"landing_light": 3.0, "transponder": 7.6})
    assert [(one.amps.value, one.as_large_as, one.named) for one in own.loads] == [
        (8.0, ("Transponder",), True),
        (2.0, ("Panel and cabin lights",), False),
    ]
    assert load_rows(own)[0][-1] == "Transponder (from the settings)"


def test_a_load_that_the_settings_name_is_known_without_a_voltage_and_no_usual_one_is() -> None:
    own = load_list([made(8.0, -8.1, 2.0, 2.0), made(7.9, 2.0)], None, {"transponder": 7.6})
    assert [(one.as_large_as, one.named) for one in own.loads] == [(("Transponder",), True), ((), False)]
