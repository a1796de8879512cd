"""Counts, chances, lengths of time and numbers in words, at the borders at which they are said otherwise."""

from __future__ import annotations

from datetime import date

import pytest

from analyzer.phrases import (
    bus_volts,
    chance,
    counted,
    day,
    duration,
    figures,
    fixed,
    nearest,
    not_found,
    not_kept_yet,
    signed,
    times,
)


@pytest.mark.parametrize(
    ("count", "flights", "tries", "often"),
    [(0, "0 flights", "0 tries", "0 times"), (1, "1 flight", "1 try", "once"), (2, "2 flights", "2 tries", "2 times"),
     (1200, "1,200 flights", "1,200 tries", "1,200 times")],
)  # fmt: skip
def test_one_is_no_plural_and_thousands_are_parted(count: int, flights: str, tries: str, often: str) -> None:
    assert (counted(count, "flight"), counted(count, "try", "tries"), times(count)) == (flights, tries, often)


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.02, "1 in 50"),
        (0.15, "1 in 7"),
        (0.19, "1 in 5"),  # 5.3
        (0.2, "1 in 5"),
        (0.24, "1 in 4"),
        (0.34, "1 in 3"),
        (0.4, "2 in 5"),
        (0.5, "1 in 2"),
        (0.58, "3 in 5"),
        (0.66, "2 in 3"),
        (0.75, "3 in 4"),
        (0.8, "4 in 5"),
        (0.86, "6 in 7"),
        (0.9, "9 in 10"),
        (0.91, "more than 9 in 10"),
    ],
)
def test_a_chance_is_a_small_fraction_and_never_all(share: float, said: str) -> None:
    assert chance(share) == said


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0.2, "1 s"),
        (89.4, "89 s"),
        (90.0, "1.5 min"),
        (144.0, "2.4 min"),
        (240.0, "4 min"),
        (599.0, "10 min"),
        (600.0, "10 min"),
        (5369.0, "89 min"),
        (5371.0, "1 h 30 min"),  # 89.5 min
        (7260.0, "2 h 1 min"),
    ],
)
def test_a_length_of_time_is_told_in_the_unit_that_a_person_takes(seconds: float, said: str) -> None:
    assert duration(seconds) == said


@pytest.mark.parametrize(
    ("value", "digits", "said"),
    [
        (15.82449, 4, "15.82"),
        (16.0, 4, "16"),
        (-0.04567, 2, "-0.046"),
        (-0.0, 4, "0"),
        (12537.0, 4, "12540"),  # an altitude, or an error code of an ammeter
        (-32768.0, 4, "-32770"),
        (120.0, 2, "120"),  # a row every two minutes
        (0.0001, 2, "0.0001"),
        (1234567.0, 4, "1235000"),
    ],
)
def test_a_number_has_so_many_figures_and_no_power_of_ten(value: float, digits: int, said: str) -> None:
    assert figures(value, digits) == said


@pytest.mark.parametrize(("volts", "said"), [(-0.2, "0 V"), (0.0, "0.0 V"), (12.36, "12.4 V")])
def test_a_bus_below_nothing_is_a_meter_s_error(volts: float, said: str) -> None:
    assert bus_volts(volts) == said


@pytest.mark.parametrize(("value", "said"), [(0.0, "+0"), (0.254, "+0.254"), (-12.34, "-12.3"), (-2540.0, "-2540")])
def test_a_change_has_its_sign_and_no_power_of_ten(value: float, said: str) -> None:
    assert signed(value) == said


def test_a_day_is_written_as_it_is_entered() -> None:
    assert day(date(2026, 5, 9)) == "2026-05-09"


@pytest.mark.parametrize(
    ("value", "digits", "said"),
    [
        (-0.4, 0, "0"),  # an ammeter's zero, or the air at the melting point: no "-0"
        (-0.04, 1, "0.0"),
        (-0.0, 2, "0.00"),
        (-0.06, 1, "-0.1"),
        (-0.6, 0, "-1"),
        (0.04, 1, "0.0"),
        (12.25, 1, "12.2"),  # half, to the even digit, as Python's own format rounds
        (12.35, 1, "12.3"),  # the nearest float is a little below the half
        (-10.0, 0, "-10"),
        (1234.5, 1, "1234.5"),
    ],
)
def test_what_rounds_to_nothing_has_no_sign(value: float, digits: int, said: str) -> None:
    assert fixed(value, digits) == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.818, "5 in 6"),
        (0.9001, "more than 9 in 10"),
        (1.0, "more than 9 in 10"),
        (0.1999, "1 in 5"),
        (0.001, "1 in 1000"),
    ],
)
def test_a_chance_at_the_borders_of_its_fractions(share: float, said: str) -> None:
    """0.818 lies nearer to 5/6 (0.833) than to 4/5; 9/11 would say more than anybody knows."""
    assert chance(share) == said


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.0, "1 s"), (1.4, "1 s"), (89.6, "90 s"), (569.9, "9.5 min"), (640.0, "11 min"), (5340.0, "89 min"),
     (7200.0, "2 h 0 min")],
)  # fmt: skip
def test_a_length_of_time_at_the_borders_of_its_units(seconds: float, said: str) -> None:
    assert duration(seconds) == said


KNOWN = ("N074LF", "N012LF", "N12AB")


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("N074FL", "; did you mean N074LF?"),
        ("N12XY", "; did you mean N12AB?"),  # three letters of five in common, 0.6 alike
        ("N99XY", ""),  # one of five
        ("", ""),
    ],
)
def test_the_nearest_tail_is_offered_where_one_is_near(written: str, said: str) -> None:
    assert nearest(written, KNOWN) == said
    assert not_found([written], KNOWN) == (
        f"no flight of {written} was found{said or '; aircraft found: N012LF, N074LF, N12AB'}"
    )
    assert not_kept_yet(written, KNOWN) == f"No flight of {written} is kept yet{said or '; is its tail written so?'}"


def test_of_several_tails_that_are_not_there_the_first_is_held_against_those_that_are() -> None:
    assert not_found(["N074LX", "N1"], KNOWN) == "no flight of N074LX, N1 was found; did you mean N074LF?"
    assert not_found(["N1"], []) == "no flight of N1 was found; aircraft found: none"
