"""Logs worked on elsewhere arrive by hash and come to the same records; tried again, they are not worked on again."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from analyzer.aircraft import Fleet
from analyzer.logs import Source, find_logs
from analyzer.records import parcels
from analyzer.records.adding import add_logs
from analyzer.records.checking import check, repair
from analyzer.records.files import ARRIVING, original_path, trace_path
from analyzer.records.forgetting import forget, would_go
from analyzer.records.in_order import one_by_one
from analyzer.records.keeping import keep
from analyzer.records.kept import kept_logs
from analyzer.records.ledger import Ledger, hash_of
from analyzer.records.parcels import Parcel, by_parcels, put_down, take_up
from analyzer.records.preparing import prepare
from analyzer.records.problems import RecordsError
from analyzer.records.rebuilding import rebuild
from analyzer.records.store import Store, open_records
from tests.records.same_records import held

WORK = partial(prepare, tail=None, columns={}, keep_original=True)


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Store]:
    """Records without a log."""
    with open_records(tmp_path / "arrived", create=True) as store:
        yield store


def waiting(folder: Path) -> list[Path]:
    """Everything that waits to be taken up."""
    return [one for one in (folder / ARRIVING).rglob("*") if one.is_file()]


def test_logs_that_arrive_as_parcels_come_to_the_same_records_to_the_last_digit(store, empty, logs, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("no log\n", "utf-8")
    ledger = Ledger(empty.folder, [str(logs)])
    sources = [*ledger.hashed(find_logs([logs]), one_by_one), *find_logs([bad])]
    added = add_logs(empty, sources, Fleet(), over_new=by_parcels(one_by_one, empty.folder))
    ledger.close()
    assert (len(added.new), [name for name, _ in added.refused]) == (5, [str(bad)])
    assert held(empty.folder) == held(store.folder)
    assert not (empty.folder / ARRIVING).exists()


@pytest.fixture
def first(logs: Path) -> Source:
    """The first log."""
    (source, *_) = find_logs([logs])
    assert isinstance(source, Source)
    return source


def test_what_was_put_down_before_an_interrupt_is_taken_up_and_not_worked_on_again(store, empty, logs, monkeypatch):
    put = [put_down(one, Fleet(), work=WORK, folder=empty.folder) for one in find_logs([logs])]
    monkeypatch.setattr("analyzer.records.preparing.read_log", None)  # whatever is worked on now is refused
    assert [put_down(one, Fleet(), work=WORK, folder=empty.folder) for one in find_logs([logs])] == put
    assert len(waiting(empty.folder)) == 5
    add_logs(empty, find_logs([logs]), Fleet(), columns={}, over_new=by_parcels(one_by_one, empty.folder))
    assert held(empty.folder) == held(store.folder)
    assert waiting(empty.folder) == []


def test_a_parcel_is_taken_up_for_the_very_same_work_alone(empty, first):
    one = put_down(first, Fleet(), work=WORK, folder=empty.folder)
    tail = partial(prepare, tail="N0099R", columns={}, keep_original=True)
    other = put_down(first, Fleet(), work=tail, folder=empty.folder)
    known = put_down(first, Fleet().with_aircraft("N0011R", Fleet().of("N0011R")), work=WORK, folder=empty.folder)
    assert isinstance(one, Parcel)
    assert isinstance(other, Parcel)
    assert isinstance(known, Parcel)
    assert one.digest == other.digest == known.digest
    assert len({one.name, other.name, known.name}) == 3
    taken = take_up(other, empty.folder)
    assert taken is not None
    assert taken.row["tail"] == "N0099R"
    add_logs(empty, [first], Fleet(), columns={}, over_new=by_parcels(one_by_one, empty.folder))
    assert waiting(empty.folder) == []  # nor what the others left


@pytest.mark.parametrize("stopped", [False, True], ids=["put down", "being put down"])
def test_what_waits_is_left_to_the_call_that_put_it_down(empty, first, monkeypatch, stopped):
    named = partial(prepare, tail="N0099R", columns=None, keep_original=True)
    if stopped:  # after the files, before the parcel
        monkeypatch.setattr(parcels, "_without_placed_files", partial(_and_stop, parcels._without_placed_files))
        with pytest.raises(KeyboardInterrupt):
            put_down(first, Fleet(), work=named, folder=empty.folder)
        monkeypatch.undo()
    else:
        put_down(first, Fleet(), work=named, folder=empty.folder)
    assert trace_path(empty.folder, first.content_hash()).exists()
    found = check(empty)
    assert [one.kind for one in found.troubles] == ["arriving"]
    assert found.troubles[0].what.endswith("put down of 1 log waits for it.")
    assert [one.kind for one in repair(empty, found, Fleet()).troubles] == ["arriving"]
    assert rebuild(empty, Fleet()).taken_in == []
    add_logs(empty, [first], Fleet(), tail="N0099R", over_new=by_parcels(one_by_one, empty.folder))
    assert [log.tail for log in kept_logs(empty)] == ["N0099R"]
    assert check(empty).troubles == []


def _and_stop(real, *given):
    real(*given)
    raise KeyboardInterrupt


def test_what_waits_of_a_log_goes_when_the_log_is_forgotten(empty, first):
    add_logs(empty, [first], Fleet())
    put_down(first, Fleet(), work=WORK, folder=empty.folder)
    assert len(waiting(empty.folder)) == 1
    assert check(empty).troubles == []  # for it is kept
    forget(empty, would_go(empty, [str(kept_logs(empty)[0].id)]))
    assert waiting(empty.folder) == []


@pytest.mark.parametrize(("name", "other"), [("SCHEMA", -1), ("layout_mark", lambda: "other")])
def test_a_parcel_of_records_that_are_laid_out_otherwise_is_another(empty, first, monkeypatch, name, other):
    one = put_down(first, Fleet(), work=WORK, folder=empty.folder)
    monkeypatch.setattr(parcels, name, other)
    again = put_down(first, Fleet(), work=WORK, folder=empty.folder)
    assert isinstance(one, Parcel)
    assert isinstance(again, Parcel)
    assert (one.digest, one.name == again.name) == (again.digest, False)


def test_a_parcel_without_what_a_row_must_hold_is_not_taken_up(empty, first):
    done = prepare(first, Fleet(), tail=None, keep_original=True)
    row = {name: value for name, value in done.row.items() if name != "original_kept"}
    parcel = put_down(first, Fleet(), work=lambda *_: replace(done, row=row), folder=empty.folder)
    assert isinstance(parcel, Parcel)
    assert take_up(parcel, empty.folder) is None


@pytest.mark.parametrize("harm", ["parcel", "no parcel", "trace", "original"])
def test_a_parcel_that_is_damaged_or_lacks_a_file_is_worked_on_here(store, empty, logs, first, harm):
    def and_harm(work, sources, fleet, /):
        for number, parcel in enumerate(one_by_one(work, sources, fleet)):
            path = {
                "parcel": parcel.path(empty.folder), "no parcel": parcel.path(empty.folder),
                "trace": trace_path(empty.folder, parcel.digest),
                "original": original_path(empty.folder, parcel.digest),
            }[harm]  # fmt: skip
            if number == 0:
                data = path.read_bytes()
                path.unlink()
                if harm == "parcel":
                    at = data.index(b"\xa5value\xcb") + 10  # within a number of a measure
                    path.write_bytes(data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :])
            yield parcel

    add_logs(empty, find_logs([logs]), Fleet(), over_new=by_parcels(and_harm, empty.folder))
    assert held(empty.folder) == held(store.folder)


def test_readings_that_are_kept_are_not_written_over_before_the_parcel_is_taken_up(store, logs, first):
    path = trace_path(store.folder, first.content_hash())
    before = path.read_bytes()
    other = replace(prepare(first, Fleet(), tail=None, keep_original=True), trace=b"other readings")
    parcel = put_down(first, Fleet(), work=lambda *_: other, folder=store.folder)
    assert path.read_bytes() == before
    taken = take_up(parcel, store.folder)
    assert taken is not None
    assert taken.trace == b"other readings"
    assert taken.original is None


def test_a_log_whose_file_is_taken_away_while_it_is_kept_is_not_kept(empty, first):
    parcel = put_down(first, Fleet(), work=WORK, folder=empty.folder)
    taken = take_up(parcel, empty.folder)
    trace_path(empty.folder, parcel.digest).unlink()
    with pytest.raises(RecordsError, match="was taken away while its log was being kept"):
        keep(empty, taken)
    assert held(empty.folder)["logs"] == []


def test_of_logs_kept_together_none_is_kept_where_one_cannot_be_and_the_next_call_goes_on(store, empty, logs):
    def and_lose_one(work, sources, fleet):
        for together in by_parcels(one_by_one, empty.folder)(work, sources, fleet):
            trace_path(empty.folder, together[3].digest).unlink()
            yield together

    with pytest.raises(RecordsError, match="was taken away"):
        add_logs(empty, find_logs([logs]), Fleet(), columns={}, over_new=and_lose_one)
    assert held(empty.folder)["logs"] == []
    assert len(waiting(empty.folder)) == 5
    add_logs(empty, find_logs([logs]), Fleet(), columns={}, over_new=by_parcels(one_by_one, empty.folder))
    assert held(empty.folder) == held(store.folder)


def test_a_ledger_takes_no_log_of_another_folder_for_one_of_the_same_name(empty, tmp_path, monkeypatch):
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        path = tmp_path / name / "log.csv"
        path.write_text(f"{name:>8}\n", "utf-8")
        os.utime(path, ns=(10**18, 10**18))
    found = []
    for name in ("one", "other", "one"):
        monkeypatch.chdir(tmp_path / name)
        (log,) = Ledger(empty.folder, ["log.csv"]).hashed(find_logs([Path("log.csv")]), one_by_one)
        found.append(hash_of(log, Fleet()))
    assert found[0] == found[2] != found[1]
    assert len(waiting(empty.folder)) == 2
    whole = tmp_path / "one" / "log.csv"
    hashed: list[Source] = []
    Ledger(empty.folder, [str(whole)]).hashed(
        find_logs([whole]), lambda _, sources, __, /: hashed.extend(sources) or []
    )
    assert hashed == [], "by its whole path it is the same log"


def test_a_ledger_lets_only_what_changed_be_hashed_again(empty, logs, tmp_path):
    own = tmp_path / "own"
    own.mkdir()
    for path in logs.glob("*.csv"):
        (own / path.name).write_bytes(path.read_bytes())
    hashed: list[str] = []

    def over(work, sources, fleet, /):
        hashed.extend(source.name for source in sources)
        return one_by_one(work, sources, fleet)

    first = Ledger(empty.folder, [str(own)]).hashed(find_logs([own]), over)
    assert len(hashed) == 5
    assert [hash_of(one, Fleet()) for one in first] == [hash_of(one, Fleet()) for one in find_logs([own])]
    changed = sorted(own.glob("*.csv"))[2]
    changed.write_bytes(changed.read_bytes() + b"\n")
    with (next((empty.folder / ARRIVING).glob("ledger-*"))).open("a") as file:
        file.write('["half a li')
    ledger = Ledger(empty.folder, [str(own)])
    hashed.clear()
    second = ledger.hashed(find_logs([own]), over)
    assert hashed == [str(changed)]
    assert [hash_of(one, Fleet()) for one in second] == [hash_of(one, Fleet()) for one in find_logs([own])]
    ledger.close()
    assert waiting(empty.folder) == []
