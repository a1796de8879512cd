"""Logs worked on elsewhere arrive by hash and come to the same records; tried again, they are not worked on again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from analyzer.aircraft import Fleet
from analyzer.logs import Source, find_logs
from analyzer.records.adding import add_logs, prepare
from analyzer.records.files import original_path, trace_path
from analyzer.records.in_order import one_by_one
from analyzer.records.keeping import keep
from analyzer.records.ledger import Ledger, hash_of
from analyzer.records.parcels import ARRIVING, Parcel, by_parcels, put_down, take_up
from analyzer.records.problems import RecordsError
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
    monkeypatch.setattr("analyzer.records.adding.read_log", None)  # whatever is worked on now is refused
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
