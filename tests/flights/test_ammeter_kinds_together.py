"""What an ammeter senses, told by observations that add up over a flight and over an aircraft's flights."""

import itertools
import json

import numpy as np
import pytest
from msgspec.structs import replace

from analyzer.flights import ammeter as ammeters
from analyzer.flights.ammeter import IN_AMPERES, load_evidence, overturned, told_together
from analyzer.flights.cut import cut_flights
from analyzer.limits import Limits, limit_value
from analyzer.logs.readings import Readings
from analyzer.review import review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy, night
from tests.as_json import flight_json

KINDS = pytest.mark.parametrize("kind", ["battery", "alternator"])


def judged(kind, volts=14, without=()):
    (flight,) = cut_flights(as_log(simulate(night(2, volts, kind)), untyped=True, without=without))
    return flight


@KINDS
@pytest.mark.parametrize("volts", [14, 28])
@pytest.mark.parametrize("without", [(), ("bus_voltage",), ("engine_speed",)])
def test_the_kind_is_right_and_its_reasons_are_those_that_spoke_most(kind, volts, without):
    told = judged(kind, volts, without).ammeter
    assert told.kind == kind
    assert told.log_odds == pytest.approx(sum(one.log_odds for one in told.observations))
    assert (told.log_odds > 0.0) is (kind == "battery")
    most = max(told.observations, key=lambda one: one.log_odds * (1.0 if kind == "battery" else -1.0))
    assert told.basis.startswith(most.words)


def test_currents_are_scaled_by_the_batterys_capacity_in_one_place():
    flight = judged("battery")
    by_name = {one.name: one for one in flight.ammeter.observations}
    current = flight.trace.battery_current
    rest = float(np.median(current[: flight.first_crank]))
    assert by_name["rest"].value == pytest.approx(rest / Limits(14, {})["battery_capacity"], abs=0.01)
    assert f"{rest:.1f} A" in by_name["rest"].words
    assert set(load_evidence()) >= IN_AMPERES


def test_twice_the_amperes_of_twice_the_battery_say_the_same():
    log = as_log(simulate(healthy(2, 14, "battery")), untyped=True)
    table = log.table.with_columns(ammeter_current=2.0 * log.table["ammeter_current"])
    from analyzer.aircraft import Aircraft

    (small,) = cut_flights(log, Aircraft(battery_capacity=20.0))
    (large,) = cut_flights(replace(log, readings=Readings.of(table)), Aircraft(battery_capacity=40.0))
    for one, other in zip(small.ammeter.observations, large.ammeter.observations, strict=True):
        if one.name in IN_AMPERES:
            assert one.value == pytest.approx(other.value, abs=1e-4)


def test_every_class_of_every_observation_has_its_log_odds():
    for name, entry in load_evidence().items():
        assert list(entry.edges) == sorted(entry.edges), name
        assert len(entry.with_volts) == len(entry.without_volts) == len(entry.edges) + 1, name
    rest = load_evidence()["rest"]
    assert rest.log_odds(0.0, True) < -2.0 < 2.0 < rest.log_odds(-0.2, True)  # zero: alternator


def test_nothing_to_tell_by_is_unknown():
    log = as_log(simulate(healthy(2, 14, "battery")), untyped=True)
    short = replace(log, readings=Readings.of(log.table.slice(0, 90)))
    for flight in cut_flights(short):
        odds = flight.ammeter.log_odds
        assert (flight.ammeter.kind == "unknown") is (odds is None or abs(odds) < limit_value("ammeter_odds_enough"))
    assert ammeters.kind_by(())[0] == "unknown"


@pytest.mark.parametrize("order", list(itertools.permutations(range(4)))[::5])
def test_an_aircrafts_flights_tell_together_in_any_order(order):
    flights = [("battery", 3.1), ("alternator", -1.7), ("battery", 2.4), ("battery", None)]
    told = overturned(flights[place] for place in order)
    assert told is not None
    assert told[0] == "battery"
    assert "3 flights together" in told[1]
    assert "2 of them" in told[1]


def test_one_odd_flight_does_not_outvote_a_season_and_a_typed_one_has_no_say():
    assert told_together([-90.0, 3.0, 3.0]) == told_together([-limit_value("ammeter_odds_most"), 3.0, 3.0])
    assert told_together([-90.0, 3.0, 3.0])[0] == "battery"
    assert told_together([-2.0, None, None]) is None
    assert told_together([2.0, -2.0])[0] == "unknown"
    assert overturned([("battery", 3.0), ("battery", 2.0)]) is None


def test_the_flights_of_one_log_are_summed_and_the_evidence_is_kept(monkeypatch):
    log = as_log(simulate(healthy(2, 14, "battery")), untyped=True)
    end = float(log.table["time_s"][-1])
    tables = [log.table.with_columns(time_s=log.table["time_s"] + place * (end + 3600.0)) for place in range(3)]
    import polars as pl

    three = replace(log, readings=Readings.of(pl.concat(tables)), breaks=(log.rows, 2 * log.rows))
    sure = ammeters.observations

    def one_doubts(trace, *rest):
        seen = sure(trace, *rest)
        return (replace(seen[0], log_odds=-2.0),) if trace.time[0] == 0.0 else seen

    monkeypatch.setattr(ammeters, "observations", one_doubts)
    review = review_log(three)
    assert [one.flight.ammeter.kind for one in review.flights] == ["battery"] * 3
    assert "3 flights together" in review.flights[0].flight.ammeter.basis
    documents = [flight_json(one) for one in review.flights]
    assert documents[0]["ammeter_log_odds"] == -2.0
    assert documents[1]["ammeter_log_odds"] > 2.0
    assert json.dumps(documents, allow_nan=False)
