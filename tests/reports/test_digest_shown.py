"""The digest as text and as an e-mail: what it tells, when there is nothing to tell, and names that mean harm."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime
from html.parser import HTMLParser

import pytest

from analyzer.findings.finding import Cause, Finding, FindingName, Severity
from analyzer.quantity import Quantity
from analyzer.records.changing import Disposition
from analyzer.records.digest_flights import AddedLate, FlightRef, FlightsFound
from analyzer.records.kept import KeptLog
from analyzer.records.refusals import RefusedLog
from analyzer.records.verdicts import Disposed
from analyzer.reports.digest_html import digest_html
from analyzer.reports.digest_text import digest_text
from analyzer.reports.digest_words import line_words, nothing_new, sections
from analyzer.service.digest_result import (
    CalledFixed,
    Digest,
    Helped,
    Lapsed,
    LogsToLookAt,
    NewFinding,
    NotFlown,
    OpenFinding,
    Soon,
    WorseFinding,
    WorseTrendOf,
)
from analyzer.trends.fleet_result import NextLimit
from analyzer.trends.followed_tail import Projection
from analyzer.trends.found_around import FoundAround
from analyzer.trends.since import ComingLimit, Way, WorseTrend
from tests.made_results import compared, present, trend_finding, work

HARM = "<script>alert('x')</script>&\"\x1b[31m\nN0"


def empty() -> Digest:
    logs = LogsToLookAt((), (), 0, 0)
    since, until = datetime(2026, 5, 4), datetime(2026, 5, 11, 8)
    return Digest(since, until, 3, 12, 14.5, (), (), (), (), (), (), (), logs)


def of_flights(name: str, tail: str | None, severity: str = "warning", before: Severity | None = None) -> FlightsFound:
    likely = (Cause("loose_terminal", "a loose terminal", 1.0, ()),)
    worst = Finding(
        FindingName(name), Severity(severity), 0.0, 240.0, {"minutes": Quantity(4.0, "min")},
        "It left the bus for 4 min.", likely=likely, check=("Pull on the field terminal.",),
    )  # fmt: skip
    ref = FlightRef(7, datetime(2026, 5, 6, 10))
    return FlightsFound(tail, worst.name, worst.severity, before, (ref,), worst)


def said(name: str, verdict: Disposed) -> Disposition:
    made_at = "2026-05-05T09:00:00+00:00"
    return Disposition(1, name, "regulator_high", "2026-04-01T09:00:00", verdict, name, name, None, made_at)


def nameless(number: int, source: str) -> KeptLog:
    return KeptLog(number, "", source, None, None, 10, None, (), True, "2026-05-06", "", {})


def full(name: str = "N012AB") -> Digest:
    """A digest with one item of every kind, all of one aircraft."""
    lost, weak = of_flights("alternator_offline", name), of_flights("weak_cranking", None, "caution")
    drift = trend_finding("alternator_offline", "warning", datetime(2026, 5, 6, 10))
    old = trend_finding("regulator_high", "caution", datetime(2026, 4, 1, 9), 3)
    limit = NextLimit("regulated_voltage", 14.5, Projection(50.0, 40.0, 66.0, 43.0, 52.0, 62.0))
    passed = replace(limit, reached=Projection(0.0, 0.0, 0.0, 0.0, 0.0, 0.0))
    worse = WorseTrend("regulated_voltage", Way.STEEPER, None, present(14.3, 0.4, ends=(50.0, 40.0, 66.0)))
    volts = compared("regulated_voltage", "helped", (14.9, 14.1), (-0.8, -0.9, -0.7), after=4)
    ended = FoundAround(FindingName.ALTERNATOR_OFFLINE, 6, 10, 0, 12)
    done = work("did not help", kind="connection_repaired", words=name)
    return replace(
        empty(),
        new=(
            NewFinding(name, lost, lost, said(name, Disposed.CONFIRMED)),
            NewFinding(None, weak, weak, None),
            NewFinding(name, drift, None, None),
        ),
        worse=(WorseFinding(name, lost, Severity.CAUTION), WorseTrendOf(name, worse)),
        fixed=(
            Lapsed(name, old, datetime(2026, 5, 5, 9)),
            CalledFixed(said(name, Disposed.FIXED)),
            Helped(name, work("helped", (volts,), words=name)),
            Helped(name, work("helped", (), (ended,), "connection_repaired", name)),
        ),
        soon=(
            Soon(name, 4.0, ComingLimit(limit, 14.3, Projection(12.4, 10.0, 16.4, 11.0, 12.8, 15.0))),
            Soon(name, None, ComingLimit(limit, 14.3, None)),
            Soon(name, None, ComingLimit(passed, 14.6, None)),
        ),
        still_open=(OpenFinding(name, old, done),),
        not_flown=(NotFlown(name, datetime(2026, 4, 1, 9), 40), NotFlown("N0X", None, None)),
        added_late=(AddedLate(None, 2, datetime(2026, 3, 1, 9)),),
        logs=LogsToLookAt(
            tuple(nameless(i, f"{name}{i}") for i in range(7)), (RefusedLog("2026-05-06", name, name),), 1, 2
        ),
    )


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
        assert "Not recorded does not mean" in " ".join(shown.split())
        assert "airworthy" in shown
    assert nothing_new(full()) is None
    assert "Nothing new" not in digest_text(full())


def test_with_no_flight_kept_the_text_says_so():
    assert "No flight is kept yet." in digest_text(replace(empty(), tails=0, flights=0))


def test_work_that_ended_a_finding_is_told_by_the_flights_on_both_sides():
    text = digest_text(full())
    assert "Alternator off line: found in 6 of 10 flights before, in 0 of 12 after." in " ".join(text.split())


def test_every_item_is_told_in_text_and_in_the_email_alike():
    text = re.sub(r"\s+", " ", digest_text(full()))
    page = re.sub(r"\s+", " ", " ".join(read(digest_html(full())).words))
    for section in sections(full()):
        for item in section.items:
            for words in (item.title, *map(line_words, item.lines)):
                assert re.sub(r"\s+", " ", words) in text, words
                assert re.sub(r"\s+", " ", words) in page, words
    for words in (
        "WARNING: Alternator off line",
        "warning now, caution before",
        "before: not heading for it",
        "about 12 weeks (10 to 16) at its 4.0 h a week",
        "the aircraft is not flying",
        "is past its limit",
        "Regulated voltage: 14.90 to 14.10 V (4 flights since)",
        "called fixed by N012AB on 2026-05-05",
        "raised 2026-04-01, lapsed 2026-05-05",
        "last flight 2026-04-01, 40 days ago",
        "unknown aircraft",
        "and 2 more",
        "1 log refused",
        "2 flights dated after this digest",
        "In the reference: Alternator off line",
        "1 flight added since without a clock",
    ):
        assert words in text, words
        assert words in page, words


def test_a_limit_too_unsure_for_one_number_is_told_by_its_interval():
    unsure = NextLimit("regulated_voltage", 14.5, Projection(None, 12.0, 90.0, 20.0, 45.0, 80.0))
    weeks = Projection(None, 3.0, 22.0, 5.0, 11.0, 20.0)
    told = digest_text(replace(empty(), soon=(Soon("N012AB", 4.0, ComingLimit(unsure, 14.3, weeks)),)))
    assert "in 12 to 90 engine hours; 3 to 22 weeks at its 4.0 h a week" in " ".join(told.split())
    worse = WorseTrend("regulated_voltage", Way.HEADS, None, present(14.3, 0.4, ends=(None, 12.0, 90.0)))
    told = digest_text(replace(empty(), worse=(WorseTrendOf("N012AB", worse),)))
    assert "limit 14.50 V: in 12 to 90 engine hours; before: not heading for it" in " ".join(told.split())


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
