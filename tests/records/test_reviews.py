"""The tails' reviews stand ready for whoever reads next, and a reader never fails for what it cannot keep."""

from __future__ import annotations

import pickle

import pytest
from sqlalchemy import select

from analyzer.aircraft import Aircraft, Fleet
from analyzer.cli import main
from analyzer.commands.records import renew_reviews
from analyzer.records import kept, marks, reviewing, together
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store, open_records
from analyzer.records.tables import tails
from analyzer.trends.tail_review import review_tail


@pytest.fixture
def worked_out(monkeypatch):
    """Tails whose reviews were worked out in this process."""
    names: list[str] = []
    monkeypatch.setattr(reviewing, "review_tail", lambda history: names.append(history.tail) or review_tail(history))
    return names


@pytest.mark.parametrize(
    "command",
    [
        ["entry", "N0011R", "2026-03-02", "battery replaced"],
        ["assign", "N0022R", "1"],
        ["forget", "1", "--yes"],
        ["rebuild"],
    ],
)
def test_after_each_change_readers_find_the_reviews_worked_out(store, command, worked_out):
    records = ["--records", str(store.folder)]
    kept.tail_reviews(store, ["N0011R", "N0022R"])
    assert main([*command, *records]) == 0
    assert worked_out
    worked_out.clear()
    assert main(["fleet", *records]) == 0
    assert worked_out == []


def test_after_an_add_the_touched_tails_are_worked_out_and_no_others(logs, tmp_path, worked_out):
    records = ["--records", str(tmp_path / "r")]
    assert main(["add", *[str(log) for log in sorted(logs.iterdir())[:4]], *records]) == 0
    assert worked_out == ["N0011R", "N0022R"]
    worked_out.clear()
    assert main(["add", str(logs), *records]) == 0
    assert worked_out == ["N0022R"]
    assert main(["add", str(logs), *records]) == 0
    assert worked_out == ["N0022R"]


def test_what_a_stopped_run_worked_out_stays(store, monkeypatch):
    def stopped(history):
        if history.tail == "N0022R":
            raise KeyboardInterrupt
        return review_tail(history)

    monkeypatch.setattr(reviewing, "review_tail", stopped)
    with pytest.raises(KeyboardInterrupt):
        renew_reviews(store, ["N0022R", "N0011R"])
    with store.reading() as connection:
        reviewed = {row.tail: row.review for row in connection.execute(select(tails))}
    assert reviewed["N0011R"]
    assert not reviewed["N0022R"]


@pytest.mark.parametrize(("within", "kept_before", "at_once"), [(0.0, [0, 1], [1, 1]), (1e6, [0, 0], [2])])
def test_reviews_that_take_long_are_kept_while_others_are_worked_out(store, monkeypatch, within, kept_before, at_once):
    monkeypatch.setattr(together, "TOGETHER_S", within)
    seen, sizes, keep = [], [], reviewing._keep
    monkeypatch.setattr(reviewing, "_keep", lambda store, reviews: sizes.append(len(reviews)) or keep(store, reviews))

    def over(work, names, fleet):
        for name in names:
            with store.reading() as connection:
                seen.append(len(connection.execute(select(tails.c.tail).where(tails.c.review.is_not(None))).all()))
            yield work(name, fleet)

    kept.tail_reviews(store, ["N0011R", "N0022R"], over=over)
    assert seen == kept_before
    assert sizes == at_once


def test_a_reader_that_cannot_keep_a_review_still_gives_it(store, monkeypatch):
    def full(self):
        raise RecordsError("the disk is full")

    monkeypatch.setattr(Store, "writing", full)
    assert kept.tail_review(store, "N0011R").flights == 3


def test_a_profile_tried_once_leaves_what_is_kept_alone(store, worked_out):
    kept.tail_review(store, "N0011R")
    worked_out.clear()
    tried = Fleet({"N0011R": Aircraft(tail="N0011R", battery_capacity=20.0)})
    kept.tail_review(store, "N0011R", tried)
    kept.tail_review(store, "N0011R")
    assert worked_out == ["N0011R"]


def test_an_unknown_aircraft_is_said_before_anything_is_worked_out(store, worked_out, capsys):
    assert main(["trend", "N0099R", "--records", str(store.folder)]) == 2
    assert "no flight of N0099R was found; did you mean N0022R?" in capsys.readouterr().err
    assert worked_out == []


def test_many_tails_are_worked_out_in_several_processes_as_in_one(store):
    from analyzer.commands.records import over_tails

    names = ["N0011R", "N0022R"] * 8
    one = kept.tail_reviews(store, names[:2])
    with store.writing() as connection:
        connection.execute(tails.update().values(reviewed=None))
    work = reviewing.worked_out_in(store)
    assert list(over_tails(work, names, Fleet())) == one * 8


def test_another_process_opens_the_records_once_for_all_tails_of_a_store(store):
    for_each_tail = [pickle.loads(pickle.dumps(store)) for _ in range(2)]
    assert for_each_tail[0] is for_each_tail[1] is not store
    assert [one.tail for one in kept.tails(for_each_tail[0])] == [one.tail for one in kept.tails(store)]
    with open_records(store.folder) as another:
        assert pickle.loads(pickle.dumps(another)) is not for_each_tail[0]


def test_readings_of_other_measures_are_said(store):
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE flights SET readings = x'00', seal = NULL WHERE id = 1")
    store.close()
    with open_records(store.folder) as again, pytest.raises(RecordsError, match="Run: taper rebuild"):
        kept.kept_history(again, "N0011R")


def test_a_review_of_another_analysis_is_worked_out_anew(store, monkeypatch, tmp_path, worked_out):
    kept.tail_review(store, "N0011R")
    worked_out.clear()
    kept.tail_review(store, "N0011R")
    assert worked_out == []
    (tmp_path / "judging.py").write_text("# another one\n", "utf-8")
    monkeypatch.setattr(marks, "ANALYZER", tmp_path)
    marks._mark_of.cache_clear()
    kept.tail_review(store, "N0011R")
    assert worked_out == ["N0011R"]
    monkeypatch.undo()
    marks._mark_of.cache_clear()
