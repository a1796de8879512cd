"""The questions that pages and commands both answer: what one says the other says.

The pages' words are read as the server sends them; what a browser makes of them is tried where each page is driven.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from analyzer.cli import main
from analyzer.limits import limit_value
from analyzer.phrases import counted
from analyzer.reports.wording import MEASURE_LABELS, finding_label
from tests.dashboards.unseen import Unseen, shown_in_reference, unseen

Ask = Callable[..., Any]


@pytest.fixture(scope="module")
def same_records(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The records that the pages show, for commands."""
    copy = tmp_path_factory.mktemp("same") / "records"
    shutil.copytree(demo, copy)
    return copy


@pytest.fixture
def ask(same_records: Path, capsys: pytest.CaptureFixture[str]) -> Ask:
    """A command's document on the same records."""

    def asked(*call: str) -> Any:
        capsys.readouterr()
        assert main([*call, "--json", "--records", str(same_records)]) == 0
        return json.loads(capsys.readouterr().out)

    return asked


def last_flight(pages: str, tail: str, query: str = "") -> Unseen:
    """The page of an aircraft's last flight."""
    return unseen(pages, unseen(pages, f"/aircraft/{tail}").link("Last flight") + query)


def rows_of(table: Unseen) -> list[str]:
    """The words of each row below a table's head."""
    return [row.words for row in table.all("Tr") if row.all("Td")]


def test_was_the_last_flight_all_right_and_what_to_tell_the_shop(pages: str, ask: Ask) -> None:
    verdict = last_flight(pages, "N058LF").of_class("verdict").words
    (flight,) = ask("flight", "N058LF")["log"]["flights"]
    worst = flight["findings"][0]
    assert finding_label(worst["finding"]) in verdict
    assert worst["says"] in verdict
    assert f"First check: {worst['check'][0]}" in verdict


@pytest.mark.parametrize("tail", ["N058LF", "N091LF"])
def test_what_was_foretold_after_the_flight(pages: str, ask: Ask, tail: str) -> None:
    shown, outlook = last_flight(pages, tail).part("flight-outlook"), ask("flight", tail)["outlook"]
    told = [one.words for one in shown.all("Li")]
    assert counted(outlook["flights"], "flight") in shown.words
    assert len(told) == max(1, len(outlook["limits"]))
    assert (outlook["because"] or "") in told[0]
    for words, limit in zip(told, outlook["limits"], strict=False):
        assert words.startswith(MEASURE_LABELS[limit["measure"]])
        assert ("past its limit" in words) == limit["past"]


def test_is_the_battery_on_its_way_out(pages: str, ask: Ask) -> None:
    (tail,) = ask("trend", "N074LF")["tails"]
    page = unseen(pages, "/aircraft/N074LF")
    assert tail["condition"].capitalize() in page.of_class("verdict").of_class("badge").words
    charging = page.of_class("card", "Recharge time constant").words
    trend = tail["trends"]["recharge_time_constant"]
    assert f"{trend['level']:.1f} min now" in charging
    assert f"limit {trend['limit']:.1f} min" in charging


def test_what_the_meters_did_and_why(pages: str, ask: Ask) -> None:
    shown = last_flight(pages, "N037LF").part("flight-story").words
    told = ask("flight", "N037LF")["story"]
    assert len(told) > 5
    for sentence in told:
        assert " ".join(sentence["says"].split()) in shown
        assert " ".join(sentence["why"].split()) in shown


def test_which_aircraft_needs_attention_first(pages: str, ask: Ask) -> None:
    rows = rows_of(unseen(pages, "/").part("fleet-list"))
    tails = ask("fleet")["tails"]
    assert len(rows) == len(tails) == 5
    words = {"good": "Nothing found", "unknown": "Not known"}
    for row, tail in zip(rows, tails, strict=True):
        assert tail["tail"] in row
        assert words.get(tail["condition"], tail["condition"].capitalize()) in row


def test_did_the_new_regulator_work(pages: str, ask: Ask) -> None:
    (tail,) = ask("trend", "N058LF")["tails"]
    (entry,) = [one for one in tail["entries"] if one["kind"] == "regulator_replaced"]
    assert entry["verdict"] == "helped"
    entries = unseen(pages, "/aircraft/N058LF").part("aircraft-entries").all("Article")
    (card,) = [one for one in entries if "regulator replaced" in one.words]
    assert "It helped" in card.of_class("badge").words
    (volts,) = [one for one in entry["measures"] if one["measure"] == "regulated_voltage"]
    assert f"{volts['before']:.2f} to {volts['after']:.2f} V" in card.words


def test_how_long_without_an_alternator(pages: str, ask: Ask) -> None:
    answer = last_flight(pages, "N037LF").after("plan-answer")["plan-answer"]
    rows, told = rows_of(answer), answer.part("plan-form").words
    plan = ask("plan", "N037LF")
    cases, form = plan["cases"], plan["load_analysis"]
    said = {
        True: "This estimate meets the 30 min",
        False: "This estimate does not meet the 30 min",
        None: "Not enough is known to say whether 30 min are met",
    }
    assert f"{int(form['minutes'])} min. {said[form['met']]}" in told
    assert len(rows) == len(cases) == 2
    for row, case in zip(rows, cases, strict=True):
        assert case["case"] in row
        assert f"{case['load']:.1f} A" in row
        assert f"{case['plan_on']:.0f} min" in row
        assert f"{case['low']:.0f} to {case['high']:.0f} min" in row
    (flight,) = ask("flight", "N037LF")["log"]["flights"]
    assert cases[0]["low"] == pytest.approx(flight["measures"]["endurance"]["low"], rel=1e-3), "one interval everywhere"


@pytest.mark.parametrize(
    ("given", "twice"),
    [({}, True), ({"load": "12"}, False), ({"night": "position_lights"}, False), ({"shed": "displays"}, True)],
)
def test_a_night_flight_is_planned_with_the_same_cases_and_sentences_by_both(
    given: dict[str, str], twice: bool, pages: str, ask: Ask
) -> None:
    given = {"charge": "80", **given}
    answered = last_flight(pages, "N058LF", f"?{urlencode(given)}").after("plan-answer")
    rows = rows_of(answered["plan-answer"])
    plan = ask("plan", "N058LF", *(word for name, value in given.items() for word in (f"--{name}", value)))
    assert [one["case"] for one in plan["cases"]][-1].startswith("Night loads added")
    assert len(rows) == len(plan["cases"])
    for row, case in zip(rows, plan["cases"], strict=True):
        assert case["case"] in row
        assert f"{case['load']:.1f} A" in row
        assert f"{case['plan_on']:.0f} min" in row
    assert f"{int(plan['load_analysis']['minutes'])} min." in answered["plan-answer"].part("plan-form").words
    basis = answered["plan-basis"].words
    assert "As given: " in basis
    assert ("counts them twice" in plan["basis"].get("night", "")) is twice
    assert basis.startswith(" ".join(plan["basis"].values()))


def test_the_week_that_is_told_is_the_same_everywhere(pages: str, ask: Ask) -> None:
    told = ask("digest")
    words = f"from {told['since'][:10]} on, 7 days before the last flight"
    page = unseen(pages, "/digest")
    lead = page.of_class("lead").words
    assert words in lead
    assert counted(told["flights"], "flight") in lead
    assert told["flights"] > 0
    assert len(page.part("digest-new").all("Li")) == len(told["new"])
    assert words in unseen(pages, "/").part("fleet-changed").words.replace("From", "from")


def test_what_is_lost_on_a_stand(pages: str, ask: Ask) -> None:
    standing = ask("trend", "N012LF")["tails"][0]["standing"]
    part = unseen(pages, "/aircraft/N012LF").part("aircraft-standing")
    shown = part.all("P")[0].words
    assert standing["because"] in shown
    assert "too wide to tell anything" in shown  # it flies too often for a stand to tell
    assert "resting charge" in shown_in_reference(pages, part.link("How it is worked out")).part("standing").words


def test_will_it_start_in_the_cold(pages: str, ask: Ask) -> None:
    cold = ask("trend", "N012LF")["tails"][0]["cold_outlook"]
    part = unseen(pages, "/aircraft/N012LF").part("aircraft-cold")
    assert [one["air_degc"] for one in cold["starts"]] == [0.0, -10.0, -20.0]
    for row, one in zip(rows_of(part), cold["starts"], strict=True):
        assert f"{one['air_degc']:.0f} °C" in row
        told = "too wide to tell" not in row
        assert told is (one["high"] - one["low"] <= limit_value("cold_widest") * cold["limit"])
        assert (f"{one['cranking_voltage']:.2f} V" in row) is told
        assert f"{one['low']:.2f} to {one['high']:.2f} V" in row
    assert "US Army manuals" in shown_in_reference(pages, part.link("How it is worked out")).part("cold_outlook").words
