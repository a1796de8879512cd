"""Kept flights that today's program, limits or profiles would judge otherwise: told, and judged anew."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from msgspec.structs import replace

from analyzer.aircraft import Aircraft, Fleet
from analyzer.cli import main
from analyzer.corrections import CORRECTIONS, Corrections, put_in_effect
from analyzer.logs import find_logs
from analyzer.records import keeping
from analyzer.records.adding import add_logs
from analyzer.records.changing import assign
from analyzer.records.files import original_path, trace_path
from analyzer.records.kept import kept_logs, tail_flights, tail_review
from analyzer.records.marks import flight_mark
from analyzer.records.problems import RecordsError
from analyzer.records.renewing import renew_flights
from analyzer.records.stale import stale_flights
from analyzer.records.store import Store, judge_by_corrections, open_records
from dashboards.kept import Kept

LOW = "[limits]\nregulated_high = { at_14 = 13.0, at_28 = 26.0 }\n"


@pytest.fixture(autouse=True)
def as_shipped_afterwards() -> Iterator[None]:
    yield
    put_in_effect(Corrections())


def corrected(store: Store, text: str = LOW) -> None:
    (store.folder / CORRECTIONS).write_text(text, "utf-8")
    judge_by_corrections(store.folder)


def findings_kept(store: Store, tail: str) -> int:
    return sum(one.findings for one in tail_flights(store, tail))


def test_a_flight_just_kept_is_not_stale_and_nothing_is_judged_anew(store: Store) -> None:
    assert stale_flights(store, Fleet()) == {}
    assert renew_flights(store, Fleet()).flights == 0


def test_a_corrected_limit_makes_every_flight_stale_until_all_are_judged_by_it(store: Store) -> None:
    before = {tail: findings_kept(store, tail) for tail in ("N0011R", "N0022R")}
    ids = [one.id for one in tail_flights(store, "N0011R")]
    corrected(store)
    assert stale_flights(store, Fleet()) == {"N0011R": 3, "N0022R": 2}
    assert tail_review(store, "N0011R").stale_flights == 3
    done = renew_flights(store, Fleet())
    assert (done.flights, done.tails, done.failed) == (5, {"N0011R", "N0022R"}, [])
    assert stale_flights(store, Fleet()) == {}
    assert tail_review(store, "N0011R").stale_flights == 0
    assert findings_kept(store, "N0011R") == before["N0011R"] + 3
    assert findings_kept(store, "N0022R") == before["N0022R"] + 2
    assert [one.id for one in tail_flights(store, "N0011R")] == ids, "what points to a flight stays right"
    (store.folder / CORRECTIONS).unlink()
    judge_by_corrections(store.folder)
    assert renew_flights(store, Fleet()).flights == 5
    assert findings_kept(store, "N0011R") == before["N0011R"]


def test_a_changed_profile_makes_the_flights_of_its_aircraft_alone_stale(store: Store) -> None:
    other = Fleet({"N0011R": Aircraft("N0011R", battery_capacity=24.0)})
    assert stale_flights(store, other) == {"N0011R": 3}
    assert renew_flights(store, other).tails == {"N0011R"}
    assert stale_flights(store, other) == {}


def test_what_other_flights_tell_of_the_ammeter_is_no_other_profile() -> None:
    plain = Aircraft("N0011R")
    assert flight_mark(plain) == flight_mark(plain.with_ammeter("battery", "by 12 flights"))
    assert flight_mark(plain) != flight_mark(replace(plain, ammeter="battery"))
    assert flight_mark(plain) == flight_mark(replace(plain, tail="N0022R"))
    assert len(flight_mark(plain)) == 32


def test_an_assigned_log_is_judged_by_the_profile_of_its_aircraft(store: Store) -> None:
    fleet = Fleet({"N0033R": Aircraft("N0033R", regulated_voltage=(12.0, 13.0))})
    assign(store, "N0033R", [kept_logs(store, "N0022R")[0].id])
    assert stale_flights(store, fleet) == {"N0033R": 1}
    renew_flights(store, fleet)
    assert findings_kept(store, "N0033R") > 0
    assert kept_logs(store, "N0033R")[0].tail_from == "assigned"


def test_a_log_without_an_original_is_judged_anew_by_its_readings(store: Store, logs: Path) -> None:
    with open_records(store.folder.parent / "others", create=True) as others:
        add_logs(others, find_logs([logs]), Fleet(), keep_originals=False)
        before = [(one.start, one.hours) for one in tail_flights(others, "N0011R")]
        corrected(others)
        assert renew_flights(others, Fleet()).flights == 5
        assert findings_kept(others, "N0011R") >= 3
        assert [(one.start, one.hours) for one in tail_flights(others, "N0011R")] == before
        put_in_effect(Corrections())
        (others.folder / CORRECTIONS).unlink()
        for log in kept_logs(others):
            trace_path(others.folder, log.hash).unlink()
        failed = renew_flights(others, Fleet()).failed
        assert len(failed) == 5
        assert failed[0][1] == "Neither its original nor its readings are there; add the log again."


def test_an_aircraft_whose_flights_cannot_all_be_written_stays_as_it_was(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = [one.findings for one in tail_flights(store, "N0011R")]
    corrected(store)
    readings = [trace_path(store.folder, log.hash).read_bytes() for log in kept_logs(store)]
    insert, calls = keeping.insert_flights, []

    def fails_at_the_third(connection, flown, ids):
        calls.append(flown)
        if len(calls) == 3:
            raise OSError(28, "No space left on device")
        return insert(connection, flown, ids)

    monkeypatch.setattr(keeping, "insert_flights", fails_at_the_third)
    with pytest.raises(RecordsError, match="No space left"):
        renew_flights(store, Fleet())
    assert [one.findings for one in tail_flights(store, "N0011R")] == before
    assert stale_flights(store, Fleet()) == {"N0011R": 3, "N0022R": 2}
    assert [trace_path(store.folder, log.hash).read_bytes() for log in kept_logs(store)] == readings


def test_one_damaged_original_costs_its_own_flights_alone_and_is_told(store: Store) -> None:
    corrected(store)
    damaged = kept_logs(store, "N0011R")[1]
    original_path(store.folder, damaged.hash).write_bytes(b"nothing")
    done = renew_flights(store, Fleet())
    assert done.flights == 4
    assert [source for source, _ in done.failed] == [damaged.source]
    assert stale_flights(store, Fleet()) == {"N0011R": 1}


def test_commands_say_that_flights_are_stale_and_whatever_changes_an_aircraft_renews_it(
    store: Store, capsys: pytest.CaptureFixture
) -> None:
    corrected(store)
    records = ["--records", str(store.folder)]
    assert main(["fleet", *records]) == 0
    assert "3 flights were analysed by an earlier version, or with other limits or settings" in capsys.readouterr().out
    assert main(["trend", "N0011R", "--json", *records]) == 0
    (trend,) = json.loads(capsys.readouterr().out)["tails"]
    assert trend["stale_flights"] == 3
    assert main(["digest", *records]) == 0
    assert "5 flights were analysed by an earlier version" in capsys.readouterr().err
    assert main(["entry", "N0011R", "2026-03-02", "battery_replaced", "new", *records]) == 0
    assert "3 flights kept before judged anew" in capsys.readouterr().err
    assert stale_flights(store, Fleet()) == {"N0022R": 2}
    assert main(["rebuild", *records]) == 0
    assert stale_flights(store, Fleet()) == {}


def test_limits_given_to_a_rebuild_are_kept_and_hold_for_every_reader(
    store: Store, tmp_path: Path, capsys: pytest.CaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = tmp_path / "mine.toml"
    own.write_text(LOW, "utf-8")
    assert main(["rebuild", "--limits", str(own), "--records", str(store.folder)]) == 0
    assert (store.folder / CORRECTIONS).read_text("utf-8") == LOW
    assert findings_kept(store, "N0011R") >= 3
    put_in_effect(Corrections())
    monkeypatch.setenv("TAPER_RECORDS", str(store.folder))
    capsys.readouterr()
    log = kept_logs(store, "N0011R")[0].source
    main(["review", log, "--json"])
    told = capsys.readouterr()
    assert "regulator_high" in [one["finding"] for one in json.loads(told.out)["logs"][0]["flights"][0]["findings"]]
    assert f"judged with the corrections in {store.folder / CORRECTIONS}" in told.err


def test_a_spoilt_file_of_corrections_stops_the_records_with_a_sentence(
    store: Store, capsys: pytest.CaptureFixture
) -> None:
    (store.folder / CORRECTIONS).write_text("[limits]\nregulated_hig = 14\n", "utf-8")
    assert main(["fleet", "--records", str(store.folder)]) == 3
    assert "did you mean 'regulated_high'?" in capsys.readouterr().err


def test_pages_say_that_flights_are_stale_and_renew_them_in_the_background(store: Store) -> None:
    pages = Kept(store.folder)
    pages.work_ahead()
    corrected(store)
    assert pages.tail("N0011R").result.stale_flights == 3
    pages.work_ahead()
    assert pages.tail("N0011R").result.stale_flights == 0
    assert findings_kept(store, "N0011R") >= 3
    assert pages.fleet(7).fleet.rows[0].result.stale_flights == 0
