"""The flight's page as a browser draws it: nothing on top of another, and all that is folded can be had."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from tests.browser import hindrances, settled, until
from tests.dashboards.walking import last_flight

Visit = Callable[..., Any]
#: A flight with a finding and a long story.
FLIGHT = "flight/91"
ANSWERS = re.compile("/_dash-update-component")
MARKS = "[...document.querySelectorAll('#flight-chart .scatterlayer .trace text')].map((t) => t.textContent)"


@pytest.mark.parametrize(("size", "parts"), [((390, 844), 5), ((1280, 800), 12)])
def test_the_story_s_numbers_do_not_lie_on_each_other(
    pages: str, visit: Visit, size: tuple[int, int], parts: int
) -> None:
    page = visit(f"{pages}/{FLIGHT}", size=size)
    page.wait_for_selector("#flight-chart .scatterlayer .trace text")
    until(page, f"{MARKS}.length <= {parts}")
    boxes = [mark.bounding_box() for mark in page.locator("#flight-chart .scatterlayer .trace text").all()]
    edges = sorted((box["x"], box["x"] + box["width"]) for box in boxes)
    assert len(edges) > 2
    assert min(after[0] - before[1] for before, after in pairwise(edges)) > 0.0


LAST_FLIGHTS = ("N012LF", "N037LF", "N058LF", "N074LF", "N091LF")


def drawn(pages: str, visit: Visit, tail: str, **look: Any) -> Any:
    """The page of an aircraft's last flight, drawn."""
    page = last_flight(pages, visit, tail, **look)
    page.wait_for_selector("#flight-chart .main-svg")
    page.locator("#plan-answer :first-child").first.wait_for()
    return page


@pytest.mark.long(keep=2)
@pytest.mark.parametrize("tail", sorted(LAST_FLIGHTS, key=lambda tail: tail not in ("N058LF", "N074LF")))
def test_a_flight_s_page_stays_within_3_400_pixels(pages: str, visit: Visit, tail: str) -> None:
    page = drawn(pages, visit, tail)
    page.wait_for_load_state("networkidle")
    until(page, "document.documentElement.scrollHeight < 3400")
    assert page.locator("#flight-measures").bounding_box()["y"] > 1000.0, "it is all there"


def test_what_is_folded_opens_by_keyboard_by_a_link_and_for_printing(pages: str, visit: Visit) -> None:
    page = drawn(pages, visit, "N058LF")
    causes = page.locator("#flight-causes-0")
    assert page.locator("#flight-findings .finding > .weights li").count() == 3
    assert not causes.locator("li").first.is_visible()
    causes.locator("summary").focus()
    page.keyboard.press("Enter")
    causes.locator("li").first.wait_for()
    further = page.locator("#flight-checks-0 ol")
    assert further.get_attribute("start") == "4"
    closed = (
        "[...document.querySelectorAll('main details:not(.no-print, .as-seen)')].filter((fold) => !fold.open).length"
    )
    before = page.evaluate(closed)
    assert before > 3
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate(closed) == 0
    assert further.is_visible()
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert page.evaluate(closed) == before
    again = visit(f"{page.url}#flight-causes-0")
    again.locator("#flight-causes-0 li").first.wait_for()
    again = visit(f"{page.url}#flight-lesson")
    again.locator("#flow-shown .flow").wait_for()


def test_what_is_folded_is_open_to_all(pages: str, visit: Visit) -> None:
    page = drawn(pages, visit, "N058LF", size=(390, 844))
    page.evaluate("for (const fold of document.querySelectorAll('main details')) fold.open = true")
    settled(page)
    assert hindrances(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1")


def test_a_flight_in_the_dark_has_its_night_case_and_says_what_may_count_twice(pages: str, visit: Visit) -> None:
    page = drawn(pages, visit, "N058LF")
    basis = page.locator("#plan-basis")
    assert "Flown 20:10 to 21:28 by the log's clock" in basis.inner_text()
    page.get_by_label("Charge, %").fill("90")
    rows = page.locator("#plan-answer tbody tr")
    rows.first.wait_for()
    assert rows.count() == 2
    assert "22.5 A" in rows.first.inner_text()
    assert "35.0 A" in rows.nth(1).inner_text()
    page.get_by_text("Loads for the night, and to switch off").click()
    lights = page.get_by_role("group", name="Added for the night")
    for light in lights.get_by_role("checkbox").all():
        light.uncheck()
    until(page, "document.querySelectorAll('#plan-answer tbody tr').length == 1")
    lights.get_by_label("Strobes").check()
    until(page, "document.querySelectorAll('#plan-answer tbody tr').length == 2")
    assert "27.5 A" in rows.nth(1).inner_text()
    assert "by the log's clock" not in basis.inner_text(), "a person says what is added"
    assert "Night loads: strobes 5 A." in page.locator("#plan-answer").inner_text()
    by_day = drawn(pages, visit, "N037LF")
    by_day.locator("#plan-answer").get_by_text("Night loads added").wait_for()


def test_readings_that_come_late_are_not_laid_into_another_chart(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/{FLIGHT}")
    values = "JSON.stringify(document.querySelector('#flight-chart .js-plotly-plot')?._fullData?.[0]?.y.slice(0, 5))"
    until(page, values)
    held: list[Any] = []

    def asks_for_detail(request: Any) -> bool:
        return "flight-detail.data" in (request.post_data or "")

    def hold(route: Any) -> None:
        if asks_for_detail(route.request):
            held.append(route)
        else:
            route.continue_()

    page.route(ANSWERS, hold)
    with page.expect_request(asks_for_detail):
        page.locator("#flight-findings").get_by_role("button", name=re.compile("^Show")).first.click()
    page.get_by_role("link", name="flight before").click()
    page.wait_for_url(lambda address: not address.split("?")[0].endswith(FLIGHT))
    until(page, values)
    before = page.evaluate(values)
    with page.expect_response(ANSWERS):
        held.pop(0).continue_()
    settled(page)
    assert page.evaluate(values) == before
    page.unroute(ANSWERS)
    laid = page.evaluate(
        "(() => { const layIn = dash_clientside.taper.layIn, nothing = dash_clientside.no_update;"
        " const chart = {data: [{x: [1], name: 'a'}, {x: [2], name: 'b'}],"
        " layout: {yaxis: {range: [0, 1], title: 'V'}}}, late = {of: ['7'], data: [{x: [3]}]};"
        " return [layIn(late, chart, '8') === nothing, layIn(late, null, '7') === nothing, layIn(late, chart, '7'),"
        " layIn({of: ['7'], points: [{x: [4]}], layout: {yaxis: {range: [0, 9]}}}, chart, '7')]; })()"
    )
    assert laid == [
        True,
        True,
        {"data": [{"x": [3]}], "layout": {"yaxis": {"range": [0, 1], "title": "V"}}},
        {
            "data": [{"x": [4], "name": "a"}, {"x": [2], "name": "b"}],
            "layout": {"yaxis": {"range": [0, 9], "title": "V"}},
        },
    ]
