"""The numbers behind a finding carry the unit that their rule gave them, and say when one was assumed."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from msgspec import structs

from analyzer.findings.readings import reading_fault
from analyzer.flights.reading_faults import ReadingFault
from analyzer.logs import Log, find_logs, read_log
from analyzer.logs.readings import Readings
from analyzer.measures.measure import MEASURES, measured, not_measurable
from analyzer.quantity import Quantity
from analyzer.reports.evidence import evidence_words, trend_evidence_words
from analyzer.review import review_log
from analyzer.trends.judging import Levels, Shift
from tests.made_results import trend_finding

COLD_MORNING = Path(__file__).parents[2] / "sample_logs" / "N074LF_2026-01-24.csv"
HELD = Path(__file__).parents[1] / "snapshots" / "held" / "numbers" / "review.json"


def test_a_number_has_the_unit_of_its_rule_whatever_its_name():
    evidence = {"limit": Quantity(3.5, "min"), "reading": Quantity(-2.0, "A"), "times": Quantity(3.0, "1")}
    assert evidence_words(evidence) == "limit 3.5 min, reading -2 A, times 3"


def test_no_number_is_a_power_of_ten_times_another():
    evidence = {"restored_s": Quantity(10800.0, "s"), "lowest_voltage": Quantity(11.87, "V")}
    assert evidence_words(evidence) == "restored 10800 s, lowest voltage 11.87 V"
    spike = ReadingFault("spike", "battery_current", 60.0, 60.0, 1, -32768.0, "nothing else moves with it")
    (found,) = reading_fault(SimpleNamespace(reading_faults=[spike]), {})  # type: ignore[arg-type]
    assert found.says.startswith("The battery current jumped once to -32770 A for one or two readings. ")


def test_a_temperature_that_nobody_recorded_is_said_to_be_assumed():
    (source,) = find_logs([COLD_MORNING])
    log = read_log(source)
    assert isinstance(log, Log)
    assert "outside_air_temperature" in log.table.columns
    (known,) = [one for one in review_log(log).flights[0].findings if one.name == "weak_cranking"]
    bare = structs.replace(log, readings=Readings.of(log.table.drop("outside_air_temperature")))
    (unknown,) = [one for one in review_log(bare).flights[0].findings if one.name == "weak_cranking"]
    assert not known.evidence["temperature"].assumed
    assert "(assumed)" not in evidence_words(known.evidence)
    assert unknown.evidence["temperature"].assumed
    assert evidence_words(unknown.evidence).endswith("°C (assumed)")


@pytest.mark.parametrize(("measure", "unit"), [("regulation_droop", "mΩ"), ("regulated_voltage", "V")])
def test_a_trend_is_told_in_the_unit_of_its_measure(measure: str, unit: str):
    own = MEASURES[measure]
    levels = Levels(measure, Quantity(3.0, own), Quantity(9.0, own), Quantity(33.0, "h"))
    shift = Shift(Quantity(6.0, own, 5.0, 7.0), 4, "drift", levels)
    assert trend_evidence_words(trend_finding(shift=shift)) == f"from 3 to 9 {unit} over 33 engine hours"
    assert trend_evidence_words(trend_finding(flights=(3, 4, 7))) == "in 3 flights"
    assert trend_evidence_words(trend_finding(shift=replace(shift, of=None))) == ""


def test_the_unit_in_a_name_is_the_quantity_s():
    logs = json.loads(HELD.read_text("utf-8"))["logs"]
    found = [one for log in logs for flight in log["flights"] for one in flight["findings"]]
    endings = {"_min": "min", "_s": "s", "_a": "A", "_ah": "Ah", "_voltage": "V"}
    told = [(name, one["unit"]) for finding in found for name, one in finding["quantities"].items()]
    assert len(told) > 30
    for name, unit in told:
        assert unit == next((unit for ending, unit in endings.items() if name.endswith(ending)), unit), name
    for finding in found:
        assert {name: one["value"] for name, one in finding["quantities"].items()} == finding["evidence"]


def test_a_measure_gives_its_interval_with_it():
    assert measured("resting_voltage", 12.345, 12.31, 12.39).quantity(2) == Quantity(12.35, "V", 12.31, 12.39)
    with pytest.raises(ValueError, match="was not measured"):
        not_measurable("resting_voltage", "no rest").quantity(2)


@pytest.mark.parametrize(
    ("value", "unit", "ends"), [(float("nan"), "V", ()), (1.0, "volts", ()), (1.0, "V", (0.5, None))]
)
def test_what_is_no_quantity_is_refused(value: float, unit: str, ends: tuple[float, ...]):
    with pytest.raises(ValueError, match=r"quantity|unit|interval"):
        Quantity(value, unit, *ends)
