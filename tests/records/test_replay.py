"""Kept flights once more: the same reviews as from the logs, and what is said when they are lost."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from analyzer.aircraft import Fleet
from analyzer.logs import Log, Refusal, find_logs, read_log
from analyzer.records.adding import add_logs
from analyzer.records.files import BYTES_OF_ROW, original_path, trace_path
from analyzer.records.kept import kept_logs, tail_flights
from analyzer.records.problems import RecordsError
from analyzer.records.replay import kept_readings, newest_flight
from analyzer.records.store import Store, open_records
from analyzer.review import review_log
from analyzer.service.look_up_squawk import examine_kept
from tests.as_json import flight_json
from tests.records.replayed import replay


def documents(store: Store, tail: str, **period: datetime) -> list[dict]:
    return [flight_json(one.review) for one in replay(store, tail, **period)]


def from_logs(folder: Path, tail: str) -> list[dict]:
    found = []
    for source in find_logs([folder]):
        log = read_log(source)
        assert isinstance(log, Log)
        if log.tail == tail:
            found += [flight_json(review) for review in review_log(log).flights]
    return found


def test_replayed_flights_are_those_of_the_logs(store: Store, logs: Path) -> None:
    assert documents(store, "N0011R") == from_logs(logs, "N0011R")


def test_each_replayed_flight_names_the_kept_one(store: Store) -> None:
    kept = tail_flights(store, "n0011r")
    replayed = replay(store, "N0011R")
    assert [one.id for one in replayed] == [flight.id for flight in kept]
    assert [one.start for one in replayed] == [flight.start for flight in kept]


def test_only_flights_of_the_period_are_replayed(store: Store) -> None:
    assert newest_flight(store, "N0011R") == datetime(2026, 3, 3, 9, 0)
    assert newest_flight(store, "N0NONE") is None
    period = {"since": datetime(2026, 3, 2), "until": datetime(2026, 3, 2, 23, 59)}
    assert [one["start"][:10] for one in documents(store, "N0011R", **period)] == ["2026-03-02"]
    assert kept_readings(store, "N0011R", datetime(2027, 1, 1)) == []


def test_of_two_flights_in_one_log_only_that_of_the_period_is_replayed(tmp_path: Path) -> None:
    head = "Date,Time,Volts,Amps,RPM\n"
    days = ["2026-03-01", "2026-03-02"]
    rows = [
        f"{day},10:{s // 60:02d}:{s % 60:02d},{12.6 if s < 30 else 14.0 + 0.1 * (s % 2)},3.0,{0 if s < 30 else 2300}"
        for day in days
        for s in range(900)
    ]
    (tmp_path / "both.csv").write_text(head + "\n".join(rows) + "\n", "utf-8")
    with open_records(tmp_path / "records", create=True) as store:
        add_logs(store, find_logs([tmp_path / "both.csv"]), Fleet(), tail="N0TWO")
        whole = replay(store, "N0TWO")
        assert [(one.number, f"{one.start:%Y-%m-%d}") for one in whole] == [(1, days[0]), (2, days[1])]
        which = [(one.id, one.source, one.number, one.start) for one in whole]
        for number, day in enumerate(days, 1):
            period = {"since": datetime.fromisoformat(day), "until": datetime.fromisoformat(f"{day}T23:59")}
            (one,) = replay(store, "N0TWO", **period)
            assert (one.id, one.source, one.number, one.start) == which[number - 1]


def test_two_flights_of_one_log_are_parted_where_they_were(tmp_path: Path, shared: Path) -> None:
    file = shared / "real_logs" / "semicolon_14v_one_header.csv"
    with open_records(tmp_path / "records", create=True) as store:
        add_logs(store, find_logs([file]), Fleet(), tail="N0REAL")
        log = read_log(find_logs([file])[0])
        assert isinstance(log, Log)
        expected = [flight_json(review) for review in review_log(log).flights]
        assert len(expected) == 2
        assert documents(store, "N0REAL") == expected


def test_lost_readings_are_made_again_from_the_original(store: Store, logs: Path) -> None:
    for log in kept_logs(store, "N0011R"):
        trace_path(store.folder, log.hash).write_bytes(b"damaged")
    assert documents(store, "N0011R") == from_logs(logs, "N0011R")


def test_where_readings_and_original_are_lost_it_is_said_with_what_to_do(store: Store) -> None:
    lost = kept_logs(store, "N0011R")[0]
    trace_path(store.folder, lost.hash).unlink()
    original_path(store.folder, lost.hash).unlink()
    with pytest.raises(RecordsError, match="taper rebuild"):
        replay(store, "N0011R")


def test_a_kept_log_is_as_large_as_its_recording_or_as_its_rows_tell_where_that_was_not_kept(
    store: Store, logs: Path
) -> None:
    sizes = {path.name: path.stat().st_size for path in logs.glob("*.csv")}
    found = kept_readings(store, "N0011R")
    assert len(found) == 3
    for one in found:
        assert one.size() == max(sizes[Path(one.name).name], one.rows * BYTES_OF_ROW)
        wide = replace(one, rows=1)
        assert wide.size() == sizes[Path(one.name).name]
        one.path.unlink()
        assert one.size() == one.rows * BYTES_OF_ROW > 100_000


def test_a_kept_log_that_is_refused_before_it_is_looked_through_keeps_its_reason() -> None:
    told = examine_kept(Refusal("a.csv", "It takes too long."), Fleet(), symptoms=("voltage_high",))
    assert (told.source, told.because, told.flights) == ("a.csv", "It takes too long.", ())
