"""The HTML sheet as a browser prints it: no more pages than the PDF, on either paper."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from test_flight_sheet import SAMPLES, crowded, reviewed
from test_squawk_sheet import three_symptoms, two_symptoms
from test_trend_sheets import history, two_jobs
from test_trend_sheets import judged as judged_tail

from analyzer.reports.sheets.entry_sheet import drawn_entries, entry_sheet
from analyzer.reports.sheets.flight_sheet import flight_sheet
from analyzer.reports.sheets.html import html
from analyzer.reports.sheets.squawk_sheet import drawn_occasions, squawk_sheet
from analyzer.reports.sheets.trend_sheet import drawn_tail, trend_sheet
from analyzer.simulator.healthy import healthy
from analyzer.squawk.result import SquawkResult
from tests.flown import judged
from tests.paper import pages, pdf_words

MADE = date(2026, 10, 1)
Print = Callable[[str], bytes]


@pytest.fixture(scope="module")
def printed(chromium: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Print]:
    """Print an HTML document without a network."""
    place = tmp_path_factory.mktemp("printed") / "sheet.html"
    context = chromium.new_context(offline=True, java_script_enabled=False)
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))

    def run(text: str) -> bytes:
        place.write_text(text, "utf-8")
        page.goto(place.as_uri())
        made: bytes = page.pdf(prefer_css_page_size=True)
        assert all(url.startswith(("file:", "data:")) for url in asked)
        return made

    yield run
    context.close()


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("findings", [1, 2, 3])
def test_the_wordiest_flight_prints_on_two_pages(printed: Print, findings: int, paper: str) -> None:
    assert pages(printed(html(flight_sheet([crowded(findings)], MADE), paper))) <= 2


@pytest.mark.parametrize("name", sorted(Path(file).name for file in SAMPLES.glob("N0[379]*.csv")))
def test_each_sample_flight_prints_on_two_pages_with_its_foot(printed: Print, name: str) -> None:
    made = printed(html(flight_sheet([reviewed(SAMPLES / name)], MADE)))
    assert pages(made) <= 2
    assert "sheet made 2026-10-01" in pdf_words(made)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("make", [two_symptoms, three_symptoms])
def test_a_squawk_of_two_or_three_symptoms_prints_on_two_pages(
    printed: Print, make: Callable[[], SquawkResult], paper: str
) -> None:
    made, review = make(), judged(healthy())
    assert pages(printed(html(squawk_sheet(made, drawn_occasions(made, lambda _: review), MADE), paper))) <= 2


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_two_jobs_of_one_stop_print_on_two_pages(printed: Print, paper: str) -> None:
    both, document = two_jobs()
    assert pages(printed(html(entry_sheet(document, drawn_entries(both, document), MADE), paper))) <= 2


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_tails_trend_prints_on_two_pages(printed: Print, paper: str) -> None:
    one = history(13.9, 14.0, drift=0.04)
    review = judged_tail(one)
    assert pages(printed(html(trend_sheet([(review, drawn_tail(one, review))], MADE), paper))) <= 2
