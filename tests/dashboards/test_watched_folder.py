"""The import page shows the watched folder: its last look, what was kept last, what was refused and why."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import dash
import pytest
from plotly.utils import PlotlyJSONEncoder

from analyzer.records.refusals import keep_refusals
from analyzer.records.store import open_records
from analyzer.records.watch_status import WATCHED_FILE, LookNoted
from dashboards.app import make_app
from dashboards.kept import Kept


def test_the_watched_folder_is_shown_with_what_it_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = Kept(tmp_path / "r")
    app = make_app(kept)
    monkeypatch.setattr("dashboards.pages.bring_in.writes_here", lambda: True)

    def shown() -> str:
        with app.server.test_request_context("/", base_url="http://127.0.0.1"):
            layout: Any = dash.page_registry["dashboards.pages.bring_in"]["layout"]
            return json.dumps(layout(), cls=PlotlyJSONEncoder, ensure_ascii=False)

    assert "Watched folder" not in shown()
    with open_records(tmp_path / "r", create=True) as store:
        LookNoted(store.folder, [Path("inbox")])()
        page = shown()
        assert "No log of it was refused." in page
        assert "none so far" in page
        assert "not being watched now" not in page
        assert f"{datetime.now(UTC):%Y-%m-%d}" in page
        keep_refusals(store, [("inbox/bad.csv", "it is empty"), ("elsewhere/other.csv", "it is empty")])
        page = shown()
        assert "bad.csv" in page
        assert "it is empty" in page
        assert "other.csv" not in page
        told = {"paths": ["inbox"], "looked_at": "2026-05-01T08:30:00+00:00"}
        (store.folder / WATCHED_FILE).write_text(json.dumps(told), "utf-8")
        assert "2026-05-01 08:30 UTC; it is not being watched now" in shown()
    kept.close()
