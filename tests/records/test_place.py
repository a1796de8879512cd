"""Where records are: an address that is spelled otherwise makes no folder and repeats no password."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.cli import main
from analyzer.records.place import records_place
from analyzer.records.problems import RecordsError


@pytest.mark.parametrize(
    "told",
    ["postgresql+psycopg://club:secret@db/taper", "PostgreSQL://club:secret@db/taper", "postgresql:/secret@db/t"],
)
def test_an_address_spelled_otherwise_is_refused_without_its_password(told: str) -> None:
    with pytest.raises(RecordsError, match="reads like postgresql://") as refused:
        records_place(told)
    assert "secret" not in str(refused.value)


def test_a_file_is_no_folder_and_says_nothing_of_a_server(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "log.csv"
    file.write_text("a,b")
    assert main(["fleet", "--records", str(file)]) == 3
    assert f"There are no records in {file}" in capsys.readouterr().err


@pytest.mark.parametrize("told", ["records", "/srv/taper", "C:/records"])
def test_a_folder_stays_a_folder(told: str) -> None:
    assert records_place(told).folder == Path(told)
