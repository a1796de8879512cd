"""Pages over many flights say what the results say, without a browser: fleet, aircraft, digest, entries."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import datetime
from importlib import import_module
from types import SimpleNamespace

import pytest

pytest.importorskip("dash")

import dash
from flask import g
from plotly.utils import PlotlyJSONEncoder

from analyzer.records.changing import kept_entries
from analyzer.records.people import at_the_machine
from analyzer.records.store import open_records
from analyzer.reports.due_words import due_words
from analyzer.reports.trend_words import difference_words, unlogged_asks
from analyzer.reports.wording import MEASURE_LABELS, with_unit
from analyzer.service.outlook_at import OutlookAt
from dashboards import kept as kept_here
from dashboards.app import make_app
from dashboards.at_hand import AtHand
from dashboards.kept import Kept
from tests.records.few_flights import flight, keep_as_given
from tests.records.kept_histories import keep_history
from tests.trends.made_histories import made
from tests.trends.made_replacements import changed

TAILS = {"N0001D": ("drift_up", 7), "N0003D": ("battery_replaced", 6), "N0004D": ("plain", 6)}
UNLOGGED, IN_TWO_FILES = "N0005D", "N0006D"
#: Two flights of 1 and 2 h, the second of them in another file as well, cut short.
ONE_TWICE = [
    flight(datetime(2025, 5, 1, 10), 1.0), flight(datetime(2025, 5, 2, 10), 2.0),
    flight(datetime(2025, 5, 2, 10, 20), 0.5),
]  # fmt: skip
Show = Callable[..., str]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    folder = tmp_path_factory.mktemp("pages") / "records"
    with open_records(folder, create=True) as store:
        for tail, (kind, seed) in TAILS.items():
            keep_history(store, tail, made(kind, seed).history)
        keep_history(store, UNLOGGED, changed("battery", 701).history)
        keep_as_given(store, IN_TWO_FILES, ONE_TWICE)
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
    places = [page.index(f'"href": "/aircraft/{row.tail}"') for row in rows]
    assert places == sorted(places)
    assert rows[0].tail == "N0001D"


def test_a_flight_that_two_files_hold_counts_once_at_the_head_of_each_page(show: Show) -> None:
    others = [*(made(kind, seed).history for kind, seed in TAILS.values()), changed("battery", 701).history]
    assert f"{sum(len(one.flights) for one in others) + 2} flights, the last on" in show("fleet")
    assert "2 flights, 3.0 engine hours, 2025-05-01 to 2025-05-02" in show("aircraft", tail=IN_TWO_FILES)


def test_answers_of_the_whole_fleet_stay_at_hand_however_many_aircraft_are_asked_for(
    kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept, "_answers", AtHand(1, kept_here.OF_ALL))
    monkeypatch.setattr(kept_here, "_hour", lambda _now: "this hour")
    before = kept.digest(None), kept.due(None), kept.fleet(7).kept
    one = kept.due("N0001D")
    for tail in TAILS:
        kept.tail(tail)
    assert kept.due("N0001D") is not one, "one aircraft's are dropped"
    again = kept.digest(None), kept.due(None), kept.fleet(7).kept
    assert all(now is then for now, then in zip(again, before, strict=True))


def test_changes_that_do_not_fit_are_found_in_the_digest_of_the_same_days(
    kept: Kept, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("CHANGES_SHOWN", "CHANGES_FOLDED"):
        monkeypatch.setattr(import_module("dashboards.pages.fleet"), name, 0)
    usual, long = kept.fleet(7).since, kept.fleet(90).since
    assert usual is not None
    assert long is not None
    assert usual > long
    assert f'"/digest?since={long:%Y-%m-%d}"' in show("fleet", days="90")


@pytest.mark.parametrize(("flights", "says"), [(40, True), (0, False)])
def test_a_flight_s_outlook_counts_no_flights_where_nothing_tells_them(
    show: Show, monkeypatch: pytest.MonkeyPatch, flights: int, says: bool
) -> None:
    page = import_module("dashboards.pages.flight")
    told = OutlookAt(flights, because="another recording of this flight counts in the trends")
    monkeypatch.setattr(page, "kept_here", lambda: SimpleNamespace(outlook_at=lambda _flight: told))
    shown = json.dumps(page._outlook(SimpleNamespace(tail="N0001D")), cls=PlotlyJSONEncoder)
    assert "another recording of this flight counts" in shown
    assert (f"By the {flights} flights up to this one." in shown) == says


@pytest.mark.usefixtures("show")
@pytest.mark.parametrize(
    ("asked", "step"), [("3", 3), ("5", 5), ("6", 5), ("9999", 5), ("0", 1), ("99999", 1), ("-3", 1), ("x", 1), ("", 1)]
)
def test_a_step_that_is_asked_for_is_one_of_the_story(asked: str, step: int) -> None:
    story = [None] * 5  # of which only the length counts
    assert import_module("dashboards.pages.flight")._first_step(None, story, {"step": asked}) == step


def test_work_that_nobody_logged_is_asked_about_with_a_form_filled_in(
    kept: Kept, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    view = kept.tail(UNLOGGED)
    assert view is not None
    (asked,) = view.result.unlogged
    page = show("aircraft", tail=UNLOGGED)
    assert unlogged_asks(asked) in page
    assert "form filled in" not in page, "who may only read is asked nothing that they cannot do"
    monkeypatch.setattr(g, "person", at_the_machine(), raising=False)
    page = show("aircraft", tail=UNLOGGED)
    assert f"/entries?tail={UNLOGGED}&kind=battery_replaced&when=" in page
    assert unlogged_asks(asked) in show("due")
    form = show("entries", tail=UNLOGGED, kind="battery_replaced", when=asked.when.isoformat())
    assert f'"value": "{asked.when.date()}"' in form
    assert f'"value": "{asked.when:%H:%M}"' in form
    assert "filled in as a guess" in form
    assert not kept_entries(kept.store(), UNLOGGED), "opening the form keeps nothing"
    for wrong in ({"kind": "nothing", "when": "2026-01-01"}, {"kind": "battery_replaced", "when": "soon"}):
        assert "filled in as a guess" not in show("entries", tail=UNLOGGED, **wrong)


def test_peers_and_repairs_have_a_page_that_says_why_nobody_stands_beside(show: Show) -> None:
    page = show("peers", tail="N0004D")
    assert "Not set beside others, because its type is not set" in page
    assert "/settings?tail=N0004D" in page
    assert "How repairs turned out" in show("peers")
    assert "/peers?tail=N0004D" in show("aircraft", tail="N0004D")
    assert "No flight of N0NONE is imported." in show("peers", tail="N0NONE")


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
    own = show("due", tail="n0001d")
    assert "N0003D" not in own
    assert "the next visit has no date" in own
    assert "What waiting costs" not in page
    assert "No flight of N0NONE is imported." in show("due", tail="N0NONE")
    assert kept.due("N0003D").items, "the download asks for these"


def test_the_digest_s_page_and_the_entries_page_tell_what_is_kept(kept: Kept, show: Show) -> None:
    (new,) = kept.digest(made("drift_up", 7).history.flights[41].start).new
    since = made("drift_up", 7).history.flights[41].start
    assert since is not None
    assert new.about.says in show("digest", since=f"{since:%Y-%m-%d}")
    (work,) = kept.tail("N0003D").result.comparisons
    assert work.verdict in show("entries")


@pytest.mark.parametrize(
    ("module", "query", "quiet"),
    [
        ("squawk", {}, True),
        ("squawk", {"tail": "N0001D", "words": "flickering light"}, False),
        ("compare", {}, True),
        ("compare", {"a": "N0001D", "b": "N0003D"}, False),
        ("bring_in", {}, True),
    ],
)
def test_the_cautions_are_quiet_where_a_page_shows_no_results(
    module: str, query: dict[str, str], quiet: bool, show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(g, "asks", at_the_machine(), raising=False)
    monkeypatch.setattr("dashboards.pages.compare._named", lambda _kept, words: words or None)
    monkeypatch.setattr("dashboards.pages.compare._form", lambda *_: [])
    monkeypatch.setattr("dashboards.pages.compare._shown", lambda *_: [])
    monkeypatch.setattr("dashboards.pages.compare._two_aircraft", lambda *_: [])
    assert ("quiet-box" in show(module, **query)) == quiet
