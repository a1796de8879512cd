"""What else an outage may be: the chances hold, the graver explanation stays, and a person reads the nearest other."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from msgspec.structs import replace

from analyzer.contract import log_entry, plain
from analyzer.findings.alternator import _other
from analyzer.flights.alternatives import (
    EXPLANATIONS,
    alternatives,
    chances,
    engine_shown_fast,
    load_evidence,
    settled,
    still_read_low,
    telling,
)
from analyzer.flights.outage_kinds import (
    GROUND_CHECK,
    LOW_RPM,
    OFFLINE,
    OUTPUT_LIMITED,
    VOLTMETER_ONLY,
    Alternative,
    AlternatorOutage,
    Clue,
    OutageKind,
)
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.trace import Trace
from analyzer.limits import limit_value
from analyzer.results import log_result
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.healthy import healthy
from tests.benchmarks.drawn_flights import drawn
from tests.benchmarks.outage_alternatives import Example, examples
from tests.flown import judged, the, with_table

#: Flights drawn for this alone: they were neither learned from nor judged by before.
FRESH = (*range(52000002, 52000040, 5), *range(52000003, 52000040, 5), *range(52000004, 52000040, 5))


def _outage(kind: OutageKind, first: int = 0, end: int = 300, **shares: float) -> AlternatorOutage:
    told = tuple(Alternative(OutageKind(name), share) for name, share in shares.items())
    return AlternatorOutage(first, end, kind, alternatives=tuple(sorted(told, key=lambda one: -one.chance)))


def test_every_class_of_every_observation_scores_every_explanation():
    for name, entry in load_evidence().items():
        assert list(entry.edges) == sorted(entry.edges), name
        assert len(entry.scores) == len(entry.edges) + 1, name
        assert {len(row) for row in entry.scores} == {len(EXPLANATIONS)}, name


def test_scores_become_chances_that_add_up_and_the_likeliest_comes_first():
    told = alternatives([Clue("a", 0.0, (2.0, 0.0, 0.0, 0.0), ""), Clue("b", 0.0, (0.0, 0.0, 0.0, 1.0), "")])
    assert [one.explanation for one in told[:2]] == [OFFLINE, VOLTMETER_ONLY]
    assert sum(one.chance for one in told) == pytest.approx(1.0)
    assert told[0].chance / told[1].chance == pytest.approx(np.e)


@pytest.fixture(scope="module")
def fresh() -> list[Example]:
    return [one for number in FRESH for one in examples(number) if one.kind != LOW_RPM]


def test_what_was_given_a_chance_comes_true_about_as_often_on_flights_that_were_never_learned_from(fresh):
    """Turned about, the scores would give the truth next to no chance."""
    count = {one.number: sum(other.number == one.number for other in fresh) for one in fresh}
    weights = np.array([1.0 / count[one.number] for one in fresh])
    given = {name: np.array([_given(one, name) for one in fresh]) for name in EXPLANATIONS}
    true = {name: np.array([EXPLANATIONS[one.true] == name for one in fresh]) for name in EXPLANATIONS}
    for name in EXPLANATIONS:
        assert np.average(given[name], weights=weights) == pytest.approx(
            np.average(true[name], weights=weights), abs=0.12
        ), name
    of_the_truth = np.array([_given(one, EXPLANATIONS[one.true]) for one in fresh])
    assert np.average(of_the_truth, weights=weights) > 0.8
    assert float(np.average(-np.log(of_the_truth), weights=weights)) < 0.45


def _given(example: Example, name: OutageKind) -> float:
    return next(one.chance for one in example.told if one.explanation == name)


@pytest.mark.parametrize(
    ("kind", "shares", "becomes"),
    [
        (OFFLINE, {"output_limited": 0.95, "offline": 0.05}, OFFLINE),
        (OUTPUT_LIMITED, {"offline": 0.7, "output_limited": 0.3}, OFFLINE),
        (OUTPUT_LIMITED, {"offline": 0.6, "output_limited": 0.4}, OUTPUT_LIMITED),  # less than two to one
        (OFFLINE, {"voltmeter_only": 0.95, "offline": 0.05}, OFFLINE),  # a loss stays one
        (OFFLINE, {"low_rpm": 0.95, "offline": 0.05}, OFFLINE),
        (VOLTMETER_ONLY, {"offline": 0.8, "voltmeter_only": 0.2}, OFFLINE),
        (VOLTMETER_ONLY, {"low_rpm": 0.8, "voltmeter_only": 0.2}, VOLTMETER_ONLY),  # it would drop the meter's fault
        (VOLTMETER_ONLY, {"low_rpm": 0.95, "voltmeter_only": 0.05}, LOW_RPM),
        (OUTPUT_LIMITED, {"low_rpm": 0.8, "output_limited": 0.2}, OUTPUT_LIMITED),
        (OUTPUT_LIMITED, {"low_rpm": 0.95, "output_limited": 0.05}, LOW_RPM),
        (GROUND_CHECK, {"output_limited": 0.95, "offline": 0.05}, GROUND_CHECK),  # known by its time
    ],
)
def test_a_far_likelier_explanation_takes_the_place_of_the_first_only_where_no_fault_is_hidden(kind, shares, becomes):
    assert settled([_with_clues(_outage(kind, **shares), seconds=300.0, place=1)])[0].kind == becomes


def _with_clues(outage: AlternatorOutage, seconds: float, **values: float) -> AlternatorOutage:
    seen = values | {"lasts": float(np.log10(seconds))}
    return replace(outage, clues=tuple(Clue(name, value, (0.0,) * 4, "") for name, value in seen.items()))


@pytest.mark.parametrize("shown", ["speed", "at_power"])
@pytest.mark.parametrize("kind", [VOLTMETER_ONLY, OUTPUT_LIMITED])
def test_an_engine_shown_to_be_fast_by_its_speed_or_by_height_and_airspeed_does_not_idle(shown, kind):
    idles = _outage(kind, low_rpm=0.95, **{kind: 0.05})
    assert settled([_with_clues(idles, 300.0, place=1, **{shown: 1.0})])[0].kind == kind
    assert settled([_with_clues(idles, 300.0, place=1, **{shown: 0.2})])[0].kind == LOW_RPM


def test_most_of_the_time_of_all_stretches_says_whether_the_engine_was_fast():
    one = _outage(OUTPUT_LIMITED, low_rpm=1.0)
    quick, slow = _with_clues(one, 300.0, speed=1.0), _with_clues(one, 100.0, speed=0.0)
    assert engine_shown_fast([quick, slow])
    assert not engine_shown_fast([quick, replace(slow, clues=_with_clues(one, 400.0, speed=0.0).clues)])
    assert not engine_shown_fast([_with_clues(one, 300.0)])


@pytest.mark.parametrize(
    ("seconds", "place", "becomes"),
    [
        (9.0, 0, OUTPUT_LIMITED),
        (9.0, 2, OUTPUT_LIMITED),
        (9.0, 1, OFFLINE),
        (4.0, 1, OUTPUT_LIMITED),
        (60.0, 0, OFFLINE),
    ],
)
def test_a_moment_on_the_ground_becomes_no_loss(seconds, place, becomes):
    outage = _with_clues(_outage(OUTPUT_LIMITED, offline=0.9, output_limited=0.1), seconds, place=place)
    assert settled([outage])[0].kind == becomes


def test_an_outage_before_which_the_bus_rose_stays():
    outage = replace(_outage(OUTPUT_LIMITED, low_rpm=0.95, output_limited=0.05), rose=True)
    assert settled([outage])[0].kind == OUTPUT_LIMITED


def test_the_chances_of_several_outages_count_by_how_long_each_lasts():
    long, short = (
        _outage(OFFLINE, 0, 300, offline=1.0, output_limited=0.0, low_rpm=0.0, voltmeter_only=0.0),
        _outage(OFFLINE, 400, 500, offline=0.2, output_limited=0.8, low_rpm=0.0, voltmeter_only=0.0),
    )
    told = chances([long, short], np.ones(600))
    assert told[OFFLINE] == pytest.approx((300 * 1.0 + 100 * 0.2) / 400)
    assert told[OUTPUT_LIMITED] == pytest.approx(0.2)
    assert chances([], np.ones(600)) == {}


def _trace() -> Trace:
    time = np.arange(600.0)
    return Trace(time=time, bus_voltage=np.where(time < 300.0, 12.3, 14.0))


def test_a_fault_of_the_reading_goes_with_the_stretch_that_alone_said_so():
    fault = ReadingFault("path", "bus_voltage", 0.0, 290.0, 1, 12.3, "it stands low", by_stretches=True)
    reads_low = _outage(VOLTMETER_ONLY, voltmeter_only=1.0)
    assert still_read_low([fault], _trace(), [reads_low]) == [fault]
    assert still_read_low([fault], _trace(), [replace(reads_low, kind=LOW_RPM)]) == []
    sure = replace(fault, by_stretches=False)
    assert still_read_low([sure], _trace(), []) == [sure]


def test_what_speaks_most_for_the_likeliest_against_the_second_is_told_first():
    clues = (
        Clue("a", 0.0, (0.5, 0.0, 0.0, 0.0), "a little"),
        Clue("b", 0.0, (2.0, 0.0, 0.0, 0.0), "much"),
        Clue("c", 0.0, (0.0, 1.0, 0.0, 0.0), "against it"),
        Clue("d", 0.0, (3.0, 0.0, 0.0, 0.0), ""),
    )
    outage = AlternatorOutage(0, 9, OFFLINE, clues=clues, alternatives=alternatives(clues))
    assert telling(outage) == ("much", "a little")


def test_a_loss_that_is_rather_the_meters_path_says_so_and_stays_as_grave():
    log = review_log(drawn(41000609).log)
    loss = the(log.flights[0], "alternator_offline")
    assert loss.says.startswith("At normal rpm the alternator went off line or the bus only read low: ")
    assert loss.says.endswith("Rather the voltmeter's connection: 2 in 3.")
    assert loss.severity == "warning"
    (entry,) = plain(log_entry(log_result(log)))["flights"][0]["outages"]
    assert entry["kind"] == "offline"
    assert sum(one["chance"] for one in entry["alternatives"]) == pytest.approx(1.0, abs=0.002)
    likeliest = entry["alternatives"][0]
    assert likeliest["explanation"] == "voltmeter_only"
    assert likeliest["chance"] == pytest.approx(0.68, abs=0.03)
    assert len(entry["because"]) <= limit_value("alternative_clues")
    (told,) = [one for one in plain(log_entry(log_result(log)))["flights"][0]["findings"] if one["from_s"] == 200.0]
    assert (entry["start"], entry["end"]) == (told["start"], told["end"])


def test_another_explanation_is_told_where_it_is_near_and_nowhere_else():
    near = review_log(drawn(41000773).log).flights[0].findings
    assert any(one.says.endswith("Or an alternator at its limit: 1 in 6.") for one in near)
    sure = review_log(drawn(41000293).log).flights[0].findings
    losses = [one for one in sure if one.name == "alternator_offline"]
    windows = [(938, 1428), (1658, 1914), (2106, 2206), (2299, 2512), (2610, 2626), (2819, 2844), (2980, 3010)]
    assert [(one.from_s, one.to_s) for one in losses] == [pytest.approx(true, abs=3.0) for true in windows]
    assert losses[0].says.endswith("; then gave 34 A, too little; not back on line.")
    assert {one.severity for one in losses} == {"warning"}
    assert not any(" Or " in one.says for one in losses)


def test_where_the_alternator_never_holds_the_bus_no_chance_is_given():
    review = review_log(drawn(42000252).log).flights[0]
    assert not any(one.alternatives for one in review.flight.outages)
    assert the(review, "alternator_offline").says.endswith("down to 0 V.")


def _gives_too_little(amps: float) -> FlightReview:
    """A sound flight that loses its alternator for 3 min, after which it gives so much until the engine stops."""
    scenario = healthy(812, 14, "alternator")
    flight = simulate(scenario)
    time, stop = flight.table["time_s"].to_numpy(), scenario.times.engine_stop_s
    lost = stop - 29.0 * 60.0
    rows, silent = (time >= lost) & (time < stop), (time >= lost) & (time < lost + 180.0)
    output, volts = (flight.table[name].to_numpy().copy() for name in ("alternator_current", "bus_voltage"))
    output[rows] = np.maximum(0.0, amps + np.random.default_rng(1).normal(0.0, 0.3, rows.sum())).round(1)
    output[silent] = 0.0
    volts[rows] = np.interp(time[rows], [lost, lost + 180.0, stop], [12.3, 12.1, 11.5]).round(2)
    return judged(with_table(flight, alternator_current=pl.Series(output), bus_voltage=pl.Series(volts)))


@pytest.mark.parametrize("amps", [2.6, 4.0, 6.0])
def test_an_alternator_that_gives_too_little_after_its_loss_is_not_back(amps):
    review = _gives_too_little(amps)
    loss = the(review, "alternator_offline")
    assert loss.severity == "warning"
    assert loss.says.endswith(f"; then gave {amps:.0f} A, too little; not back on line.")
    assert loss.evidence["duration_min"].value == pytest.approx(3.0, abs=0.1)
    assert "restored_s" not in loss.evidence
    assert not loss.signs["restored"]
    assert "back_soon" not in loss.signs
    assert the(review, "output_short").severity == "caution"


@pytest.mark.parametrize("number", [53000207, 53000467, 53000118, 53000597, 53000513, 53000919])
def test_an_alternator_that_is_seen_to_give_all_it_has_is_told_as_nothing_else(number):
    short = the(review_log(drawn(number).log).flights[0], "output_short")
    assert short.says.endswith("it gave all it had.")
    assert "bus -" not in short.says


def _told_beside(acted_on: OutageKind, current: float | None = None, **values: float) -> str | None:
    """What is told beside a finding of a stretch of 300 s that low engine speed would explain best."""
    review = _gives_too_little(4.0)
    share = {"low_rpm": 0.7, "voltmeter_only": 0.1, "offline": 0.1, "output_limited": 0.1}
    outage = _with_clues(_outage(acted_on, 1000, 1300, **share), 300.0, place=1, **values)
    trace = review.flight.trace
    if current is not None:
        trace = replace(trace, battery_current=np.full(trace.time.size, current))
    other = _other(replace(review.flight, trace=trace, outages=(outage,)), outage, acted_on)
    return None if other is None else other.says


@pytest.mark.parametrize("shown", ["speed", "at_power"])
def test_a_fast_engine_is_never_told_as_too_slow(shown):
    slow = " Rather too low an engine speed, or a bus that still climbs: 2 in 3."
    assert _told_beside(OUTPUT_LIMITED, **{shown: 0.2}) == slow
    charges = " Rather a low battery that still takes all it gives: 2 in 3."
    assert _told_beside(OUTPUT_LIMITED, **{shown: 0.9}) == charges
    assert _told_beside(OUTPUT_LIMITED, 8.0, **{shown: 0.9}) == charges
    assert _told_beside(OUTPUT_LIMITED, -8.0, **{shown: 0.9}) is None
    assert _told_beside(OFFLINE, **{shown: 0.9}) is None
    assert _told_beside(OFFLINE, **{shown: 0.2}) == slow


def test_an_even_chance_is_no_rather():
    loss = the(review_log(drawn(53000508).log).flights[0], "alternator_offline")
    assert loss.says.endswith("Or an alternator at its limit: 1 in 2.")
    assert loss.says.startswith("At normal rpm the alternator dropped off line: ")
    assert "overload" not in [cause.key for cause in loss.likely]


def test_a_loss_that_is_rather_an_alternator_at_its_limit_says_so_from_the_start_and_its_load_is_looked_at():
    loss = the(review_log(drawn(53000464).log).flights[0], "alternator_offline")
    assert loss.severity == "warning"
    assert loss.says.startswith("At normal rpm the alternator went off line or could not carry the load: ")
    assert loss.says.endswith("Rather an alternator at its limit: 5 in 6.")
    assert "overload" in [cause.key for cause in loss.likely]


def test_what_an_outage_shows_is_told_in_volts_and_amperes():
    (outage,) = [one for one in _gives_too_little(4.0).flight.outages if one.kind == OUTPUT_LIMITED]
    words = {clue.name: clue.words for clue in outage.clues}
    assert words["height"].startswith("the bus stands at 11.8 V, where a full battery rests at 12.7 V and ")
    assert words["lowest"] == "the bus goes down to 11.5 V"
    assert words["sank"] == "the bus sinks by 0.5 V meanwhile"
    assert words["output"].startswith("the output is 4 A, the highest of the flight ")
    assert words["output_kept"] == "the output is 4 A, just before 0 A"
    assert words["lasts"] == "it lasts 26 min"
    assert not any("for each Ah" in said or "-" in said for said in words.values())
