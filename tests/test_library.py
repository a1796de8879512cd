"""The library: README's ten lines, small results, tables, and that importing it stays light."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from analyzer.cli import main
from analyzer.library import NoFlightsError, Records, measures_frame, review, squawk, trend

ROOT = Path(__file__).resolve().parents[1]
TRIP = ROOT / "sample_logs" / "N012LF_2026-05-09.csv"
LOST = ROOT / "sample_logs" / "N037LF_2026-05-03.csv"


def test_the_lines_of_the_readme_run_as_they_stand() -> None:
    (code,) = re.findall(r"```python\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert re.fullmatch(r"<\d+ logs, \d+ flights, 0 refused>", lines[0])
    assert any(line.startswith("2026-05-09 10:03:00 caution ") and "15.8 V" in line for line in lines)
    low, high = map(float, re.fullmatch(r"([0-9.]+) to ([0-9.]+) V", lines[-3]).groups())  # type: ignore[union-attr]
    assert 13.0 < low < 14.5 < 27.0 < high < 29.5  # the club flies 14 V and 28 V aircraft
    assert lines[-2].startswith("<trends of N074LF: ")
    assert lines[-1] == "seen"


def test_names_of_modules_can_be_called_once_these_are_loaded() -> None:
    import analyzer.review  # binds the stage's module to the name

    assert repr(analyzer.review(TRIP)) == "<1 logs, 1 flights, 0 refused>"
    assert analyzer.review.FlightReview.__module__ == "analyzer.review"
    assert set(analyzer.__all__) <= set(dir(analyzer))
    with pytest.raises(AttributeError, match="no attribute 'reviews'"):
        _ = analyzer.reviews


def test_a_review_is_a_small_word_and_a_table_with_every_word_escaped(tmp_path: Path) -> None:
    (tmp_path / "<b>.csv").write_text("nothing\n")
    reviews = review([TRIP, tmp_path])
    assert (len(reviews), len(reviews.flights), len(reviews.refused)) == (2, 1, 1)
    shown = reviews._repr_html_()
    assert shown.count("<tr>") == 2
    assert "overvoltage trip" in shown
    assert "N012LF" in shown


def test_the_measures_table_holds_values_intervals_and_reasons() -> None:
    table = measures_frame(review(TRIP))
    rows = {row["measure"]: row for row in table.iter_rows(named=True)}
    assert rows["regulated_voltage"]["low"] <= rows["regulated_voltage"]["value"] <= rows["regulated_voltage"]["high"]
    assert rows["regulated_voltage"]["unit"] == "V"
    assert all((row["value"] is None) == (row["because"] is not None) for row in rows.values())
    assert {row["tail"] for row in rows.values()} == {"N012LF"}
    assert measures_frame([]).columns == table.columns


def test_a_squawk_and_a_trend_from_logs_and_from_records_agree(tmp_path: Path) -> None:
    assert main(["add", str(LOST), "--records", str(tmp_path)]) in (0, 1)
    from_logs = squawk("n037lf", "low volt light came on", LOST)
    with Records(tmp_path) as records:
        assert records.tails == ("N037LF",)
        from_records = records.squawk("N037LF", "low volt light came on")
        assert repr(from_records) == repr(from_logs) == "<squawk of N037LF, 1 flights, charging_light: seen>"
        assert repr(records.trend("N037LF")) == repr(trend(LOST))
        assert "regulated_voltage" in set(records.measures("N037LF")["name"])
        assert "N037LF" in records._repr_html_()
    assert "Charging light on or flickering" in from_logs._repr_html_()


def test_what_is_not_there_is_said_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(NoFlightsError, match="no flight of N0NONE was found"):
        squawk("N0NONE", "slow crank", TRIP)
    with pytest.raises(FileNotFoundError, match="no such file or folder"):
        review(tmp_path / "absent.csv")
