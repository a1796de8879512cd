"""An aircraft's settings are changed on their page, put back, and refused in words."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from analyzer.records.kept import fleet_kept
from analyzer.records.store import open_records
from analyzer.service.aircraft_settings import keep_settings, settings_of
from tests.browser import hindrances, turned
from tests.dashboards.asking import call, part
from tests.dashboards.unseen import unseen

Visit = Callable[..., Any]


def saved(records: Path) -> dict[str, Any]:
    with open_records(records) as store:
        return settings_of(fleet_kept(store).of("N012LF"))


def test_settings_are_saved_put_back_and_refused_by_keyboard(own: tuple[str, Path], visit: Visit) -> None:
    address, records = own
    before = saved(records)
    page = visit(f"{address}/settings?tail=N012LF")
    said = page.locator("#settings-said")
    capacity = page.get_by_label("Battery capacity, Ah")
    assert capacity.input_value() == "26"
    assert page.get_by_label("Regulated voltage, lowest, V").input_value() == "13.75"
    capacity.fill("31.5")
    page.get_by_label("Regulated voltage, highest, V").fill("14.6")
    page.get_by_role("button", name="Save").focus()
    page.keyboard.press("Enter")
    said.get_by_text("Saved 2 settings of N012LF").wait_for()
    now = saved(records)
    assert {key: now[key] for key in now if now[key] != before[key]} == {
        "battery_capacity": 31.5,
        "regulated_voltage": (13.75, 14.6),
    }
    with open_records(records) as store:  # another person, meanwhile
        keep_settings(store, "N012LF", {"essential_load": 8})
    page.get_by_role("button", name="Undo").click()
    said.get_by_text("Undone.").wait_for()
    assert saved(records) == before | {"essential_load": 8.0}, "only what was changed here is undone"
    with open_records(records) as store:
        keep_settings(store, "N012LF", {"essential_load": before["essential_load"]})
    assert capacity.input_value() == "26"
    capacity.fill("2600")
    page.get_by_role("button", name="Save").click()
    said.get_by_text("Battery capacity: a number from 1 to 500, not 2600.").wait_for()
    assert capacity.input_value() == "2600", "what was typed stays to be mended"
    capacity.fill("26")
    page.get_by_label("Overvoltage protection acts at, V").fill("14")
    page.get_by_role("button", name="Save").click()
    said.get_by_text("Overvoltage protection acts at: it must lie above the regulated voltage").wait_for()
    assert saved(records) == before


@pytest.mark.long(keep=1)  # a phone in light and a tablet in dark; the long run has the other way round, and wide
@pytest.mark.parametrize(
    "looks", [((390, "light"), (820, "dark")), ((390, "dark"), (820, "light"), (1280, "light"), (1280, "dark"))]
)
def test_the_page_stands_at_every_width(pages: str, visit: Visit, looks: tuple[tuple[int, str], ...]) -> None:
    page = visit(f"{pages}/settings?tail=N091LF", size=(390, 900))
    page.get_by_label("Essential load, A").wait_for()
    for width, scheme in looks:
        turned(page, width, 900, scheme)
        assert hindrances(page) == [], width
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1"), width


def test_an_aircraft_leads_to_its_settings_and_one_that_is_not_there_is_said(pages: str) -> None:
    led = unseen(pages, "/aircraft/N091LF").link("Its settings")
    assert unseen(pages, led).all("H1")[0].words == "Settings of N091LF"
    assert "No flight of N099ZZ is imported" in unseen(pages, "/settings?tail=N099ZZ").words


def test_a_capacity_test_is_logged_on_the_page_and_planned_on(own: tuple[str, Path], visit: Visit) -> None:
    address, _ = own
    page = visit(f"{address}/entries?tail=N012LF")
    page.get_by_role("textbox", name="What was done").click()
    page.get_by_role("option", name="battery serviced").click()
    page.get_by_label("Capacity found, %").fill("72")
    page.get_by_label("Notes").fill("capacity test in the shop")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Saved for N012LF.").wait_for()
    assert "Capacity found: 72 % of rated." in page.locator("#entries-list").inner_text()
    assert page.get_by_label("Capacity found, %").input_value() == "", "it is not the next entry's too"
    flight = unseen(address, unseen(address, "/aircraft/N012LF").link("Last flight"))
    condition = flight.part("plan-condition").content["props"]
    assert (condition["label"], condition["value"]) == ("Condition, % of rated capacity", 72)
    plan = flight.after("plan-answer")
    link = plan["plan-answer"].link("Link to this plan")
    assert link.startswith("?")
    assert "condition" not in link, "what the records know today is not said as a person's word tomorrow"
    assert "72 % of rated. 68 to 76 % of rated capacity is assumed today." in plan["plan-basis"].words


OUTPUTS = (
    ("settings-said", "children"), ("settings-fields", "children"), ("settings-shown", "data"),
    ("settings-undoing", "data"), ("settings-undo", "disabled"),
)  # fmt: skip


def settings_call(tail: str, shown: dict[str, str], given: dict[str, str], undoing: Any = None) -> dict[str, Any]:
    """The callback that saves what is in the fields, or undoes what was saved."""
    fields = [({"type": "settings-field", "key": key}, text) for key, text in given.items()]
    return {
        "output": ".." + "...".join(f"{name}.{prop}" for name, prop in OUTPUTS) + "..",
        "outputs": [{"id": name, "property": prop} for name, prop in OUTPUTS],
        "inputs": [part("settings-save", "n_clicks", 1), part("settings-undo", "n_clicks", 1 if undoing else 0)],
        "state": [
            part("settings-tail", "data", tail), part("settings-shown", "data", shown),
            part("settings-undoing", "data", undoing), [part(name, "value", text) for name, text in fields],
            [part(name, "id", name) for name, _ in fields],
        ],
        "changedPropIds": ["settings-undo.n_clicks" if undoing else "settings-save.n_clicks"],
    }  # fmt: skip


def test_a_save_without_a_change_leaves_the_fields_as_they_are(own: tuple[str, Path]) -> None:
    for text, said, drawn in (("24", "Nothing to save", False), ("25", "Saved 1 setting", True)):
        answer = call(own[0], settings_call("N091LF", {"battery_capacity": "24"}, {"battery_capacity": text}))
        told = json.loads(answer.body)["response"]
        assert told["settings-said"]["children"].startswith(said)
        assert ("settings-fields" in told) == drawn, "a letter typed just before may not have arrived"
