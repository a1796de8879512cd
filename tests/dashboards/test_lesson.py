"""The flight's page as a lesson: stepped through by keyboard, by link, and by a click into the chart."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.browser import hindrances, turned, until
from tests.dashboards.asking import sheet
from tests.dashboards.unseen import unseen

Visit = Callable[..., Any]


def test_the_lesson_is_stepped_through_by_keyboard_and_has_an_address(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/flight/1")
    after_a_jump_start_is_folded_away_and_opens_by_keyboard(page)
    shown = page.locator("#flow-shown")
    assert not shown.is_visible()
    page.get_by_role("navigation", name="On this page").get_by_role("link", name="Step by step").click()
    shown.get_by_text("Step 1 of").wait_for()
    page.get_by_role("button", name="Step before").click()
    shown.get_by_text("Step 1 of").wait_for()
    page.get_by_role("button", name="Next step").focus()
    page.keyboard.press("Enter")
    shown.get_by_text("Step 2 of").wait_for()
    page.keyboard.press("Enter")
    shown.get_by_text("Step 3 of").wait_for()
    says = shown.locator(".flow-says").inner_text()
    the_handout_is_linked(pages, page)
    link = shown.get_by_role("link", name="Link to this step").get_attribute("href")
    again = visit(f"{pages}/flight/1{link}")
    shown = again.locator("#flow-shown")
    shown.get_by_text("Step 3 of").wait_for()
    assert shown.locator(".flow-says").inner_text() == says
    assert "V" in shown.locator(".flow-bus").inner_text()
    a_click_into_the_chart_draws_that_moment(again)
    the_drawing_stands_at_every_width(again)


def test_a_step_that_no_flight_has_still_draws_one(pages: str) -> None:
    assert unseen(pages, "/flight/1?step=99999").part("flow-shown").of_class("flow").words


def a_click_into_the_chart_draws_that_moment(page: Any) -> None:
    shown = page.locator("#flow-shown")
    chart = page.locator("#flight-chart .nsewdrag").first
    chart.scroll_into_view_if_needed()
    box = chart.bounding_box()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    until(page, "document.querySelector('#flight-chart .js-plotly-plot')._hoverdata")
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.5 * box["height"])
    shown.get_by_text("Step 3 of").wait_for(state="detached")
    assert "so it feeds the bus" in shown.inner_text()


def the_drawing_stands_at_every_width(page: Any) -> None:
    """That it hinders nobody in light colours either is seen with all else that is folded on a flight's page."""
    turned(page, 390, 900, "dark")
    assert hindrances(page) == []
    for width, scheme in ((390, "dark"), (820, "light")):
        turned(page, width, 900, scheme)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1"), width


def test_what_follows_if_the_alternator_quit_goes_with_the_step_and_the_planner(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/flight/1?step=1&master_off=15&night=strobes")
    shown = page.locator("#quit-shown")
    shown.get_by_text("the engine is not running at that moment").wait_for()
    page.get_by_role("button", name="Next step").focus()
    for step in (2, 3, 4):
        page.keyboard.press("Enter")
        page.locator("#flow-shown").get_by_text(f"Step {step} of").wait_for()
    shown.get_by_text("A low-voltage light").wait_for()
    rows = shown.locator("tbody tr")
    cases = [rows.nth(place).locator("th").inner_text() for place in range(rows.count())]
    assert cases == [
        "At the essential load",
        "Night loads added",
        "At the essential load, master off for 15 min of the way",
    ]
    assert "With the master off nothing electric works" in shown.inner_text()
    field = page.get_by_label("Master off for part of the way")
    field.focus()
    page.keyboard.press("Control+a")
    page.keyboard.type("0")
    shown.get_by_text("master off for 15 min").wait_for(state="detached")


def the_handout_is_linked(pages: str, page: Any) -> None:
    link = page.get_by_role("link", name="Handout with answers").get_attribute("href")
    handout = sheet(pages, link.removeprefix("/sheet/")).text
    assert ">Answers<" in handout
    assert "A low-voltage light (13.0 V) is" in handout


def after_a_jump_start_is_folded_away_and_opens_by_keyboard(page: Any) -> None:
    folded = page.locator("#flight-jump")
    assert not folded.get_by_text("This does not clear the aircraft").is_visible()
    folded.locator("summary").focus()
    page.keyboard.press("Enter")
    folded.get_by_text("This does not clear the aircraft for its next flight.").wait_for()
    assert "Ah was back by engine stop" in folded.inner_text()
