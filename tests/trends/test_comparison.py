"""Did it help: invented tails on which work was done, whose answer is known, through noise and weather."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest
from made_histories import made

from analyzer.trends.comparison import Compared, Comparison, compare_entries, taken_together
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import follow_tail
from analyzer.trends.history import FlightSummary, History, Reading

#: Healthy tails whose weather, load or missing thermometer could pass for what the work did.
WEATHERS = ("plain", "season", "no_air", "load_change")
Shift = Callable[[np.ndarray, np.ndarray, int], np.ndarray]


@pytest.fixture(scope="module")
def seeds(pytestconfig: pytest.Config) -> range:
    """Those of the tails that are drawn, a fourth of them in each of the weathers."""
    return range(40 if pytestconfig.getoption("--long") else 20)


@cache
def worked_on(
    seed: int, kind: str, shift: Shift, measure: str = "regulated_voltage", after: int | None = None
) -> tuple[Comparison, float]:
    """The comparison of work done on a tail whose measure was shifted, and how far the work truly moved it.

    ``shift`` gives volts (14 V system) of engine hours, flight and the flight of the entry; the entry is made in the
    third quarter of the history, ``after`` flights are flown from it on.
    """
    history, rng = made(WEATHERS[seed % len(WEATHERS)], 500 + seed, flights=46).history, np.random.default_rng(seed)
    scale = history.nominal_voltage / 14
    hours = np.cumsum([0.0, *(flight.hours for flight in history.flights)])[:-1]
    at = int(rng.integers(24, 34))
    added = scale * shift(hours, np.arange(hours.size), at)
    flights = [
        replace(flight, readings={**flight.readings, **moved_reading(flight.readings, measure, float(add))})
        for flight, add in zip(history.flights, added, strict=True)
    ]
    entry = Entry(history.tail, flights[at].start - timedelta(hours=1), kind, "")
    shown = flights[: None if after is None else at + after]
    return compared(shown, entry), float(added[at] - added[at - 1])


def compared(flights: Sequence[FlightSummary], entry: Entry) -> Comparison:
    """The comparison of the only entry, without what else a review tells."""
    (comparison,) = compare_entries(follow_tail(History(entry.tail, tuple(flights), (entry,))))
    return comparison


def moved_reading(readings, measure, add):
    own = readings.get(measure)
    return {} if own is None else {measure: Reading(own.value + add, own.low + add, own.high + add)}


def verdicts(seeds: range, kind: str, shift: Shift, measure: str = "regulated_voltage") -> Counter[str]:
    return Counter(worked_on(seed, kind, shift, measure)[0].verdict for seed in seeds)


def nothing(hours, flight, at):
    return np.zeros(hours.size)


def crept_up_and_set_back(hours, flight, at):
    """1.4 V in 100 h from the fifth flight on, gone with the new regulator."""
    return np.where(flight < at, 0.014 * np.maximum(hours - hours[4], 0.0), 0.0)


def crept_up_and_creeps_on(hours, flight, at):
    return 0.014 * np.maximum(hours - hours[4], 0.0)


def jumped_and_set_back(hours, flight, at):
    return np.where((flight >= at - 6) & (flight < at), 0.5, 0.0)


def jumped_and_stays(hours, flight, at):
    return np.where(flight >= at - 6, 0.5, 0.0)


def set_out_of_its_band(hours, flight, at):
    return np.where(flight >= at, 1.3, 0.0)


@pytest.mark.parametrize("kind", ["regulator_replaced", "connection_repaired", "battery_replaced", "battery_serviced"])
def test_work_that_changes_nothing_changes_nothing_whatever_the_weather(seeds, kind):
    told = verdicts(seeds, kind, nothing)
    assert told["no change"] >= 0.9 * len(seeds), told
    assert told["did not help"] + told["helped"] <= 0.1 * len(seeds), told


@pytest.mark.parametrize("shift", [crept_up_and_set_back, jumped_and_set_back])
def test_a_new_regulator_that_brings_the_voltage_back_helped(seeds, shift):
    # Without a thermometer some creep passes for a season until the end; then it is a change, not known to be mended.
    told = verdicts(seeds, "regulator_replaced", shift)
    assert told["helped"] >= 0.85 * len(seeds), told
    assert told["helped"] + told["changed"] == len(seeds), told


@pytest.mark.parametrize("shift", [crept_up_and_creeps_on, jumped_and_stays])
def test_a_new_regulator_that_leaves_the_voltage_where_it_was_did_not_help(seeds, shift):
    told = verdicts(seeds, "regulator_replaced", shift)
    assert told["did not help"] >= 0.9 * len(seeds), told
    assert not told["helped"]


def test_a_regulator_set_out_of_its_band_did_not_help(seeds):
    told = verdicts(seeds, "regulator_adjusted", set_out_of_its_band)
    assert told["did not help"] >= 0.9 * len(seeds), told


@pytest.mark.parametrize("shift", [crept_up_and_set_back, jumped_and_set_back, set_out_of_its_band])
def test_the_interval_of_the_change_holds_how_far_the_work_moved_the_voltage(seeds, shift):
    held, widths = [], []
    for seed in seeds:
        comparison, true = worked_on(seed, "regulator_replaced", shift)
        one = next(m for m in comparison.measures if m.measure == "regulated_voltage")
        slack = 0.02 * max(1.0, abs(true))  # what the steps of a coarse meter leave
        change = one.difference.change
        held.append(change.low - slack <= true <= change.high + slack)
        widths.append(change.high - change.low)
    assert np.mean(held) >= 0.9, held
    assert np.median(widths) < 0.25


@pytest.mark.parametrize("after", [0, 1, 2])
def test_too_few_flights_since_are_too_few_whatever_they_show(after):
    comparison, _ = worked_on(3, "regulator_replaced", crept_up_and_set_back, after=after)
    assert comparison.verdict == "too few flights yet"
    assert all(one.difference is None and one.flights_after <= after for one in comparison.measures)


def test_three_flights_since_are_enough_for_a_large_change(seeds):
    told = Counter(worked_on(s, "regulator_replaced", jumped_and_set_back, after=4)[0].verdict for s in seeds)
    assert told["helped"] >= 0.75 * len(seeds), told
    assert not told["did not help"]


def test_a_weak_crank_that_comes_back_with_a_new_battery_helped(seeds):
    told = verdicts(
        seeds, "battery_replaced", lambda hours, flight, at: np.where(flight < at, -1.5, 0.0), "cranking_voltage"
    )
    assert told["helped"] >= 0.9 * len(seeds), told


def test_a_new_meter_that_reads_otherwise_is_neither_better_nor_worse(seeds):
    told = verdicts(seeds, "instrument_replaced", lambda hours, flight, at: np.where(flight < at, -0.6, 0.0))
    assert told["changed"] >= 0.9 * len(seeds), told


def test_what_fails_again_soon_after_the_work_helped_and_came_back(seeds):
    def again(hours, flight, at):
        return np.where((flight < at) & (flight >= at - 8) | (flight >= at + 8), 0.5, 0.0)

    told = verdicts(seeds, "regulator_replaced", again)
    assert told["helped, then came back"] >= 0.9 * len(seeds), told


def test_a_weak_crank_that_was_never_measured_again_is_not_called_unchanged():
    for seed in (1, 2, 5):
        history = made("plain", 500 + seed, flights=46).history
        flights = [
            replace(flight, readings={**flight.readings, **moved_reading(flight.readings, "cranking_voltage", -4.5)})
            if place < 30
            else replace(flight, readings={n: r for n, r in flight.readings.items() if n != "cranking_voltage"})
            for place, flight in enumerate(history.flights)
        ]
        entry = Entry(history.tail, flights[30].start - timedelta(hours=1), "battery_replaced", "")
        assert compared(flights, entry).verdict == "too few flights yet"


@pytest.mark.parametrize(
    ("verdicts_of", "together"),
    [
        ([], "nothing to compare"),
        ([("too few flights yet", False)], "too few flights yet"),
        ([("helped", True), ("no change", False)], "helped"),
        ([("helped", True), ("worse", False)], "changed"),
        ([("worse", False), ("no change", False)], "did not help"),
        ([("no change", True), ("no change", False)], "did not help"),
        ([("no change", False), ("no change", False)], "no change"),
        ([("changed", False), ("no change", False)], "changed"),
        ([("too few flights yet", True), ("no change", False)], "too few flights yet"),
        ([("too few flights yet", False), ("no change", False)], "no change"),
        ([("too few flights yet", True), ("helped", True)], "helped"),
    ],
)
def test_one_verdict_is_made_of_all_measures(verdicts_of, together):
    compared = tuple(Compared("regulated_voltage", verdict, amiss=amiss) for verdict, amiss in verdicts_of)
    assert taken_together(compared) == together
