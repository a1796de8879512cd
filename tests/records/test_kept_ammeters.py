"""An ammeter's kind by all of an aircraft's flights: in one call of review, and over the flights that are kept."""

import json

import pytest

from analyzer.aircraft import Fleet
from analyzer.cli import main
from analyzer.flights import ammeter as ammeters
from analyzer.logs import find_logs
from analyzer.records.adding import add_logs
from analyzer.records.checking import check
from analyzer.records.kept import kept_logs
from analyzer.records.rebuilding import rebuild
from analyzer.records.store import open_records
from analyzer.service.review_logs import review_logs
from analyzer.simulator import simulate
from analyzer.simulator.as_log import as_log
from analyzer.simulator.healthy import healthy
from tests.records.replayed import replay

#: Rows of the flight whose readings speak for the other kind.
DOUBTFUL_ROWS = 3000


@pytest.fixture
def folder(tmp_path):
    """Three flights of one aircraft, the ammeter's header silent; the second a short one."""
    logs = tmp_path / "logs"
    logs.mkdir()
    for number in range(3):
        log = as_log(simulate(healthy(number + 2, 14, "battery")), untyped=True)
        table = log.table if number != 1 else log.table.head(DOUBTFUL_ROWS)
        day = f"2026-03-{number + 1:02d}"
        lines = ["# tail: N0123K", "Date,Time,RPM,Volts,Amps"]
        for second, rpm, volts, amps in zip(
            table["time_s"], table["engine_speed"], table["bus_voltage"], table["ammeter_current"], strict=True
        ):
            whole = int(second)
            clock = f"{9 + whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"
            lines.append(f"{day},{clock},{rpm:.0f},{volts:.2f},{amps:.1f}")
        (logs / f"N0123K_{day}.csv").write_text("\n".join(lines) + "\n", "utf-8")
    return logs


@pytest.fixture
def doubt(monkeypatch):
    """The short flight's readings speak weakly for the wrong kind."""
    sure = ammeters.observations

    def seen(trace, *rest):
        found = sure(trace, *rest)
        short = trace.time.size <= DOUBTFUL_ROWS
        return (ammeters.Observation("rest", 0.0, -1.5, "it shows nothing"),) if short and found else found

    monkeypatch.setattr(ammeters, "observations", seen)


def kinds(documents):
    return [flight["ammeter"] for log in documents for flight in log["flights"]]


def test_the_logs_of_one_call_are_summed_in_any_order(folder, doubt, capsys):
    paths = sorted(map(str, folder.iterdir()))
    assert main(["review", paths[1], "--json"]) == 0
    assert kinds(json.loads(capsys.readouterr().out)["logs"]) == ["alternator"]
    told = []
    for order in (paths, paths[::-1]):
        assert main(["review", *order, "--json"]) == 0
        logs = sorted(json.loads(capsys.readouterr().out)["logs"], key=lambda log: log["source"])
        assert kinds(logs) == ["battery"] * 3
        told.append(logs)
    assert told[0] == told[1]
    assert "3 flights together" in told[0][1]["flights"][0]["ammeter_basis"]


def test_the_fleet_file_comes_before_the_sum(folder, doubt, tmp_path, capsys):
    fleet = tmp_path / "fleet.toml"
    fleet.write_text('[aircraft.N0123K]\nammeter = "alternator"\n', "utf-8")
    assert main(["review", str(folder), "--json", "--fleet", str(fleet)]) == 0
    assert kinds(json.loads(capsys.readouterr().out)["logs"]) == ["alternator"] * 3


@pytest.mark.parametrize("order", [(0, 1, 2), (1, 0, 2), (2, 1, 0)])
def test_a_kept_flight_that_the_sum_overturns_is_judged_anew(folder, doubt, tmp_path, order):
    sources = list(find_logs(sorted(folder.iterdir())))
    with open_records(tmp_path / "records", create=True) as store:
        add_logs(store, [sources[1]], Fleet())
        assert ammeter_of(store) == ["alternator"]
        for place in order:
            add_logs(store, [sources[place]], Fleet())
        assert ammeter_of(store) == ["battery"] * 3
        assert rebuild(store, Fleet()).logs == 3
        assert ammeter_of(store) == ["battery"] * 3
        assert [one.review.flight.ammeter.kind for one in replay(store, "N0123K")] == ["battery"] * 3


def test_one_whose_original_was_not_kept_is_judged_anew_from_its_readings(folder, doubt, tmp_path):
    sources = list(find_logs(sorted(folder.iterdir())))
    with open_records(tmp_path / "records", create=True) as store:
        add_logs(store, [sources[1]], Fleet(), keep_originals=False)
        assert ammeter_of(store) == ["alternator"]
        before = kept_logs(store)
        add_logs(store, [sources[0], sources[2]], Fleet(), keep_originals=False)
        assert ammeter_of(store) == ["battery"] * 3
        (after,) = [log for log in kept_logs(store) if log.hash == before[0].hash]
        assert (after.source, after.tail, after.start) == (before[0].source, before[0].tail, before[0].start)
        assert "zero error was taken out" in before[0].warnings[0]
        assert after.warnings == ()  # what was said of another kind of ammeter holds no more
        assert not any(log.original_kept for log in kept_logs(store))
        assert rebuild(store, Fleet()).without_original == 0
        assert check(store).troubles == []


def ammeter_of(store):
    from sqlalchemy import select

    from analyzer.records.tables import flights

    with store.reading() as connection:
        return list(connection.execute(select(flights.c.ammeter).order_by(flights.c.starts)).scalars())


def test_the_number_of_processes_makes_no_difference(folder, doubt, monkeypatch):
    sources = list(find_logs(sorted(folder.iterdir())))
    alone, reverse = list(review_logs(sources)), list(review_logs(sources[::-1]))
    assert [flight.ammeter for result in alone for flight in result.flights] == ["battery"] * 3
    assert alone == reverse[::-1]


def test_logs_that_no_other_can_change_are_given_at_once_and_the_others_in_their_order(folder, doubt):
    paths = sorted(folder.iterdir())
    told = folder / "told.csv"
    told.write_text(paths[0].read_text("utf-8").replace("Volts,Amps", "Volts,Battery amps"), "utf-8")
    sources = list(find_logs([told, *paths]))
    begun = []

    def over(work, sources, fleet):
        for source in sources:
            begun.append(source.name)
            yield work(source, fleet)

    one = review_logs(sources, over=over)
    assert next(one).source == str(told)
    assert begun == [str(told)]  # the rest has not been read yet
    rest = list(one)
    assert [result.source for result in rest] == list(map(str, paths))
    assert [flight.ammeter for result in rest for flight in result.flights] == ["battery"] * 3
