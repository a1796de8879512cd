"""A report's symptoms before and after maintenance work."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from analyzer.contract_squawk import around_entries
from analyzer.reports.entry_text import symptoms_around
from analyzer.reports.squawk_text import squawk_text
from analyzer.squawk.around_work import around_work, symptoms_of_work
from analyzer.squawk.around_work import symptoms_around as work_symptoms
from analyzer.squawk.conditions import Circumstances
from analyzer.squawk.examine import Occasion, SquawkFlight
from analyzer.squawk.known import SYMPTOMS, load_symptoms
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.report import Report
from analyzer.squawk.result import squawk_result
from analyzer.squawk.understanding import understand
from analyzer.squawk.verdict import Against, NotObservable, SymptomVerdict, verdict_of
from analyzer.trends.entries import Entry, kinds

WORK = datetime(2026, 3, 8, 12)


def flights(days: list[int]) -> list[SquawkFlight]:
    return [SquawkFlight(None, "", 1, datetime(2026, 3, day, 10)) for day in days]


def squawk(seen: list[int], not_seen: list[int], blind: list[int]) -> list[SymptomVerdict]:
    none = verdict_of(load_symptoms()["slow_crank"], [])
    occasions = [Occasion(flight, 0.0, 1.0, None, "", {}, Circumstances({}, "cranking")) for flight in flights(seen)]
    return [
        replace(
            none,
            occasions=tuple(occasions),
            against=tuple(Against(flight, "", {}) for flight in flights(not_seen)),
            not_observable=tuple(NotObservable(flight, Reason(Unobservable.NO_VOLTAGE)) for flight in flights(blind)),
        )
    ]


def test_flights_are_counted_on_the_side_of_the_work_that_they_began_on() -> None:
    (one,) = around_entries(work_symptoms(squawk([1, 2, 2, 9], [3, 10, 11], [4]), WORK))
    assert (one["before"]["seen"], one["before"]["not_seen"], one["before"]["not_observable"]) == (2, 1, 1)
    assert (one["after"]["seen"], one["after"]["not_seen"]) == (1, 2)
    assert one["before"]["flights"] == {"count": 4, "first": "2026-03-01T10:00:00", "last": "2026-03-04T10:00:00"}


def test_a_flight_that_begins_at_the_moment_of_the_work_comes_after_it() -> None:
    (one,) = work_symptoms(squawk([8], [], []), datetime(2026, 3, 8, 10))
    assert (one.before.seen, one.after.seen) == (0, 1)


@pytest.mark.parametrize(("days_later", "told"), [(0, 1), (-20, 0), (20, 0)])
def test_work_is_told_only_between_flights(days_later: int, told: int) -> None:
    entry = Entry("N0007E", WORK + timedelta(days=days_later), "battery_replaced", "new battery")
    work = around_work(squawk([1, 2], [9, 10], []), [entry])
    assert len(work) == told
    assert all(one.entry == entry for one in work)


def test_flights_count_up_to_the_work_next_to_it_that_is_for_the_same() -> None:
    first = Entry("N0007E", WORK - timedelta(days=4), "battery_serviced", "")
    second = Entry("N0007E", WORK, "battery_replaced", "")
    other = Entry("N0007E", WORK + timedelta(days=2), "regulator_replaced", "")
    works = around_work(squawk([1, 2, 3], [5, 6, 9, 12], []), [first, second, other])
    counts = [(one.symptoms[0].before.seen, one.symptoms[0].after.not_seen) for one in works]
    assert counts == [(3, 2), (0, 2), (3, 1)]


@pytest.mark.parametrize("kind", kinds())
def test_work_is_done_for_symptoms_that_its_findings_are_about(kind: str) -> None:
    assert set(symptoms_of_work(kind)) <= set(SYMPTOMS)
    assert bool(symptoms_of_work(kind)) == bool(kinds()[kind].ends)


def test_a_new_battery_is_for_slow_cranks_and_a_new_regulator_for_high_voltage() -> None:
    assert "slow_crank" in symptoms_of_work("battery_replaced")
    assert "voltage_high" not in symptoms_of_work("battery_replaced")
    assert "voltage_high" in symptoms_of_work("regulator_replaced")
    assert "slow_crank" not in symptoms_of_work("regulator_replaced")


def test_what_was_seen_on_neither_side_and_what_no_flight_could_show_are_told_in_a_sentence_each() -> None:
    def side(seen: int, not_seen: int, blind: int) -> dict[str, Any]:
        return {"seen": seen, "not_seen": not_seen, "not_observable": blind, "flights": None}

    told = [
        {"title": "A", "before": side(3, 2, 0), "after": side(0, 5, 0)},
        {"title": "B", "before": side(0, 5, 0), "after": side(0, 4, 1)},
        {"title": "C", "before": side(0, 5, 0), "after": side(0, 4, 1)},
        {"title": "D", "before": side(0, 0, 5), "after": side(0, 0, 5)},
    ]
    seen, says = symptoms_around(told)
    assert [one["title"] for one in seen] == ["A"]
    assert says == ["Seen in none of 5 flights before and none of 4 after: B; C.", "No flight could show: D."]


def test_the_text_of_a_squawk_tells_of_work_between_its_flights() -> None:
    entry = Entry("N0007E", WORK, "battery_replaced", "")
    nothing = squawk_result("N0007E", Report(None, understand(""), ()), [])
    work = around_work(squawk([1, 2], [9, 10, 11], []), [entry])
    text = " ".join(squawk_text(replace(nothing, work=work)).split())
    assert "2026-03-08 battery replaced" in text
    assert "Slow crank, or many tries: before seen in 2 of 2 flights" in text
    assert "after seen in 0 of 3 flights" in text
