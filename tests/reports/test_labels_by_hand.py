"""Values, changes and messages as lines and rows: every digit, unit, plural and cut by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import structs

from analyzer.aircraft import Battery, Setting, Source
from analyzer.findings.finding import Cause
from analyzer.measures.measure import Measure, around, measured, not_measurable
from analyzer.records.changes import Change
from analyzer.reports.change_words import DAMAGED, about_words, line_words, what_differs
from analyzer.reports.compare_words import aligned_words, compared_rows
from analyzer.reports.news_words import message_of
from analyzer.reports.setting_words import choice_words, setting_words
from analyzer.reports.text import Style, closing, first_clauses, shortened, width, wrapped
from analyzer.reports.wording import (
    ammeter_words,
    condition_words,
    copies_words,
    interval_words,
    measure_words,
    minutes_of,
    notes_of,
    number,
    printable,
    reasons_of,
    share_words,
    stale_words,
    system_words,
    unit_shown,
    unmeasured_label,
    value_words,
    with_unit,
)
from analyzer.service.compare_flights import Align, Compared, TwoFlights
from analyzer.service.due_result import BatteryAgeDue, DueState, Origin, Since
from analyzer.service.news import InFlights, News
from tests.made_results import trend_finding

#: A value and its unit as they are shown: two digits of volts and ampere hours, one of amperes, minutes and milliohms.
SHOWN = {
    "volts": (13.984, "V", "13.98 V"),
    "volts an hour": (-0.126, "V/h", "-0.13 V/h"),
    "ampere hours": (6.925, "Ah", "6.92 Ah"),  # the nearest float is a little below the half
    "amperes": (-0.06, "A", "-0.1 A"),
    "amperes about zero": (-0.04, "A", "0.0 A"),
    "minutes": (22.16, "min", "22.2 min"),
    "milliohms": (11.93, "mohm", "11.9 mΩ"),
    "seconds": (2.5, "s", "2 s"),  # a half goes to the even digit
    "seconds, the other half": (3.5, "s", "4 s"),
    "share": (93.6, "%", "94 %"),
    "count": (2.0, "1", "2"),
}


@pytest.mark.parametrize(("value", "unit", "shown"), SHOWN.values(), ids=SHOWN)
def test_a_value_has_the_digits_and_the_unit_that_a_reader_expects(value: float, unit: str, shown: str) -> None:
    assert with_unit(value, unit) == shown
    assert f"{number(value, unit)} {unit_shown(unit)}".rstrip() == shown


@given(st.floats(-1e4, 1e4), st.sampled_from(["V", "A", "Ah", "min", "%", "mohm"]))
def test_what_is_shown_is_the_value_to_half_its_last_digit(value: float, unit: str) -> None:
    digits = {"V": 2, "Ah": 2, "A": 1, "min": 1, "mohm": 1, "%": 0}[unit]
    shown = number(value, unit)
    assert abs(float(shown) - value) <= 0.5000001 * 10.0**-digits
    assert not (shown.startswith("-") and float(shown) == 0.0)


@pytest.mark.parametrize(
    ("half", "value", "interval", "both"),
    [
        (4.95, "22.2 min", "17.3 to 27.2 min", "22.2 min (17.3 to 27.2)"),
        (5.0, "22 min", "17 to 27 min", "22 min (17 to 27)"),  # ten minutes wide bears no decimals
        (0.0, "22.2 min", "22.2 to 22.2 min", "22.2 min"),
    ],
)
def test_an_interval_of_ten_units_bears_no_decimals(half: float, value: str, interval: str, both: str) -> None:
    one = around("recharge_settling_time", 22.25, half)
    assert (value_words(one), interval_words(one), measure_words(one)) == (value, interval, both)


@pytest.mark.parametrize(
    ("least", "most", "label"),
    [
        (None, None, "charge returned"),
        (6.93, None, "charge returned (at least 6.93 Ah)"),
        (None, 7.0, "charge returned (at most 7.00 Ah)"),
        (0.0, 7.0, "charge returned (at least 0.00 Ah, at most 7.00 Ah)"),
    ],
)
def test_a_measure_without_a_value_is_told_with_its_bounds(least, most, label: str) -> None:
    assert unmeasured_label(not_measurable("recharge_returned", "no start", at_least=least, at_most=most)) == label


def test_measures_with_one_reason_or_one_note_stand_together() -> None:
    missing = [not_measurable(name, why) for name, why in (("cranking_voltage", "no start"), ("endurance", "no load"),
                                                           ("cranking_time", "no start"))]  # fmt: skip
    assert reasons_of(missing) == {
        "no start": ["lowest cranking voltage", "cranking time"],
        "no load": ["endurance to plan on"],
    }
    noted = [around("resting_voltage", 12.6, 0.1, "10 s after power up"), around("bus_load", 12.0, 1.0),
             around("cranking_voltage", 9.6, 0.1, "10 s after power up")]  # fmt: skip
    assert notes_of(noted) == {"10 s after power up": ["resting voltage", "lowest cranking voltage"]}


@pytest.mark.parametrize(
    ("count", "copies", "stale"),
    [
        (0, "", "0 flights were"),
        (1, "1 flight came in two files; the longer copy counts", "1 flight was"),
        (2, "2 copies of flights that came in other files too are left out; of each the longest copy counts",
         "2 flights were"),
    ],
)  # fmt: skip
def test_one_copy_and_one_stale_flight_are_no_plural(count: int, copies: str, stale: str) -> None:
    assert copies_words(count) == copies
    assert stale_words(count) == f"{stale} analysed by an earlier version, or with other limits or settings"


def test_short_words_for_system_ammeter_condition_and_weight() -> None:
    assert (system_words(28), system_words(None)) == ("28 V system", "system voltage not known")
    assert [ammeter_words(kind) for kind in ("none", "unknown", "battery")] == [
        "no ammeter",
        "ammeter of unknown kind",
        "battery ammeter",
    ]
    assert [condition_words(one) for one in ("good", "unknown", "caution")] == ["nothing found", "not known", "caution"]
    assert share_words(Cause("a", "a", 0.155, (), ())) == "16 %"
    assert share_words(Cause("a", "a", 0.154, (), ())) == "15 %"
    assert (minutes_of(30.0, 119.9), minutes_of(0.0, 91.0)) == ("1 min", "2 min")  # 89.9 s and 91 s
    assert printable("N1\tok\n\x1b[31m") == "N1 ok \N{REPLACEMENT CHARACTER}[31m"


#: Settings as they are shown: their value with the unit.
SETTINGS: dict[str, tuple[str, Setting, str]] = {
    "none": ("battery_capacity", None, "not set"),
    "capacity": ("battery_capacity", 34.0, "34 Ah"),
    "half amperes": ("essential_load", 9.5, "9.5 A"),
    "band": ("regulated_voltage", (13.6, 14.3), "13.6 to 14.3 V"),
    "day": ("battery_fitted", date(2024, 5, 2), "2024-05-02"),
    "cold": ("coldest_morning", -12.0, "-12 °C"),
    "no unit": ("alternators", "2", "two"),
    "system": ("nominal_voltage", "28", "28 V"),
    "ammeter": ("ammeter", "alternator", "alternator output"),
    "source": ("source", Source.ALTERNATOR, "alternator"),
    "battery": ("battery", Battery.LITHIUM, "lithium iron phosphate"),
    "as written": ("aircraft_type", "two-seat trainer", "two-seat trainer"),
}


@pytest.mark.parametrize(("key", "value", "shown"), SETTINGS.values(), ids=SETTINGS)
def test_a_setting_is_told_with_its_unit(key: str, value: Setting, shown: str) -> None:
    assert setting_words(key, value) == shown


def test_an_alternator_is_a_source_and_an_ammeter_shows_its_output() -> None:
    assert (choice_words("source", "alternator"), choice_words("ammeter", "alternator")) == (
        "alternator",
        "alternator output",
    )


# The log of changes

ENTRY = {"kind": "battery_replaced", "when": "2026-05-02T00:00:00", "words": "", "capacity": None}
FITTED = '[aircraft.N1]\nbattery_capacity = 34\nlow_voltage = 12.8\n[aircraft.N1.columns]\nbus_voltage = "VOLTS 1"\n'


def change(what: str, before: dict | None, after: dict | None, **more) -> Change:
    told = {"about": "7", "tail": "N1"} | more
    return Change(1, "2026-05-06T12:00:00Z", "jdoe", "editor", "pages", what, before=before, after=after, **told)


CHANGES = {
    "an entry added": (
        change("maintenance entry added", None, ENTRY | {"capacity": 84.0, "words": "new one"}),
        "maintenance entry added: battery replaced, 2026-05-02 00:00, 84 % of rated, new one",
    ),
    "an entry's words changed": (
        change("maintenance entry changed", ENTRY, ENTRY | {"words": "cells topped up"}),
        "maintenance entry changed: battery replaced, 2026-05-02 00:00: notes cells topped up (was not set)",
    ),
    "an entry's day and capacity changed": (
        change("maintenance entry changed", ENTRY | {"capacity": 84.5}, ENTRY | {"when": "2026-05-03T08:30:59"}),
        "maintenance entry changed: battery replaced, 2026-05-02 00:00: date 2026-05-03 08:30 (was 2026-05-02 00:00); "
        "tested capacity not set (was 84.5 % of rated)",
    ),
    "an outcome recorded": (
        change("disposition added", None, {"finding": "slow_recharge", "at": "2026-05-02T09:14:30", "verdict": "fixed",
                                           "who": "jdoe", "words": ""}),
        "outcome recorded: Slow recharge, 2026-05-02 09:14, fixed, jdoe",
    ),
    "a log deleted": (
        change("log removed", {"source": "a/b/N1.csv", "rows": 7200, "original_kept": 1}, None),
        "log deleted: N1.csv",
    ),
    "a log corrected": (
        change("log changed", {"source": "N1.csv", "tail": "N1", "original_kept": 1},
               {"source": "N1.csv", "tail": "N2", "original_kept": 0}),
        "log corrected: aircraft N2 (was N1); original file kept no (was yes)",
    ),
    "settings": (
        change("fleet file changed", {"text": FITTED},
               {"text": FITTED.replace("34", "26").replace("VOLTS 1", "VOLTS 2")}),
        "settings changed: N1, Battery capacity 26 Ah (was 34 Ah); N1, column of the bus voltage VOLTS 2 (was VOLTS 1)",
    ),
    "an aircraft's first settings": (
        change("fleet file changed", {"text": ""}, {"text": "[aircraft.N1]\nammeter = \"battery\"\n"}),
        "settings changed: N1, Ammeter shows battery current (was not set)",
    ),
    "a comment alone": (
        change("fleet file changed", {"text": FITTED}, {"text": "# ours\n" + FITTED}),
        "settings changed: no setting differs",
    ),
    "a message": (
        change("message added", None, {"key": "N1|regulator_drift|regulated_voltage|2026-05-02T09:14", "about": "x"}),
        "message sent: Regulated voltage drifting, Regulated voltage, 2026-05-02 09:14",
    ),
    "a damaged line": (
        change("log removed", {"source": "N1.csv"}, None, damaged=True), f"log deleted: N1.csv - {DAMAGED}",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("one", "line"), CHANGES.values(), ids=CHANGES)
def test_a_change_says_what_was_done_and_what_stood_there_before(one: Change, line: str) -> None:
    assert line_words(one) == line


def test_settings_that_differ_are_counted_and_a_file_that_is_none_is_shown_cut() -> None:
    one, other = {"text": FITTED}, {"text": FITTED.replace("34", "26").replace("12.8", "12.5")}
    assert about_words(change("fleet file changed", one, other)) == "2 settings"
    assert about_words(change("fleet file changed", one, {"text": FITTED.replace("34", "26")})) == "1 setting"
    (text,) = what_differs(change("fleet file changed", one, {"text": "no file " * 40}))
    assert (text.label, len(text.after) <= 160, text.after.endswith("...")) == ("text", True, True)


# Lines


CUT = {
    "as long as its room": ("regulated voltage", 17, "regulated voltage"),
    "one letter more": ("regulated voltages", 17, "regulated..."),
    "at a word's end": ("one two three four", 16, "one two three..."),  # thirteen letters and three dots
    "within a word": ("one two three four", 15, "one two..."),
    "a comma before the dots": ("one two, three four", 13, "one two..."),
    "a single long word": ("regulatedvoltages", 10, "regulat..."),
    "no room for more than dots": ("one two", 3, "..."),
}


@pytest.mark.parametrize(("line", "room", "shown"), CUT.values(), ids=CUT)
def test_a_line_is_cut_at_a_word_and_never_longer_than_its_room(line: str, room: int, shown: str) -> None:
    assert shortened(line, room) == shown


@given(st.text("abc ,;.", max_size=60), st.integers(3, 60))
def test_no_cut_line_is_longer_than_its_room(line: str, room: int) -> None:
    assert len(shortened(line, room)) <= room
    assert len(first_clauses(line, room)) <= room


CLAUSES = {
    "whole": ("peak 15.8 V, limit 16 V", 23, "peak 15.8 V, limit 16 V"),
    "the first clause": ("peak 15.8 V, limit 16 V", 22, "peak 15.8 V"),  # the point in 15.8 ends none
    "just the first clause": ("peak 15.8 V, limit 16 V", 11, "peak 15.8 V"),
    "not even the first": ("peak 15.8 V, limit 16 V", 10, "peak..."),
    "two of three": ("one; two. three four", 17, "one; two"),
}


@pytest.mark.parametrize(("line", "room", "shown"), CLAUSES.values(), ids=CLAUSES)
def test_a_line_of_numbers_is_cut_between_clauses(line: str, room: int, shown: str) -> None:
    assert first_clauses(line, room) == shown


@pytest.mark.parametrize(("columns", "wide"), [(20, 40), (40, 40), (79, 79), (100, 100), (101, 100)])
def test_text_is_as_wide_as_the_terminal_between_what_can_be_read(monkeypatch, columns: int, wide: int) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    assert width() == wide


def test_no_line_breaks_between_a_number_and_its_unit(monkeypatch) -> None:
    """Forty columns: "14.1 V" would begin in the thirty-seventh, so both go to the next line, two more indented."""
    monkeypatch.setenv("COLUMNS", "40")
    assert wrapped("the regulator holds this bus at just 14.1 V", "") == [
        "the regulator holds this bus at just",
        "  14.1 V",
    ]
    assert wrapped("the regulator held a bus for 12 Vikings.", "  ") == [
        "  the regulator held a bus for 12",
        "    Vikings.",
    ]


def test_one_log_one_flight_one_refusal() -> None:
    told = closing(1, 1, 1, Style(colour=False)).splitlines()[0]
    assert told == "1 log, 1 flight, 1 log refused."
    assert closing(1200, 0, 0, Style(colour=False)).splitlines()[0] == "1,200 logs, 0 flights."


# Two flights side by side, and messages


def test_measures_that_differ_come_first_and_those_that_cannot_be_compared_last() -> None:
    low, high = around("regulated_voltage", 13.9, 0.05), around("regulated_voltage", 14.2, 0.05)
    none = not_measurable("cranking_voltage", "no start")
    load = around("bus_load", 12.0, 1.0)
    measures = (
        Compared("cranking_voltage", none, none, None, "no start in the first"),
        Compared("bus_load", load, load, False, None),
        Compared("regulated_voltage", low, high, True, None),
    )
    two = TwoFlights(None, None, Align.TAKE_OFF, (0.0, 0.0), "", measures)  # type: ignore[arg-type]
    assert compared_rows(two) == [
        ("Regulated voltage", "13.90 V (13.85 to 13.95)", "14.20 V (14.15 to 14.25)", "differs"),
        ("Bus load", "12.0 A (11.0 to 13.0)", "12.0 A (11.0 to 13.0)", "no clear difference"),
        ("Lowest cranking voltage", "not measurable", "not measurable", "not compared: no start in the first"),
    ]
    assert aligned_words(two) == "Lined up at the take-off, minute 0."


def due_age(tail: str) -> BatteryAgeDue:
    return BatteryAgeDue(tail, DueState.OVERDUE, date(2026, 5, 2), None, Since(date(2023, 5, 2), Origin.SET))


def news(tail: str, about) -> News:
    return News(tail, "", about)


def test_a_message_counts_the_gravest_first_and_names_four_aircraft() -> None:
    grave = replace(trend_finding(severity="warning"))
    told = message_of(
        [news("N1", grave), news("N2", trend_finding()), news("N3", trend_finding()), *(news(f"N{n}", due_age(f"N{n}"))
         for n in (4, 5, 6))]
    )  # fmt: skip
    assert told.title == "taper: 1 warning, 2 cautions, 3 due: N1, N2, N3, N4 and 2 more"
    assert told.text.startswith("1 warning, 2 cautions, 3 due, not told here before.\n\nWARNING  N1  Regulated voltage")
    assert "DUE  N4  Battery age: due since 2026-05-02\n36 months after" in told.text
    four = message_of([news(f"N{n}", due_age(f"N{n}")) for n in (1, 2, 3, 4)])
    assert four.title == "taper: 4 due: N1, N2, N3, N4"


def test_a_message_links_each_aircraft_says_what_to_check_and_defers_to_manuals_where_work_is_due() -> None:
    finding = message_of([news("N1", trend_finding())], "https://club.example").text.splitlines()
    assert finding[2:7] == [
        "CAUTION  N1  Regulated voltage drifting",
        "",
        "Over many flights, raised 2026-05-06.",
        "First check: Pull on the field terminal.",
        "https://club.example/aircraft/N1",
    ]
    assert not [line for line in finding if line.startswith("Intervals are common practice")]
    both = message_of([news("N1", trend_finding()), news("N2", due_age("N2"))]).text.splitlines()
    assert [line for line in both if line.startswith("Intervals are common practice")]
    assert not [line for line in both if "/aircraft/" in line]
    unclocked = trend_finding(raised_at=None)
    assert "Over many flights." in message_of([news("N1", unclocked)]).text.splitlines()


DAY, NEXT = datetime(2026, 5, 6, 9, 0), datetime(2026, 5, 9, 9, 0)


@pytest.mark.parametrize(
    ("flights", "first", "last", "says"),
    [(1, DAY, DAY, "In 1 flight, 2026-05-06."), (3, DAY, NEXT, "In 3 flights, 2026-05-06 to 2026-05-09."),
     (2, None, None, "In 2 flights.")],
)  # fmt: skip
def test_flights_that_show_a_finding_are_counted_and_dated(flights: int, first, last, says: str) -> None:
    about = InFlights(trend_finding(), flights, first, last)  # type: ignore[arg-type]
    assert says in message_of([news("N1", about)]).text.splitlines()


def test_a_measure_that_is_told_by_value_needs_both_its_ends() -> None:
    for broken in ({"value": None, "because": "none"}, {"low": None}, {"high": None}):
        whole: Measure = measured("bus_load", 12.0, 11.0, 13.0)
        with pytest.raises(ValueError, match="bus_load"):
            measure_words(structs.replace(whole, **broken))
