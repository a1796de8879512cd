"""What the pages say of what is kept: whether work helped, numbers that say no more than is known."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from msgspec import structs

pytest.importorskip("dash")

from analyzer.findings.finding import FindingName
from analyzer.logs import Log, find_logs, read_log
from analyzer.measures.measure import Measure
from analyzer.reports.entry_text import VERDICTS
from analyzer.reports.wording import interval_words, value_words
from analyzer.review import review_log
from analyzer.trends.found_around import FoundAround
from dashboards.entry_cards import ANSWERS, entry_anchor, what_it_rests_on
from dashboards.flight_words import when_words
from tests.made_results import compared, work


def test_what_moved_is_said_with_its_unit_and_which_way() -> None:
    volts = compared("regulated_voltage", "helped", (14.43, 13.97), (-0.456, -0.477, -0.435))
    still = compared("regulation_droop", "no change", (6.1, 5.6), (-0.5, -1.9, 0.9))
    assert what_it_rests_on(work("helped", (volts, still))) == (
        "Regulated voltage went from 14.43 to 13.97 V (better)."
    )
    assert "more than its scatter" in what_it_rests_on(work("did not help", (still,)))
    few = [compared("regulated_voltage", "too few flights yet", after=after) for after in (1, 2)]
    assert what_it_rests_on(work("too few flights yet", (few[1],))).startswith("2 flights since then measure what")
    assert what_it_rests_on(work("too few flights yet", (*few,))).startswith("1 flight since then measures what")
    count = FoundAround(FindingName.ALTERNATOR_OFFLINE, 1, 11, 0, 17)
    assert what_it_rests_on(work("not found again", (still,), (count,))) == (
        "Alternator off line: found in 1 of 11 flights before, in 0 of 17 after. Too few flights to be sure."
    )


def test_an_entrys_name_in_addresses_needs_no_escaping() -> None:
    assert (
        entry_anchor(datetime(2026, 6, 9, 15, 20), "regulator_replaced") == "entry-2026-06-09-1520-regulator-replaced"
    )


def test_a_wide_interval_bears_no_decimals() -> None:
    wide = Measure("recharge_settling_time", 133.1, 73.3, 193.5)
    assert (value_words(wide), interval_words(wide)) == ("133 min", "73 to 194 min")
    narrow = Measure("recharge_settling_time", 9.2, 8.0, 10.2)
    assert (value_words(narrow), interval_words(narrow)) == ("9.2 min", "8.0 to 10.2 min")


def test_every_verdict_on_an_entry_has_a_badge() -> None:
    assert set(ANSWERS) == set(VERDICTS)


def test_a_flight_is_told_by_day_and_clock_or_by_its_place_in_the_log() -> None:
    (source,) = find_logs([Path(__file__).parents[2] / "sample_logs" / "N012LF_2026-05-09.csv"])
    log = read_log(source)
    assert isinstance(log, Log)
    (review,) = review_log(log).flights
    assert when_words(review).startswith("2026-05-09, 10:03 to 1")
    bare = structs.replace(review, flight=structs.replace(review.flight, clock_start=None))
    assert when_words(bare).endswith("min, from minute 0 of a log without a clock")
