"""What the pages say of what is kept: what stands open, whether work helped, numbers that say no more than is known."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

pytest.importorskip("dash")

from analyzer.measures.measure import Measure
from analyzer.records.changing import Disposition
from analyzer.reports.entry_text import VERDICTS
from dashboards.entry_cards import ANSWERS, change_words, entry_anchor, what_it_rests_on
from dashboards.flight_words import interval_words, value_words
from dashboards.standing import STILL_OPEN, standing


def found(name: str, severity: str = "caution", **more: Any) -> dict[str, Any]:
    return {"finding": name, "severity": severity, "lapsed_at": None, **more}


def said(finding: str, at: str, verdict: str) -> Disposition:
    return Disposition(1, "N0", finding, at, verdict, "A. Mender", "", None, "2026-06-01")


DRIFT = found("regulator_drift", "warning", raised_at="2026-05-01")
TIGHTER = found("cranking_weakening", "advisory", raised_at="2026-05-02")


def test_the_worst_open_finding_stands_first_and_the_other_kinds_are_counted_once() -> None:
    slow = found("slow_recharge")
    stands = standing([TIGHTER, DRIFT], [(1, "2026-05-08", [slow]), (2, "2026-05-09", [slow])], [])
    assert (stands.worst, stands.others, stands.flight_id) == (DRIFT, 2, None)
    assert stands.more == "And 2 more."


def test_of_equal_findings_the_latest_flights_is_shown() -> None:
    first, second = found("slow_recharge", says="first"), found("slow_recharge", says="second")
    stands = standing([], [(1, "2026-05-08", [first]), (2, "2026-05-09", [second])], [])
    assert (stands.worst, stands.flight_id, stands.more) == (second, 2, "")


def test_a_settled_finding_gives_way_to_the_next_and_a_confirmed_one_does_not() -> None:
    assert standing([TIGHTER, DRIFT], [], [said("regulator_drift", "2026-05-01", "fixed")]).worst == TIGHTER
    assert standing([TIGHTER, DRIFT], [], [said("regulator_drift", "2026-05-01", "confirmed")]).worst == DRIFT
    assert standing([TIGHTER, DRIFT], [], [said("regulator_drift", "2026-04-30", "fixed")]).worst == DRIFT


def test_findings_that_lapsed_or_lie_many_flights_back_stand_open_no_more() -> None:
    old = (1, "2026-05-01", [found("overvoltage", "warning")])
    since = [(place, f"2026-05-{place:02d}", []) for place in range(2, 2 + STILL_OPEN)]
    assert standing([DRIFT | {"lapsed_at": "2026-05-20"}], [old, *since], []).worst is None


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
