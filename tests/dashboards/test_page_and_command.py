"""The questions that pages and commands both answer: what one says the other says."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from analyzer.cli import main
from analyzer.limits import limit_value
from analyzer.phrases import counted
from analyzer.reports.wording import MEASURE_LABELS, finding_label
from tests.browser import served
from tests.dashboards.walking import last_flight

Visit = Callable[..., Any]
Ask = Callable[..., Any]


@pytest.fixture(scope="module")
def both(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """Address of pages and the folder of the same records."""
    copy = tmp_path_factory.mktemp("both") / "records"
    shutil.copytree(demo, copy)
    with served(copy) as address:
        yield address, str(copy)


@pytest.fixture
def ask(both: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> Ask:
    """A command's document on the same records."""

    def asked(*call: str) -> Any:
        capsys.readouterr()
        assert main([*call, "--json", "--records", both[1]]) == 0
        return json.loads(capsys.readouterr().out)

    return asked


def test_was_the_last_flight_all_right_and_what_to_tell_the_shop(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    page = last_flight(both[0], visit, "N058LF")
    (flight,) = ask("flight", "N058LF")["log"]["flights"]
    worst, verdict = flight["findings"][0], page.locator(".verdict").inner_text()
    assert finding_label(worst["finding"]) in verdict
    assert worst["says"] in verdict
    assert f"First check: {worst['check'][0]}" in verdict


@pytest.mark.parametrize("tail", ["N058LF", "N091LF"])
def test_what_was_foretold_after_the_flight(both: tuple[str, str], visit: Visit, ask: Ask, tail: str) -> None:
    page = last_flight(both[0], visit, tail)
    page.wait_for_selector("#flight-outlook li")
    told, outlook = page.locator("#flight-outlook li").all_inner_texts(), ask("flight", tail)["outlook"]
    assert counted(outlook["flights"], "flight") in page.locator("#flight-outlook").inner_text()
    assert len(told) == max(1, len(outlook["limits"]))
    assert (outlook["because"] or "") in told[0]
    for words, limit in zip(told, outlook["limits"], strict=False):
        assert words.startswith(MEASURE_LABELS[limit["measure"]])
        assert ("past its limit" in words) == limit["past"]


def test_is_the_battery_on_its_way_out(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    (tail,) = ask("trend", "N074LF")["tails"]
    page = visit(f"{both[0]}/aircraft/N074LF")
    assert tail["condition"].capitalize() in page.locator(".verdict .badge").inner_text()
    charging = page.locator(".card", has_text="Recharge time constant").first.inner_text()
    trend = tail["trends"]["recharge_time_constant"]
    assert f"{trend['level']:.1f} min now" in charging
    assert f"limit {trend['limit']:.1f} min" in charging


def test_what_the_meters_did_and_why(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    page = last_flight(both[0], visit, "N037LF")
    shown = " ".join(page.locator("#flight-story").inner_text().split())
    told = ask("flight", "N037LF")["story"]
    assert len(told) > 5
    for sentence in told:
        assert " ".join(sentence["says"].split()) in shown
        assert " ".join(sentence["why"].split()) in shown


def test_which_aircraft_needs_attention_first(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    page = visit(f"{both[0]}/")
    rows = page.locator("#fleet-list tbody tr").all_inner_texts()
    tails = ask("fleet")["tails"]
    assert len(rows) == len(tails) == 5
    words = {"good": "Nothing found", "unknown": "Not known"}
    for row, tail in zip(rows, tails, strict=True):
        assert tail["tail"] in row
        assert words.get(tail["condition"], tail["condition"].capitalize()) in row


def test_did_the_new_regulator_work(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    (tail,) = ask("trend", "N058LF")["tails"]
    (entry,) = [one for one in tail["entries"] if one["kind"] == "regulator_replaced"]
    assert entry["verdict"] == "helped"
    card = visit(f"{both[0]}/aircraft/N058LF").locator("#aircraft-entries article", has_text="regulator replaced")
    assert "It helped" in card.locator(".badge").inner_text()
    (volts,) = [one for one in entry["measures"] if one["measure"] == "regulated_voltage"]
    assert f"{volts['before']:.2f} to {volts['after']:.2f} V" in card.inner_text()


def test_how_long_without_an_alternator(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    page = last_flight(both[0], visit, "N037LF")
    page.locator("#plan-answer tbody tr").first.wait_for()
    rows = page.locator("#plan-answer tbody tr").all_inner_texts()
    plan = ask("plan", "N037LF")
    cases, form = plan["cases"], plan["load_analysis"]
    told = page.locator("#plan-form").inner_text()
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
    given: dict[str, str], twice: bool, both: tuple[str, str], visit: Visit, ask: Ask
) -> None:
    given = {"charge": "80", **given}
    page = last_flight(both[0], visit, "N058LF", f"?{urlencode(given)}")
    rows = page.locator("#plan-answer tbody tr")
    rows.first.wait_for()
    plan = ask("plan", "N058LF", *(word for name, value in given.items() for word in (f"--{name}", value)))
    assert [one["case"] for one in plan["cases"]][-1].startswith("Night loads added")
    assert rows.count() == len(plan["cases"])
    for row, case in zip(rows.all_inner_texts(), plan["cases"], strict=True):
        assert case["case"] in row
        assert f"{case['load']:.1f} A" in row
        assert f"{case['plan_on']:.0f} min" in row
    assert f"{int(plan['load_analysis']['minutes'])} min." in page.locator("#plan-form").inner_text()
    basis = page.locator("#plan-basis")
    basis.get_by_text("As given: ").wait_for()
    assert ("counts them twice" in plan["basis"].get("night", "")) is twice
    assert basis.inner_text().startswith(" ".join(plan["basis"].values()))


def test_the_week_that_is_told_is_the_same_everywhere(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    told = ask("digest")
    words = f"from {told['since'][:10]} on, 7 days before the last flight"
    page = visit(f"{both[0]}/digest")
    lead = page.locator(".lead").inner_text()
    assert words in lead
    assert counted(told["flights"], "flight") in lead
    assert told["flights"] > 0
    assert page.locator("#digest-new li").count() == len(told["new"])
    page.goto(f"{both[0]}/")
    page.wait_for_selector("#fleet-list tbody tr")
    assert words in page.locator("#fleet-changed").inner_text().replace("From", "from")


def test_what_is_lost_on_a_stand(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    page = visit(f"{both[0]}/aircraft/N012LF")
    standing = ask("trend", "N012LF")["tails"][0]["standing"]
    shown = page.locator("#aircraft-standing p").inner_text()
    assert standing["because"] in shown
    assert "too wide to tell anything" in shown  # it flies too often for a stand to tell
    page.locator("#aircraft-standing").get_by_role("link", name="How it is worked out").click()
    page.locator("#standing").get_by_text("resting charge").first.wait_for()


def test_will_it_start_in_the_cold(both: tuple[str, str], visit: Visit, ask: Ask) -> None:
    page = visit(f"{both[0]}/aircraft/N012LF")
    cold = ask("trend", "N012LF")["tails"][0]["cold_outlook"]
    shown = page.locator("#aircraft-cold tbody tr").all_inner_texts()
    assert [one["air_degc"] for one in cold["starts"]] == [0.0, -10.0, -20.0]
    for row, one in zip(shown, cold["starts"], strict=True):
        assert f"{one['air_degc']:.0f} °C" in row
        told = "too wide to tell" not in row
        assert told is (one["high"] - one["low"] <= limit_value("cold_widest") * cold["limit"])
        assert (f"{one['cranking_voltage']:.2f} V" in row) is told
        assert f"{one['low']:.2f} to {one['high']:.2f} V" in row
    page.locator("#aircraft-cold").get_by_role("link", name="How it is worked out").click()
    page.locator("#cold_outlook").get_by_text("US Army manuals").wait_for()
