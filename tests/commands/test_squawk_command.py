"""``taper squawk``, as its users call it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from analyzer.cli import main
from analyzer.records.files import original_path, trace_path
from analyzer.records.kept import kept_logs
from analyzer.records.store import open_records
from analyzer.squawk.known import SYMPTOMS

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
FLEET = str(SAMPLES / "fleet.toml")


@pytest.fixture(scope="module")
def records(sample_records: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records of the sample logs."""
    return Path(shutil.copytree(sample_records, tmp_path_factory.mktemp("squawk") / "records"))


def without_ids(document: Any) -> Any:
    if isinstance(document, dict):
        return {name: without_ids(value) for name, value in document.items() if name != "id"}
    return [without_ids(one) for one in document] if isinstance(document, list) else document


def printed(capsys: pytest.CaptureFixture[str], *call: str) -> dict[str, Any]:
    assert main(["squawk", *call, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.long(keep=1)
@pytest.mark.parametrize(
    "words", ["ALT light flickered", "slow crank", "volts high", "ammeter stays high; battery hot"]
)
def test_records_and_logs_give_the_same_document_but_for_ids(records, capsys, words):
    for tail in ("N012LF", "N074LF"):
        kept = printed(capsys, tail, words, "--records", str(records))
        read = printed(capsys, tail, words, "--from", str(SAMPLES), "--fleet", FLEET)
        assert without_ids(kept) == without_ids(read)
        ids = [flight["flight"]["id"] for symptom in kept["symptoms"] for flight in symptom["for"]]
        assert all(isinstance(one, int) for one in ids)


def test_words_may_stand_before_or_behind_the_options(records, capsys):
    before = printed(capsys, "N037LF", "volts high", "--records", str(records), "--since", "2026-01-01")
    behind = printed(capsys, "N037LF", "--records", str(records), "--since", "2026-01-01", "volts", "high")
    assert before == behind
    assert before["report"]["words"] == "volts high"


def test_words_behind_the_logs_are_not_taken_for_a_missing_report(capsys):
    assert main(["squawk", "N037LF", "--from", str(SAMPLES), "slow crank"]) == 2
    assert "slow crank: no such file or folder; --from takes all names behind it" in capsys.readouterr().err


def test_an_option_that_is_none_is_refused_by_its_name(records, capsys):
    with pytest.raises(SystemExit) as ended:
        main(["squawk", "N037LF", "volts high", "--records", str(records), "--sinze", "2026-01-01"])
    assert ended.value.code == 2
    assert "--sinze" in capsys.readouterr().err


def test_a_day_that_is_named_is_meant_from_its_beginning_to_its_end(records, capsys):
    call = ("N012LF", "light on", "--records", str(records))
    assert printed(capsys, *call, "--since", "2026-05-09", "--until", "2026-05-09")["flights"] == 1
    assert printed(capsys, *call, "--until", "2026-05-09T00:00")["flights"] == 1
    assert printed(capsys, *call, "--since", "2026-05-09")["flights"] == 2


def test_without_a_date_it_looks_back_from_the_newest_flight_and_says_so(records, capsys):
    document = printed(capsys, "N058LF", "slow crank", "--records", str(records))
    assert document["since"][:10] == "2026-06-14"  # 90 days before 2026-09-12; flights of 6 and 13 June are earlier
    assert document["flights"] == 1
    assert main(["squawk", "N058LF", "slow crank", "--records", str(records)]) == 0
    assert "since 2026-06-14" in capsys.readouterr().out


def test_flights_without_a_date_are_looked_through_where_no_period_is_named(records, capsys):
    document = printed(capsys, "N074LF", "slow crank", "--records", str(records))
    assert (document["since"], document["flights"]) == (None, 3)


def test_an_aircraft_may_be_named_in_small_letters(records, capsys):
    assert printed(capsys, "n012lf", "light on", "--records", str(records))["tail"] == "N012LF"


def test_an_unknown_aircraft_gets_a_sentence_with_those_that_are_known(records, capsys):
    assert main(["squawk", "N0NONE", "light on", "--records", str(records)]) == 2
    said = capsys.readouterr().err
    assert "no flight of N0NONE was found; aircraft found: N012LF" in said
    assert main(["squawk", "N0NONE", "light on", "--from", str(SAMPLES)]) == 2
    assert "N012LF" in capsys.readouterr().err


def test_no_flight_in_the_period_gets_a_sentence(records, capsys):
    assert main(["squawk", "N012LF", "light on", "--since", "2027-01-01", "--records", str(records)]) == 2
    assert "no flight of N012LF was found since 2027-01-01" in capsys.readouterr().err
    assert main(["squawk", "N012LF", "light on", "--since", "2027-01-01", "--from", str(SAMPLES)]) == 2
    assert "since 2027-01-01" in capsys.readouterr().err


def test_a_date_that_is_none_gets_a_sentence(records, capsys):
    assert main(["squawk", "N012LF", "light on", "--since", "Tuesday", "--records", str(records)]) == 2
    assert "is not a date" in capsys.readouterr().err


def test_records_that_are_not_there_get_a_sentence(tmp_path, capsys):
    assert main(["squawk", "N012LF", "light on", "--records", str(tmp_path / "none")]) == 3
    assert str(tmp_path / "none") in capsys.readouterr().err


def test_a_broken_log_is_refused_and_the_rest_looked_through(tmp_path, capsys):
    shutil.copy(SAMPLES / "N012LF_2026-05-09.csv", tmp_path)
    (tmp_path / "broken.csv").write_text("nothing\n")
    assert main(["squawk", "N012LF", "light on", "--from", str(tmp_path), "--json"]) == 1
    said = capsys.readouterr()
    assert "broken.csv" in said.err
    assert json.loads(said.out)["flights"] == 1


def test_lost_readings_of_a_kept_log_are_said_and_the_rest_looked_through(records, tmp_path, capsys):
    folder = tmp_path / "records"
    shutil.copytree(records, folder)
    with open_records(folder) as store:
        lost = kept_logs(store, "N012LF")[0]
    trace_path(folder, lost.hash).unlink()
    original_path(folder, lost.hash).unlink()
    assert main(["squawk", "N012LF", "light on", "--records", str(folder), "--json"]) == 1
    said = capsys.readouterr()
    assert "taper rebuild" in said.err
    assert json.loads(said.out)["flights"] == 2


def test_a_log_that_names_no_aircraft_is_taken_to_be_the_one_asked_for(tmp_path, capsys):
    lines = (SAMPLES / "N012LF_2026-05-09.csv").read_text().splitlines(keepends=True)
    (tmp_path / "download.csv").write_text("".join(lines[1:]))
    assert main(["squawk", "N0ASKED", "light on", "--from", str(tmp_path), "--json"]) == 0
    said = capsys.readouterr()
    assert "logs that name no aircraft, taken to be of N0ASKED: 1\n" in said.err
    assert json.loads(said.out)["flights"] == 1


@pytest.mark.parametrize("words", ["", "🔥", "xyzzy", "light did not come on", "'; DROP TABLE x; --", "q" * 10_000])
def test_words_that_name_no_symptom_list_what_can_be_picked(capsys, words):
    assert main(["squawk", "N012LF", words, "--from", str(SAMPLES)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert all(name in said.err for name in SYMPTOMS)


def test_a_call_without_an_aircraft_is_told_how_to_call(capsys):
    assert main(["squawk"]) == 2
    assert "taper squawk N047KT" in capsys.readouterr().err


def test_a_report_without_quotes_is_understood_as_well(records, capsys):
    document = printed(capsys, "N012LF", "slow", "crank", "--records", str(records))
    assert document["report"]["words"] == "slow crank"


def test_picks_and_words_go_together(records, capsys):
    document = printed(capsys, "N012LF", "slow crank", "--symptom", "voltage_high", "--records", str(records))
    assert [(one["symptom"], one["from"]) for one in document["report"]["symptoms"]] == [
        ("slow_crank", "words"),
        ("voltage_high", "picked"),
    ]


def test_the_symptoms_are_listed_with_their_words(capsys):
    assert main(["squawk", "--symptoms"]) == 0
    said = capsys.readouterr().out
    assert all(name in said for name in SYMPTOMS)
    assert "light flicker" in said


def test_a_long_report_with_steering_characters_is_shown_shortened_and_harmless(records, capsys):
    words = "ALT light flickered \x1b[31m " + "and so on " * 900
    assert main(["squawk", "N012LF", words, "--records", str(records)]) == 0
    said = capsys.readouterr().out
    assert "\x1b" not in said
    assert len(said) < 8000


def test_the_trip_of_the_sample_club_answers_a_breaker_that_opened(records, capsys):
    document = printed(capsys, "N012LF", "ALT CB popped, voltage high", "--records", str(records))
    for symptom in document["symptoms"]:
        assert symptom["verdict"] == "seen in the recordings"
        assert [occasion["at"][:10] for occasion in symptom["for"]] == ["2026-05-09"]
