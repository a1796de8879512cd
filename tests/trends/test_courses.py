"""The courses that wear may take, and how much each is believed at each life."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pytest

from analyzer.trends.courses import LIVES, NODES, Course, net


def of_kind(kind: str) -> list[Course]:
    return [one for one in net().courses if one.kind == kind]


def share(courses: list[Course]) -> np.ndarray:
    """What some courses are believed together, at each life."""
    return np.sum([one.share for one in courses], axis=0)


def test_each_course_begins_new_and_never_mends() -> None:
    flown = np.linspace(0.0, 3.0, 301)
    for one in net().courses:
        grown = one.grown(flown)
        assert grown[0] == pytest.approx(0.0, abs=1e-12)
        assert (np.diff(grown) >= -1e-12).all()


def test_quickening_quickens_slowing_slows_and_even_does_neither() -> None:
    flown = np.linspace(0.0, 1.0, 101)
    for one in net().courses:
        turn = np.diff(one.grown(flown), 2)
        if one.kind == "wear_slowing":
            assert (turn < 0.0).all()
        else:
            assert (turn > -1e-9).all()
    (even,) = of_kind("wear_even")
    assert np.ptp(np.diff(even.grown(flown))) < 1e-12


def test_a_course_ends_at_its_life_and_is_worked_out_where_it_is_held_to_the_flights() -> None:
    for row in (0, 5, 30, 100, 300, len(net().courses) - 1):
        one = net().courses[row]
        np.testing.assert_allclose(net().grown[row], one.grown(NODES))
        believed = one.share > 0.0
        np.testing.assert_allclose((net().per_end[row] * one.grown(LIVES))[believed], 1.0)


def test_each_kind_shares_out_the_whole_of_its_belief_at_any_life() -> None:
    """Else a kind would be believed more at one life than at another. Begun late has its place anywhere in a life."""
    kinds = defaultdict(list)
    for one in net().courses:
        kinds[one.kind].append(one)
    for courses in kinds.values():
        np.testing.assert_allclose(share(courses), 1.0, atol=1e-9)


def test_a_bend_is_believed_anywhere_alike_in_the_last_four_fifths_of_a_life() -> None:
    bends = of_kind("wear_bent")
    for life in (20, 80, 130):
        places = np.array([one.place / LIVES[life] for one in bends])
        believed = np.array([one.share[life] for one in bends])
        assert believed @ places == pytest.approx(0.6, abs=0.03)
        assert believed[(places < 0.15) | (places > 1.1)].sum() < 0.02


def test_a_bend_bends_at_its_place_to_its_pace_at_once_or_over_a_while() -> None:
    near = [one for one in of_kind("wear_bent") if abs(one.place - 0.5) < 0.02]
    steps = {}
    for one in near:
        pace = np.diff(one.grown(np.array([0.0, 1e-3, one.place, one.place + 1e-3, 5.0, 5.001]))) / [
            1e-3, one.place - 1e-3, 1e-3, 4.999 - one.place, 1e-3
        ]  # fmt: skip
        steps.setdefault(round(pace[4] / pace[0], 1), []).append(pace[2] / pace[0])
    assert sorted(steps) == [1.8, 2.5, 3.5, 5.0, 7.5]
    for faster, (at_once, halfway) in steps.items():
        assert at_once == pytest.approx(faster, rel=0.01)
        assert halfway == pytest.approx((1.0 + faster) / 2.0, rel=0.03)


def test_a_bend_well_ahead_shows_in_no_flight() -> None:
    (even,) = of_kind("wear_even")
    ahead = [one for one, to_come in zip(net().courses, net().ahead, strict=True) if to_come]
    assert all(one.kind == "wear_bent" and one.place > 1.0 for one in ahead)
    far = [one for one in ahead if one.place > 1.5]
    assert len(far) == 25
    for one in far:
        np.testing.assert_allclose(one.grown(NODES), even.grown(NODES), atol=1e-4)
