"""Two people change the same at once: whoever comes second is told, and nothing of the first is lost unseen."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

pytest.importorskip("dash")

import dash

from analyzer.records.changing import add_entries, delete_entry, edit_entry, kept_entries
from analyzer.records.kept import fleet_kept, kept_logs
from analyzer.records.store import Store, open_records
from analyzer.service.aircraft_settings import keep_settings
from analyzer.service.assign_logs import assign_logs
from analyzer.trends.entries import Entry, make_entry
from dashboards.app import make_app
from dashboards.background import StillWorkingError
from dashboards.kept import Kept
from tests.browser import served
from tests.dashboards.asking import call, entry_call, known_call, part
from tests.dashboards.test_settings_page import settings_call

TAIL, DAY = "N012LF", "2026-05-01T12:00"
REFUSED = "Somebody else changed or removed that maintenance entry meanwhile"


@pytest.fixture(scope="module")
def folder(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records for all these tests: each adds its own entry, sets what it begins with, and puts logs back."""
    records = tmp_path_factory.mktemp("two") / "records"
    shutil.copytree(demo, records)
    return records


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    with served(folder) as found:
        yield found


@pytest.fixture
def beside(folder: Path) -> Iterator[Store]:
    """The records as somebody else writes them, beside the pages."""
    with open_records(folder) as store:
        yield store


def oil(words: str) -> Entry:
    return make_entry(TAIL, DAY, "other", words)


def last_words(store: Store) -> str:
    return max(kept_entries(store), key=lambda one: one.id).entry.words


def pressed(address: str, body: dict[str, Any]) -> Any:
    answer = call(address, body)
    assert answer.status == 200, answer.text
    return json.loads(answer.body)["response"]


def saved(address: str, words: str, editing: Any = "new") -> Any:
    """What comes of saving an entry in the form."""
    body = entry_call(TAIL, words)
    body["state"] = [one | {"value": editing} if one["id"] == "entries-editing" else one for one in body["state"]]
    return pressed(address, body)


def by_button(address: str, shown: Any, does: str) -> Any:
    """What comes of a button of the newest entry in a list that was shown."""
    found = [one for one in _ids(shown["entries-list"]["children"]) if one["does"] == does]
    name = max(found, key=lambda one: int(one["entry"]))
    body = entry_call(TAIL, "")
    body["inputs"] = [*body["inputs"][:2], [part(name, "n_clicks", 1)]]
    body["changedPropIds"] = [f"{json.dumps(name, separators=(',', ':'), sort_keys=True)}.n_clicks"]
    return pressed(address, body)


def undone(address: str, undoing: Any) -> Any:
    body = entry_call(TAIL, "")
    body["state"] = [one | {"value": undoing} if one["id"] == "entries-undoing" else one for one in body["state"]]
    body["inputs"] = [part("entries-keep", "n_clicks", 1), part("entries-undo", "n_clicks", 1), []]
    return pressed(address, body | {"changedPropIds": ["entries-undo.n_clicks"]})


def _ids(shown: Any) -> Iterator[dict[str, Any]]:
    if isinstance(shown, dict):
        name = shown.get("id")
        if isinstance(name, dict) and name.get("type") == "entries-button":
            yield name
        shown = list(shown.values())
    if isinstance(shown, list):
        for one in shown:
            yield from _ids(one)


def newest(store: Store) -> int:
    return max(one.id for one in kept_entries(store))


def test_an_entry_that_somebody_else_changed_is_not_written_over_or_removed(address: str, beside: Store) -> None:
    shown = saved(address, "oil")
    editing = by_button(address, shown, "change")["entries-editing"]["data"]
    edit_entry(beside, newest(beside), oil("oil, and the belt was found loose"))
    for second in (saved(address, "oil, 6 quarts", editing), by_button(address, shown, "remove")):
        assert second["entries-said"]["children"].startswith(REFUSED)
    assert last_words(beside) == "oil, and the belt was found loose"


def test_another_s_entry_that_took_the_number_of_a_removed_one_stays_as_it_is(address: str, beside: Store) -> None:
    shown = saved(address, "oil")
    editing = by_button(address, shown, "change")["entries-editing"]["data"]
    number = newest(beside)
    delete_entry(beside, number)
    add_entries(beside, [oil("belt tightened")])
    assert newest(beside) == number
    for second in (saved(address, "oil, 6 quarts", editing), by_button(address, shown, "remove")):
        assert second["entries-said"]["children"].startswith(REFUSED)
    assert last_words(beside) == "belt tightened"


def test_a_change_is_undone_unless_somebody_else_changed_it_again(address: str, beside: Store) -> None:
    editing = by_button(address, saved(address, "oil"), "change")["entries-editing"]["data"]
    undoing = saved(address, "oil, 6 quarts", editing)["entries-undoing"]["data"]
    edit_entry(beside, newest(beside), oil("oil, 7 quarts"))
    assert undone(address, undoing)["entries-said"]["children"].startswith(REFUSED)
    assert last_words(beside) == "oil, 7 quarts"
    edit_entry(beside, newest(beside), oil("oil, 6 quarts"))
    assert undone(address, undoing)["entries-said"]["children"] == "Undone."
    assert last_words(beside) == "oil"


def test_a_setting_that_somebody_else_changed_is_written_over_only_by_who_was_told(address: str, beside: Store) -> None:
    keep_settings(beside, TAIL, {"battery_capacity": 26.0})
    shown = {"battery_capacity": "26"}
    first = pressed(address, settings_call(TAIL, shown, {"battery_capacity": "27"}))
    assert first["settings-said"]["children"].startswith("Saved 1 setting")
    keep_settings(beside, TAIL, {"battery_capacity": 30.0})
    undo = pressed(address, settings_call(TAIL, shown, {}, first["settings-undoing"]["data"]))
    second = pressed(address, settings_call(TAIL, shown, {"battery_capacity": "28"}))
    for told in (undo, second):
        assert told["settings-said"]["children"].startswith("Battery capacity is now 30. Somebody else changed that")
    assert fleet_kept(beside).of(TAIL).battery_capacity == 30.0
    pressed(address, settings_call(TAIL, second["settings-shown"]["data"], {"battery_capacity": "28"}))
    assert fleet_kept(beside).of(TAIL).battery_capacity == 28.0


def test_of_a_band_the_end_that_somebody_else_changed_is_not_written_over(address: str, beside: Store) -> None:
    keep_settings(beside, TAIL, {"regulated_voltage": (13.8, 14.4)})
    shown = {"regulated_voltage-lowest": "13.8", "regulated_voltage-highest": "14.4"}
    keep_settings(beside, TAIL, {"regulated_voltage": (13.8, 14.6)})
    second = pressed(address, settings_call(TAIL, shown, shown | {"regulated_voltage-lowest": "13.9"}))
    assert second["settings-said"]["children"].startswith("Regulated voltage, highest is now 14.6. Somebody else")
    assert fleet_kept(beside).of(TAIL).regulated_voltage == (13.8, 14.6)
    now = second["settings-shown"]["data"]
    told = pressed(address, settings_call(TAIL, now, now | {"regulated_voltage-lowest": "13.9"}))
    assert told["settings-said"]["children"].startswith("Saved 1 setting")
    assert fleet_kept(beside).of(TAIL).regulated_voltage == (13.9, 14.6)


def test_a_setting_that_is_as_it_is_wanted_already_is_not_refused(address: str, beside: Store) -> None:
    keep_settings(beside, TAIL, {"battery_capacity": 28.0, "regulated_voltage": (13.9, 14.4)})
    shown = {"battery_capacity": "26", "regulated_voltage-lowest": "13.8", "regulated_voltage-highest": "14.4"}
    fields = {"battery_capacity": "28.0", "regulated_voltage-lowest": "13.9", "regulated_voltage-highest": "14.6"}
    told = pressed(address, settings_call(TAIL, shown, fields))
    assert told["settings-said"]["children"].startswith("Saved 1 setting")
    same = pressed(address, settings_call(TAIL, shown, fields))  # as after an answer that was lost
    assert same["settings-said"]["children"] == "Nothing to save: it is set so already."
    aircraft = fleet_kept(beside).of(TAIL)
    assert (aircraft.battery_capacity, aircraft.regulated_voltage) == (28.0, (13.9, 14.6))


def test_a_setting_that_somebody_else_put_back_counts_as_undone(address: str, beside: Store) -> None:
    keep_settings(beside, TAIL, {"battery_capacity": 26.0})
    shown = {"battery_capacity": "26"}
    first = pressed(address, settings_call(TAIL, shown, {"battery_capacity": "27"}))
    keep_settings(beside, TAIL, {"battery_capacity": 26.0})
    undo = pressed(address, settings_call(TAIL, shown, {}, first["settings-undoing"]["data"]))
    assert undo["settings-said"]["children"] == "Undone."
    assert undo["settings-undoing"]["data"] is None


def moved(address: str, undoing: Any, asked: Any = None) -> Any:
    """What comes of moving logs after the question, or of undoing it."""
    undo = asked is None
    values = {
        "logs-yes.n_clicks": 1, "logs-undo.n_clicks": 1, "logs-asked.data": asked, "logs-undoing.data": undoing,
        "logs-of.data": TAIL,
    }  # fmt: skip
    body = known_call(address, "logs-undo-place", values)
    return pressed(address, body | {"changedPropIds": ["logs-undo.n_clicks" if undo else "logs-yes.n_clicks"]})


def test_a_log_that_somebody_else_moved_on_is_not_put_back(address: str, beside: Store) -> None:
    log = kept_logs(beside, TAIL)[0]
    undoing = moved(address, None, {"tail": "N0NEW", "logs": [log.id]})["logs-undoing"]["data"]
    assign_logs(beside, "N0ELSE", [log.id])
    told = moved(address, undoing)
    assert told["logs-said"]["children"].startswith("Somebody else moved a log away from N0NEW meanwhile")
    assert [one.id for one in kept_logs(beside, "N0ELSE")] == [log.id]
    assign_logs(beside, "N0NEW", [log.id])
    assert moved(address, told["logs-undoing"]["data"])["logs-said"]["children"] == "Undone."
    assert log.id in [one.id for one in kept_logs(beside, TAIL)]


def test_where_one_log_was_moved_on_none_is_put_back_and_deleted_ones_are_no_hindrance(
    address: str, beside: Store
) -> None:
    first, second = (log.id for log in kept_logs(beside, TAIL)[:2])
    undoing = [
        {"tail": TAIL, "logs": [first, 10**6], "from": "N0NEW"}, {"tail": "", "logs": [second], "from": "N0NEW"},
    ]  # fmt: skip
    assign_logs(beside, "N0NEW", [first])
    assign_logs(beside, "N0ELSE", [second])
    told = moved(address, undoing)
    assert "so nothing was undone" in told["logs-said"]["children"]
    assert [one.id for one in kept_logs(beside, "N0NEW")] == [first]
    assign_logs(beside, "N0NEW", [second])
    assign_logs(beside, TAIL, [first])  # put back by somebody else
    assert moved(address, told["logs-undoing"]["data"])["logs-said"]["children"] == "Undone."
    assert {first, second} <= {one.id for one in kept_logs(beside, TAIL)}


@pytest.mark.parametrize("moves", [True, False], ids=["goes on", "has not begun"])
def test_an_undo_that_takes_long_does_not_refuse_its_own_work(
    folder: Path, moves: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_app(Kept(folder))
    page, busy = import_module("dashboards.pages.logs"), [True]
    whose = {1: "N0NEW", 2: "N0NEW", 3: "N0NEW"}

    def assign(tail: str | None, logs: list[int]) -> Any:
        if moves or not busy:
            whose.update(dict.fromkeys(logs, tail or "N0OWN"))
        if busy:
            busy.clear()
            raise StillWorkingError("The logs are being read anew.")
        return SimpleNamespace(failed=())

    monkeypatch.setattr(page, "kept_here", lambda: SimpleNamespace(whose=lambda _: dict(whose), assign=assign))
    monkeypatch.setattr(page, "listed", lambda _: None)
    monkeypatch.setattr(dash, "ctx", SimpleNamespace(triggered=[{"value": 1}], triggered_id="logs-undo"))
    undoing = [{"tail": "", "logs": [1, 2], "from": "N0NEW"}, {"tail": TAIL, "logs": [3], "from": "N0NEW"}]
    first = page.move(1, 1, None, undoing, TAIL)
    assert first[1] == "The logs are being read anew."
    assert page.move(1, 2, None, first[3], TAIL)[1] == "Undone."
    assert whose == {1: "N0OWN", 2: "N0OWN", 3: TAIL}
