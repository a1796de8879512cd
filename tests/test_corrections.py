"""The file of corrections: what it changes, and what a person reads when it is wrong."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from analyzer.aircraft import UNKNOWN_AIRCRAFT
from analyzer.cli import main
from analyzer.corrections import Corrections, CorrectionsError, in_effect, put_in_effect
from analyzer.corrections_file import read_corrections
from analyzer.findings.causes import load_knowledge, weigh_causes
from analyzer.limits import LIMITS_FILE, limit_value, load_limits
from analyzer.logs.roles import meaning
from analyzer.reports.reference import find_topics, limit_words
from analyzer.squawk.understanding import understand

GOOD = """
[limits]
low_voltage = 12.25
overvoltage = { at_28 = 31.25 }
[causes.brushes]
alternator_offline = 250.0
[header_words]
current = ["ladamp"]
[pilots_words]
light = ["tellspark"]
"""


@pytest.fixture(autouse=True)
def as_shipped_afterwards() -> Iterator[None]:
    yield
    put_in_effect(Corrections())


def written(folder: Path, text: str) -> Path:
    path = folder / "corrections.toml"
    path.write_text(text, "utf-8")
    return path


def test_each_kind_of_correction_changes_what_it_names_and_nothing_else(tmp_path: Path) -> None:
    shipped = dict(load_limits())
    weight = {cause.key: dict(cause.weights) for cause in load_knowledge().causes}
    assert "current" not in meaning("Ladamp").concepts
    assert "charging_light" not in [one.symptom for one in understand("the ALT tellspark came on").matches]
    put_in_effect(read_corrections(written(tmp_path, GOOD)))
    assert (load_limits()["low_voltage"].at_14, load_limits()["low_voltage"].at_28) == (12.25, 12.25)
    over = load_limits()["overvoltage"]
    assert (over.at_14, over.at_28) == (shipped["overvoltage"].at_14, 31.25)
    changed = {name for name, limit in load_limits().items() if limit != shipped[name]}
    assert changed == {"low_voltage", "overvoltage"}
    assert UNKNOWN_AIRCRAFT.limits(28)["overvoltage"] == 31.25
    now = {cause.key: dict(cause.weights) for cause in load_knowledge().causes}
    assert now.pop("brushes") == weight.pop("brushes") | {"alternator_offline": 250.0}
    assert now == weight
    assert weigh_causes("alternator_offline", {})[0][0].weight > 0.9
    assert "current" in meaning("Ladamp").concepts
    assert "charging_light" in [one.symptom for one in understand("the ALT tellspark came on").matches]
    put_in_effect(Corrections())
    assert dict(load_limits()) == shipped
    assert "current" not in meaning("Ladamp").concepts


def test_a_corrected_limit_says_so_where_it_is_explained(tmp_path: Path) -> None:
    put_in_effect(read_corrections(written(tmp_path, GOOD)))
    assert limit_words("overvoltage") == "16 V (31.25 V at 28 V)"
    (topic,) = find_topics("overvoltage limit") or [one for one in find_topics("overvoltage") if one["kind"] == "limit"]
    source = topic["parts"][-1]["lines"][0]
    assert source.startswith("corrected in corrections.toml; as shipped "), source


def test_a_corrected_limit_holds_in_the_helpers_of_a_large_review(
    tmp_path: Path, capsys: pytest.CaptureFixture
) -> None:
    logs = sorted((Path(__file__).parents[1] / "sample_logs").glob("*.csv"))
    assert len(logs) >= 12, "fewer logs are worked through in one process"
    path = written(tmp_path, "[limits]\nregulated_high = { at_14 = 13.0, at_28 = 26.0 }\n")
    main(["review", *map(str, logs), "--json", "--limits", str(path)])
    found = [
        one["finding"]
        for log in json.loads(capsys.readouterr().out)["logs"]
        for f in log["flights"]
        for one in f["findings"]
    ]
    assert found.count("regulator_high") >= 8


def test_the_program_s_own_table_is_not_written_to(tmp_path: Path) -> None:
    before = LIMITS_FILE.read_bytes()
    put_in_effect(read_corrections(written(tmp_path, GOOD)))
    assert limit_value("air_beside") == 120.0
    assert LIMITS_FILE.read_bytes() == before


def test_what_tells_corrections_apart_is_what_they_say_not_where_they_stand(tmp_path: Path) -> None:
    one = read_corrections(written(tmp_path, GOOD))
    other = tmp_path / "other.toml"
    other.write_text(GOOD.replace("250.0", "250.5"), "utf-8")
    same = tmp_path / "same.toml"
    same.write_text(GOOD, "utf-8")
    assert one.mark == read_corrections(same).mark != read_corrections(other).mark
    assert Corrections().mark == "" == read_corrections(written(tmp_path, "")).mark


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[limits]\nregulated_hig = 14", "'regulated_hig' in [limits] is not known; did you mean 'regulated_high'?"),
        ("[limit]\nx = 1", "'limit' at the top level is not known; did you mean 'limits'?"),
        ("[limits]\novervoltage = '16'", "the limit 'overvoltage' must be a number of V, not '16'."),
        ("[limits]\novervoltage = true", "must be a number of V, not True."),
        ("[limits]\novervoltage = nan", "must be a number of V, not nan."),
        ("[limits]\novervoltage = -16", "the limit 'overvoltage' cannot be -16 V; as shipped it is 16 V."),
        ("[limits]\novervoltage = 0", "cannot be 0 V"),
        ("[limits]\novervoltage = { at_12 = 14 }", "'at_12' of the limit 'overvoltage' is not known; did you mean"),
        ("limits = 3", "'limits' must be a table, written [limits]."),
        ("[causes.brush]\nalternator_offline = 1", "'brush' in [causes] is not known; did you mean 'brushes'?"),
        ("[causes]\nbrushes = 1", "'causes.brushes' must be a table, written [causes.brushes]."),
        ("[causes.brushes]\nalternator_ofline = 1", "did you mean 'alternator_offline'?"),
        ("[causes.brushes]\nalternator_offline = -1", "must be a number from 0 to 1000, not -1."),
        ("[header_words]\ncurent = ['x']", "did you mean 'current'?"),
        ("[header_words]\ncurrent = [3]", "the words of 'current' must be a list"),
        ("[pilots_words]\nlight = ['']", "the words of 'light' must be a list"),
        ("[limits", "the file of corrections is not valid TOML"),
    ],
)
def test_a_wrong_file_is_refused_with_what_where_and_the_nearest_right_name(
    tmp_path: Path, text: str, says: str
) -> None:
    path = written(tmp_path, text)
    with pytest.raises(CorrectionsError) as told:
        read_corrections(path)
    assert str(told.value).startswith(f"{path}: ")
    assert says in str(told.value)
    assert not in_effect()


def test_a_file_that_is_not_there_ends_a_review_with_a_sentence(tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    assert main(["review", "sample_logs", "--limits", str(tmp_path / "none.toml")]) == 2
    assert "the file of corrections cannot be opened (No such file or directory)" in capsys.readouterr().err
