"""What is remembered of logs stays small, whatever their cells hold."""

from __future__ import annotations

import pytest

from analyzer.corrections import Corrections, put_in_effect
from analyzer.logs import moments
from analyzer.logs.log import RefusedError
from analyzer.logs.moments import parse_date, parse_stamp
from analyzer.logs.remembered import LONGEST, remembered
from analyzer.logs.tail import pairs


def test_short_texts_are_answered_once_and_long_ones_never_held() -> None:
    asked = []

    @remembered(2)
    def letters(text: str, more: int = 0) -> int:
        """How many."""
        asked.append(text)
        return len(text) + more

    short, long = "x" * LONGEST, "x" * (LONGEST + 1)
    for _ in range(3):
        assert (letters(short), letters(short, more=1), letters(long)) == (LONGEST, LONGEST + 1, LONGEST + 1)
    assert [asked.count(one) for one in (short, long)] == [2, 3]
    letters.cache_clear()
    letters(short)
    assert asked.count(short) == 3
    assert letters.__doc__ == "How many."


@pytest.mark.parametrize("between", [" ", "T", "-", ","])
def test_a_cell_of_hundreds_of_letters_is_no_moment_and_is_not_cut_up(
    between: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    parts: list[str] = []
    with monkeypatch.context() as patched:
        patched.setattr(moments, "parse_date", lambda part, _order: parts.append(part))
        assert parse_stamp(between.join(["2026-05-09"] * 30), "ymd") is None
    assert parts == []
    assert parse_stamp(f"2026-05-09{between}10:11:12", "ymd") == (20582.0, 36672.0, None)
    assert parse_date("2026-05-09", "ymd") == 20582


@pytest.mark.parametrize("line", ["volts " * 40_000, "v" * 200_000, f"{' ' * 200_000}=", '"' * 100_000])
def test_a_long_line_above_the_header_is_gone_through_in_steps_that_grow_with_its_length(line: str) -> None:
    assert list(pairs([line], ",")) == []  # unbounded, the first two would take minutes


def test_names_and_values_in_quotes_are_read_from_a_line_above_the_header() -> None:
    line = '#info, recorder="one two", rev = "7.1", long name="N0012T"'
    assert list(pairs([line], ",")) == [("recorder", "one two"), ("rev", "7.1"), ("long name", "N0012T")]


def test_what_is_remembered_of_a_head_is_forgotten_with_the_words_that_it_rests_on(read) -> None:
    names = "Time,Bus Volts,Battery Strumx,Eignerx,Laufx\n"
    rows = [f"10:00:{row:02d},{12.5 + row % 3},{row % 7 - 3},N0012T,{4 + row // 20}" for row in range(40)]
    log, nameless = names + "\n".join([*rows, ""]), "Zeitx,Netzx\n" + "\n".join([*(row[:13] for row in rows), ""])
    added = {"current": ("strumx",), "tail": ("eignerx",), "session": ("laufx",), "voltage": ("netzx",)}

    def told() -> tuple[object, ...]:
        found = read(log)
        return sorted(found.roles), found.tail, found.breaks

    with pytest.raises(RefusedError, match="No header row"):
        read(nameless)
    assert told() == (["bus_voltage"], None, ())
    put_in_effect(Corrections(header_words=added))
    try:
        assert told() == (["battery_current", "bus_voltage"], "N0012T", (20,))
        assert read(nameless).roles == {"bus_voltage"}
    finally:
        put_in_effect(Corrections())
    assert told() == (["bus_voltage"], None, ())
