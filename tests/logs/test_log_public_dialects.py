"""The public set of dialects, judged by its own scorer."""

from __future__ import annotations

import csv
import importlib.util
import io
import json
from contextlib import redirect_stdout
from pathlib import Path

import pytest

from analyzer.cli import main


@pytest.fixture(scope="module")
def scorer(shared: Path):
    spec = importlib.util.spec_from_file_location("score_dialects", shared / "score_dialects.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def faults_of(variant: dict, scorer, folder: Path) -> list[str]:
    """What the scorer finds wrong with the answer to one variant."""
    out, table_path = io.StringIO(), folder / f"{variant['id']}.csv"
    with redirect_stdout(out):
        table = ["--table", str(table_path)] if variant["table"] else []
        status = main(["columns", variant["path"], "--json", *table])
    logs = json.loads(out.getvalue())["logs"]
    faults = [] if status in variant["exit"] else [f"exit status {status}"]
    for wanted in variant["logs"]:
        ending = wanted.get("source_ends", "")
        log = next(log for log in logs if log["source"].endswith(ending))
        rows = None
        if table_path.exists():
            with table_path.open(newline="", encoding="utf-8") as opened:
                rows = list(csv.DictReader(opened))
        faults += scorer.judge_log(wanted, log, rows, None)
    return faults


def test_every_public_dialect_is_read_as_its_truth_says(shared: Path, scorer, tmp_path: Path, monkeypatch):
    folder = shared / "dialects"
    monkeypatch.chdir(folder)
    variants = json.loads((folder / "expected.json").read_text(encoding="utf-8"))["variants"]
    assert len(variants) >= 49
    faults = {v["id"]: found for v in variants if (found := faults_of(v, scorer, tmp_path))}
    assert faults == {}
