"""Logs brought in with columns corrected by hand are kept as a person meant it."""

from __future__ import annotations

import shutil
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

pytest.importorskip("dash")

from flask import Flask

from analyzer.contract_columns import understood_entry
from analyzer.corrections import in_effect
from analyzer.endable import seconds_for
from analyzer.logs import apart, find_logs, read_log
from analyzer.logs.apart import WHOLE_TAIL
from analyzer.records.people import at_the_machine
from analyzer.records.problems import RecordsError
from dashboards import background, searching
from dashboards.background import StillWorkingError
from dashboards.downloads import add_sheets
from dashboards.importing import import_words
from dashboards.kept import Kept
from dashboards.searching import Asked, Searches
from dashboards.staging import Staged

#: Two logs of one aircraft whose voltage column no header names.
HEAD = "Date,Time,X1,X2,RPM\n"


def log(folder: Path, day: str) -> Path:
    rest = [f"{day},10:00:{s:02d},12.6,0.0,0" for s in range(30)]
    run = [f"{day},10:{30 + s // 60:02d}:{s % 60:02d},14.{s % 2},3.0,2300" for s in range(900)]
    path = folder / f"{day}.csv"
    path.write_text(HEAD + "\n".join(rest + run) + "\n", "utf-8")
    return path


def staged(path: Path, *, for_tail: bool) -> Staged:
    (source,) = find_logs([path])
    mapped = {"bus_voltage": "X1"}
    entry = understood_entry(read_log(source, columns=mapped))
    one = Staged("key", path.name, source, mapped, named="N0MAP", entry=entry)
    return replace(one, for_tail=for_tail)


def voltage_of(kept: Kept) -> list[str]:
    """Of each kept flight of the aircraft, in order, whether its page has a bus voltage."""
    view = kept.tail("N0MAP")
    assert view is not None
    found = [kept.flight(row.id) for row in view.flights]
    return ["X1" if one and one.review.measures["regulated_voltage"].value else "none" for one in found]


def test_a_correction_for_one_log_is_read_again_with_its_flight_and_holds_for_no_other(tmp_path: Path) -> None:
    kept = Kept(tmp_path / "records").asked_by(at_the_machine())
    assert kept.keep([staged(log(tmp_path, "2026-03-01"), for_tail=False)]).new
    assert kept.fleet_file().of("N0MAP").columns == {}
    assert voltage_of(kept) == ["X1"]


def test_a_correction_after_an_import_is_read_again_and_told(tmp_path: Path) -> None:
    kept = Kept(tmp_path / "records").asked_by(at_the_machine())
    first = staged(log(tmp_path, "2026-03-01"), for_tail=False)
    assert kept.keep([replace(first, mapped={"bus_voltage": "X2"})]).new
    assert kept.tail("N0MAP") is None, "no engine runs in it by that column"
    came = kept.keep([first])
    assert (came.new, came.kept_before, came.read_anew) == ([], [], [first.source.name])
    assert voltage_of(kept) == ["X1"]
    assert import_words(came)[1:] == ["Read again with the columns you picked: 1 log imported before."]


def test_a_correction_for_the_aircraft_stands_in_its_fleet_file(tmp_path: Path) -> None:
    kept = Kept(tmp_path / "records").asked_by(at_the_machine())
    kept.keep([staged(log(tmp_path, "2026-03-01"), for_tail=True)])
    assert kept.fleet_file().of("N0MAP").columns == {"bus_voltage": "X1"}
    assert voltage_of(kept) == ["X1"]


def test_a_correction_for_an_aircraft_that_nobody_named_is_refused(tmp_path: Path) -> None:
    kept = Kept(tmp_path / "records").asked_by(at_the_machine())
    nameless = replace(staged(log(tmp_path, "2026-03-01"), for_tail=True), named=None)
    with pytest.raises(RecordsError, match="Say whose log"):
        kept.keep([nameless])


def test_a_report_is_looked_up_once_though_the_records_change_all_the_while(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = Kept(tmp_path / "records").asked_by(at_the_machine())
    kept.keep([staged(log(tmp_path, "2026-03-01"), for_tail=True)])
    searches, asked = Searches(kept), Asked.of({"tail": "N0MAP", "symptom": "voltage_high"})
    changing = iter(range(1000))
    monkeypatch.setattr(kept, "marks", lambda: (next(changing),))
    first = searches.ask(asked)
    assert searches.ask(asked) is first
    first.over.wait(120)
    assert searches.ask(asked) is first
    clock = time.monotonic  # one that stands still would be waited for by whatever else waits for a time
    monkeypatch.setattr(searching.time, "monotonic", lambda: clock() + searching.FRESH_S + 1.0)
    assert searches.ask(asked) is not first
    searches.close()


def test_each_flight_of_a_log_of_two_has_its_own_sheet(tmp_path: Path) -> None:
    pytest.importorskip("typst", reason="the sheets' libraries are not installed")
    first, second = (log(tmp_path, day).read_text("utf-8") for day in ("2026-03-01", "2026-03-02"))
    both = tmp_path / "both.csv"
    both.write_text(first + second.removeprefix(HEAD), "utf-8")
    kept = Kept(tmp_path / "records").asked_by(at_the_machine())
    kept.keep([staged(both, for_tail=False)])
    server = Flask("sheets")
    sheets = add_sheets(server, kept, Searches(kept))
    for number, day in ((1, "2026-03-01"), (2, "2026-03-02")):
        answer = server.test_client().get(f"/sheet/flight/{number}.html")
        assert answer.status_code == 200
        assert f"flight of {day}" in answer.text
        assert f"flight {number} of 2" in answer.text
    sheets.close()


@pytest.fixture(scope="module")
def two_logs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records with two logs of one aircraft, to be copied."""
    folder = tmp_path_factory.mktemp("flown")
    kept = Kept(folder / "records").asked_by(at_the_machine())
    kept.keep([staged(log(folder, day), for_tail=True) for day in ("2026-03-01", "2026-03-02")])
    kept.close()
    return folder / "records"


@pytest.fixture
def flown(two_logs: Path, tmp_path: Path) -> Kept:
    """Records with two logs of one aircraft."""
    shutil.copytree(two_logs, tmp_path / "records")
    return Kept(tmp_path / "records").asked_by(at_the_machine())


def no_time_for_a_log(size: int) -> float:
    return seconds_for(size) if size >= WHOLE_TAIL else 0.0


def test_a_log_that_takes_too_long_to_look_through_is_told_and_ends_no_report(
    flown: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    searches, asked = Searches(flown), Asked.of({"tail": "N0MAP", "symptom": "voltage_high"})
    whole = searches.ask(asked)
    whole.over.wait(120)
    assert whole.result is not None
    assert (whole.result.flights, whole.unread) == (2, [])
    searches.close()
    monkeypatch.setattr(apart, "seconds_for", no_time_for_a_log)
    searches = Searches(flown)
    search = searches.ask(asked)
    search.over.wait(120)
    searches.close()
    assert (search.because, search.done) == (None, 2)
    assert search.result is not None
    assert search.result.flights == 0
    assert len(search.unread) == 2
    assert all("takes longer than the 0 s" in one for one in search.unread)


def test_a_report_that_takes_too_much_to_weigh_is_told(flown: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "seconds_for", lambda size: 0.0 if size >= WHOLE_TAIL else 60.0)
    monkeypatch.setattr(searching, "in_helper", lambda _helper, task, log: task(log))  # so that weighing comes first
    searches = Searches(flown)
    search = searches.ask(Asked.of({"tail": "N0MAP", "symptom": "voltage_high"}))
    search.over.wait(120)
    searches.close()
    assert search.result is None
    assert search.because is not None
    assert "takes longer than the 0 s" in search.because


def test_a_sheet_that_takes_too_long_is_refused_and_the_next_is_drawn(
    flown: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("typst", reason="the sheets' libraries are not installed")
    server = Flask("sheets")
    sheets = add_sheets(server, flown, Searches(flown))
    assert flown.tail("N0MAP") is not None  # its trends are kept then
    with monkeypatch.context() as patched:
        patched.setattr(apart, "seconds_for", lambda _size: 0.0)
        answer = server.test_client().get("/sheet/aircraft/N0MAP.pdf")
    assert answer.status_code == 404
    assert "takes more time or memory to draw than allowed" in answer.text
    answer = server.test_client().get("/sheet/aircraft/N0MAP.pdf")
    sheets.close()
    assert answer.status_code == 200
    assert answer.data.startswith(b"%PDF")


def test_a_flight_that_takes_too_long_to_read_again_is_told_and_holds_no_page(
    flown: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    view = flown.tail("N0MAP")
    assert view is not None
    first, second = (row.id for row in view.flights)
    flown.close()
    flown = Kept(flown.folder).asked_by(at_the_machine())
    with monkeypatch.context() as patched:
        patched.setattr(apart, "seconds_for", no_time_for_a_log)
        with pytest.raises(RecordsError, match="cannot be shown: Reading it takes longer"):
            flown.flight(first)
    held = threading.Event()
    monkeypatch.setattr(apart, "in_effect", lambda: held.wait(60) and in_effect())
    monkeypatch.setattr(background.Once.get, "__defaults__", (0.1, ""))
    with pytest.raises(StillWorkingError, match="being read again"):
        flown.flight(second)
    held.set()
    found = flown.flight_waited_for(second)
    flown.close()
    assert found is not None
    assert found.review.measures["regulated_voltage"].value
