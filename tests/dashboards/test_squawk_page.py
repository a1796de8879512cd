"""The squawk page by keyboard and in haste: what was typed last counts, Enter looks up, choices are offered."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from tests.dashboards.unseen import unseen

Opener = Callable[..., Any]


def test_a_click_right_after_the_last_key_keeps_the_words_and_enter_looks_up(pages: str, visit: Opener) -> None:
    page = visit(f"{pages}/squawk?tail=N037LF")
    words = page.get_by_label("The report in words")
    words.click()
    page.keyboard.type("low volt light came on")
    page.evaluate("document.querySelector('#squawk-look').click()")  # sooner than any mouse
    page.wait_for_url("**words=low*")
    page.locator("#squawk-charging-light").wait_for()
    assert page.get_by_label("The report in words").input_value() == "low volt light came on"
    assert "symptom=charging_light" in page.url
    page.get_by_label("The report in words").click()
    page.keyboard.press("End")
    page.keyboard.type(" in the pattern")
    page.keyboard.press("Enter")
    page.locator("#squawk-charging-light").get_by_text("As reported: “in the pattern”").wait_for()


def test_an_aircraft_that_is_not_kept_is_never_taken_for_another(pages: str, visit: Opener) -> None:
    page = visit(f"{pages}/squawk?tail=N0NONE&words=low+volt+light+came+on")
    page.locator("#squawk-result").get_by_text("No flight of N0NONE is kept.").wait_for()
    assert page.get_by_role("textbox", name="Aircraft").input_value() == ""
    page.get_by_role("button", name="Search the recordings").click()
    page.locator("#squawk-result").get_by_text("Choose the aircraft.").wait_for()


def test_words_that_are_not_known_are_met_with_choices_and_none_of_these(pages: str) -> None:
    page = unseen(pages, "/squawk?tail=N037LF&words=panel+lamps+sigh+in+and+out")
    choices = page.part("squawk-choices")
    assert "None of these" in choices.words
    assert not page.has("squawk-noise-or-pulsing")  # nothing is answered by itself
    assert "symptom=noise_or_pulsing" in choices.link("Noise in the radio")


def test_words_of_which_nothing_is_understood_get_choices_and_one_of_them_is_searched(
    pages: str, visit: Opener
) -> None:
    page = visit(f"{pages}/squawk?tail=N058LF")
    page.get_by_label("The report in words").press_sequentially("the juice quit on downwind", delay=20)
    page.get_by_role("button", name="Search the recordings").click()
    choices = page.locator("#squawk-choices")
    choices.get_by_text("These words match no symptom. Did you mean:").wait_for()
    assert 2 <= choices.get_by_role("link").count() <= 3
    assert "None of these" in choices.inner_text()
    first = choices.get_by_role("link").first
    title = first.inner_text()
    first.focus()
    page.keyboard.press("Enter")
    page.locator("#squawk-result").get_by_text(title).first.wait_for()
    assert "symptom=" in page.url
