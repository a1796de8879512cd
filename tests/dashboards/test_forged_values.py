"""Whatever somebody sends by hand where the pages send: an answer or a refusal, never a fault of the server."""

from __future__ import annotations

import logging
import shutil
from collections import Counter
from collections.abc import Iterator
from datetime import datetime, timedelta
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

pytest.importorskip("dash")

import dash

from dashboards import error_notices
from dashboards.app import make_app
from dashboards.callback_bodies import Place, _is_of
from dashboards.figures.time_axis import EPOCH
from dashboards.kept import Kept
from tests.dashboards.asking import CALLBACKS
from tests.dashboards.forging import Forger

HERE = "http://127.0.0.1"
BODIES = 12  # of each callback


@pytest.fixture(scope="module")
def answering(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The app over records of its own."""
    folder = tmp_path_factory.mktemp("forged") / "records"
    shutil.copytree(demo, folder)
    kept = Kept(folder)
    app = make_app(kept)
    assert app.server.test_client().get("/_dash-dependencies", base_url=HERE).status_code == 200
    yield app
    kept.close()


@pytest.mark.long(keep=1)  # each callback gets bodies of its own of either seed
@pytest.mark.parametrize("seed", [1, 2])
def test_no_value_that_is_forged_is_a_fault_of_the_server(
    answering: Any, seed: int, caplog: pytest.LogCaptureFixture
) -> None:
    client, forger, statuses = answering.server.test_client(), Forger(seed), Counter[int]()
    known = {output: one for output, one in answering.callback_map.items() if "callback" in one}
    assert len(known) > 40, "these are all callbacks of the pages"
    caplog.set_level(logging.WARNING)
    for output, one in known.items():
        for body in forger.bodies(output, one, BODIES):
            answer = client.post(CALLBACKS, data=body, content_type="application/json", base_url=HERE)
            statuses[answer.status_code] += 1
            text = answer.get_data(as_text=True)
            assert answer.status_code in (200, 204, 400), (body[:2000], text)
            assert error_notices.FAULT not in text, (body[:2000], caplog.text)
            assert not any(record.exc_info for record in caplog.records), (body[:2000], caplog.text)
    assert statuses[200] > statuses[400] > 50, "most get past the door, and many do not"


@pytest.mark.usefixtures("answering")
def test_dates_on_an_axis_of_numbers_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    flight, aircraft = (import_module(f"dashboards.pages.{name}") for name in ("flight", "aircraft"))
    without_clock = SimpleNamespace(review=SimpleNamespace(flight=SimpleNamespace(clock_start=None)))
    many = SimpleNamespace(value=SimpleNamespace(size=10**6))
    kept = SimpleNamespace(flight=lambda _: without_clock, tail=lambda _: object())
    window: Any = {"range": ["2026-05-01", "2026-05-02"], "width": 800.0}
    monkeypatch.setattr(flight, "kept_here", lambda: kept)
    monkeypatch.setattr(dash, "ctx", SimpleNamespace(triggered_id="flight-chart"))
    assert flight.more_detail(window, "1") is dash.no_update
    clicked: Any = {"points": [{"x": "2026-05-01 10:03"}]}
    assert flight.step_through(0, 0, clicked, 1, "1") == (dash.no_update,) * 3
    monkeypatch.setattr(aircraft, "kept_here", lambda: kept)
    monkeypatch.setattr(aircraft, "points", lambda *_: many)
    monkeypatch.setattr(dash, "ctx", SimpleNamespace(triggered_id={"measure": "regulated_voltage"}))
    assert aircraft.more_points(window, "N012LF", "both", "hours") is dash.no_update


@pytest.mark.parametrize(("page", "sent"), [("flight", ["7"]), ("aircraft", ["N012LF", "both", "hours"])])
def test_what_is_sent_after_a_zoom_names_what_the_browser_compares_it_with(
    answering: Any, page: str, sent: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    known = answering.server.test_client().get("/_dash-dependencies", base_url=HERE).get_json()
    (asked,) = [one for one in known if f"{page}-detail" in one["output"]]
    (laid_in,) = [one for one in known if any(f"{page}-detail" in given["id"] for given in one["inputs"])]
    chart, *compared = [one["id"] for one in laid_in["state"]]
    assert f"{page}-chart" in chart
    assert compared == [one["id"] for one in asked["state"]]
    module = import_module(f"dashboards.pages.{page}")
    monkeypatch.setattr(dash, "ctx", SimpleNamespace(triggered_id={"measure": "regulated_voltage"}))
    ids = {"flight-id": "7", "aircraft-tail": "N012LF", "aircraft-shown": "both", "aircraft-along": "hours"}
    with answering.server.app_context():
        if page == "aircraft":
            monkeypatch.setattr(module, "is_thinned", lambda _count: True)
        answer = {"flight": "more_detail", "aircraft": "more_points"}[page]
        told = getattr(module, answer)({"whole": True}, *(ids[name] for name in compared))
    assert told["of"] == sent


@pytest.mark.parametrize(("day", "is_one"), [("0002-01-01", True), ("9998-12-31", True), ("9999-01-01", False)])
def test_the_same_years_are_moments_in_words_and_in_numbers(day: str, is_one: bool) -> None:
    begins = (datetime.fromisoformat(day) - EPOCH) / timedelta(milliseconds=1)
    assert [_is_of(one, Place) for one in (day, begins)] == [is_one, is_one]
    assert not _is_of((datetime(2, 1, 1) - EPOCH) / timedelta(milliseconds=1) - 1.0, Place)


def test_a_place_on_a_chart_is_a_moment_that_a_calendar_has() -> None:
    taken = ["2026-05-01", "2026-05-01 10:03:12.1234", "2026-05-01T10:03", 1.7e12, 0, -62.5]
    refused = ["", "soon", "2026-13-01", "0001-01-01", "9999-12-31", "nan", 1e15, -1e14, True, None]
    assert [_is_of(one, Place) for one in taken] == [True] * len(taken)
    assert [_is_of(one, Place) for one in refused] == [False] * len(refused)
