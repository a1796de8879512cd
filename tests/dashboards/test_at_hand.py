"""Answers at hand: those asked for last stay, and none is given after what it rests on has changed."""

from __future__ import annotations

from dashboards.at_hand import AtHand


def test_an_answer_is_given_while_its_marks_stand_and_not_after():
    hand = AtHand[str](2)
    assert hand.get("fleet", 1) is None
    assert hand.hold("fleet", 1, "first") == "first"
    assert hand.get("fleet", 1) == "first"
    assert hand.get("fleet", 2) is None
    hand.hold("fleet", 2, "second")
    assert (hand.get("fleet", 1), hand.get("fleet", 2)) == (None, "second")


def test_those_asked_for_last_stay():
    hand = AtHand[int](2)
    hand.hold("a", 0, 1)
    hand.hold("b", 0, 2)
    assert hand.get("a", 0) == 1
    hand.hold("c", 0, 3)
    assert [hand.get(asked, 0) for asked in "abc"] == [1, None, 3]


def test_what_is_held_always_takes_no_place_of_the_others():
    hand = AtHand[int](1, frozenset({"fleet"}))
    hand.hold("fleet", 0, 1)
    hand.hold("a", 0, 2)
    hand.hold("b", 0, 3)
    assert [hand.get(asked, 0) for asked in ("fleet", "a", "b")] == [1, None, 3]
