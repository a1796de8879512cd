"""Flights without a clock: trended in file order, with a sentence that says so, and set against no date."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from made_histories import made

from analyzer.findings.finding import FindingName, Severity
from analyzer.reports.trend_text import trend_text
from analyzer.trends.entries import Entry
from analyzer.trends.followed_tail import follow_tail, trends_of
from analyzer.trends.history import FlightFinding, History, history_of, in_file_order
from analyzer.trends.judging import judge_tail
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import review_tail
from analyzer.trends.tracked_series import BY_MEASURE, series_of
from tests.as_json import tail_json

DRIFT = ("drift_up", 305)


def stripped(history: History, which: slice = slice(None)) -> History:
    """The same flights, some of them without a clock, their files numbered in the order in which they were flown."""
    flights = list(history.flights)
    for place in range(*which.indices(len(flights))):
        flights[place] = replace(flights[place], start=None, end=None, file=f"card/log{place}.csv", number=1)
    return history_of(history.tail, flights, history.entries, history.aircraft)


def raised(history: History) -> list[tuple[str, int, object]]:
    tail = follow_tail(history)
    found = judge_tail(tail, trends_of(tail))
    return [(one.name, one.raised_flight, one.shift) for one in found]


def test_file_order_reads_numbers_as_numbers_and_places_within_a_file():
    names = [("b/Log10.csv", 1), ("z/log9.csv", 2), ("z/log9.csv", 1), ("a/log10.csv", 1), ("log.csv", 1)]
    assert sorted(names, key=lambda one: in_file_order(*one)) == [
        ("z/log9.csv", 1), ("z/log9.csv", 2), ("a/log10.csv", 1), ("b/Log10.csv", 1), ("log.csv", 1),
    ]  # fmt: skip


def test_what_is_found_without_a_clock_is_what_is_found_with_one():
    known = made(*DRIFT).history
    bare = stripped(known)
    assert [one.readings for one in bare.flights] == [one.readings for one in known.flights]
    assert raised(bare) == raised(known) != []
    document, dated = tail_json(bare), tail_json(known)
    assert document["flights"] == document["without_clock"] == len(known.flights)
    assert document["trends"]["regulated_voltage"] == {
        **dated["trends"]["regulated_voltage"],
        "changes": [one | {"start": None} for one in dated["trends"]["regulated_voltage"]["changes"]],
        "forecasts": [one | {"start": None} for one in dated["trends"]["regulated_voltage"]["forecasts"]],
    }
    (finding,) = [one for one in document["findings"] if one["finding"] == "regulator_drift"]
    moments = ("start", "end", "raised_at", "lapsed_at", "lapsed_by")
    assert [finding[key] for key in moments] == [None] * 5
    assert finding["raised_flight"] > finding["start_flight"]
    assert f", flight {finding['start_flight'] + 1} to flight " in finding["says"]
    assert json.loads(json.dumps(document, allow_nan=False)) == document


def test_flights_are_ordered_by_their_files_however_they_come():
    bare = stripped(made(*DRIFT).history)
    shuffled = [bare.flights[i] for i in np.random.default_rng(1).permutation(len(bare.flights))]
    assert history_of(bare.tail, shuffled).flights == bare.flights
    twice = history_of(bare.tail, [*bare.flights, replace(bare.flights[2], file="zz.csv")])
    assert twice.flights == bare.flights


def test_those_with_a_clock_come_first_and_the_sentence_counts_the_others():
    known = made(*DRIFT).history
    mixed = stripped(known, slice(0, 3))
    assert [one.start for one in mixed.flights] == [*(one.start for one in known.flights[3:]), None, None, None]
    (said,) = tail_json(mixed)["order"]
    assert said.startswith(f"3 of {len(known.flights)} flights without a clock: taken after those with a clock")
    assert tail_json(known)["order"] == []


def test_a_date_leaves_them_out_and_says_how_many():
    known = made(*DRIFT).history
    mixed = stripped(known, slice(0, 3))
    then = mixed.until(known.flights[-2].start)
    assert [one.start for one in then.flights] == [one.start for one in known.flights[3:-1]]
    assert tail_json(then)["order"] == ["Flights without a clock, left out because nothing tells when they began: 3."]
    nothing = tail_result(review_tail(stripped(known).until(datetime(2030, 1, 1))))
    assert (nothing.flights, nothing.condition) == (0, "unknown")
    assert f"began: {len(known.flights)}." in " ".join(trend_text([nothing]).split())


def test_an_entry_starts_nothing_anew_and_is_compared_with_none_of_them():
    known = made("regulator_adjusted", 302).history
    (entry,) = known.entries
    bare = stripped(known)
    document = tail_json(bare)
    assert document["order"][1] == "Maintenance entries cannot be set against flights without a clock."
    assert [(one["verdict"], one["measures"], one["findings"]) for one in document["entries"]] == [
        ("nothing to compare", [], [])
    ]
    assert follow_tail(bare).followed["regulated_voltage"].stretches[0].first == 0
    # flights without a clock stand on neither side of work on the others
    dated = tail_json(known)["entries"][0]
    later = [replace(one, start=None, end=None, file=f"{i}.csv") for i, one in enumerate(known.flights[-6:])]
    more = [replace(one, hours=one.hours + 0.01) for one in later]
    mixed = tail_json(history_of(known.tail, [*known.flights, *more], known.entries))
    assert mixed["flights"] == len(known.flights) + 6
    counted = [(one["measure"], one["flights_before"], one["flights_after"]) for one in dated["measures"]]
    assert [(o["measure"], o["flights_before"], o["flights_after"]) for o in mixed["entries"][0]["measures"]] == counted
    assert entry.when.isoformat() == dated["when"]


def test_a_finding_that_ended_has_lapsed_though_no_moment_tells():
    found = (FlightFinding(FindingName.UNSTEADY_CONNECTION, Severity.CAUTION),)
    bare = stripped(made("plain", 303).history)
    flights = [replace(one, findings=found if place in (4, 6, 8) else ()) for place, one in enumerate(bare.flights)]
    result = tail_result(review_tail(replace(bare, flights=tuple(flights))))
    document = tail_json(result)
    (one,) = [finding for finding in document["findings"] if finding["finding"] == "unsteady_connection"]
    assert (one["raised_flight"], one["lapsed_flight"], one["lapsed_at"]) == (8, 19, None)
    assert one["says"].startswith("Seen on 3 flights, flight 5 to flight 9.")
    assert document["condition"] != "caution"
    text = trend_text([result])
    assert "raised at flight 9, ended at flight 20" in " ".join(text.split())


def test_without_air_and_clock_the_season_may_have_moved_a_measure():
    known = made("no_air", 302).history
    kind = BY_MEASURE["regulated_voltage"]
    limits = known.aircraft.limits(known.nominal_voltage or 14)
    usual, bare = series_of(known, kind), series_of(stripped(known), kind)
    air = next(effect for effect in kind.effects if effect.of == "air_flight")
    swing = (abs(limits[air.prior_mean]) + limits[air.prior_sd]) * limits["trend_season_swing"]
    assert bare.innocent_move - usual.innocent_move == pytest.approx(np.full(usual.n, swing))
    assert np.isfinite(bare.covariates).all()
    with_air = made(*DRIFT).history
    assert (series_of(stripped(with_air), kind).innocent_move == series_of(with_air, kind).innocent_move).all()


def test_an_entry_after_the_last_dated_flight_does_not_begin_at_those_without_a_clock():
    known = made("plain", 304).history
    last = known.flights[-1].start
    assert last is not None
    entry = Entry(known.tail, last + timedelta(days=1), "battery_replaced", "")
    bare = [
        replace(one, start=None, end=None, file=f"{i}.csv", hours=one.hours + 0.01)
        for i, one in enumerate(known.flights)
    ]
    both = history_of(known.tail, [*known.flights, *bare], [entry])
    assert both.first_from(entry.when) == len(both.flights)
    assert {one.first for one in follow_tail(both).followed["resting_voltage"].stretches} == {0}
