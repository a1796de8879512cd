"""Reports against recorded flights, beside what a person sees in their plotted traces.

By eye: in the first run six tries at starting, perhaps seven, the bus down to 10.4 V; then 35 A of
charge, still 20 A after a quarter of an hour and 4 A at the end, the bus at 14.0 to 14.3 V with single readings at
14.5 V; never below 13.6 V once the engine ran. As main power goes off the bus runs down through 7 V to 0 V:
no crank. The second run's recording begins anew as the alternator takes the bus from 12.7 V; 35 A at first, about 4 A
from five minutes on; 14.2 to 14.4 V, never below 13.9 V.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from analyzer.logs import Log, find_logs, read_log
from analyzer.review import review_log
from analyzer.squawk.examine import reference_of
from analyzer.squawk.known import SYMPTOMS
from analyzer.squawk.report import report_of
from tests.squawk.told import looked_up, told

FILES = ("semicolon_14v_raw_download.csv", "semicolon_14v_one_header.csv", "semicolon_14v_one_session.csv")


@pytest.fixture(scope="module", params=FILES)
def said(request: pytest.FixtureRequest, shared: Path) -> dict[str, dict[str, Any]]:
    """Every symptom's part of the document, by its name."""
    (source,) = find_logs([shared / "real_logs" / request.param])
    log = read_log(source)
    assert isinstance(log, Log)
    report = report_of("slow crank, five tries", SYMPTOMS)
    reviews = enumerate(review_log(log).flights, 1)
    document = told(looked_up(report, [(reference_of(review, log.source, n), review) for n, review in reviews]))
    return {symptom["symptom"]: symptom for symptom in document["symptoms"]}


def first_run(symptom: dict[str, Any]) -> list[dict[str, Any]]:
    return [occasion for occasion in symptom["for"] if occasion["flight"]["number"] == 1]


def test_six_tries_at_starting_are_seen(said: dict[str, dict[str, Any]]) -> None:
    (occasion,) = first_run(said["slow_crank"])
    assert "start_attempts" not in occasion["numbers"]  # rows of 5 s may miss a whole try: six is the least
    assert "in 6 tries or more" in occasion["says"]
    assert occasion["numbers"]["cranking_voltage"]["value"] == pytest.approx(10.38, abs=0.1)
    assert "or less" in occasion["says"]  # a row every 5 s gives an upper bound


def test_a_high_voltage_is_not_seen(said: dict[str, dict[str, Any]]) -> None:
    assert said["voltage_high"]["verdict"] == "not seen though it could have been"
    assert all(14.2 < one["numbers"]["highest_voltage"]["value"] < 14.65 for one in said["voltage_high"]["against"])


def test_a_charging_light_and_a_discharge_are_not_seen(said: dict[str, dict[str, Any]]) -> None:
    assert said["charging_light"]["verdict"] == "not seen though it could have been"
    lowest = [one["numbers"]["lowest_voltage"]["value"] for one in said["charging_light"]["against"]]
    assert lowest[-1] == pytest.approx(13.6, abs=0.1)
    assert said["ammeter_discharge"]["verdict"] == "not seen though it could have been"


def test_the_high_charge_of_the_first_run_is_seen_and_explained_and_the_second_runs_is_none(
    said: dict[str, dict[str, Any]],
) -> None:
    (occasion,) = said["ammeter_high"]["for"]
    assert occasion["flight"]["number"] == 1
    assert "explains a long recharge" in occasion["says"]


def test_power_that_goes_off_is_no_dead_battery_and_one_at_13_volts_is_on_no_cart(
    said: dict[str, dict[str, Any]],
) -> None:
    assert said["dead_battery"]["verdict"] == "not seen though it could have been"
    assert said["dead_battery"]["for"] == []


def test_no_breaker_jump_or_pulsing_is_invented_and_heat_could_not_be_seen(said: dict[str, dict[str, Any]]) -> None:
    for name in ("breaker_opened", "gauge_jumps"):
        assert said[name]["verdict"] == "not seen though it could have been"
    assert said["noise_or_pulsing"]["verdict"] == "could not have been seen"
    assert said["battery_heat"]["verdict"] == "could not have been seen"
