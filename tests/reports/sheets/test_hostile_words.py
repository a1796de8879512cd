"""Words from outside, file names, headers, reports, are words on a sheet and never a command."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.reports.sheets.document import (
    Cautions,
    Chart,
    Check,
    Checks,
    Facts,
    FormLines,
    Heading,
    Paragraph,
    Sheet,
    Table,
    as_data,
    printable,
)  # fmt: skip
from analyzer.reports.sheets.html import html
from analyzer.reports.sheets.pdf import pdf
from tests.paper import assert_stands_alone, packed, pages, pdf_words

MADE = date(2026, 10, 1)
SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="10" height="10"><rect width="5" height="5"/></svg>'
HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</style><script>alert(1)</script>",
    "{{ 7 * 7 }}{% raw %}",
    "#let x = 7; #panic(1) $x^2$ *bold* _it_ `raw` @label <anchor> = title",
    '#read("/etc/passwd") \\ \\u{41}',
    "&amp; &lt;b&gt; ' \" ` ; } { content: 'x' } \\",
    "a\nb\tc",
    "//not a comment /* nor this */ https://example.org",
)


def sheet_of(words: str) -> Sheet:
    """A sheet that carries some words in every place that can carry words."""
    parts = (
        Heading(words, 2, words),
        Paragraph(words),
        Paragraph(words, small=True),
        Facts(((words, words), ("plain", "plain"))),
        Table((words, "b"), ((words, "c"),), (1, 0)),
        Chart(SVG, words + " chart of it"),
        Checks((Check(words, words),)),
        FormLines(((words, 1), (words, 0))),
        Cautions((words,)),
    )
    return Sheet(words, MADE, parts)


@pytest.mark.parametrize("words", HOSTILE)
def test_the_html_shows_hostile_words_and_obeys_none(words: str) -> None:
    page = assert_stands_alone(html(sheet_of(words)))
    assert packed(page.words).count(packed(words)) >= 8
    assert page.tags.count("style") == 1
    assert page.tags.count("img") == 1


@pytest.mark.parametrize("words", HOSTILE)
def test_the_pdf_shows_hostile_words_and_obeys_none(words: str) -> None:
    made = pdf(sheet_of(words))
    assert packed(pdf_words(made)).count(packed(words)) >= 8


def test_what_steers_a_printer_or_turns_the_writing_is_replaced() -> None:
    shown = printable("a\x1b[31m\u202eb\x00\r\n\u2066")
    assert shown == "a\ufffd[31m\ufffdb\ufffd  \ufffd"
    assert as_data(sheet_of("x\u202ey"))["title"] == "x\ufffdy"


def test_a_word_of_ten_thousand_characters_is_broken_and_stays_on_the_paper() -> None:
    long = "W" * 10_000
    made = pdf(Sheet("long", MADE, (Paragraph(long), Table(("a", "b"), ((long[:400], "c"),), (1, 1)))))
    assert packed(pdf_words(made)).count("W") == 10_400
    assert pages(made) >= 2


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.text(max_size=60))
def test_any_words_make_a_sheet(words: str) -> None:
    sheet = sheet_of(words)
    assert_stands_alone(html(sheet))
    assert pages(pdf(sheet)) >= 1


def test_a_row_with_a_cell_too_few_is_a_fault_of_the_caller() -> None:
    with pytest.raises(ValueError, match="each row of a table needs 2 cells"):
        Table(("a", "b"), (("c",),), (1, 1))
