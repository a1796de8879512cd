"""``taper review`` as its users call it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import zipfile
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from analyzer.cli import main
from analyzer.findings.finding import FindingName, Severity
from analyzer.flights.flight import PHASES
from analyzer.measures.measure import MEASURES

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
FLEET = str(SAMPLES / "fleet.toml")
TRIP = "N012LF_2026-05-09.csv"


@pytest.fixture(scope="module")
def club() -> dict[str, Any]:
    """The review of all sample logs, by file name."""
    done = subprocess.run(
        [sys.executable, "-m", "analyzer", "review", str(SAMPLES), "--fleet", FLEET, "--json"],
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0
    document = json.loads(done.stdout)
    assert document["contract"] == 1
    return {Path(log["source"]).name: log for log in document["logs"]}


def test_every_sample_log_is_read_and_holds_a_flight(club: dict[str, Any]) -> None:
    assert club.keys() == {path.name for path in SAMPLES.glob("*.csv")}
    assert all(log["state"] == "read" and log["flights"] for log in club.values())


def test_every_flight_has_every_measure_in_one_of_its_two_states(club: dict[str, Any]) -> None:
    for log in club.values():
        for flight in log["flights"]:
            assert list(flight["measures"]) == list(MEASURES)
            for name, measure in flight["measures"].items():
                assert measure["unit"] == MEASURES[name]
                if measure["state"] == "measured":
                    assert measure["low"] <= measure["value"] <= measure["high"]
                else:
                    assert measure["state"] == "not_measurable"
                    assert measure["value"] is None
                    assert len(measure["because"].split()) > 2


def test_phases_follow_each_other_without_overlap_from_the_first_row_to_the_last(club: dict[str, Any]) -> None:
    for log in club.values():
        for flight in log["flights"]:
            phases = flight["phases"]
            assert {phase["phase"] for phase in phases} <= set(PHASES)
            assert phases[0]["from_s"] == flight["from_s"]
            assert phases[-1]["to_s"] == flight["to_s"]
            for before, after in pairwise(phases):
                assert before["to_s"] == after["from_s"]


def test_every_finding_says_what_was_seen_what_may_explain_it_and_what_to_check(club: dict[str, Any]) -> None:
    findings = [found for log in club.values() for flight in log["flights"] for found in flight["findings"]]
    assert len(findings) >= 8
    for found in findings:
        assert found["finding"] in tuple(FindingName)
        assert found["severity"] in tuple(Severity)
        assert found["from_s"] <= found["to_s"]
        assert any(character.isdigit() for character in found["says"])
        assert found["evidence"]
        assert all(isinstance(number, int | float) for number in found["evidence"].values())
        assert sum(cause["weight"] for cause in found["likely"]) == pytest.approx(1.0, abs=0.01)
        assert all(len(cause["cause"]) <= 120 for cause in found["likely"])
        weights = [cause["weight"] for cause in found["likely"]]
        assert weights == sorted(weights, reverse=True)
        assert found["check"]


def expected() -> dict[str, str]:
    """What sample_logs/README.md says should be found in each log."""
    rows = re.findall(r"^\| (\S+\.csv) \|.*\| (\S+) \|$", (SAMPLES / "README.md").read_text("utf-8"), re.MULTILINE)
    return {name: found.strip("`") for name, found in rows}


@pytest.mark.parametrize(("name", "found"), expected().items())
def test_what_is_known_of_each_sample_log_is_what_is_found(club: dict[str, Any], name: str, found: str) -> None:
    names = {finding["finding"] for flight in club[name]["flights"] for finding in flight["findings"]}
    if found == "nothing":
        assert names == set()
    else:
        assert found in names


def test_the_story_of_the_trip_with_reset_is_told(club: dict[str, Any]) -> None:
    (flight,) = club[TRIP]["flights"]
    (trip,) = [found for found in flight["findings"] if found["finding"] == "overvoltage_trip"]
    assert trip["start"].startswith("2026-05-09T10:3")
    assert 20.0 < trip["evidence"]["restored_s"] < 120.0
    assert club[TRIP]["tail"] == "N012LF"


def test_a_script_reads_one_document_and_nothing_else(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(SAMPLES / TRIP), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["contract"] == 1


def test_a_log_that_is_refused_does_not_keep_the_others_from_being_reviewed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bad.csv").write_text("<html><body>no log</body></html>")
    assert main(["review", str(tmp_path / "bad.csv"), str(SAMPLES / TRIP), "--json"]) == 1
    bad, good = json.loads(capsys.readouterr().out)["logs"]
    assert (bad["state"], good["state"]) == ("refused", "read")
    assert bad["because"]
    assert bad["flights"] == []


def test_a_zip_holds_as_many_logs_as_it_has_csv_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    archive = tmp_path / "club.zip"
    with zipfile.ZipFile(archive, "w") as zipped:
        for name in (TRIP, "N012LF_2026-05-02.csv"):
            zipped.write(SAMPLES / name, f"season/{name}")
        zipped.writestr("season/notes.txt", "not a log")
    assert main(["review", str(archive), "--json"]) == 0
    logs = json.loads(capsys.readouterr().out)["logs"]
    assert [log["tail"] for log in logs] == ["N012LF", "N012LF"]


def test_many_logs_give_the_same_as_one_by_one(tmp_path: Path) -> None:
    text = (SAMPLES / "N074LF_2026-07-04.csv").read_bytes()
    for number in range(14):
        (tmp_path / f"{number:02}.csv").write_bytes(text)
    command = [sys.executable, "-m", "analyzer", "review", "--json"]
    together = subprocess.run([*command, str(tmp_path)], capture_output=True, check=True)
    alone = subprocess.run([*command, str(tmp_path / "03.csv")], capture_output=True, check=True)
    logs = json.loads(together.stdout)["logs"]
    assert [Path(log["source"]).name for log in logs] == [f"{number:02}.csv" for number in range(14)]
    assert all(log["flights"] == json.loads(alone.stdout)["logs"][0]["flights"] for log in logs)


def test_a_person_reads_findings_first_then_measures_then_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(SAMPLES / TRIP)]) == 0
    text = capsys.readouterr().out
    order = ["CAUTION: Overvoltage trip", "First check:", "Regulated voltage", "Not measurable:", "airworthy"]
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert "\033[" not in text
    assert main(["review", str(SAMPLES / TRIP), "--full"]) == 0
    text = capsys.readouterr().out
    order = ["CAUTION: Overvoltage trip", "likely:", "check:", "Regulated voltage", "not measurable:", "airworthy"]
    places = [text.index(words) for words in order]
    assert places == sorted(places)


def test_cautions_stand_once_however_many_flights_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(SAMPLES / TRIP), str(SAMPLES / "N012LF_2026-05-02.csv")]) == 0
    text = capsys.readouterr().out
    assert text.count("airworthy") == text.count("planning on the ground") == 1


def test_a_wrong_key_in_the_fleet_file_is_a_wrong_call(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    fleet = tmp_path / "fleet.toml"
    fleet.write_text("[aircraft.N012LF]\nregulated_volts = [13, 14]\n")
    assert main(["review", str(SAMPLES / TRIP), "--fleet", str(fleet)]) == 2
    assert "did you mean 'regulated_voltage'" in capsys.readouterr().err


def test_the_fleet_file_overrules_what_the_readings_suggest(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    fleet = tmp_path / "fleet.toml"
    fleet.write_text("[aircraft.N012LF]\nregulated_voltage = [14.4, 14.8]\n")
    log = str(SAMPLES / "N012LF_2026-05-02.csv")
    assert main(["review", log, "--fleet", str(fleet), "--json"]) == 0
    (flight,) = json.loads(capsys.readouterr().out)["logs"][0]["flights"]
    assert [found["finding"] for found in flight["findings"]] == ["regulator_low"]


def test_without_a_command_the_call_is_wrong_and_help_teaches(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main([])
    assert stopped.value.code == 2
    with pytest.raises(SystemExit):
        main(["review", "--help"])
    assert "taper review logs/ --fleet fleet.toml" in capsys.readouterr().out


def test_a_path_that_is_not_there_is_refused_with_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", "no/such/file.csv"]) == 1
    text = capsys.readouterr().out
    assert "Refused:" in text
    assert "no/such/file.csv" in text


def test_what_the_records_know_of_an_aircraft_is_used_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TAPER_RECORDS", str(tmp_path))
    log = str(SAMPLES / "N037LF_2026-04-19.csv")

    def endurance(*more: str) -> tuple[str, str]:
        assert main(["review", log, "--json", *more]) == 0
        out = capsys.readouterr()
        (flight,) = json.loads(out.out)["logs"][0]["flights"]
        return str(flight["measures"]["endurance"]["value"]), out.err

    plain = endurance()
    assert plain[1] == ""
    (tmp_path / "fleet.toml").write_text("[aircraft.n037lf]\nbattery_capacity = 10\n[aircraft.N0ZZ]\n", "utf-8")
    smaller, said = endurance()
    assert float(smaller) < 0.7 * float(plain[0]), "half the capacity lasts less"
    assert said == f"taper: N037LF: judged by {tmp_path / 'fleet.toml'}; --fleet FILE replaces it\n"
    other = tmp_path / "other.toml"
    other.write_text("[aircraft.N0ZZ]\nbattery_capacity = 10\n", "utf-8")
    assert endurance("--fleet", str(other)) == plain
    (tmp_path / "fleet.toml").write_text("[aircraft.N0ZZ]\nbattery_capacity = 10\n", "utf-8")
    assert endurance() == plain, "what is known of others is not spoken of"
