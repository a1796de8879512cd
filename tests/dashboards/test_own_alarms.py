"""Limits for the recorder's alarms on an aircraft's page: read after the page stands, the same as the command's."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from analyzer.records.kept import fleet_kept
from analyzer.records.store import open_records
from analyzer.reports.alarm_words import alarm_rows, loss_rows
from analyzer.reports.load_words import load_rows
from analyzer.reports.setting_words import SETTING_WORDS
from analyzer.service.own_meters import OwnMeters, meters_asked, own_meters
from analyzer.trends.load_list import load_list
from dashboards.error_notices import FAULT
from dashboards.own_alarms import limits_shown
from dashboards.table_files import words_of
from tests.dashboards.asking import call, part

Visit = Callable[..., Any]


def test_the_section_holds_each_limit_and_each_recorded_loss(pages: str, demo: Path, visit: Visit) -> None:
    with open_records(demo) as store:
        own = own_meters(meters_asked(store, "N012LF"))
    assert own.alarms is not None
    shown = visit(f"{pages}/aircraft/N012LF").locator("#alarms-shown")
    shown.get_by_text("Would the low-voltage light").wait_for()
    tables = shown.locator("tbody")
    for place, rows in enumerate((alarm_rows(own.alarms), loss_rows(own))):
        assert tables.nth(place).locator("tr").count() == len(rows)
        words = tables.nth(place).inner_text()
        assert all(cell in words for row in rows for cell in row)


def test_logs_that_could_not_be_read_are_told_without_words_of_the_command_line() -> None:
    none = OwnMeters("N0", (), None, load_list([], None), None, ("Gone. Run: taper rebuild.",))
    told = words_of(limits_shown(none))
    assert "could not be read because: Gone. Have whoever keeps the records rebuild them." in told
    assert "taper" not in told


def test_the_loads_stand_below_it_or_why_there_are_none(pages: str, demo: Path, visit: Visit) -> None:
    with open_records(demo) as store:
        own = own_meters(meters_asked(store, "N037LF"))
    shown = visit(f"{pages}/aircraft/N037LF").locator("#loads-shown")
    shown.get_by_text("Lasting steps of the load in").wait_for()
    words = shown.locator("tbody").inner_text()
    assert load_rows(own.loads)
    assert all(cell in words for row in load_rows(own.loads) for cell in row)
    none = visit(f"{pages}/aircraft/N012LF").locator("#loads-shown")
    none.get_by_text("Not measurable: no alternator ammeter shows the load.").wait_for()


def test_a_measured_load_is_named_by_keyboard_and_plans_count_with_it(
    changeable: str, visit: Visit, tmp_path: Path
) -> None:
    page = visit(f"{changeable}/aircraft/N037LF")
    save, said = page.get_by_role("button", name="Save its amperes"), page.locator("#load-said")
    save.focus()
    page.keyboard.press("Enter")
    said.get_by_text("Pick the amperes, and which load that is.").wait_for()
    for label in ("The load of", "is"):
        field = page.get_by_role("textbox", name=label, exact=True)
        field.focus()
        page.keyboard.press("ArrowDown")
        page.get_by_role("option").first.wait_for()
        page.keyboard.press("ArrowDown")
        page.locator("[role=option][data-combobox-selected]").first.wait_for()
        page.keyboard.press("Enter")
        page.get_by_role("option").first.wait_for(state="hidden")
        assert field.input_value()
    save.focus()
    page.keyboard.press("Enter")
    said.get_by_text("Saved: ").wait_for()
    with open_records(tmp_path / "records") as store:
        own = fleet_kept(store).of("N037LF").loads
        measured = [one.amps.value for one in own_meters(meters_asked(store, "N037LF")).loads.loads]
    ((name, amps),) = own.items()
    assert amps in measured
    label = SETTING_WORDS[f"load_{name}"].label
    assert said.inner_text() == f"Saved: {label}: {amps:g} A (was: not set). Change or remove it under Settings."
    said.get_by_role("link").click()
    assert page.get_by_label(f"{label}, A").input_value() == f"{amps:g}"
    page.go_back()
    page.get_by_role("link", name="Last flight").first.click()
    page.get_by_text("Loads for the night, and to switch off").click()
    page.get_by_text(f"{label}, {amps:g} A, its own").first.wait_for()
    page.get_by_text("Amperes are usual ones, not this aircraft's, except those marked as its own.").wait_for()


def named_load(amps: str) -> dict[str, Any]:
    """The callback that names a load."""
    return {
        "output": "load-said.children",
        "outputs": {"id": "load-said", "property": "children"},
        "inputs": [part("load-save", "n_clicks", 1)],
        "state": [
            part("load-amps", "value", amps), part("load-is", "value", "load_second_radio"),
            part("aircraft-tail", "data", "N058LF"),
        ],
        "changedPropIds": ["load-save.n_clicks"],
    }  # fmt: skip


def test_what_is_no_load_is_refused_in_words_and_changes_nothing(changeable_once: str) -> None:
    for amps in ("abc", "nan", "inf", "-1", "1e999", "1e5"):
        said = call(changeable_once, named_load(amps)).text
        assert "a number" in said
        assert FAULT not in said
    assert "(was: not set)" in call(changeable_once, named_load("2.5")).text
    assert "as it was already" in call(changeable_once, named_load("2.5")).text
