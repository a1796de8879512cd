"""Maintenance entries: kinds, what they reset, and files of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made_histories import made

from analyzer.trends.entries import EntriesError, entries_beside, kind_of_words, kinds, make_entry, parse_entries
from analyzer.trends.history import Reading
from analyzer.trends.tracked_series import BY_MEASURE, series_of

CONTRACT = {
    "battery_replaced", "battery_serviced", "regulator_replaced", "regulator_adjusted", "alternator_replaced",
    "alternator_overhauled", "connection_repaired", "instrument_replaced", "other",
}  # fmt: skip


def test_the_kinds_are_those_of_the_contract_and_reset_only_measures_that_are_followed():
    assert set(kinds()) == CONTRACT | {"stranded"}, "which tells of no work"
    for kind in kinds().values():
        assert kind.resets <= set(BY_MEASURE)
    assert "regulated_voltage" not in kinds()["battery_replaced"].resets
    assert "cranking_voltage" not in kinds()["regulator_adjusted"].resets
    assert kinds()["instrument_replaced"].resets == set(BY_MEASURE)
    assert not kinds()["other"].resets


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        ("battery replaced", "battery_replaced"),
        ("Replaced the battery, old one at 61 %", "battery_replaced"),
        ("regulator adjusted to 14.1", "regulator_adjusted"),
        ("alternator overhauled", "alternator_overhauled"),
        ("oil change", "other"),
        ("connection_repaired", "connection_repaired"),
    ],
)
def test_the_words_name_the_kind(words, kind):
    assert kind_of_words(words) == kind


def test_a_wrong_kind_names_the_nearest_right_one():
    with pytest.raises(EntriesError, match="did you mean 'battery_replaced'"):
        make_entry("N047KT", "2026-03-29", "batery_replaced", "")


@pytest.mark.parametrize(("given", "kept"), [(84, 84.0), ("84 %", 84.0), (" 71.5", 71.5), ("", None), (None, None)])
def test_a_capacity_test_is_kept_in_percent_of_rated(given, kept):
    assert make_entry("N047KT", "2026-03-29", "battery_serviced", "", given).capacity == kept


@pytest.mark.parametrize(
    ("kind", "given", "said"),
    [
        ("battery_serviced", "0.84", "1 to 150, such as 85, not '0.84'"),
        ("battery_serviced", "400", "1 to 150"),
        ("battery_replaced", "good", "not 'good'"),
        ("battery_replaced", "nan", "not 'nan'"),
        ("regulator_adjusted", "84", "battery serviced .*; this is voltage regulator adjusted"),
    ],
)
def test_a_capacity_that_cannot_be_is_refused(kind, given, said):
    with pytest.raises(EntriesError, match=said):
        make_entry("N047KT", "2026-03-29", kind, "", given)


def test_a_file_may_have_a_column_of_capacities():
    text = "tail,when,kind,words,capacity\nN047KT,2026-01-01,battery_serviced,x,84\nN047KT,2026-01-02,other,x,\n"
    assert [one.capacity for one in parse_entries(text, "e.csv")] == [84.0, None]
    with pytest.raises(EntriesError, match="line 2"):
        parse_entries(text.replace("84", "840"), "e.csv")


def test_a_file_is_read_whatever_the_order_of_its_columns():
    made = parse_entries("kind,words,tail,when\nother,oil,n047kt,2026-03-29T16:04\n\n", "entries.csv")
    assert (made[0].tail, made[0].kind, made[0].when.hour) == ("N047KT", "other", 16)


def test_all_faulty_lines_are_said_at_once_and_none_is_taken():
    text = "tail,when,kind,words\nN047KT,yesterday,other,x\nN047KT,2026-01-01,nothing,x\n,2026-01-01,other,x\n"
    with pytest.raises(EntriesError) as told:
        parse_entries(text, "e.csv")
    assert "3 entries" in str(told.value)
    assert all(f"line {n}" in str(told.value) for n in (2, 3, 4))


def test_a_missing_column_is_named():
    with pytest.raises(EntriesError, match="missing: kind"):
        parse_entries("tail,when,words\n", "e.csv")


def test_entries_beside_logs_are_found_on_all_levels(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "entries.csv").write_text("tail,when,kind,words\nN047KT,2026-01-01,other,x\n")
    assert [entry.tail for entry in entries_beside([tmp_path])] == ["N047KT"]


def test_a_new_battery_that_cranks_higher_is_not_drawn_in_towards_the_old_one():
    # A reading far above the latest ones is taken for a missed instant, but not across an entry that explains it.
    tail = made("plain", 2)
    place = len(tail.history.flights) // 2
    lift = 2.0 * tail.history.nominal_voltage / 14
    flights = [
        replace(flight, readings=raised(flight.readings, lift)) if i >= place else flight
        for i, flight in enumerate(tail.history.flights)
    ]
    entry = make_entry(
        tail.history.tail, (flights[place].start - timedelta(hours=1)).isoformat(), "battery_replaced", ""
    )
    history = replace(tail.history, flights=tuple(flights), entries=(entry,))
    series = series_of(history, BY_MEASURE["cranking_voltage"])
    before = series_of(tail.history, BY_MEASURE["cranking_voltage"])
    after = series.flight >= place
    assert float(np.median((series.value - before.value)[after][:4])) == pytest.approx(lift, abs=0.15 * lift)


def raised(readings, lift):
    own = readings.get("cranking_voltage")
    more = {} if own is None else {"cranking_voltage": Reading(own.value + lift, own.low + lift, own.high + lift)}
    return {**readings, **more}
