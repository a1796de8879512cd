"""Two flights on one chart: by address, by what is chosen, with the words of the command."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from analyzer.records.histories import kept_history
from analyzer.records.store import open_records
from tests.dashboards.unseen import unseen

Visit = Callable[..., Any]


def test_two_flights_stand_by_their_address_and_by_what_is_chosen(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/compare?a=5&b=N037LF&align=take_off")
    page.get_by_text("Lined up at the take-off, minute 0.").wait_for()
    assert page.locator("#compare-measures tbody tr").count() > 8
    assert "not compared: systems of different voltage" in page.locator("#compare-measures").inner_text()
    legend = page.locator("#compare-chart .legend").text_content()
    assert "N012LF" in legend
    assert "N037LF" in legend
    page.get_by_role("textbox", name="Second aircraft").click()
    page.get_by_role("option", name="N012LF").click()
    page.wait_for_url("**/compare?a=5&b=N012LF&align=take_off")
    other = page.locator("#compare-measures").get_by_text("systems of different voltage")
    other.first.wait_for(state="detached")
    assert page.locator("#compare-measures tbody tr").count() > 8


def test_a_flight_leads_to_it_beside_the_one_before(pages: str) -> None:
    assert unseen(pages, "/flight/5").link("Compare") == "/compare?a=4&b=5"


@pytest.mark.parametrize("query", ["", "?a=5", "?a=99999&b=x", "?a=5&b=5&align=nonsense"])
def test_an_address_that_names_no_flights_still_offers_them(pages: str, query: str) -> None:
    first = unseen(pages, f"/compare{query}").part("compare-tail-a").content["props"]
    assert first["label"] == "First aircraft"
    assert len(first["data"]) == 5


def test_two_aircraft_of_one_voltage_stand_on_one_chart_for_the_measure_that_is_chosen(
    pages: str, demo: Path, visit: Visit
) -> None:
    page = visit(f"{pages}/compare?a=N012LF&b=N058LF")
    part = page.locator("#compare-aircraft")
    part.locator("#compare-tails-chart .legend").wait_for()
    legend = part.locator(".legend").text_content()
    assert legend is not None
    assert ("N012LF" in legend, "N058LF" in legend) == (True, True)
    part.get_by_role("textbox", name="Measure").focus()
    page.keyboard.press("ArrowDown")
    part.get_by_role("option", name="Resting voltage").or_(page.get_by_role("option", name="Resting voltage")).click()
    page.wait_for_url("**measure=resting_voltage")
    page.get_by_role("figure", name="Resting voltage of N012LF and N058LF").wait_for()
    drawn = page.evaluate(
        "() => document.querySelector('#compare-tails-chart .js-plotly-plot').data.map((one) => one.x.length)"
    )
    with open_records(demo) as store:
        known = [kept_history(store, tail).flights for tail in ("N012LF", "N058LF")]
    assert drawn == [sum("resting_voltage" in one.readings for one in flights) for flights in known]


def test_aircraft_of_two_voltages_are_not_set_against_each_other(pages: str) -> None:
    part = unseen(pages, "/compare?a=N012LF&b=N037LF").part("compare-aircraft")
    assert "N012LF and N037LF are not set against each other: one has 14 V, the other 28 V." in part.words
    assert not unseen(pages, "/compare?a=N012LF&b=N012LF").has("compare-aircraft")
