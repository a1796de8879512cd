"""The file of a table holds the table's own rows, and no cell of it is a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import dash_mantine_components as dmc
import pytest
from dash import dcc, html

from analyzer.cells import unguarded
from dashboards.parts import badge, table
from dashboards.table_files import csv_at, csv_link, words_of
from tests.browser import until

Visit = Callable[..., Any]
#: Words of each row of a page's tables as they are read, without what is hidden from who hears the page.
READ = """() => [...document.querySelectorAll("main .table-frame table")].map((one) => {
  const whole = one.cloneNode(true);
  whole.querySelectorAll("[aria-hidden=true], style, button").forEach((hidden) => hidden.remove());
  whole.querySelectorAll("p, li, div, summary").forEach((block) => { block.before(" "); block.after(" "); });
  return [...whole.rows].map((row) => [...row.cells].map((cell) => cell.textContent.trim().replace(/\\s+/g, " ")));
})"""


def rows_in(text: str) -> list[list[str]]:
    return [[unguarded(cell) for cell in row] for row in csv.reader(io.StringIO(text))]


def text_at(page: Any, address: str) -> str:
    """The text of a table's file, which stands in its address or at it."""
    if address.startswith("data:"):
        return unquote(address.partition(",")[2])
    return str(page.request.get(address).text())


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("12.4 V", "12.4 V"),
        (3, "3"),
        (None, ""),
        (badge("warning"), "Warning"),
        (html.Span(["1. ", dcc.Link("N012LF", href="/")]), "1. N012LF"),
        ([html.Strong("due"), "since"], "duesince"),
        (html.Details([html.Summary("entry"), html.Ul([html.Li("a"), html.Li("b")])]), "entry a b"),
        (dmc.Checkbox(label="one.csv"), "one.csv"),
        (html.Div(["a", html.Button("Change"), dmc.Button("Remove")]), "a"),
        (html.Span("all of it", title="all of it", className="clamped"), "all of it"),
    ],
)
def test_a_cell_is_said_in_words(cell: Any, words: str) -> None:
    assert words_of(cell) == words


def test_no_cell_is_a_formula_and_every_cell_comes_back() -> None:
    rows = [("=1+1", "-3 A"), ('"quoted", %41', "two\nlines"), ("'=x", "Ω µ")]
    link: Any = csv_link(("a", "b"), rows, "Two rows, at most").children
    assert link.download == "two-rows-at-most.csv"
    led: Any = csv_at("/due.csv", "What is due").children
    assert getattr(led, "download", None) is None, "an answer that is no file must not be saved as one"
    text = unquote(link.href.removeprefix("data:text/csv;charset=utf-8,"))
    raw = list(csv.reader(io.StringIO(text)))
    assert not any(cell.startswith(("=", "-", "+", "@")) for row in raw for cell in row)
    assert rows_in(text) == [["a", "b"], ["=1+1", "-3 A"], ['"quoted", %41', "two lines"], ["'=x", "Ω µ"]]
    assert "CSV file: Two rows" in str(table(("a", "b"), rows, "Two rows, at most"))


@pytest.mark.long(keep=3)  # of each kind one: files in their address of one table and of many, and one that is fetched
@pytest.mark.parametrize("path", ["/entries", "/changes", "/flight/1", "/logs?tail=N012LF", "/", "/due"])
def test_the_files_of_a_page_hold_its_tables_row_for_row(pages: str, visit: Visit, path: str) -> None:
    page = visit(f"{pages}{path}")
    page.locator(".table-file a").first.wait_for(state="attached")
    page.wait_for_timeout(500)
    shown = page.evaluate(READ)
    links = page.locator(".table-frame + .table-file a").evaluate_all("all => all.map((one) => one.href)")
    files = [rows_in(text_at(page, one)) for one in links]
    assert len(files) == len(shown) > 0
    for told, saved in zip(shown, files, strict=True):
        assert told == saved
        assert len(saved) > 1


def test_a_narrowed_table_is_saved_as_it_is_narrowed_by_keyboard(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/")
    page.get_by_label("Search").fill("N074LF")
    until(page, "document.querySelectorAll('#fleet-list tbody tr').length === 1")
    page.get_by_role("link", name="CSV file: Aircraft, most urgent first").focus()
    with page.expect_download() as told:
        page.keyboard.press("Enter")
    assert told.value.suggested_filename == "aircraft-most-urgent-first.csv"
    rows = rows_in(Path(told.value.path()).read_text("utf-8"))
    assert [row[0] for row in rows] == ["Aircraft", "1. N074LF"] or rows[1][0].endswith("N074LF")
    assert len(rows) == 2


def test_all_flights_of_an_aircraft_are_saved_with_the_digits_that_are_shown(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/aircraft/N074LF")
    page.locator("#aircraft-grid .ag-row").first.wait_for()
    link = page.get_by_role("link", name="CSV file: Flights, the latest first")
    rows = rows_in(text_at(page, f"{pages}{link.get_attribute('href')}"))
    first = page.locator("#aircraft-grid .ag-row[row-index='0'] .ag-cell").all_inner_texts()
    assert [one.split("\n")[-1].lstrip("▲●■◆ ") for one in first] == rows[1]
    assert len(rows) > 11, "all of them, not one page"
