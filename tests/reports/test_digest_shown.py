"""The digest as text and as an e-mail: what it tells, when there is nothing to tell, and names that mean harm."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from analyzer.reports.digest_html import digest_html
from analyzer.reports.digest_text import digest_text
from analyzer.reports.digest_words import nothing_new, sections

HARM = "<script>alert('x')</script>&\"\x1b[31m\nN0"


def empty() -> dict:
    return {
        "contract": 1, "since": "2026-05-04T00:00:00", "as_of": "2026-05-11T08:00:00", "tails": 3, "flights": 12,
        "hours": 14.5, "new": [], "worse": [], "fixed": [], "soon": [], "still_open": [], "not_flown": [],
        "added_late": [],
        "logs": {"without_tail": [], "refused": [], "without_clock": 0, "dated_later": 0},
    }  # fmt: skip


def finding(**more: object) -> dict:
    likely = [{"cause": "a loose terminal", "weight": 1.0, "why": []}]
    flights = [{"id": 7, "start": "2026-05-06T10:00:00"}]
    return {
        "tail": "N012AB", "finding": "alternator_offline", "severity": "warning", "says": "It left the bus for 4 min.",
        "likely": likely, "check": ["Pull on the field terminal."], "flights": flights,
        "over": "single flights",
    } | more  # fmt: skip


def full(name: str = "N012AB") -> dict:
    """A digest with one item of every kind, all of one aircraft."""
    unknown = {"reaches_limit_in_h": None, "slope_per_100h": None, "level": None}
    trend = {"level": 14.3, "slope_per_100h": 0.4, "reaches_limit_in_h": 50.0}
    limit = {
        "level": 14.3,
        "limit": 14.5,
        "unit": "V",
        "reaches_limit_in_h": 50.0,
        "earliest_h": 40.0,
        "latest_h": 66.0,
    }
    nameless = [{"id": i, "source": f"{name}{i}", "start": None, "added_at": "2026-05-06"} for i in range(7)]
    helped = {"measure": "regulated_voltage", "unit": "V", "before": 14.9, "after": 14.1, "flights_after": 4}
    work = {"when": "2026-05-06T12:00:00", "kind": "connection_repaired", "words": name, "verdict": "did not help"}
    return empty() | {
        "new": [
            finding(tail=name, disposition={"verdict": "confirmed", "who": name, "words": name}),
            finding(tail=None, disposition=None, finding="weak_cranking", severity="caution"),
            finding(tail=name, disposition=None, raised_at="2026-05-06T10:00:00", raised_flight=8,
                    over="many flights", flights=[]),
        ],
        "worse": [
            finding(tail=name, what="finding", severity_then="caution"),
            {"what": "trend", "tail": name, "measure": "regulated_voltage", "way": "steeper", "unit": "V",
             "limit": 14.5, "then": unknown, "now": trend},
        ],
        "fixed": [
            {"how": "lapsed", "at": "2026-05-05T09:00:00", "tail": name, "finding": "regulator_high",
             "raised_at": "2026-04-01T09:00:00", "raised_flight": 3},
            {"how": "called fixed", "at": "2026-05-05T09:00:00+00:00", "tail": name, "finding": "regulator_high",
             "raised_at": "2026-04-01T09:00:00", "who": name, "words": name},
            {"how": "entry helped", "at": "2026-05-05T09:00:00", "tail": name, "kind": "regulator_replaced",
             "words": name, "measures": [helped], "findings": []},
            {"how": "entry helped", "at": "2026-05-06T09:00:00", "tail": name, "kind": "connection_repaired",
             "words": name, "measures": [],
             "findings": [{"finding": "alternator_offline", "before": 6, "flights_before": 10, "after": 0,
                           "flights_after": 12}]},
        ],
        "soon": [
            limit | {"tail": name, "measure": "regulated_voltage", "past": False, "hours_a_week": 4.0,
                     "weeks": {"likely": 12.5, "earliest": 10.0, "latest": 16.5}},
            limit | {"tail": name, "measure": "regulated_voltage", "past": False, "hours_a_week": None, "weeks": None},
            limit | {"tail": name, "measure": "regulated_voltage", "past": True, "hours_a_week": None, "weeks": None},
        ],
        "still_open": [finding(tail=name, raised_at="2026-04-01T09:00:00", raised_flight=3, work=work)],
        "not_flown": [{"tail": name, "last_flight": "2026-04-01T09:00:00", "days": 40},
                      {"tail": "N0X", "last_flight": None, "days": None}],
        "added_late": [{"tail": None, "flights": 2, "earliest": "2026-03-01T09:00:00"}],
        "logs": {
            "without_tail": nameless,
            "refused": [{"source": name, "because": name, "at": "2026-05-06"}],
            "without_clock": 1,
            "dated_later": 2,
        },
    }  # fmt: skip


class Page(HTMLParser):
    """Tags and text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: set[str] = set()
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def read(page: str) -> Page:
    parser = Page()
    parser.feed(page)
    return parser


def test_when_nothing_changed_that_is_said_and_that_not_seen_is_not_never_there():
    for shown in (digest_text(empty()), " ".join(read(digest_html(empty())).words)):
        assert "Nothing new since 2026-05-04" in shown
        assert "Not recorded does not mean" in shown
        assert "airworthy" in shown
    assert nothing_new(full()) is None
    assert "Nothing new" not in digest_text(full())


def test_with_no_flight_kept_the_text_says_how_to_begin():
    assert "taper add PATH" in digest_text(empty() | {"tails": 0, "flights": 0})


def test_work_that_ended_a_finding_is_told_by_the_flights_on_both_sides():
    text = digest_text(full())
    assert "Alternator off the bus: found in 6 of 10 flights before, in 0 of 12 after." in " ".join(text.split())


def test_every_item_is_told_in_text_and_in_the_email_alike():
    text = re.sub(r"\s+", " ", digest_text(full()))
    page = re.sub(r"\s+", " ", " ".join(read(digest_html(full())).words))
    for section in sections(full()):
        for item in section.items:
            for words in (item.title, *item.lines):
                assert re.sub(r"\s+", " ", words) in text, words
                assert re.sub(r"\s+", " ", words) in page, words
    for words in (
        "WARNING: Alternator off the bus",
        "warning now, caution before",
        "before: no trend to it",
        "about 12 weeks (10 to 16) at its 4.0 h a week",
        "the aircraft is not flying",
        "is past its limit",
        "14.90 V before, 14.10 V after (4 flights since)",
        "called fixed by N012AB on 2026-05-05",
        "raised 2026-04-01, lapsed 2026-05-05",
        "last flight 2026-04-01, 40 days ago",
        "unknown aircraft",
        "and 2 more",
        "1 log refused",
        "2 flights dated after this digest",
        "reference: alternator_offline",
        "1 flight added since without a clock",
    ):
        assert words in text, words
        assert words in page, words


def test_the_email_is_one_file_without_script_style_sheet_or_anything_to_load():
    page = read(digest_html(full()))
    assert set(page.tags) <= {
        "html", "head", "meta", "title", "body", "h1", "h2", "p", "ul", "li", "strong", "span", "br",
    }  # fmt: skip
    assert page.attributes <= {"lang", "charset", "style"}
    assert "url(" not in digest_html(full())


def test_a_severity_stands_in_words_beside_its_colour():
    page = digest_html(full())
    coloured = re.findall(r'<strong style="color:#\w+">(\w+):', page)
    assert len(coloured) == page.count('style="color:#a40000"') + page.count('style="color:#7a4b00"')
    assert set(coloured) == {"WARNING", "CAUTION"}


@pytest.mark.parametrize("name", [HARM, "]]>", "{{7*7}}", "\u202eN0"])
def test_names_that_mean_harm_do_none(name):
    page = digest_html(full(name))
    assert "<script" not in page
    assert read(page).tags.count("li") == sum(len(section.items) for section in sections(full(name)))
    assert "\x1b" not in page
    text = digest_text(full(name))
    assert all(character.isprintable() or character == "\n" for character in text)
