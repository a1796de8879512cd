"""Flights that came in more than one file count once, and no others are taken for copies."""

from __future__ import annotations

import itertools
from datetime import datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from analyzer.trends.deduplicate import deduplicate

Span = tuple[datetime, datetime, str]


def span(start: float, end: float, name: str) -> Span:
    day = datetime(2026, 5, 4)
    return day + timedelta(minutes=start), day + timedelta(minutes=end), name


def once(*flights: Span) -> tuple[list[str], list[str]]:
    told = deduplicate(flights, lambda one: (one[0], one[1]))
    return [name for *_, name in told.kept], [name for *_, name in told.copies]


def test_of_two_whole_copies_the_first_added_counts():
    assert once(span(0, 71, "first"), span(0, 71, "second")) == (["first"], ["second"])


def test_a_cut_copy_that_began_first_does_not_count():
    assert once(span(-1, 5, "cut"), span(0, 71, "whole")) == (["whole"], ["cut"])


def test_two_cut_copies_of_one_flight_are_both_left_out():
    assert once(span(60, 72, "end"), span(0, 71, "whole"), span(0, 5, "begin")) == (["whole"], ["begin", "end"])


def test_flights_that_only_touch_are_two():
    assert once(span(71, 90, "after"), span(0, 71, "before")) == (["before", "after"], [])


def test_flights_without_length_that_begin_at_one_moment_are_one():
    assert once(span(0, 0, "first"), span(0, 0, "second"), span(1, 1, "later")) == (["first", "later"], ["second"])


@given(st.lists(st.tuples(st.integers(0, 300), st.integers(1, 90)), max_size=12))
def test_nothing_is_lost_what_counts_is_apart_and_every_copy_overlaps_one_as_long(spans):
    flights = [span(start, start + length, str(place)) for place, (start, length) in enumerate(spans)]
    kept, copies = deduplicate(flights, lambda one: (one[0], one[1]))
    assert sorted([*kept, *copies]) == sorted(flights)
    assert all(one[1] <= after[0] for one, after in itertools.pairwise(kept))
    for copy in copies:
        longest = max((own[1] - own[0] for own in kept if own[0] < copy[1] and copy[0] < own[1]), default=timedelta(0))
        assert longest >= copy[1] - copy[0]
