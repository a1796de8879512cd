"""What comes one after the other is kept in few transactions, and what is there when that ends is kept as well."""

from __future__ import annotations

import pytest

from analyzer.aircraft import Fleet
from analyzer.logs import find_logs
from analyzer.records import adding, keeping, together
from analyzer.records.adding import add_logs
from analyzer.records.keeping import keep, keep_together
from analyzer.records.kept import kept_logs
from analyzer.records.preparing import prepare
from analyzer.records.problems import RecordsError
from analyzer.records.store import open_records
from analyzer.records.together import kept_together
from tests.records.same_records import held


@pytest.mark.parametrize(
    ("within", "most", "kept"),
    [
        (1e6, 3, [[1, 2, 3], [4, 5, 6], [7]]),
        (1e6, 7, [[1, 2, 3, 4, 5, 6, 7]]),
        (0.0, 3, [[one] for one in range(1, 8)]),
    ],
)
def test_so_many_are_kept_at_once_as_come_within_a_moment(monkeypatch, within, most, kept):
    monkeypatch.setattr(together, "TOGETHER_S", within)
    done = []
    with kept_together(lambda some: done.append(list(some)), most) as take:
        for one in range(1, 8):
            take(one)
    assert done == kept


@pytest.mark.parametrize("problem", [KeyboardInterrupt, ValueError])
def test_what_waits_when_the_work_is_stopped_is_kept(problem):
    done = []

    def work():
        with kept_together(lambda some: done.append(list(some))) as take:
            take(1)
            take(2)
            raise problem

    with pytest.raises(problem):
        work()
    assert done == [[1], [2]]


@pytest.mark.parametrize("most", [4, 100])
def test_of_some_of_which_one_cannot_be_kept_those_before_it_are(most):
    done = []

    def keeps(some):
        if 3 in some:
            raise RecordsError("full")
        done.extend(some)

    def work():
        with kept_together(keeps, most) as take:
            for one in range(1, 5):
                take(one)

    with pytest.raises(RecordsError, match="full"):
        work()
    assert done == [1, 2]


def prepared_of(logs):
    sources = find_logs([logs])
    return [prepare(one, Fleet(), tail=None, keep_original=True) for one in [*sources, sources[2]]]


def test_logs_kept_together_leave_what_they_leave_one_by_one(logs, tmp_path):
    six = prepared_of(logs)  # the last has the bytes of the third
    with open_records(tmp_path / "together", create=True) as store:
        assert keep_together(store, six) == [True] * 5 + [False]
        assert keep_together(store, six[3:5]) == [False, False]
    with open_records(tmp_path / "alone", create=True) as store:
        assert [keep(store, one) for one in six] == [True] * 5 + [False]
    assert held(tmp_path / "together") == held(tmp_path / "alone")
    assert [row["revision"] for row in held(tmp_path / "alone")["tails"]] == [3, 2]


def test_logs_that_are_added_are_kept_in_few_transactions(logs, tmp_path, monkeypatch):
    sizes, real = [], adding.keep_together
    monkeypatch.setattr(together, "TOGETHER_S", 1e6)
    monkeypatch.setattr(adding, "AT_ONCE", 3)
    monkeypatch.setattr(adding, "keep_together", lambda store, some: sizes.append(len(some)) or real(store, some))
    with open_records(tmp_path / "r", create=True) as store:
        assert len(add_logs(store, find_logs([logs]), Fleet()).new) == 5
    assert sizes == [3, 2]


def test_a_log_that_cannot_be_kept_costs_none_that_came_before_it(logs, tmp_path, monkeypatch):
    monkeypatch.setattr(together, "TOGETHER_S", 1e6)
    write, third = keeping.write_each_whole, find_logs([logs])[2].content_hash()

    def fails_at_the_third(files):
        if any(path.name.startswith(third) for path in files):
            write(dict([*files.items()][:1]))
            raise OSError(28, "No space left on device")
        write(files)

    monkeypatch.setattr(keeping, "write_each_whole", fails_at_the_third)
    with open_records(tmp_path / "r", create=True) as store:
        with pytest.raises(RecordsError, match="No space left"):
            add_logs(store, find_logs([logs]), Fleet())
        assert len(kept_logs(store)) == 2
    assert len(held(tmp_path / "r")["originals"]) == 2
