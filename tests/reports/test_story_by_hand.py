"""The story of a flight of twelve minutes that was drawn by hand: each sentence with its numbers and its moments.

A minute of rest at 12.6 V with 4 A drawn, three seconds of cranking, half a minute on the battery, ten minutes of a
carried bus at 14.1 V, half a minute after the engine stopped. A row a second.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.flight import Phase
from analyzer.flights.trace import Trace
from analyzer.measures.measure import MEASURES, Measure, measured, not_measurable
from analyzer.quantity import Quantity
from analyzer.reports.story import Sentence, story

CRANK, RUNS, CARRIED, STOPS, END = 60, 63, 93, 693, 723
LIMIT = {"limit": Quantity(1.0, "min")}
MISSING = {name: not_measurable(name, "not looked at") for name in MEASURES}


def volts(*spans: tuple[int, int, Any]) -> Any:
    """The bus, with other volts from some rows to others."""
    bus = np.full(END, 14.1)
    bus[:CRANK], bus[CRANK:RUNS], bus[RUNS:CARRIED], bus[STOPS:] = 12.6, (9.9, 9.6, 10.8), 12.4, 12.9
    for first, end, level in spans:
        bus[first:end] = level
    return bus


def drawn(**more: Any) -> Any:
    """The flight's review; what names a channel replaces it, what names a measure is that measure."""
    flow = np.where(np.arange(END) < CARRIED, -4.0, 6.0)
    crank, online, rows = np.zeros((3, END), dtype=np.bool_)
    crank[CRANK:RUNS] = online[CARRIED:STOPS] = True
    bus, flow = more.pop("bus", volts()), more.pop("flow", flow)
    measures = MISSING | {name: more.pop(name) for name in MEASURES if name in more}
    findings = more.pop("findings", ())
    told = {
        "trace": Trace(time=np.arange(END, dtype=np.float64), bus_voltage=bus, battery_current=flow),
        "begins_running": False, "from_s": 0.0, "to_s": END - 1.0, "stop_s": float(STOPS), "first_crank": CRANK,
        "crank": crank, "run": slice(RUNS, STOPS), "bus_told": True, "alternator_on_row": CARRIED,
        "alternator_online": online, "recharge": None, "phases": [], "regulated": rows,
        "voltmeter": SimpleNamespace(tells=True, because=""), "ammeter": SimpleNamespace(kind="battery"),
    }  # fmt: skip
    return SimpleNamespace(flight=SimpleNamespace(**told | more), measures=measures, findings=findings)


def says(review: Any) -> list[str]:
    return [one.says for one in story(review)]


def with_words(review: Any, words: str) -> Sentence:
    (found,) = (one for one in story(review) if words in one.says)
    return found


def at(name: str, value: float) -> Measure:
    return measured(name, value, value - 1.0, value + 1.0)


def test_the_flight_is_told_from_power_on_to_engine_stop() -> None:
    assert says(drawn(resting_charge=at("resting_charge", 81.6))) == [
        "Power on, engine stopped: bus 12.6 V, about 82 % charge; 4.0 A drawn for 60 s.",
        "Engine started: bus down to 9.6 V for 3 s.",
        "Alternator on line 30 s after engine start, at 14.1 V.",
        "Engine stopped: bus settled to 12.9 V.",
    ]


def test_a_battery_that_is_charged_before_the_start_gives_nothing() -> None:
    assert says(drawn(flow=np.full(END, 6.0)))[0] == "Power on, engine stopped: bus 12.6 V."


def test_each_sentence_lies_where_it_happened() -> None:
    rest, crank, carried, stopped = story(drawn())
    assert [(one.from_s, one.to_s) for one in (rest, crank, carried, stopped)] == [
        (0.0, 60.0), (60.0, 62.0), (93.0, 93.0), (693.0, 722.0),
    ]  # fmt: skip
    assert crank.deepest_s == crank.settled_s(1.0) == 61.0, "the second of the three readings is the lowest"
    assert "One reading every 1 s can miss the lowest point" in crank.why
    assert "Freshly charged" in stopped.why


@pytest.mark.parametrize(
    ("lasts", "settled"),
    [
        (3.0, 7.0),  # shorter than 5 s and two rows: that long after it began all the same (limit moment_half)
        (7.0, 3.5),
        (30.0, 15.0),  # the middle
        (600.0, 22.0),  # 15 s (limit moment_soon), clear of the change itself
    ],
)
def test_the_meters_show_a_moment_best_soon_after_it_began(lasts: float, settled: float) -> None:
    assert Sentence(100.0, 100.0 + lasts, "").settled_s(1.0) == 100.0 + settled


def test_a_log_that_begins_with_the_engine_running_tells_of_no_start() -> None:
    told = says(drawn(begins_running=True, alternator_on_row=0))
    assert told == ["The log begins with the engine already running.", "Engine stopped: bus settled to 12.9 V."]


def test_two_tries_are_told_one_by_one_and_only_the_last_started_the_engine() -> None:
    """A first try of two seconds at 20 s, down to 8.8 V."""
    review = drawn(bus=volts((20, 22, (9.0, 8.8))), first_crank=20)
    review.flight.crank[20:22] = True
    assert says(review)[:3] == [
        "Power on, engine stopped: bus 12.6 V; 4.0 A drawn for 20 s.",
        "Attempt 1 did not start the engine: bus down to 8.8 V for 2 s.",
        "Engine started: bus down to 9.6 V for 3 s.",
    ]


def test_a_start_between_two_rows_is_said_to_be_unseen() -> None:
    told = story(drawn(crank=np.zeros(END, dtype=np.bool_)))
    assert [one.says for one in told][1] == "Engine started; no reading while cranking."
    assert (told[1].from_s, told[1].why) == (63.0, "With one reading every 1 s the dip fell between two rows.")


@pytest.mark.parametrize(
    ("row", "words"),
    [(RUNS + 2, "Alternator on line, at"), (RUNS + 3, "Alternator on line 3 s after engine start, at")],
)
def test_an_alternator_that_takes_the_bus_within_two_rows_is_not_late(row: int, words: str) -> None:
    assert with_words(drawn(alternator_on_row=row), "Alternator on line").says.startswith(words)


def test_an_alternator_that_never_comes_is_told_for_the_whole_run() -> None:
    review = drawn(alternator_on_row=None, alternator_online=np.zeros(END, dtype=np.bool_))
    one = with_words(review, "never came on line")
    assert (one.from_s, one.to_s) == (63.0, 693.0)
    assert "After a discharge a battery recovers" in story(review)[-1].why


@pytest.mark.parametrize(("carried_s", "charged"), [(31, True), (30, False)])
def test_a_battery_is_freshly_charged_where_most_of_the_last_minute_was_carried(carried_s: int, charged: bool) -> None:
    online = np.zeros(END, dtype=np.bool_)
    online[STOPS - carried_s : STOPS] = True
    why = story(drawn(alternator_online=online))[-1].why
    assert why.startswith("Freshly charged") is charged


def recharged(level: float = -0.3, settled_min: float = 4.0, **more: Any) -> dict[str, Any]:
    """A recharge from 24 A above its level, with the measures that tell of it."""
    decay = SimpleNamespace(level=level, amplitude=24.0, steps=more.pop("steps", ()))
    told = {"decay": decay, "because": None, "on_s": 93.0, "settled_s": 333.0, "origin_s": 93.0,
            "start_recorded": True, "limit_a": None} | more  # fmt: skip
    return {
        "recharge": SimpleNamespace(**told),
        "recharge_peak_current": at("recharge_peak_current", 24.4),
        "recharge_settling_time": at("recharge_settling_time", settled_min),
        "recharge_time_constant": at("recharge_time_constant", 2.25),
    }


RECHARGES = {
    "settles at nothing": (
        recharged(), "Charging current 24 A at first, settled at 0 A within 4 min: normal.",  # 24.1 A, and -0.3 A
    ),
    "settles at something": (
        recharged(level=1.6), "Charging current 26 A at first, settled at 2 A within 4 min: normal.",
    ),
    "still falling at the end": (  # 600 s are carried
        recharged(settled_min=10.1),
        "Charging current still falling when the engine stopped; at that rate settled after 10 min.",
    ),
    "settles as the engine stops": (
        recharged(settled_min=10.0), "Charging current 24 A at first, settled at 0 A within 10 min: normal.",
    ),
    "not measurable": (
        recharged(decay=None, because="the load changed too often"),
        "Recharge not measurable: the load changed too often.",
    ),
    "from the middle on": (
        recharged(start_recorded=False),
        "As the log begins, charging current is 24 A above its settled level, time constant 2.2 min (1.2 to 3.2).",
    ),
    "behind an alternator ammeter": (
        recharged() | {"ammeter": SimpleNamespace(kind="alternator")},
        "Charging current 24 A at first, dropped below 1 A within 4 min: normal.",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("told", "sentence"), RECHARGES.values(), ids=RECHARGES)
def test_the_recharge_is_told_by_its_first_and_its_settled_current(told: dict[str, Any], sentence: str) -> None:
    assert sentence in says(drawn(**told))


def test_an_alternator_at_its_limit_and_a_slow_recharge_are_said() -> None:
    slow = Finding(FindingName.SLOW_RECHARGE, Severity.CAUTION, 93.0, 333.0, LIMIT, "Slow.", {})
    one = with_words(drawn(**recharged(limit_a=38.6), findings=(slow,)), "Charging current 24 A")
    assert one.says.endswith("within 4 min."), "not called normal beside that finding"
    assert one.why.endswith("At first the alternator was at its limit, near 39 A.")
    assert with_words(drawn(findings=(slow,)), "Slow recharge. Slow.").severity == "caution"


def test_load_steps_are_told_behind_an_alternator_ammeter_with_their_direction_and_time() -> None:
    told = recharged(steps=((100.0, 7.6), (300.0, -3.4))) | {"ammeter": SimpleNamespace(kind="alternator")}
    on, off = with_words(drawn(**told), "came on while"), with_words(drawn(**told), "went off")
    assert (on.says, on.from_s) == ("8 A of load came on while recharging.", 193.0)
    assert (off.says, off.from_s) == ("3 A of load went off.", 393.0), "the recharge had settled at 333 s"
    assert not [one for one in says(drawn(**recharged(steps=((100.0, 7.6),)))) if "of load" in one]


def sagging(*spans: tuple[int, int, float]) -> Any:
    return drawn(bus=volts(*spans), phases=[Phase("low_rpm", float(first), float(end)) for first, end, _ in spans])


def test_up_to_three_sags_at_low_rpm_are_told_one_by_one_and_those_of_seconds_not_at_all() -> None:
    """Five rows are no lasting sag; six are."""
    three = sagging((200, 230, 13.1), (300, 420, 12.8), (500, 506, 13.0))
    assert [one for one in says(three) if "sagged" in one] == [
        "Low rpm for 30 s: bus sagged to 13.1 V.",
        "Low rpm for 2 min: bus sagged to 12.8 V.",
        "Low rpm for 6 s: bus sagged to 13.0 V.",
    ]
    assert not [one for one in says(sagging((200, 205, 13.1))) if "sagged" in one]
    four = sagging((200, 230, 13.1), (300, 420, 12.8), (500, 506, 13.0), (600, 610, 13.2))
    one = with_words(four, "sagged")
    assert (one.says, one.from_s, one.to_s) == (
        "4 times at low rpm the bus sagged, to 12.8 V at the lowest.", 200.0, 610.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("end", "amps", "sentence"),
    [
        (500, -11.6, "1.7 min: the battery carried the load, giving 12 A, down to 12.2 V. Then the alternator came "
                     "back."),
        (STOPS, -0.5, "4.9 min: the battery carried the load, down to 12.2 V. It did not come back in this flight."),
        (STOPS - 2, -0.6, "4.8 min: the battery carried the load, giving 1 A, down to 12.2 V. It did not come back in "
                          "this flight."),
    ],
)  # fmt: skip
def test_a_loss_is_told_with_what_the_battery_gave_and_whether_it_ended(end: int, amps: float, sentence: str) -> None:
    """From 400 s on; 293 s are 4.9 min and 291 s 4.8 (4.85, to the even digit). Back needs more than two rows."""
    flow = np.full(END, 6.0)
    flow[400:end] = amps
    lost = [Phase("alternator_offline", 400.0, float(end))]
    says_so = with_words(drawn(bus=volts((400, end, 12.2)), flow=flow, phases=lost), "Without the alternator").says
    assert says_so == f"Without the alternator for {sentence}"


def test_the_regulator_s_hold_is_told_by_its_rows_with_load_and_charge() -> None:
    rows = np.zeros(END, dtype=np.bool_)
    rows[400:580] = True
    held = {"phases": [Phase("steady", 380.0, 690.0)], "regulated": rows, **recharged(),
            "regulated_voltage": at("regulated_voltage", 14.12), "bus_load": at("bus_load", 16.5)}  # fmt: skip
    one = with_words(drawn(**held, maintenance_current=at("maintenance_current", -0.04)), "held")
    assert one.says == "Recharge done. For 3 min the regulator held 14.1 V at 16 A load, 0.0 A into the battery."
    assert (one.from_s, one.to_s) == (380.0, 690.0)
    never = Finding(FindingName.RECHARGE_NEVER_SETTLES, Severity.CAUTION, 93.0, 600.0, LIMIT, "Never.", {})
    told = says(drawn(**held, findings=(never,)))
    assert "For 3 min the regulator held 14.1 V at 16 A load." in told
    assert not [one for one in told if one.startswith("Charging current 2")]


def test_without_a_voltmeter_the_ammeter_tells() -> None:
    blind = SimpleNamespace(tells=False, because="the voltmeter is not connected")
    told = story(drawn(voltmeter=blind, bus=np.full(END, np.nan)))
    assert [one.says for one in told] == [
        "No usable bus voltage: the voltmeter is not connected.",
        "Alternator on line 30 s after engine start.",
    ]
    assert told[1].why.startswith("A battery ammeter shows discharge until")
