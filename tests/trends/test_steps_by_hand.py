"""Loads, alarms, peers and entries at their edges: what a step more or less, or a flight more or less, must change."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from analyzer.limits import Limits
from analyzer.measures.meter_record import Extremes, Loss, MeterRecord
from analyzer.measures.own_loads import FlightLoads, LoadStep
from analyzer.quantity import Quantity
from analyzer.trends.alarm_limits import AlarmLimits, alarm_limits
from analyzer.trends.deduplicate import deduplicate
from analyzer.trends.entries import make_entry, parse_entries
from analyzer.trends.load_list import LoadList, load_list


def steps(*sizes: float, error: float = 0.1, in_flight: bool = True) -> FlightLoads:
    """A flight with steps of these sizes; below zero a load went off."""
    return FlightLoads(tuple(LoadStep(60.0 * place, amps, error, in_flight) for place, amps in enumerate(sizes)))


@pytest.mark.parametrize(
    ("flights", "amps", "others"),
    [
        # Sizes stand as one load where each lies within 0.6 A of the next.
        pytest.param([steps(5.0, 5.5), steps(6.0)], [5.5], 0, id="half an ampere apart: one load"),
        pytest.param([steps(5.0, 5.0), steps(5.0, 5.7, 5.7, 5.7), steps(5.7)], [5.7, 5.0], 0, id="0.7 apart: two"),
        # Three steps of two flights at the least.
        pytest.param([steps(8.0, -8.0), steps(8.0)], [8.0], 0, id="three steps in two flights"),
        pytest.param([steps(8.0, -8.0, 8.0), steps()], [], 3, id="three steps in one flight"),
        pytest.param([steps(8.0), steps(-8.0)], [], 2, id="two steps in two flights"),
        pytest.param([steps(2.0, 9.0, 2.0), steps(9.0, 2.0, 9.0)], [9.0, 2.0], 0, id="the largest first"),
    ],
)
def test_which_steps_are_one_load(flights: list[FlightLoads], amps: list[float], others: int) -> None:
    told = load_list(flights, 14)
    assert [one.amps.value for one in told.loads] == amps
    assert told.other_steps == others
    assert (told.because is None) == bool(amps)


@pytest.mark.parametrize(
    ("sizes", "error", "value", "ends"),
    [
        # Half the interval: 1.96 x 1.2533 times the greater of scatter and error over the root of the steps, and 4 %
        # of the size beside it. Three of 8 A with 0.1 A of error: 0.1418 and 0.32 make 0.350: 7.65 to 8.35, outwards.
        pytest.param((8.0, 8.0, 8.0), 0.1, 8.0, (7.6, 8.4), id="as sure as the meter"),
        # 7.8, 8.0, 8.2 scatter by 0.1633: 0.2316 and 0.32 make 0.395: 7.605 to 8.395.
        pytest.param((7.8, 8.0, 8.2), 0.1, 8.0, (7.6, 8.4), id="a little scatter"),
        # Of 20 A 4 % are 0.8; 0.5 A of error make 0.709: 1.069, so 18.931 to 21.069.
        pytest.param((20.0, 20.0, 20.0), 0.5, 20.0, (18.9, 21.1), id="a large load"),
        # The middle one counts: one of the four odd by half an ampere moves it by nothing. Scatter 0.2165: 0.2659
        # beside 0.2: 0.333: 4.667 to 5.333.
        pytest.param((5.0, 5.0, 5.0, 5.5), 0.1, 5.0, (4.6, 5.4), id="an odd one"),
    ],
)
def test_a_load_s_size_and_its_interval(
    sizes: tuple[float, ...], error: float, value: float, ends: tuple[float, float]
) -> None:
    told = load_list([steps(*sizes[:1], error=error), steps(*sizes[1:], error=error)], None).loads[0].amps
    assert (told.value, told.low, told.high) == pytest.approx((value, *ends))


def test_on_and_off_early_and_late_and_flights_are_counted_each_for_itself() -> None:
    early = steps(8.0, -8.0, in_flight=False)
    (told,) = load_list([early, steps(8.0, 8.0), FlightLoads((), "no ammeter"), steps()], 14).loads
    assert (told.on, told.off, told.flights, told.before_take_off) == (3, 1, 2, 2)


@pytest.mark.parametrize(
    ("flights", "told"),
    [
        pytest.param([], LoadList(0, (), 0, "no flight could be read"), id="none"),
        pytest.param([FlightLoads((), "no ammeter")] * 2, LoadList(0, (), 0, "no ammeter"), id="none that shows one"),
        pytest.param([steps()], LoadList(1, (), 0, "no size of step came often enough"), id="no step"),
    ],
)
def test_why_no_load_is_told(flights: list[FlightLoads], told: LoadList) -> None:
    assert load_list(flights, 14) == told


def loss(volts: list[float], begins: float = -3.0) -> Loss:
    """A row a second of the bus around an alternator's loss, the first so long from it."""
    time = begins + np.arange(len(volts))
    return Loss(600.0, 60.0, time, np.array(volts), np.full(len(volts), np.nan))


HIGH, LOW, GONE = 14.0, 12.4, float("nan")


@pytest.mark.parametrize(
    ("volts", "after"),
    [
        # An alarm sounds once the reading has lasted 5 s below its limit of 13 V; the loss is at the fourth row.
        pytest.param([HIGH] * 3 + [LOW] * 6, 5.0, id="at once: five seconds after it"),
        pytest.param([HIGH] * 3 + [LOW] * 5, None, id="four seconds are not enough"),
        pytest.param([HIGH] * 5 + [LOW] * 6, 7.0, id="two seconds later"),
        pytest.param([HIGH] * 3 + [LOW] * 4 + [HIGH] + [LOW] * 6, 10.0, id="a moment above begins it anew"),
        pytest.param([HIGH] * 3 + [LOW] * 4 + [GONE] + [LOW] * 6, 10.0, id="so does a missing reading"),
        pytest.param([HIGH] * 3 + [13.0] * 8, None, id="at the limit is not below it"),
        pytest.param([HIGH] * 3 + [12.99] * 8, 5.0, id="a hundredth below is"),
        pytest.param([HIGH] * 9, None, id="never"),
    ],
)
def test_when_an_alarm_would_have_sounded(volts: list[float], after: float | None) -> None:
    one = loss(volts)
    assert one.first_below(13.0, one.volts) == after


@pytest.mark.parametrize(
    ("volts", "after"),
    [
        # Eight seconds low from ten before the loss on, so that it sounded five seconds before it.
        pytest.param([LOW] * 20, -5.0, id="low all along: it had sounded before"),
        pytest.param([LOW] * 8 + [HIGH] * 2 + [LOW] * 10, 5.0, id="what came back before it was no warning of it"),
        pytest.param([LOW] * 8 + [HIGH] * 12, None, id="nor is there one where nothing follows"),
        pytest.param([HIGH] * 10 + [LOW] * 6 + [HIGH] * 4, 5.0, id="what sounded after it is not taken back"),
    ],
)
def test_an_alarm_that_sounded_before_the_loss(volts: list[float], after: float | None) -> None:
    one = loss(volts, begins=-10.0)
    assert one.first_below(13.0, one.volts) == after


LIGHT, NOTHING = Quantity(12.5, "V"), Extremes(None, None)


def record(lowest: float, highest: float = 14.2, amps: float | None = 0.0, sound: bool = True) -> MeterRecord:
    battery = None if amps is None else Extremes(amps, 9.0)
    return MeterRecord(sound, Extremes(lowest, highest), NOTHING, battery, NOTHING if battery else None, ())


def alarms(records: list[MeterRecord]) -> AlarmLimits:
    return alarm_limits(records, Limits(14, {}), LIGHT)


@pytest.mark.parametrize(
    ("flights", "told"),
    [(9, "9 flights without a finding showed a bus voltage for long enough; 10 are needed"), (10, None)],
)
def test_ten_sound_flights_tell_a_limit_and_nine_do_not(flights: int, told: str | None) -> None:
    records = (
        [record(14.0)] * flights
        + [record(14.0, sound=False)] * 5
        + [MeterRecord(True, NOTHING, NOTHING, None, None, ())] * 5
    )
    found = alarms(records)
    assert found.alarm("low_voltage").because == told
    assert (found.flights, found.sound) == (flights + 10, flights + 5)


@pytest.mark.parametrize(
    ("lowest", "limit"),
    [
        # 0.2 V clear of the usual lowest, down to a whole tenth, and no higher than the band's foot of 13.4 V.
        (13.9, 13.4), (13.6, 13.4), (13.59, 13.3), (13.55, 13.3), (13.5, 13.3), (13.49, 13.2),
    ],
)  # fmt: skip
def test_a_low_voltage_limit_in_steps_of_a_tenth(lowest: float, limit: float) -> None:
    assert alarms([record(lowest)] * 12).alarm("low_voltage").limit == pytest.approx(limit)


@pytest.mark.parametrize(("highest", "limit"), [(14.0, 14.5), (14.3, 14.5), (14.31, 14.6), (14.4, 14.6), (14.41, 14.7)])
def test_a_high_voltage_limit_in_steps_of_a_tenth(highest: float, limit: float) -> None:
    assert alarms([record(14.0, highest)] * 12).alarm("high_voltage").limit == pytest.approx(limit)


@pytest.mark.parametrize(("amps", "limit"), [(0.5, -3.0), (0.0, -3.0), (-0.1, -4.0), (-2.0, -5.0), (-2.01, -6.0)])
def test_a_discharge_limit_in_whole_amperes(amps: float, limit: float) -> None:
    assert alarms([record(14.0, amps=amps)] * 12).alarm("discharge").limit == pytest.approx(limit)


@pytest.mark.parametrize(
    ("false", "of", "most"),
    [
        # The largest share by which so few or fewer come with one in twenty: none of 20 by 1 - 0.05^(1/20).
        (0, 20, 1.0 - 0.05**0.05),
        (0, 10, 1.0 - 0.05**0.1),
    ],
)
def test_no_false_alarm_in_few_flights_says_little(false: int, of: int, most: float) -> None:
    told = alarms([record(14.0)] * of).alarm("low_voltage")
    assert (told.false_flights, told.of_flights) == (false, of)
    assert told.false_most == pytest.approx(most, abs=1e-6)


@pytest.mark.parametrize(("capacity", "told"), [("84", 84.0), (" 84.5 % ", 84.5), ("", None), (None, None)])
def test_a_capacity_as_it_is_written(capacity: str | None, told: float | None) -> None:
    assert make_entry("N1", "2026-05-02", "battery_serviced", "tested", capacity).capacity == told


@pytest.mark.parametrize(
    "text",
    [
        "tail,when,kind,words\nN1,2026-05-02,other,a\n\n,,,\nN2,2026-05-03,other,b\n",
        "\ufefftail,when,kind,words\r\nN1,2026-05-02,other,a\r\nN2,2026-05-03,other,b",
    ],
    ids=["blank lines", "as a spreadsheet writes it"],
)
def test_a_file_of_entries_is_read_as_programs_write_it(text: str) -> None:
    assert [(one.tail, one.when, one.words) for one in parse_entries(text, "x")] == [
        ("N1", datetime(2026, 5, 2), "a"), ("N2", datetime(2026, 5, 3), "b"),
    ]  # fmt: skip


NOON = datetime(2026, 5, 1, 12)
SPANS = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 30)), max_size=9)


@settings(max_examples=40)
@given(spans=SPANS)
def test_of_flights_that_overlap_one_is_kept_and_none_is_lost(spans: list[tuple[int, int]]) -> None:
    """By minutes: each copy lies over a flight that is no shorter, and no two kept ones overlap."""
    flights = [(NOON + timedelta(minutes=first), NOON + timedelta(minutes=first + long)) for first, long in spans]
    kept, copies = deduplicate(flights, lambda one: one)
    assert sorted([*kept, *copies]) == sorted(flights)
    assert kept == sorted(kept)
    for one, other in pairwise(kept):
        assert one[1] <= other[0]
        assert one[0] < other[0]
    for begin, end in copies:
        assert any(b - a >= end - begin and ((a < end and begin < b) or a <= begin < b or a == begin) for a, b in kept)


def test_flights_that_touch_are_two_and_a_second_over_is_one() -> None:
    first = (NOON, NOON + timedelta(hours=1))
    touching = (first[1], first[1] + timedelta(hours=2))
    over = (first[1] - timedelta(seconds=1), touching[1])
    assert deduplicate([first, touching], lambda one: one).copies == []
    assert deduplicate([first, over], lambda one: one).copies == [first], "the shorter one is the copy"


def test_of_equally_long_copies_the_one_given_first_counts() -> None:
    one, other = ("a", NOON), ("b", NOON)

    def span(named: tuple[str, datetime]) -> tuple[datetime, datetime]:
        return named[1], named[1] + timedelta(hours=1)

    assert deduplicate([one, other], span).kept == [one]
    assert deduplicate([other, one], span).kept == [other]


def test_sound_flights_alone_set_a_limit() -> None:
    sound, odd = [record(14.0)] * 12, [replace(record(13.0), sound=False)] * 12
    assert alarms(sound + odd).alarm("low_voltage") == alarms(sound).alarm("low_voltage")
