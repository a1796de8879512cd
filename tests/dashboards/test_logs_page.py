"""Logs are moved to the right aircraft on their page, by who may, and put back."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from analyzer.aircraft import Fleet
from analyzer.logs import find_logs
from analyzer.records.adding import add_logs
from analyzer.records.changes import kept_changes
from analyzer.records.forgetting import forget, going_of, would_go
from analyzer.records.kept import kept_logs, tail_flights
from analyzer.records.people import Person, Role
from analyzer.records.problems import RecordsError
from analyzer.records.store import open_records
from analyzer.service.assign_logs import NOT_KEPT, assign_logs
from dashboards.kept import Kept
from tests.browser import ROOT

Visit = Callable[..., Any]


def test_a_log_is_moved_and_taken_back_to_the_aircraft_that_it_names(demo: Path, tmp_path: Path) -> None:
    shutil.copytree(demo, tmp_path / "records")
    with open_records(tmp_path / "records") as store:
        first, second = kept_logs(store, "N012LF")[:2]
        before = {tail: len(tail_flights(store, tail)) for tail in ("N012LF", "N037LF")}
        done = assign_logs(store, "n037lf", [first.id, second.id])
        assert (done.changed, done.tails, done.failed) == (2, {"N012LF", "N037LF"}, ())
        assert len(tail_flights(store, "N037LF")) == before["N037LF"] + 2
        assert len(tail_flights(store, "N012LF")) == before["N012LF"] - 2
        assert assign_logs(store, None, [first.id]).changed == 1
        assert len(tail_flights(store, "N012LF")) == before["N012LF"] - 1
        back = next(log for log in kept_logs(store) if log.id == first.id)
        assert (back.tail, back.tail_from) == (first.tail, first.tail_from)
        assert assign_logs(store, None, [first.id]).changed == 0, "nothing that a person said is left"
        reader = store.asked_by(Person("a.reader", Role.READER, "pages"))
        for tail in ("N037LF", None):
            with pytest.raises(RecordsError, match="may not"):
                assign_logs(reader, tail, [first.id])


def test_a_log_whose_recording_was_not_kept_keeps_its_aircraft_when_what_was_said_is_taken_back(tmp_path: Path) -> None:
    """Nothing tells any more whom it names itself."""
    with open_records(tmp_path / "records", create=True) as store:
        add_logs(store, find_logs([ROOT / "sample_logs" / "N012LF_2026-05-09.csv"]), Fleet(), keep_originals=False)
        (log,) = kept_logs(store)
        assert assign_logs(store, "N037LF", [log.id]).changed == 1
        done = assign_logs(store, None, [log.id])
        assert (done.changed, [because for _, because in done.failed]) == (0, [NOT_KEPT])
        assert [one.tail for one in kept_logs(store)] == ["N037LF"]
        assert assign_logs(store, "N012LF", [log.id]).changed == 1
        assert assign_logs(store, None, [log.id]).failed != ()
        assert len(tail_flights(store, "N012LF")) == 1


def test_how_many_logs_are_read_again_while_they_are_moved_is_told_to_who_moves_them(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(demo, tmp_path / "records")
    kept = Kept(tmp_path / "records")
    mover = kept.asked_by(Person("a.mover", Role.EDITOR, "pages"))
    chosen = [log.id for log in kept_logs(kept.store(), "N012LF")[:2]]
    seen: list[tuple[tuple[int, int] | None, tuple[int, int] | None]] = []
    alone = Kept._apart

    def watched(self: Kept, *asked: Any) -> Any:
        for one in alone(self, *asked):
            yield one
            seen.append((mover.read_anew(), kept.read_anew()))

    monkeypatch.setattr(Kept, "_apart", watched)
    try:
        assert mover.assign("N0NEW", chosen).changed == 2
    finally:
        kept.close()
    assert [told for told, _ in seen[:2]] == [(1, 2), (2, 2)]
    assert {others for _, others in seen} == {None}
    assert mover.read_anew() is None


def test_logs_are_chosen_moved_after_a_question_and_put_back(own: tuple[str, Path], visit: Visit) -> None:
    address, records = own
    with open_records(records) as store:
        moved = kept_logs(store, "N012LF")[-1]
    name = Path(moved.source).name
    page = visit(f"{address}/logs?tail=N012LF")
    page.get_by_role("button", name="Move the chosen logs").click()
    page.get_by_text("Choose one log or more first.").wait_for()
    page.get_by_label(name).check()
    page.get_by_role("textbox", name="Aircraft").fill("n0new")
    page.get_by_role("button", name="Move the chosen logs").click()
    page.get_by_text("Move 1 log to N0NEW?").wait_for()
    page.get_by_role("button", name="Cancel").click()
    page.get_by_text("Nothing was moved.").wait_for()
    assert page.get_by_label(name).is_checked()
    page.get_by_role("button", name="Move the chosen logs").click()
    assert not page.locator("#logs-moving").is_visible()
    page.get_by_role("button", name="Yes, move").click()
    page.get_by_role("progressbar", name="Logs read again").wait_for()
    page.get_by_text("Moving").wait_for()
    page.get_by_text("Moved.", exact=True).wait_for()
    page.locator("#logs-moving").wait_for(state="hidden")
    assert page.get_by_label(name).count() == 0
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("Undone.").wait_for()
    assert page.get_by_label(name).count() == 1
    page.goto(f"{address}/logs")
    page.get_by_text("Every log has a tail number.").wait_for()
    offered = page.get_by_role("button", name=re.compile("the chosen logs"))
    assert offered.count() == 0, "there is nothing to move or to delete"
    with open_records(records) as store:
        assert next(log.tail for log in kept_logs(store) if log.id == moved.id) == "N012LF"


def test_chosen_logs_are_deleted_after_a_question_that_says_what_goes(own: tuple[str, Path], visit: Visit) -> None:
    address, records = own
    with open_records(records) as store:
        *kept, gone = kept_logs(store, "N091LF")
        flights = len(tail_flights(store, "N091LF"))
    page = visit(f"{address}/logs?tail=N091LF")
    button, name = page.get_by_role("button", name="Delete the chosen logs"), Path(gone.source).name
    button.click()
    page.locator("#logs-deleted").get_by_text("Choose one log or more first.").wait_for()
    page.get_by_label(name).check()
    button.focus()
    page.keyboard.press("Enter")
    asks = f"Delete 1 log ({name}) with 1 flight for good? 1 original file kept here would go too."
    page.get_by_text(f"{asks} Maintenance entries and outcomes stay.").wait_for()
    page.locator("#logs-delete-no").click()
    page.get_by_text("Nothing was deleted.").wait_for()
    button.click()
    page.get_by_text(asks).wait_for()
    page.get_by_label(Path(kept[0].source).name).check()
    page.get_by_text(asks).wait_for(state="hidden")
    page.get_by_label(Path(kept[0].source).name).uncheck()
    button.click()
    page.get_by_role("button", name="Yes, delete for good").click()
    page.get_by_text("Deleted: 1 log with 1 flight.").wait_for()
    assert page.get_by_label(name).count() == 0
    with open_records(records) as store:
        assert [log.hash for log in kept_logs(store, "N091LF")] == [log.hash for log in kept]
        assert len(tail_flights(store, "N091LF")) == flights - 1
        with store.reading() as connection:
            last = kept_changes(connection)[0]
    assert (last.what, last.tail, last.by) == ("log removed", "N091LF", "pages")


def test_the_records_let_only_managers_delete(demo: Path, tmp_path: Path) -> None:
    shutil.copytree(demo, tmp_path / "records")
    with open_records(tmp_path / "records") as store:
        (log, *_) = kept_logs(store, "N012LF")
        editor = store.asked_by(Person("an.editor", Role.EDITOR, "pages"))
        with pytest.raises(RecordsError, match="may not"):
            forget(editor, going_of(editor, [log.hash]))
        with pytest.raises(RecordsError, match="no longer kept"):
            going_of(store, [log.hash, "0" * 64])
        assert going_of(store, [log.hash]) == would_go(store, [str(log.id)])
        assert log.id in {one.id for one in kept_logs(store, "N012LF")}
