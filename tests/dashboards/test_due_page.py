"""What is due is downloaded as a calendar, by keyboard too."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from dashboards.error_notices import FAULT
from tests.dashboards.asking import call, part

Visit = Callable[..., Any]


@pytest.mark.long(keep=1)  # on a phone; wide, the page stands in the walk through every page
@pytest.mark.parametrize("size", [(390, 844), (1280, 800)])
def test_a_date_set_by_keyboard_is_due_and_comes_as_a_calendar(changeable_once: str, visit: Visit, size: Any) -> None:
    page = visit(f"{changeable_once}/due?tail=N012LF", size=size)
    first = page.locator("#due-unknown li").count()
    page.locator("#due-unknown").get_by_role("link", name="N012LF").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#settings-fields")
    page.get_by_label("Battery fitted on").focus()
    page.keyboard.type("2 May 2024")
    page.get_by_role("button", name="Save").focus()
    page.keyboard.press("Enter")
    page.get_by_text("Saved 1 setting of N012LF.").wait_for()
    assert "judged anew" not in page.locator("#settings-said").inner_text()
    page.goto(f"{changeable_once}/due?tail=N012LF")
    page.locator("#due-list tbody tr", has_text="Battery age").get_by_text("2027-05-02").wait_for()
    assert page.locator("#due-unknown li").count() == first - 2
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1")
    with page.expect_download() as told:
        page.get_by_role("link", name="Calendar file").focus()
        page.keyboard.press("Enter")
    assert told.value.suggested_filename == "due-N012LF.ics"
    events = Calendar.from_ical(Path(told.value.path()).read_bytes()).events
    assert "N012LF: Battery age" in {str(one["SUMMARY"]) for one in events}
    page.goto(f"{changeable_once}/settings?tail=N012LF")
    page.get_by_label("Battery fitted on").fill("")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Saved 1 setting of N012LF.").wait_for()


def test_an_aircraft_that_was_deleted_meanwhile_is_said_and_is_no_fault(pages: str) -> None:
    outputs = [
        ("due-lines", "children"), ({"of": "due", "type": "due-page"}, "total"),
        ({"of": "due", "type": "due-page"}, "value"), ({"of": "due", "type": "due-pager"}, "hidden"),
    ]  # fmt: skip
    names = [json.dumps(name, separators=(",", ":")) if isinstance(name, dict) else name for name, _ in outputs]
    asked = {
        "output": f"..{'...'.join(f'{name}.{prop}' for name, (_, prop) in zip(names, outputs, strict=True))}..",
        "outputs": [{"id": name, "property": prop} for name, prop in outputs],
        "inputs": [part({"of": "due", "type": "due-page"}, "value", 2)],
        "state": [part("due-tail", "data", "N099ZZ")],
        "changedPropIds": [f"{names[1]}.value"],
    }
    said = call(pages, asked).text
    assert "no flight of N099ZZ was found" in said
    assert FAULT not in said
