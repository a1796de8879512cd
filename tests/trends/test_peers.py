"""An aircraft beside its peers, and what repairs say of causes: counted by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from msgspec import structs

from analyzer.aircraft import Aircraft, Battery
from analyzer.findings.causes import load_knowledge
from analyzer.findings.finding import FindingName
from analyzer.reports.peer_words import beside_row, cause_row, peers_lead
from analyzer.trends.comparison import Comparison, WorkVerdict
from analyzer.trends.entries import Entry, kinds
from analyzer.trends.followed_tail import Present, Trend
from analyzer.trends.found_around import FoundAround
from analyzer.trends.open_findings import Condition
from analyzer.trends.peers import beside_peers
from analyzer.trends.repairs import ended_by_work, mended_by, outcomes, shifted_causes
from analyzer.trends.tail_result import TailResult

TYPE = "Two-seat trainer"
OWN = Aircraft(aircraft_type=TYPE)


def result(tail: str, volts: float | None, *comparisons: Comparison, nominal: int | None = 14) -> TailResult:
    now = None if volts is None else Present(volts, None, None, None, None)
    trends = {"regulated_voltage": Trend("regulated_voltage", 30, now=now)}
    return TailResult(tail, 30, 30.0, nominal, Condition.GOOD, 0, (), (), trends, (), comparisons, ())


def fleet(*volts: float | None) -> list[TailResult]:
    return [result(f"N000{place}P", one) for place, one in enumerate(volts)]


def test_a_place_among_peers_is_counted_with_ties_by_half() -> None:
    results = fleet(14.1, 13.9, 14.0, 14.1, 14.2, 14.3)
    told = beside_peers(results[0], results, {one.tail: OWN for one in results})
    (volts,) = told.measures
    assert told.peers == ("N0001P", "N0002P", "N0003P", "N0004P", "N0005P")
    assert (volts.lower, volts.percentile, volts.middle) == (2, pytest.approx(50.0), 14.1)  # 2.5 of 5
    assert beside_row(volts)[3] == "higher than 2 of 5; percentile 50"
    assert "5 other aircraft of its kind" in peers_lead(told)


def test_too_few_peers_are_given_no_place() -> None:
    results = fleet(14.1, 13.9, 14.0, 14.1, 14.2)
    told = beside_peers(results[0], results, {one.tail: OWN for one in results})
    assert (told.measures, len(told.peers)) == ((), 4)
    assert "too few peers: 4" in peers_lead(told)
    results = fleet(14.1, 13.9, 14.0, 14.1, 14.2, None)
    (volts,) = beside_peers(results[0], results, {one.tail: OWN for one in results}).measures
    assert volts.percentile is None, "one of the five does not carry the measure"
    assert "4 carry it, 5 are needed" in beside_row(volts)[3]


def test_peers_share_type_voltage_battery_and_source() -> None:
    results = [*fleet(*[14.0] * 8), result("N0009P", 28.2, nominal=28)]
    known = {one.tail: OWN for one in results}
    known["N0001P"] = structs.replace(OWN, battery=Battery.LITHIUM)
    known["N0002P"] = structs.replace(OWN, aircraft_type="tug")
    known["N0003P"] = structs.replace(OWN, aircraft_type=TYPE.upper())
    known["N0004P"] = Aircraft()
    told = beside_peers(results[0], results, known)
    assert told.peers == ("N0003P", "N0005P", "N0006P", "N0007P"), "of another kind: lithium, tug, unset, 28 V"
    assert "its type is not set" in peers_lead(beside_peers(results[4], results, known))


def test_without_a_known_voltage_there_are_no_peers() -> None:
    results = [result(f"N000{place}P", 14.0, nominal=None) for place in range(7)]
    told = beside_peers(results[0], results, {one.tail: OWN for one in results})
    assert (told.kind, told.peers) == (None, ())
    assert "its voltage is not known" in peers_lead(told)
    known = [result("N0009P", 14.0), *results]
    assert beside_peers(known[0], known, {one.tail: OWN for one in known}).peers == ()


def test_the_battery_s_measures_have_no_place_while_its_kind_is_not_set() -> None:
    """Lithium rests at 13.3 V and lead at 12.7 V: none is set, so nothing tells which is which."""
    resting = Trend("resting_voltage", 30, now=Present(12.7, None, None, None, None))
    results = [replace(one, trends=one.trends | {"resting_voltage": resting}) for one in fleet(*[14.0] * 7)]
    results = [replace(one, as_recorded={"cranking_time": 1.2, "bus_load": 9.0}) for one in results]
    rows = {one.measure: one for one in beside_peers(results[0], results, {one.tail: OWN for one in results}).measures}
    assert {name for name, one in rows.items() if one.percentile is None} == {"resting_voltage", "cranking_time"}
    assert beside_row(rows["resting_voltage"])[2:] == (
        "not compared", "kind of battery not set: set it for each aircraft of the type",
    )  # fmt: skip
    lead = {one.tail: structs.replace(OWN, battery=Battery.FLOODED) for one in results}
    assert all(one.percentile == 50.0 for one in beside_peers(results[0], results, lead).measures)


def work(kind: str, finding: str, before: int, after: int, *, day: int = 1) -> Comparison:
    found = FoundAround(FindingName(finding), before, 12, after, 12, place=day)
    when = datetime(2026, 5, 1) + timedelta(days=day)
    return Comparison(Entry("N0000P", when, kind, ""), WorkVerdict.HELPED, (), (found,))


def test_what_work_ended_is_counted_and_what_flights_do_not_tell_is_not() -> None:
    results = [
        result("N0001P", None, work("regulator_replaced", "regulator_low", 10, 0)),
        result("N0002P", None, work("regulator_replaced", "regulator_low", 10, 9)),
        result("N0003P", None, work("regulator_replaced", "regulator_low", 2, 0)),
        result("N0004P", None, work("regulator_replaced", "regulator_low", 1, 0)),  # a stray flight
    ]
    (one,) = outcomes(results)
    assert (one.finding, one.kind) == ("regulator_low", "regulator_replaced")
    assert (one.ended, one.told, one.open) == (1, 2, 1)


def fleet_of(regulators: int, connections: int) -> list[TailResult]:
    kinds_done = ["regulator_adjusted"] * regulators + ["connection_repaired"] * connections
    return [result(f"N{place:04d}P", None, work(kind, "regulator_low", 10, 0)) for place, kind in enumerate(kinds_done)]


def test_weights_shift_by_the_dirichlets_rule_with_enough_aircraft() -> None:
    """Judged for a low regulator: regulator 1.3, connections 3.5 (four), alternator 0.4, voltmeter 0.3: 5.5."""
    assert shifted_causes(FindingName.REGULATOR_LOW, ended_by_work(fleet_of(5, 2))) == ()
    shifted = {one.key: one for one in shifted_causes(FindingName.REGULATOR_LOW, ended_by_work(fleet_of(6, 2)))}
    regulator, plug, brushes = shifted["regulator_unit"], shifted["regulator_plug"], shifted["alternator_unit"]
    share = 1.3 / 5.5
    assert regulator.weight == pytest.approx(1.3 * ((10 * share + 6) / 18) / share)
    assert (regulator.ended, regulator.of) == (6, 8)
    assert plug.weight == pytest.approx(1.5 * ((10 * 3.5 / 5.5 + 2) / 18) / (3.5 / 5.5))
    assert brushes.weight == pytest.approx(0.4 * 10 / 18)
    assert shifted["overload"].weight == shifted["overload"].judged, "no such work mends it"
    mended = [shifted[key].weight for key in shifted if any(key in mended_by(kind) for kind in kinds())]
    assert sum(mended) == pytest.approx(5.5), "what work mends keeps its weight together"
    assert cause_row(regulator) == (
        regulator.words, "2.56", "raised from 1.3: ended by work that mends it on 6 of 8 aircraft",
    )  # fmt: skip


def test_an_aircraft_counts_once_for_one_finding_and_one_kind_of_work() -> None:
    twice = [
        replace(one, comparisons=(*one.comparisons, work("regulator_replaced", "regulator_low", 10, 0, day=90)))
        for one in fleet_of(5, 0)
    ]
    assert len(ended_by_work(twice)) == 5


def test_two_stops_with_as_many_flights_are_two_works() -> None:
    apart = (
        work("regulator_replaced", "regulator_low", 10, 0),
        work("connection_repaired", "regulator_low", 10, 0, day=90),
    )
    twice = [replace(one, comparisons=apart) for one in fleet_of(4, 0)]
    assert len(ended_by_work(twice)) == 8
    assert shifted_causes(FindingName.REGULATOR_LOW, ended_by_work(twice)) == (), "four aircraft are not eight"
    ten = [replace(one, comparisons=apart) for one in fleet_of(10, 0)]
    told = shifted_causes(FindingName.REGULATOR_LOW, ended_by_work(ten))
    assert {one.of for one in told} == {10}


def test_works_of_one_stop_in_the_shop_tell_no_cause() -> None:
    both = (work("regulator_replaced", "regulator_low", 10, 0), work("connection_repaired", "regulator_low", 10, 0))
    told = [replace(one, comparisons=both) for one in fleet_of(9, 0)]
    assert ended_by_work(told) == ()
    assert {one.ended for one in outcomes(told)} == {9}, "each is counted as work that was there when it ended"
    alike = (work("regulator_replaced", "regulator_low", 10, 0), work("regulator_adjusted", "regulator_low", 10, 0))
    assert len(ended_by_work([replace(one, comparisons=alike) for one in fleet_of(3, 0)])) == 3


def test_the_table_of_what_is_mended_names_causes_and_kinds_that_are_there_each_cause_once() -> None:
    table = load_knowledge().mended_by
    assert table.keys() <= kinds().keys()
    parts = {frozenset(keys) for keys in table.values()}
    listed = [key for part in parts for key in part]
    assert len(listed) == len(set(listed))
    assert set(listed) <= {cause.key for cause in load_knowledge().causes}
