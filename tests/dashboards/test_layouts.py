"""Pages over many flights say what the results say, without a browser: fleet, aircraft, digest, entries."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator

import pytest

pytest.importorskip("dash")

import dash
from plotly.utils import PlotlyJSONEncoder

from analyzer.records.store import open_records
from analyzer.reports.due_words import due_words
from analyzer.reports.trend_words import difference_words
from analyzer.reports.wording import MEASURE_LABELS, with_unit
from dashboards.app import make_app
from dashboards.kept import Kept
from tests.records.kept_histories import keep_history
from tests.trends.made_histories import made

TAILS = {"N0001D": ("drift_up", 7), "N0003D": ("battery_replaced", 6), "N0004D": ("plain", 6)}
Show = Callable[..., str]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    folder = tmp_path_factory.mktemp("pages") / "records"
    with open_records(folder, create=True) as store:
        for tail, (kind, seed) in TAILS.items():
            keep_history(store, tail, made(kind, seed).history)
    found = Kept(folder)
    found.work_ahead()
    yield found
    found.close()


@pytest.fixture(scope="module")
def show(kept: Kept) -> Iterator[Show]:
    """A page's layout as the text that is sent."""
    app = make_app(kept)

    def shown(module: str, **query: str) -> str:
        page = dash.page_registry[f"dashboards.pages.{module}"]
        return json.dumps(page["layout"](**query), cls=PlotlyJSONEncoder, ensure_ascii=False)

    with app.server.test_request_context("/", base_url="http://127.0.0.1"):
        yield shown


def test_the_fleet_s_page_puts_the_aircraft_in_most_need_first(kept: Kept, show: Show) -> None:
    rows = kept.fleet(7).fleet.rows
    page = show("fleet")
    places = [page.index(f'"tail": "{row.tail}"') for row in rows]
    assert places == sorted(places)
    assert rows[0].tail == "N0001D"


@pytest.mark.parametrize("tail", TAILS)
def test_an_aircraft_s_page_tells_its_findings_trends_and_work(kept: Kept, show: Show, tail: str) -> None:
    view = kept.tail(tail)
    assert view is not None
    page = show("aircraft", tail=tail)
    for finding in view.result.findings:
        assert finding.says in page
    for trend in view.result.trends.values():
        if trend.now is not None:
            still = f"{MEASURE_LABELS[trend.measure]}: 0 on all {trend.points} flights."
            assert f"{with_unit(trend.now.level, trend.unit)} now" in page or still in page
    for work in view.result.comparisons:
        for one in work.measures:
            if one.difference is not None:
                assert difference_words(one.difference) in page
    assert f"{view.result.flights} flights" in page


def test_the_page_of_what_is_due_tells_each_and_what_to_enter(kept: Kept, show: Show) -> None:
    page = show("due")
    for one in kept.due(None).items:
        told = due_words(one)
        assert told.title in page
        assert told.why in page
    assert "/settings?tail=N0001D" in page
    assert "N0003D" not in show("due", tail="n0001d")
    assert "No flight of N0NONE is imported." in show("due", tail="N0NONE")
    assert kept.due("N0003D").items, "the download asks for these"


def test_the_digest_s_page_and_the_entries_page_tell_what_is_kept(kept: Kept, show: Show) -> None:
    (new,) = kept.digest(made("drift_up", 7).history.flights[41].start).new
    since = made("drift_up", 7).history.flights[41].start
    assert since is not None
    assert new.about.says in show("digest", since=f"{since:%Y-%m-%d}")
    (work,) = kept.tail("N0003D").result.comparisons
    assert work.verdict in show("entries")
