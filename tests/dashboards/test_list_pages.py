"""A page of a list says of how many rows it is, and a list that shrank meanwhile shows its last page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from importlib import import_module
from types import SimpleNamespace
from typing import Any

import pytest

pytest.importorskip("dash")

import dash

from dashboards.app import make_app
from dashboards.kept import Kept
from dashboards.parts import of_how_many, one_page, pager
from dashboards.table_files import words_of

Turn = Callable[[Any, int], tuple[Any, int, int, bool]]


@pytest.mark.parametrize(
    ("count", "asked", "rows", "pager", "words"),
    [
        (130, 1, range(50), (3, 1, False), "1 to 50 of 130"),
        (130, 3, range(100, 130), (3, 3, False), "101 to 130 of 130"),
        (60, 3, range(50, 60), (2, 2, False), "51 to 60 of 60"),
        (50, 2, range(50), (1, 1, True), ""),
        (130, -1, range(50), (3, 1, False), "1 to 50 of 130"),
        (0, 4, range(0), (1, 1, True), ""),
    ],
)
def test_a_page_of_a_list(count: int, asked: int, rows: range, pager: tuple[int, int, bool], words: str) -> None:
    shown = one_page(range(count), asked, 50)
    assert (shown.rows, shown.pager) == (rows, pager)
    assert words_of(of_how_many(shown)) == words


def test_of_how_many_rows_a_page_is_stands_on_paper_where_its_numbers_do_not() -> None:
    shown = one_page(range(130), 2, 50)
    (told,) = of_how_many(shown)
    numbers = pager("due", "due", shown, "Pages")
    assert "no-print" not in told.className
    assert "no-print" in numbers.className
    assert (numbers.children.total, numbers.children.value) == (3, 2)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dash.Dash]:
    """The pages, which Dash takes in with an app only."""
    kept = Kept(tmp_path_factory.mktemp("none") / "records")
    yield make_app(kept)
    kept.close()


class Records:
    """Records of which nothing is told."""

    def fleet(self, _days: int) -> None: ...
    def due(self, _tail: str | None) -> None: ...
    def digest(self, _since: None) -> None: ...


FOUND = {
    "matching": lambda found: lambda *_: found,
    "dated": lambda found: lambda _: found,
    "sections": lambda found: lambda _: [SimpleNamespace(name="new", items=found)],
}


@pytest.mark.parametrize(
    ("name", "size", "of", "found_by", "listed_by", "turn"),
    [
        ("fleet", "LINES", "fleet", "matching", "_listed", lambda page, number: page.narrow("", "all", number, 7)),
        ("due", "LINES", "due", "dated", "_page_of", lambda page, number: page.turn(number, "")),
        ("digest", "ITEMS", "new", "sections", "_page_of", lambda page, number: page.turn(number, None)),
    ],
)
def test_a_page_turned_after_the_list_shrank_is_its_last(
    made: dash.Dash,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    size: str,
    of: str,
    found_by: str,
    listed_by: str,
    turn: Turn,
) -> None:  # fmt: skip
    page, found = import_module(f"dashboards.pages.{name}"), list(range(25))
    shown: list[list[int]] = []
    monkeypatch.setattr(page, "kept_here", Records)
    monkeypatch.setattr(page, size, 10)
    monkeypatch.setattr(page, found_by, FOUND[found_by](found))
    monkeypatch.setattr(page, listed_by, lambda one, *_more: shown.append(list(one.rows)))
    monkeypatch.setattr(page.dash, "ctx", SimpleNamespace(triggered_id={"type": f"{name}-page", "of": of}))
    assert turn(page, 3)[1:] == (3, 3, False)
    del found[15:]
    assert turn(page, 3)[1:] == (2, 2, False)
    del found[10:]
    assert turn(page, 2)[1:] == (1, 1, True)
    assert shown == [list(range(20, 25)), list(range(10, 15)), list(range(10))]


@pytest.mark.parametrize(
    ("module", "query"), [("peers", {}), ("peers", {"tail": "N0NONE"}), ("due", {}), ("digest", {})]
)
def test_where_nothing_is_kept_every_page_leads_to_the_import(
    made: dash.Dash, module: str, query: dict[str, str]
) -> None:
    page = import_module(f"dashboards.pages.{module}")
    with made.server.test_request_context("/", base_url="http://127.0.0.1"):
        told = str(page.layout(**query))
    assert "No flights yet; first " in told
    assert "/bring-in" in told
