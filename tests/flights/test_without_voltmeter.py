"""Flights whose bus voltage says nothing: no voltmeter recorded, or one that is not connected."""

import warnings

import numpy as np
import polars as pl
import pytest
from msgspec.structs import replace

from analyzer.aircraft import Aircraft
from analyzer.contract import log_entry, written
from analyzer.logs.readings import Readings
from analyzer.measures.measure import MEASURES, needs_voltmeter
from analyzer.reports.story import story
from analyzer.reports.text import Style, log_text
from analyzer.results import log_result
from analyzer.review import review_log
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from analyzer.simulator.scenarios import alternator_lost, alternator_never_on, never_settles
from analyzer.squawk.examine import LOOKS, SquawkFlight, examine

BOTH = pytest.mark.parametrize("volts", [14, 28])
KINDS = pytest.mark.parametrize("kind", ["battery", "alternator"])


@pytest.fixture(autouse=True)
def no_warning_reaches_a_user():
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        yield


def no_voltmeter(flight, *more, untyped=False):
    return as_log(flight, without=("bus_voltage", "bus_voltage_2", *more), untyped=untyped)


def shows(log, volts):
    return replace(log, readings=Readings.of(log.table.with_columns(bus_voltage=pl.Series(volts, dtype=pl.Float64))))


def dead(log, blips=True):
    """A voltmeter's open input: a stray tenth of a volt, now and then a blip."""
    volts = 0.1 * (np.arange(log.rows) % 7 == 0)
    if blips:
        volts[700:702] = 9.0
    return shows(log, volts)


def only(log, aircraft=None):
    review = review_log(log) if aircraft is None else review_log(log, aircraft)
    written(log_entry(log_result(review)))
    assert len(review.flights) == 1
    return review.flights[0]


def within(measure, true):
    return measure.value is not None and measure.low <= true.high and measure.high >= true.low


@BOTH
@KINDS
def test_a_sound_flight_without_a_voltmeter_is_measured_from_its_current(volts, kind):
    flown = simulate(healthy(3, volts, kind))
    review = only(no_voltmeter(flown))
    flight, truth = review.flight, flown.truth.measures
    assert review.findings == ()
    assert flight.nominal_voltage is None
    assert flight.ammeter.kind == kind
    for name in MEASURES:
        if needs_voltmeter(name):
            assert review.measures[name].because == "no voltmeter is recorded", name
    assert within(review.measures["recharge_time_constant"], truth["recharge_time_constant"])
    carried = "maintenance_current" if kind == "battery" else "bus_load"
    assert within(review.measures[carried], truth[carried])
    assert flight.alternator_on_row is not None
    assert abs(flight.trace.time[flight.alternator_on_row] - flown.truth.alternator_on_s) < 20.0
    assert review.measures["offline_time"].value == 0.0


@BOTH
@KINDS
def test_a_loss_is_found_without_a_voltmeter(volts, kind):
    flown = simulate(alternator_lost(4, volts, kind))
    review = only(no_voltmeter(flown))
    (finding,) = review.findings
    (fault,) = flown.truth.faults
    assert (finding.name, finding.severity) == ("alternator_offline", "warning")
    assert abs(finding.from_s - fault.from_s) < 10.0
    assert finding.signs["abrupt_loss"]
    assert "voltage_rose_before" not in finding.signs  # nothing can tell
    course = flown.course
    load = course.load_a[(course.time_s > fault.from_s - 20.0) & (course.time_s < fault.from_s)].mean()
    fell = finding.evidence["current_before"].value - finding.evidence["current_then"].value
    assert fell == pytest.approx(load, abs=1.5)
    was, then = (finding.evidence[name].value for name in ("current_before", "current_then"))
    assert f"fell from {was:.1f} A to {then:.1f} A" in finding.says
    assert "lowest_voltage" not in finding.evidence
    assert within(review.measures["offline_time"], flown.truth.measures["offline_time"])


@BOTH
@KINDS
def test_an_alternator_that_never_comes_on_is_found_without_a_voltmeter(volts, kind):
    review = only(no_voltmeter(simulate(alternator_never_on(5, volts, kind))))
    (finding,) = review.findings
    assert finding.name == "alternator_offline"
    assert finding.signs["never_on"]
    assert ("drawn_a" in finding.evidence) is (kind == "battery")


@BOTH
def test_a_current_that_never_settles_is_found_without_a_voltmeter(volts):
    review = only(no_voltmeter(simulate(never_settles(6, volts, "battery"))))
    assert [finding.name for finding in review.findings] == ["recharge_never_settles"]


@KINDS
def test_the_ammeter_tells_the_engine_run_where_nothing_else_does(kind):
    flown = simulate(healthy(7, 14, kind))
    flight = only(no_voltmeter(flown, "engine_speed", "oil_pressure", "airspeed")).flight
    assert flight.run.basis == "ammeter"
    assert abs(flight.trace.time[flight.run.start] - flown.truth.alternator_on_s) < 20.0
    assert abs(flight.stop_s - flown.truth.engine_stop_s) < 20.0


def test_a_battery_ammeter_goes_on_telling_after_a_loss_that_nothing_else_shows():
    flown = simulate(alternator_lost(8, 14, "battery"))
    review = only(no_voltmeter(flown, "engine_speed", "oil_pressure", "airspeed"))
    assert [finding.name for finding in review.findings] == ["alternator_offline"]


@BOTH
@KINDS
def test_a_dead_voltmeter_is_one_advisory_and_no_electrical_fault(volts, kind):
    log = as_log(simulate(healthy(3, volts, kind)))
    review = only(dead(log), Aircraft(nominal_voltage=volts))
    (finding,) = review.findings
    assert (finding.name, finding.severity) == ("reading_fault", "advisory")
    assert "not connected" in finding.says
    assert finding.likely[0].words == "No voltmeter is connected to that input of the recorder"
    because = f"the voltmeter is not connected: it never shows above {volts * 3 // 14} V"
    assert {m.because for name, m in review.measures.items() if needs_voltmeter(name)} == {because}
    bare = only(as_log(simulate(healthy(3, volts, kind)), without=("bus_voltage",)), Aircraft(nominal_voltage=volts))
    for name, measure in bare.measures.items():
        assert review.measures[name].value == measure.value, name


def test_a_loss_beside_a_dead_voltmeter_is_the_ammeters():
    review = only(dead(as_log(simulate(alternator_lost(4, 14, "alternator")))))
    assert [finding.name for finding in review.findings] == ["alternator_offline", "reading_fault"]
    assert " V" not in review.findings[0].says.split(". ")[0]


def test_a_bus_that_was_alive_and_falls_to_nothing_is_no_dead_voltmeter():
    log = as_log(simulate(healthy(3, 14, "battery")))
    volts = log.table["bus_voltage"].to_numpy().copy()
    volts[log.rows // 2 :] = 0.0
    flight = only(shows(log, volts)).flight
    assert flight.voltmeter.tells
    assert flight.nominal_voltage == 14


def test_each_power_cycle_has_its_own_voltmeter():
    log = as_log(simulate(healthy(3, 14, "battery")))
    later = dead(log, blips=False).table.with_columns(pl.col("time_s") + log.table["time_s"][-1] + 3600.0)
    both = replace(log, readings=Readings.of(pl.concat([log.table, later])), breaks=(log.rows,))
    first, second = review_log(both).flights
    assert first.flight.voltmeter.tells
    assert not second.flight.voltmeter.tells
    assert second.flight.nominal_voltage == 14  # the other flight tells


def test_current_that_is_recorded_with_power_off_and_the_engine_stopped_is_ignored():
    log = as_log(simulate(healthy(3, 14, "alternator")), untyped=True)
    after = log.table.tail(40).with_columns(
        pl.col("time_s") + 60.0, bus_voltage=pl.lit(0.0), engine_speed=pl.lit(0.0), ammeter_current=pl.lit(55.0)
    )
    flight = only(replace(log, readings=Readings.of(pl.concat([log.table, after])))).flight
    assert flight.ammeter.kind == "alternator"
    assert not flight.ammeter.zero_error
    assert np.nanmax(flight.trace.alternator_current) < 50.0


def test_an_ammeter_that_never_moves_says_nothing_where_no_voltmeter_does():
    log = no_voltmeter(simulate(healthy(3, 14, "alternator")))
    still = replace(log, readings=Readings.of(log.table.with_columns(alternator_current=pl.lit(0.0))))
    review = only(still)
    (finding,) = review.findings
    assert finding.name == "reading_fault"
    assert "never moves" in finding.says
    assert not review.flight.bus_told
    assert review.measures["offline_time"].value is None


@pytest.mark.parametrize("step", [0.1, 2.0])
def test_an_ammeter_that_stops_in_mid_flight_is_found_and_a_coarse_one_that_rests_is_not(step):
    log = no_voltmeter(simulate(healthy(3, 14, "alternator")))
    seconds = log.table["time_s"].to_numpy()
    amps = (log.table["alternator_current"].to_numpy() / step).round() * step
    still = seconds > 0.25 * seconds[-1]
    amps[still] = amps[int(np.argmax(still))]
    review = only(replace(log, readings=Readings.of(log.table.with_columns(alternator_current=pl.Series(amps)))))
    found = [finding for finding in review.findings if finding.name == "reading_fault"]
    assert len(found) == (step == 0.1)
    assert all(finding.from_s == pytest.approx(0.25 * seconds[-1], abs=5.0) for finding in found)


@KINDS
def test_the_kind_is_told_without_volts(kind):
    flight = only(no_voltmeter(simulate(healthy(9, 28, kind)), untyped=True)).flight
    assert flight.ammeter.kind == kind


@KINDS
@pytest.mark.parametrize("make", [healthy, alternator_lost, alternator_never_on])
def test_what_is_told_of_it_names_no_voltage(make, kind):
    log = no_voltmeter(simulate(make(3, 14, kind)))
    review = review_log(log)
    told = " ".join(f"{sentence.says} {sentence.why}" for sentence in story(review.flights[0]))
    assert "no voltmeter is recorded" in told
    assert "nan" not in told
    assert "voltage not known" in log_text(log_result(review), Style(False))


@pytest.mark.parametrize("blind", ["absent", "dead"])
def test_no_pilots_report_is_seen_in_a_voltage_that_is_not_there(blind):
    flown = simulate(healthy(3, 14, "alternator"))
    review = only(no_voltmeter(flown) if blind == "absent" else dead(as_log(flown)))
    examined = examine(SquawkFlight(1, "x", 1, None), review, list(LOOKS))
    seen = {name for name, one in examined.symptoms.items() if one.state == "seen"}
    assert not seen


def test_the_fleet_file_tells_the_system_where_no_voltmeter_does():
    log = no_voltmeter(simulate(never_settles(6, 28, "battery")))
    review = only(log, Aircraft(nominal_voltage=28))
    assert review.flight.nominal_voltage == 28
    assert review.findings[0].evidence["limit"].value == 2.5  # an eighth of an ampere for each of 20 Ah
