"""Sheets over many flights: a tail's trends, and whether a day's work helped."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest

from analyzer.contract_squawk import around_entries
from analyzer.reports.cautions import CAUTIONS, NOT_SEEN
from analyzer.reports.entry_text import VERDICTS, entry_text
from analyzer.reports.sheets.entry_sheet import drawn_entries, entry_sheet
from analyzer.reports.sheets.html import html
from analyzer.reports.sheets.pdf import pdf
from analyzer.reports.sheets.trend_sheet import MOST_TAILS, drawn_tail, trend_sheet
from analyzer.reports.text import Style
from analyzer.reports.trend_words import change_words, outlook_words, span_words
from analyzer.reports.wording import MEASURE_LABELS, finding_label, number, unit_shown
from analyzer.squawk.around_work import SideOfWork, SymptomAroundWork
from analyzer.squawk.known import load_symptoms
from analyzer.trends.comparison import Compared
from analyzer.trends.entries import Entry
from analyzer.trends.history import FlightSummary, History, Reading, history_of
from analyzer.trends.tail_result import TailResult, tail_result
from analyzer.trends.tail_review import review_tail
from analyzer.trends.work_done import WorkOfDay, work_of_day
from tests.made_results import compared
from tests.paper import assert_stands_alone, packed, pages, pdf_words

MADE = date(2026, 10, 1)
FIRST = datetime(2026, 3, 1, 10, 0)
WORK = FIRST + timedelta(days=5 * 20 - 2)


def history(before: float, after: float, flights: int = 40, *, after_flights: int = 20, drift: float = 0.0) -> History:
    """A tail whose regulator held ``before`` V (drifting by ``drift`` V a flight) and ``after`` V from the work on."""
    noise = np.random.default_rng(3)
    summaries = []
    for place in range(flights - 20 + after_flights if flights == 40 else flights):
        start = FIRST + timedelta(days=5 * place)
        held = (before + drift * place if start < WORK else after) + float(noise.normal(0, 0.01))
        droop = float(noise.normal(5.0, 0.8))
        readings = {
            "regulated_voltage": Reading(held, held - 0.03, held + 0.03),
            "recharge_time_constant": Reading(3.0, 2.6, 3.4),
            "regulation_droop": Reading(droop, droop - 2.0, droop + 2.0),
        }
        summaries.append(
            FlightSummary(start, start + timedelta(hours=1.2), 1.2, 14, "alternator", 15.0, 15.0, 0.2, readings)
        )
    entry = Entry("N0123T", WORK, "regulator_replaced", "regulator <replaced> & set #1")
    return history_of("N0123T", summaries, [entry])


def judged(one: History) -> TailResult:
    return tail_result(review_tail(one))


def moved(flight: FlightSummary, later: timedelta = timedelta(), volts: float = 0.0) -> FlightSummary:
    """The same flight at another time, its regulator at another voltage."""
    own = flight.readings["regulated_voltage"]
    reading = Reading(own.value + volts, own.low + volts, own.high + volts)
    readings = {**flight.readings, "regulated_voltage": reading}
    return replace(flight, start=flight.start + later, end=flight.end + later, readings=readings)


@pytest.fixture(scope="module")
def drifted() -> tuple[History, TailResult]:
    one = history(13.9, 14.0, drift=0.04)
    return one, judged(one)


@pytest.fixture(scope="module")
def standing() -> tuple[History, TailResult]:
    """A drift that nothing has ended."""
    whole = history(13.9, 14.0, drift=0.04)
    one = whole.until(WORK - timedelta(days=1))
    return one, judged(one)


def assert_holds_the_tail(words: str, result: TailResult) -> None:
    shown = packed(words)
    for measure, trend in result.trends.items():
        assert packed(MEASURE_LABELS[measure]).lower() in shown.lower()
        if (now := trend.now) is not None and now.slope is not None:
            told, low, high = (round(one, 4) + 0.0 for one in (now.slope.per_100_h, now.slope.low, now.slope.high))
            slope = f"{told:+.3g} {unit_shown(trend.unit)} ({low:+.3g} to {high:+.3g})"
            assert packed(f"{MEASURE_LABELS[measure]}{number(now.level, trend.unit)}") in shown
            assert packed(slope) in shown
            assert packed(outlook_words(now, trend.unit)) in shown
            assert packed(f"{trend.points_since} flights,") in shown
            assert packed(measure) in shown
        else:
            assert packed(trend.because) in shown
    for finding in result.findings:
        assert packed(finding_label(finding.name)) in shown
        assert f"{finding.raised_at:%Y-%m-%d}" in shown
        if finding.open:
            assert packed(finding.says) in shown
            assert packed(f"reference: {finding.name}") in shown
            assert packed(finding.check[0]) in shown
    for one in result.comparisons:
        assert packed(one.entry.words) in shown
        assert packed(one.verdict) in shown
    for caution in CAUTIONS:
        assert packed(caution) in shown


@pytest.mark.parametrize("which", ["drifted", "standing"])
def test_a_tails_sheet_holds_every_number_of_its_review(which: str, request: pytest.FixtureRequest) -> None:
    one, document = request.getfixturevalue(which)
    assert (which == "standing") == bool(document.open_findings)
    sheet = trend_sheet([(document, drawn_tail(one, document))], MADE)
    page = assert_stands_alone(html(sheet))
    assert page.tags.count("img") == 3  # the measures that a flight carries
    assert_holds_the_tail(page.words, document)
    for paper in ("a4", "letter"):
        made = pdf(sheet, paper)
        assert pages(made) <= 2
        assert_holds_the_tail(pdf_words(made), document)


def test_several_tails_have_an_index_and_pages_of_their_own(drifted, standing) -> None:
    both = [(document, drawn_tail(one, document)) for one, document in (drifted, standing)]
    sheet = trend_sheet(both, MADE)
    assert sum(part.kind == "page" for part in sheet.parts) == 2
    assert pages(pdf(sheet)) <= 5
    many = trend_sheet(both[:1] * (MOST_TAILS + 1), MADE)
    assert sum(part.kind == "page" for part in many.parts) == MOST_TAILS
    assert any(f"The first {MOST_TAILS}" in getattr(part, "words", "") for part in many.parts)


def test_a_tail_without_a_flight_has_a_sheet_that_says_so() -> None:
    empty = history_of("N0123T", [], [])
    document = judged(empty)
    sheet = trend_sheet([(document, drawn_tail(empty, document))], MADE)
    words = pdf_words(pdf(sheet))
    assert "trends over 0 flights, none dated" in words
    assert "not measured on any flight" in words


def test_a_single_flight_can_be_drawn() -> None:
    one = history(14.0, 14.0, flights=1)
    document = judged(one)
    assert pages(pdf(trend_sheet([(document, drawn_tail(one, document))], MADE))) <= 2


@pytest.mark.parametrize(
    ("before", "after", "after_flights", "verdict"),
    [
        (14.9, 14.0, 20, "helped"),  # out of the band, then within it
        (14.9, 14.9, 20, "did not help"),
        (14.0, 14.9, 20, "did not help"),  # worse
        (14.9, 14.0, 2, "too few flights yet"),
    ],
)
def test_the_sheet_of_an_entry_says_whether_it_helped_with_its_numbers(
    before: float, after: float, after_flights: int, verdict: str
) -> None:
    one = history(before, after, after_flights=after_flights)
    work = work_of_day(judged(one), WORK)
    (entry,) = work.entries
    assert entry.comparison.verdict == verdict
    sheet = entry_sheet(work, drawn_entries(one, work), MADE)
    made = pdf(sheet)
    assert pages(made) <= 2
    page = assert_stands_alone(html(sheet))
    text = entry_text(work, Style(False))
    for words in (pdf_words(made), page.words, text):
        assert packed(VERDICTS[verdict]) in packed(words)
        assert packed("regulator <replaced> & set #1") in packed(words)
    for words in (pdf_words(made), page.words):
        for measure in entry.comparison.measures:
            assert packed(measure.measure) in packed(words)
            assert packed(span_words(measure.after)) in packed(words)
            if measure.difference is not None:
                assert packed(number(measure.difference.before.value, measure.unit)) in packed(words)
                assert packed(change_words(measure)) in packed(words)


def two_jobs() -> tuple[History, WorkOfDay]:
    """Two jobs of one stop, with symptoms before and after each."""
    one = history(14.9, 14.0)
    second = Entry("N0123T", WORK + timedelta(hours=1), "connection_repaired", "output lead's terminal cleaned")
    both = replace(one, entries=(*one.entries, second))
    work = work_of_day(judged(both), WORK.replace(hour=0, minute=0))
    side = {"seen": 3, "not_seen": 10, "not_observable": 2, "flights": None}
    symptoms = tuple({"symptom": name, "title": name, "before": side, "after": side} for name in ("a", "b", "c"))
    return both, replace(work, entries=tuple(replace(one, symptoms=symptoms) for one in work.entries))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_two_jobs_of_one_stop_take_two_pages_and_each_measure_is_drawn_once(paper: str) -> None:
    both, work = two_jobs()
    assert len(work.entries) == 2
    charts = drawn_entries(both, work)
    assert len({measure for _, measure in charts}) == len(charts) > 0
    assert pages(pdf(entry_sheet(work, charts, MADE), paper)) <= 2


def held_voltage(of: History) -> Compared:
    """The regulated voltage before and after the work."""
    (entry,) = work_of_day(judged(of), WORK.replace(hour=0, minute=0)).entries
    (one,) = [one for one in entry.comparison.measures if one.measure == "regulated_voltage"]
    return one


def test_the_flights_named_are_those_that_the_values_come_from() -> None:
    one = history(14.9, 14.0)
    held = held_voltage(one)
    before, after = held.before, held.after
    starts = [flight.start for flight in one.flights]
    assert before.last == max(start for start in starts if start < WORK)
    assert after.first == min(start for start in starts if start >= WORK)
    assert (before.count, after.count) == (10, 20)  # trend_recent before; all up to twice that after
    level = np.median(
        [
            flight.readings["regulated_voltage"].value
            for flight in one.flights
            if before.first <= flight.start <= before.last
        ]
    )
    assert held.difference.before.value == pytest.approx(level, abs=0.02)


def test_the_flights_named_before_work_on_a_drift_are_all_that_the_value_comes_from() -> None:
    late = history(13.9, 14.0, drift=0.04)
    early = history(13.3, 14.0, drift=0.04).flights[:15]  # fifteen flights more, along the same drift
    one = replace(late, flights=(*(moved(flight, timedelta(days=-75)) for flight in early), *late.flights))
    usual = held_voltage(one)
    named = usual.before
    assert named.count == 20  # twice trend_recent along a drift

    within = [named.first <= flight.start <= named.last for flight in one.flights]
    for inside in (True, False):
        flights = tuple(
            moved(flight, volts=-0.05) if flight.start < WORK and own is inside else flight
            for flight, own in zip(one.flights, within, strict=True)
        )
        other = held_voltage(replace(one, flights=flights))
        change = other.difference.before.value - usual.difference.before.value
        assert (abs(change) > 0.02) is inside


def test_a_measure_compared_by_its_ratio_says_times() -> None:
    difference = compared("regulated_voltage", "helped", (14.5, 14.0), (-0.5, -0.6, -0.4))
    factor = compared("recharge_time_constant", "helped", (6.0, 3.0), (0.5, 0.4, 0.62))
    assert change_words(difference) == "-0.50 V (-0.60 to -0.40)"
    assert change_words(factor) == "0.50 times (0.40 to 0.62)"


def test_a_symptom_is_counted_in_flights_on_either_side_of_the_work() -> None:
    before = SideOfWork(2, 1, 1, tuple(datetime(2026, 3, day, 10) for day in (1, 2, 3, 4)))
    after = SideOfWork(1, 2, 0, tuple(datetime(2026, 3, day, 10) for day in (9, 11, 12)))
    (one,) = around_entries([SymptomAroundWork(load_symptoms()["charging_light"], before, after)])
    ends = {"count": 4, "first": "2026-03-01T10:00:00", "last": "2026-03-04T10:00:00"}
    assert one["before"] == {"seen": 2, "not_seen": 1, "not_observable": 1, "flights": ends}
    assert (one["after"]["seen"], one["after"]["not_seen"], one["after"]["not_observable"]) == (1, 2, 0)
    whole = history(14.9, 14.0)
    work = work_of_day(judged(whole), WORK)
    work = replace(work, entries=(replace(work.entries[0], symptoms=(one,)),))
    words = pdf_words(pdf(entry_sheet(work, {}, MADE)))
    assert packed("seen in 2 of 3 flights, 1 more could not show it, 2026-03-01 to 2026-03-04") in packed(words)
    assert packed(NOT_SEEN) in packed(words)
    assert packed(NOT_SEEN) in packed(entry_text(work, Style(False)))
