"""What is kept comes back as it was, once, and changes only when told to."""

from __future__ import annotations

import gzip
import hashlib
import shutil
from datetime import datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from analyzer.aircraft import Aircraft, Fleet
from analyzer.cli import main
from analyzer.logs import Source, find_logs, read_log
from analyzer.measures.measure import MEASURES
from analyzer.records import changing, kept, reviewing
from analyzer.records.adding import add_logs
from analyzer.records.changing import (
    add_entries,
    delete_entry,
    dispose,
    edit_entry,
    kept_dispositions,
    kept_entries,
)
from analyzer.records.exporting import export, without_formulas
from analyzer.records.files import original_path, read_original, trace_path
from analyzer.records.forgetting import forget, would_go
from analyzer.records.place import FLEET
from analyzer.records.problems import RecordsError
from analyzer.records.rebuilding import rebuild
from analyzer.records.refusals import keep_refusals
from analyzer.records.store import DATABASE, Store, open_records
from analyzer.records.watch_status import WATCHED_FILE, LookNoted, watch_status
from analyzer.records.watching import watch
from analyzer.results import flight_result
from analyzer.review import review_log
from analyzer.trends.entries import make_entry, read_entries
from analyzer.trends.history import history_of, summarize
from analyzer.trends.tail_result import tail_result
from analyzer.trends.tail_review import review_tail


def test_every_log_comes_back_with_its_flights(store):
    found = kept.tails(store)
    assert [(tail.tail, tail.flights) for tail in found] == [("N0011R", 3), ("N0022R", 2)]
    assert all(tail.hours > 0.1 and tail.first < tail.last for tail in found)


def test_a_flight_comes_back_as_a_review_of_its_log_gives_it(store, logs):
    flight = kept.tail_flights(store, "n0011r")[0]
    record = kept.flight_record(store, flight.id)
    log = read_log(find_logs([record.source])[0])
    assert record.result == flight_result(review_log(log).flights[0])
    assert (record.tail, record.log_id) == ("N0011R", flight.log_id)


def test_readings_of_a_flight_come_back_as_they_were_read(store):
    flight = kept.tail_flights(store, "N0022R")[1]
    record = kept.flight_record(store, flight.id)
    table = read_log(find_logs([record.source])[0]).table
    assert kept.trace(store, flight.id).equals(
        table.filter(pl.col("time_s").is_between(record.result.from_s, record.result.to_s))
    )


def test_the_original_bytes_are_kept(store):
    log = kept.kept_logs(store)[0]
    assert read_original(store.folder, log.hash) == Path(log.source).read_bytes()
    assert hashlib.sha256(read_original(store.folder, log.hash)).hexdigest() == log.hash


def test_originals_are_not_kept_when_told_so(tmp_path, logs):
    with open_records(tmp_path / "r", create=True) as store:
        add_logs(store, find_logs([logs]), Fleet(), keep_originals=False)
        assert not list((tmp_path / "r" / "originals").rglob("*.gz"))
        assert not any(log.original_kept for log in kept.kept_logs(store))
        rebuilt = rebuild(store, Fleet())
        assert (rebuilt.logs, rebuilt.changed, rebuilt.without_original) == (5, [], 0), "judged by their readings"
        for log in kept.kept_logs(store):
            trace_path(store.folder, log.hash).unlink()
        assert rebuild(store, Fleet()).without_original == 5


def test_adding_again_changes_nothing_whatever_the_name(store, logs, tmp_path):
    shutil.copy(next(iter(sorted(logs.iterdir()))), tmp_path / "renamed.csv")
    before = [log.id for log in kept.kept_logs(store)]
    added = add_logs(store, find_logs([logs, tmp_path / "renamed.csv"]), Fleet())
    assert (len(added.new), len(added.kept_before)) == (0, 6)
    assert [log.id for log in kept.kept_logs(store)] == before


def test_a_first_import_hashes_beforehand_only_logs_of_one_size(tmp_path, logs, monkeypatch):
    names = sorted(logs.iterdir())
    shutil.copy(names[0], tmp_path / "renamed.csv")
    twice = [str(names[0]), str(tmp_path / "renamed.csv")]
    assert len({path.stat().st_size for path in names}) == len(names) == 5
    hashed: list[str] = []
    own = Source.content_hash
    monkeypatch.setattr(Source, "content_hash", lambda source: hashed.append(source.name) or own(source))
    with open_records(tmp_path / "r", create=True) as store:
        added = add_logs(store, find_logs([logs, tmp_path / "renamed.csv"]), Fleet())
        assert (len(added.new), added.kept_before) == (5, twice[1:])
        assert hashed == twice
        hashed.clear()
        assert len(add_logs(store, find_logs([logs]), Fleet()).kept_before) == 5
        assert hashed == [str(path) for path in names]


def test_what_is_refused_is_told_and_the_rest_is_kept(tmp_path, logs):
    bad = tmp_path / "bad.csv"
    bad.write_text("this is no log\n")
    with open_records(tmp_path / "r", create=True) as store:
        added = add_logs(store, find_logs([bad, logs, tmp_path / "absent"]), Fleet())
    assert len(added.new) == 5
    assert [source for source, _ in added.refused] == [str(bad), str(tmp_path / "absent")]
    assert all(because.strip() for _, because in added.refused)


def test_the_trend_of_what_is_kept_is_the_trend_of_the_logs(store, logs):
    own = [source for source in find_logs([logs]) if "N0011R" in source.name]
    flights = [summarize(review) for source in own for review in review_log(read_log(source)).flights]
    direct = tail_result(review_tail(history_of("N0011R", flights)))
    assert kept.tail_review(store, "N0011R") == direct


def test_a_review_is_worked_out_anew_only_when_something_changed(store, monkeypatch):
    first = kept.tail_review(store, "N0011R")
    calls = []
    monkeypatch.setattr(reviewing, "review_tail", lambda history: calls.append(history.tail) or review_tail(history))
    assert kept.tail_review(store, "N0011R") == first
    assert calls == []
    add_entries(store, [make_entry("N0011R", "2026-03-02", "battery_replaced", "new")])
    assert kept.tail_review(store, "N0011R").comparisons
    assert kept.tail_review(store, "N0011R", Fleet({"N0011R": Aircraft(tail="N0011R", battery_capacity=20.0)}))
    assert calls == ["N0011R", "N0011R"]


def test_a_log_that_names_no_aircraft_is_kept_and_assigned_later(tmp_path, logs, capsys):
    nameless, records = tmp_path / "log.csv", ["--records", str(tmp_path / "r")]
    nameless.write_bytes(next(iter(sorted(logs.iterdir()))).read_bytes().replace(b"N0011R", b"our own"))
    (tmp_path / "r").mkdir()
    (tmp_path / "r" / FLEET).write_text("[aircraft.N0099R]\nregulated_voltage = [15.0, 15.5]\n")
    assert main(["add", str(nameless), *records]) == 0
    assert str(nameless) in capsys.readouterr().err
    with open_records(tmp_path / "r") as store:
        assert kept.tails(store) == []
    assert main(["assign", "n0099r", "all", *records]) == 0
    for command in ([], ["rebuild"]):
        if command:
            assert main([*command, *records]) == 0
        with open_records(tmp_path / "r") as store:
            assert [tail.tail for tail in kept.tails(store)] == ["N0099R"]
            # Read anew with what the fleet file says of the aircraft.
            assert "regulator_low" in {one.finding.name for one in kept.flight_findings(store, "N0099R")}
    (tmp_path / "r" / DATABASE).unlink()
    assert main(["rebuild", *records]) == 0
    with open_records(tmp_path / "r") as store:
        assert [tail.tail for tail in kept.tails(store)] == ["N0099R"]


def test_a_tail_named_when_adding_wins(tmp_path, logs):
    with open_records(tmp_path / "r", create=True) as store:
        add_logs(store, find_logs([logs]), Fleet(), tail="n0077r")
        assert [(tail.tail, tail.flights) for tail in kept.tails(store)] == [("N0077R", 5)]
        rebuild(store, Fleet())
        assert [tail.tail for tail in kept.tails(store)] == ["N0077R"]


def test_entries_are_kept_edited_deleted_and_written_beside_the_database(store):
    made = make_entry("N0011R", "2026-03-02", "battery_replaced", "new, =1+1")
    assert add_entries(store, [made, made]) == 1
    number = kept_entries(store)[0].id
    edit_entry(store, number, make_entry("N0022R", "2026-03-03", "other", "oil"))
    assert [(entry.entry.tail, entry.entry.kind) for entry in kept_entries(store)] == [("N0022R", "other")]
    assert "N0022R,2026-03-03T00:00:00,other,oil" in (store.folder / "entries.csv").read_text()
    assert delete_entry(store, number).words == "oil"
    assert kept_entries(store) == []
    with pytest.raises(RecordsError, match="no maintenance entry 99"):
        delete_entry(store, 99)


def test_a_capacity_test_is_kept_written_beside_and_sealed(store):
    tested = make_entry("N0011R", "2026-03-02", "battery_serviced", "capacity test", 84)
    untested = make_entry("N0011R", "2026-03-02", "battery_serviced", "capacity test")
    assert add_entries(store, [untested, tested, tested]) == 1
    assert [one.entry.capacity for one in kept_entries(store)] == [84.0], "the same work, its test told later"
    assert add_entries(store, [untested]) == 0, "as of a file without the column, brought in again"
    assert "battery_serviced,capacity test,84.0\n" in (store.folder / "entries.csv").read_text()
    assert read_entries(store.folder / "entries.csv") == [tested]
    with store.writing() as connection:
        connection.exec_driver_sql("UPDATE entries SET capacity = 94 WHERE capacity = 84")
    with pytest.raises(RecordsError, match="maintenance entry 1"):
        kept_entries(store)


def test_dispositions_keep_who_said_what_and_when(store):
    dispose(store, "n0011r", "slow_recharge", "2026-03-01T09:00:00", "confirmed", "J. Doe", "two cells low")
    dispose(store, "N0011R", "slow_recharge", "2026-03-01T09:00:00", "fixed", "J. Doe")
    said = kept_dispositions(store, "N0011R")
    assert [(one.verdict, one.who) for one in said] == [("confirmed", "J. Doe"), ("fixed", "J. Doe")]
    assert all(one.made_at.startswith("20") for one in said)
    with pytest.raises(RecordsError, match="not an outcome"):
        dispose(store, "N0011R", "slow_recharge", "2026-03-01T09:00:00", "maybe", "J. Doe")
    with pytest.raises(RecordsError, match="name"):
        dispose(store, "N0011R", "slow_recharge", "2026-03-01T09:00:00", "accepted", " ")


def test_forgetting_takes_all_of_a_log_and_nothing_else(store):
    going = would_go(store, ["N0011R"])
    assert (len(going.logs), going.flights, going.only_copies) == (3, 3, 3)
    forget(store, going)
    assert [tail.tail for tail in kept.tails(store)] == ["N0022R"]
    assert kept.measures_table(store, "N0011R").is_empty()
    files = [path for part in ("originals", "traces") for path in (store.folder / part).rglob("*.*") if path.is_file()]
    assert len(files) == 4
    with pytest.raises(RecordsError, match="neither an aircraft"):
        would_go(store, ["N0011R"])


def test_a_rebuild_of_the_same_analysis_changes_nothing(store):
    before = kept.measures_table(store, "N0011R").drop("flight_id")
    rebuilt = rebuild(store, Fleet())
    assert (rebuilt.logs, rebuilt.changed, rebuilt.measures_changed) == (5, [], 0)
    assert not +rebuilt.findings
    assert kept.measures_table(store, "N0011R").drop("flight_id").equals(before)


def test_a_rebuild_with_another_profile_counts_what_changed(store):
    profile = Aircraft(tail="N0011R", regulated_voltage=(15.0, 15.5))
    rebuilt = rebuild(store, Fleet({"N0011R": profile}))
    assert len(rebuilt.changed) == 3
    assert rebuilt.findings["regulator_low"] == 3
    assert {one.finding.name for one in kept.flight_findings(store, "N0011R")} >= {"regulator_low"}
    assert not kept.flight_findings(store, "N0022R", since=datetime(2030, 1, 1))


def test_measures_come_as_a_table_with_reasons(store):
    table = kept.measures_table(store, "N0011R")
    assert set(table["name"]) == set(MEASURES)
    assert table.height == 3 * len(MEASURES)
    assert table.filter(pl.col("value").is_null() & pl.col("because").is_null()).is_empty()


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_tables_are_exported_whole(store, tmp_path, form):
    rows = export(store, tmp_path / "out", form)
    read = pl.read_csv if form == "csv" else pl.read_parquet
    assert rows == {name: read(tmp_path / "out" / f"{name}.{form}").height for name in rows}
    assert (rows["flights"], rows["measures"]) == (5, 5 * len(MEASURES))
    assert export(store, tmp_path / "one", form, "N0022R")["flights"] == 2


def test_no_exported_text_is_a_formula_to_a_spreadsheet():
    # OWASP, "CSV injection": a cell that begins with = + - @, tab or carriage return is run as a formula.
    texts = ["=1+1", "+1", "-2", "@SUM(A1)", "\tx", "\rx", "N0011R", "a=b", "", None]
    table = without_formulas(pl.DataFrame({"words": texts, "value": [-1.0] * len(texts)}))
    assert table["words"].to_list() == ["'" + text for text in texts[:6]] + texts[6:]
    assert table["value"].to_list() == [-1.0] * len(texts)


def test_how_a_watched_folder_fares_is_told(tmp_path, logs):
    folder, other = tmp_path / "inbox", tmp_path / "elsewhere.csv"
    folder.mkdir()
    shutil.copy(sorted(logs.glob("*.csv"))[0], folder / "flight.csv")
    with open_records(tmp_path / "r", create=True) as store:
        assert watch_status(store) is None
        noted = LookNoted(store.folder, [folder])
        noted()
        first = (store.folder / WATCHED_FILE).stat().st_mtime_ns
        noted()
        assert (store.folder / WATCHED_FILE).stat().st_mtime_ns == first, "not at every look"
        status = watch_status(store)
        assert (status.paths, status.last_kept, status.refused) == ((str(folder),), None, ())
        add_logs(store, find_logs([folder]), Fleet())
        keep_refusals(store, [(str(folder / "bad.csv"), "it is empty"), (str(other), "it is empty")])
        status = watch_status(store)
        assert status.last_kept[0] == str(folder / "flight.csv")
        assert [(one.source, one.because) for one in status.refused] == [(str(folder / "bad.csv"), "it is empty")]
        assert status.goes_on(status.looked_at + timedelta(seconds=180))
        assert not status.goes_on(status.looked_at + timedelta(seconds=181))
        for spoilt in ("", "{}", '{"paths": [], "looked_at": "2026-05-01T00:00:00+00:00"}', '{"paths": 3}'):
            (store.folder / WATCHED_FILE).write_text(spoilt)
            assert watch_status(store) is None


def test_a_watched_folder_is_kept_in_step_once_files_stop_growing(tmp_path, logs):
    folder = tmp_path / "inbox"
    folder.mkdir()
    names = sorted(logs.iterdir())
    looks, got = [], []

    def going() -> bool:
        looks.append(len(got))
        if len(looks) == 2:
            (folder / "growing.csv").write_bytes(names[0].read_bytes()[:5000])
        if len(looks) == 3:
            (folder / "growing.csv").write_bytes(names[0].read_bytes())
        return len(looks) <= 6

    watch([folder], lambda sources: got.extend(source.name for source in sources), every_s=0.0, going=going)
    assert got == [str(folder / "growing.csv")]
    assert looks[3] == 0  # not while it grew


def test_an_analysis_of_some_logs_looks_for_no_others(store, monkeypatch):
    for listing in ("all_originals", "all_traces"):
        monkeypatch.setattr(f"analyzer.records.rebuilding.{listing}", None)
    first, second, *_ = kept.kept_logs(store)
    trace_path(store.folder, second.hash).unlink()
    assert kept.kept_logs(store, only={second.hash}) == [second]
    rebuilt = rebuild(store, Fleet(), only={first.hash, "0" * 64})
    assert (rebuilt.logs, rebuilt.changed, rebuilt.failed) == (1, [], [])
    assert not trace_path(store.folder, second.hash).exists()


def test_the_same_bytes_are_packed_to_the_same_file(store):
    log = kept.kept_logs(store)[0]
    path = original_path(store.folder, log.hash)
    assert gzip.decompress(path.read_bytes()) == Path(log.source).read_bytes()
    assert path.read_bytes()[4:8] == b"\0\0\0\0"  # no time of day in it


def test_the_same_said_of_a_finding_again_on_the_same_day_is_kept_once(store: Store, monkeypatch: pytest.MonkeyPatch):
    def said(verdict: str, words: str = "") -> int:
        dispose(store, "N0011R", "slow_recharge", "2026-03-01T09:00:00", verdict, "pat", words)
        return len(kept_dispositions(store))

    assert [said("confirmed"), said("confirmed"), said("confirmed", "at the post")] == [1, 1, 2]
    assert [said("fixed"), said("confirmed")] == [3, 4]  # the latest differs
    monkeypatch.setattr(changing, "_now", lambda: "2031-01-01T00:00:00+00:00")
    assert said("confirmed") == 5


def test_a_flight_whose_log_was_read_anew_meanwhile_is_said_to_be_so(store):
    flight = kept.tail_flights(store, "N0011R")[0]
    record = kept.flight_record(store, flight.id)
    assert kept.log_of_flight(store, "N0011R", record.log_id).id == record.log_id
    with pytest.raises(RecordsError, match="read anew just now"):
        kept.log_of_flight(store, "N0011R", record.log_id + 1000)


def test_the_mark_by_which_pages_know_of_changes_stays_while_somebody_reads(store):
    before = store.database.mark()
    with open_records(store.folder) as other, other.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM logs").scalar()
        assert store.database.mark() == before
    add_entries(store, [make_entry("N0011R", "2026-03-02", "other", "oil")])
    assert store.database.mark() != before
