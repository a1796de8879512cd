"""Limits for the recorder's alarms on an aircraft's page: read after the page stands, the same as the command's."""

from __future__ import annotations

import csv
import io
import re
import time
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
from tests.dashboards.asking import ask, call, part
from tests.dashboards.unseen import Unseen, unseen

Visit = Callable[..., Any]


def shown_later(pages: str, tail: str) -> dict[str, Unseen]:
    """What stands on an aircraft's page once its flights are read."""
    page, over = unseen(pages, f"/aircraft/{tail}"), time.monotonic() + 60.0
    while "are being read" in (shown := page.after("alarms-shown"))["alarms-shown"].words:
        assert time.monotonic() < over, tail
        time.sleep(0.3)
    return shown


def test_the_section_holds_each_limit_and_each_recorded_loss(pages: str, demo: Path) -> None:
    with open_records(demo) as store:
        own = own_meters(meters_asked(store, "N012LF"))
    assert own.alarms is not None
    shown = shown_later(pages, "N012LF")
    assert "Would the low-voltage light" in shown["alarms-shown"].words
    tables = shown["alarms-shown"].all("Tbody")
    for place, rows in enumerate((alarm_rows(own.alarms), loss_rows(own))):
        assert len(tables[place].all("Tr")) == len(rows)
        assert all(cell in tables[place].words for row in rows for cell in row)
    assert "Not measurable: no alternator ammeter shows the load." in shown["loads-shown"].words


def test_logs_that_could_not_be_read_are_told_without_words_of_the_command_line() -> None:
    none = OwnMeters("N0", (), None, load_list([], None), None, ("Gone. Run: taper rebuild.",))
    told = words_of(limits_shown(none))
    assert "could not be read because: Gone. Have whoever keeps the records rebuild them." in told
    assert "taper" not in told


def test_the_loads_stand_below_it_and_one_is_named_by_keyboard_so_that_plans_count_with_it(
    changeable_once: str, demo: Path, visit: Visit
) -> None:
    with open_records(demo) as store:
        loads = own_meters(meters_asked(store, "N037LF")).loads
        assert fleet_kept(store).of("N037LF").loads == {}
    page = visit(f"{changeable_once}/aircraft/N037LF")
    page.locator("#alarms-shown table").first.wait_for()
    shown = page.locator("#loads-shown")
    shown.get_by_text("Lasting steps of the load in").wait_for()
    words = shown.locator("tbody").inner_text()
    assert load_rows(loads)
    assert all(cell in words for row in load_rows(loads) for cell in row)
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
    (label, amps) = re.fullmatch(r"Saved: (.+): ([0-9.]+) A \(was: not set\).*", said.inner_text()).groups()
    (measured,) = {one.amps.value for one in loads.loads if f"{one.amps.value:g}" == amps}
    (name,) = (key for key, words in SETTING_WORDS.items() if key.startswith("load_") and words.label == label)
    noted = [row for row in csv.reader(io.StringIO(ask(changeable_once, "/changes.csv").text)) if "N037LF" in row]
    assert f"{name} = {measured}" in " ".join(noted[0]).replace("\\n", "\n").splitlines()
    assert said.inner_text() == f"Saved: {label}: {amps} A (was: not set). Change or remove it under Settings."
    said.get_by_role("link").click()
    assert page.get_by_label(f"{label}, A").input_value() == amps
    page.go_back()
    page.get_by_role("link", name="Last flight").first.click()
    page.get_by_text("Loads for the night, and to switch off").click()
    page.get_by_text(f"{label}, {amps} A, its own").first.wait_for()
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
