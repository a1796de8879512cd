"""What the pages say of what is kept: whether work helped, numbers that say no more than is known."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

pytest.importorskip("dash")

from analyzer.measures.measure import Measure
from analyzer.reports.entry_text import VERDICTS
from analyzer.reports.wording import interval_words, value_words
from dashboards.entry_cards import ANSWERS, change_words, entry_anchor, what_it_rests_on


def measure(name: str, verdict: str, before: float, after: float, *change: float) -> dict[str, Any]:
    keys = dict(zip(("change", "low", "high"), change, strict=True))
    return {"measure": name, "verdict": verdict, "before": before, "after": after, **keys, "flights_after": 9}


def test_a_change_is_said_in_its_unit_and_a_factor_in_per_cent() -> None:
    volts = measure("regulated_voltage", "helped", 14.43, 13.97, -0.456, -0.477, -0.435)
    assert change_words(volts) == "-0.46 (-0.48 to -0.43) V"
    factor = measure("recharge_time_constant", "helped", 3.72, 3.09, 0.83, 0.784, 0.877)
    assert change_words(factor) == "-17 % (-22 to -12 %)"


def test_what_moved_is_said_with_its_unit_and_which_way() -> None:
    volts = measure("regulated_voltage", "helped", 14.43, 13.97, -0.456, -0.477, -0.435)
    still = measure("regulation_droop", "no change", 6.1, 5.6, -0.5, -1.9, 0.9)
    entry = {"verdict": "helped", "measures": [volts, still], "findings": []}
    assert what_it_rests_on(entry) == "Regulated voltage went from 14.43 to 13.97 V (better)."
    assert "more than its scatter" in what_it_rests_on({**entry, "verdict": "did not help", "measures": [still]})
    few = {
        **entry,
        "verdict": "too few flights yet",
        "measures": [{"verdict": "too few flights yet", "flights_after": 2}],
    }
    assert "2 flights since" in what_it_rests_on(few)
    count = {"finding": "alternator_offline", "before": 1, "flights_before": 11, "after": 0, "flights_after": 17}
    gone = {"verdict": "not found again", "measures": [still], "findings": [count]}
    assert what_it_rests_on(gone) == (
        "Alternator off the bus: found in 1 of 11 flights before, in 0 of 17 after. Too few flights to be sure."
    )


def test_an_entrys_name_in_addresses_needs_no_escaping() -> None:
    assert (
        entry_anchor(datetime(2026, 6, 9, 15, 20), "regulator_replaced") == "entry-2026-06-09-1520-regulator-replaced"
    )


def test_a_wide_interval_bears_no_decimals() -> None:
    wide = Measure("endurance", 133.1, 73.3, 193.5)
    assert (value_words(wide), interval_words(wide)) == ("133 min", "73 to 194 min")
    narrow = Measure("recharge_settling_time", 9.2, 8.0, 10.2)
    assert (value_words(narrow), interval_words(narrow)) == ("9.2 min", "8.0 to 10.2 min")


def test_every_verdict_on_an_entry_has_a_badge() -> None:
    assert set(ANSWERS) == set(VERDICTS)
