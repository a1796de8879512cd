"""The flight's page as a browser draws it: nothing on top of another, and all that is folded can be had."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from tests.browser import hindrances, settled, until
from tests.dashboards.command_words import speaks_plainly
from tests.dashboards.walking import last_flight

Visit = Callable[..., Any]
#: A flight with a finding and a long story.
FLIGHT = "flight/91"
ANSWERS = re.compile("/_dash-update-component")
#: Marks the chart that stands, lets no other ask for readings, and tells when some arrive.
ONLY_LATE = """() => {
    const taper = dash_clientside.taper, layIn = taper.layIn;
    document.querySelector('#flight-chart .js-plotly-plot').classList.add('of-this');
    taper.keepWindow = () => dash_clientside.no_update;
    taper.layIn = (...told) => { window.askedToLayIn = true; return layIn(...told); };
}"""
MARKS = "[...document.querySelectorAll('#flight-chart .scatterlayer .trace text')].map((t) => t.textContent)"


LAST_FLIGHTS = ("N012LF", "N037LF", "N074LF", "N091LF")


def drawn(pages: str, visit: Visit, tail: str, fragment: str = "", **look: Any) -> Any:
    """The page of an aircraft's last flight, drawn."""
    page = last_flight(pages, visit, tail, fragment, **look)
    page.wait_for_selector("#flight-chart .main-svg")
    page.locator("#plan-answer :first-child").first.wait_for()
    return page


def test_a_flight_s_page_is_short_its_folds_open_and_it_prints(pages: str, visit: Visit) -> None:
    """On one way, of a flight with a finding, a long story and a night ahead."""
    page = drawn(pages, visit, "N058LF", scheme="dark")
    assert page.url.endswith(FLIGHT)
    speaks_plainly(page)
    stays_within_3_400_pixels(page)
    the_story_s_numbers_do_not_lie_on_each_other(page, 12)
    what_is_folded_opens_by_keyboard(page)
    it_prints_whole_in_the_light_scheme_and_as_wide_as_the_paper(page)
    it_has_its_night_case_and_says_what_may_count_twice(page)


def test_a_flight_s_page_on_a_phone_is_open_to_all_and_unfolds_by_a_link(pages: str, visit: Visit) -> None:
    page = drawn(pages, visit, "N058LF", "#flight-causes-0", size=(390, 844))
    page.locator("#flight-causes-0 li").first.wait_for()
    page.evaluate("location.hash = 'flight-lesson'")
    page.locator("#flow-shown .flow").wait_for()
    the_story_s_numbers_do_not_lie_on_each_other(page, 5)
    page.evaluate("for (const fold of document.querySelectorAll('main details')) fold.open = true")
    settled(page)
    assert hindrances(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1")


@pytest.mark.long
@pytest.mark.parametrize("tail", LAST_FLIGHTS)
def test_a_flight_s_page_stays_within_3_400_pixels(pages: str, visit: Visit, tail: str) -> None:
    """Of further aircraft; the flight with the most to tell is looked at with its folds."""
    stays_within_3_400_pixels(drawn(pages, visit, tail))


def stays_within_3_400_pixels(page: Any) -> None:
    page.wait_for_load_state("networkidle")
    until(page, "document.documentElement.scrollHeight < 3400")
    assert page.locator("#flight-measures").bounding_box()["y"] > 1000.0, "it is all there"


def the_story_s_numbers_do_not_lie_on_each_other(page: Any, most: int) -> None:
    page.wait_for_selector("#flight-chart .scatterlayer .trace text")
    until(page, f"{MARKS}.length <= {most}")
    boxes = [mark.bounding_box() for mark in page.locator("#flight-chart .scatterlayer .trace text").all()]
    edges = sorted((box["x"], box["x"] + box["width"]) for box in boxes)
    assert len(edges) > 2
    assert min(after[0] - before[1] for before, after in pairwise(edges)) > 0.0


def what_is_folded_opens_by_keyboard(page: Any) -> None:
    causes = page.locator("#flight-causes-0")
    assert page.locator("#flight-findings .finding > .weights li").count() == 3
    assert not causes.locator("li").first.is_visible()
    causes.locator("summary").focus()
    page.keyboard.press("Enter")
    causes.locator("li").first.wait_for()


def it_prints_whole_in_the_light_scheme_and_as_wide_as_the_paper(page: Any) -> None:
    further = page.locator("#flight-checks-0 ol")
    assert further.get_attribute("start") == "4"
    looks = """() => {
        const chart = document.querySelector('#flight-chart .js-plotly-plot');
        const folds = [...document.querySelectorAll('main details:not(.no-print, .as-seen)')];
        return [
            document.documentElement.getAttribute('data-mantine-color-scheme'), chart._fullLayout.width,
            folds.filter((fold) => !fold.open).length,
        ];
    }"""
    before = page.evaluate(looks)
    assert before[2] > 3
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    scheme, width, closed = page.evaluate(looks)
    assert scheme == "light"
    assert width <= 186 / 25.4 * 96  # millimetres to CSS pixels, 96 to the inch
    assert closed == 0
    assert further.is_visible()
    assert page.locator("main details.as-seen[open]").count() == 0
    page.emulate_media(media="print")
    assert page.locator("main input:visible").count() == 0
    page.emulate_media(media="screen")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    until(page, "document.querySelector('#flight-chart .js-plotly-plot')._fullLayout.width > 800")
    after = page.evaluate(looks)
    assert (after[0], after[2]) == (before[0], before[2]) == ("dark", before[2])


def it_has_its_night_case_and_says_what_may_count_twice(page: Any) -> None:
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


def test_readings_that_come_late_are_not_laid_into_another_chart(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/{FLIGHT}")
    values = "JSON.stringify(document.querySelector('#flight-chart .js-plotly-plot')?._fullData?.[0]?.y.slice(0, 5))"
    until(page, values)
    of_this = page.evaluate(values)
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
    page.evaluate(ONLY_LATE)
    page.get_by_role("link", name="flight before").click()
    page.wait_for_url(lambda address: not address.split("?")[0].endswith(FLIGHT))
    until(page, f"!document.querySelector('.of-this') && {values} && {values} !== {json.dumps(of_this)}")
    before = page.evaluate(values)
    for route in held:
        route.continue_()
    until(page, "window.askedToLayIn")
    page.wait_for_timeout(200)  # a chart is drawn within it
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
