"""The sheet of a flight: every number of the review stands on it, in two pages, whatever the log."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import polars as pl
import pytest
from msgspec import structs

from analyzer import __version__
from analyzer.aircraft import read_fleet
from analyzer.findings.finding import Cause
from analyzer.logs import Log, find_logs, read_log
from analyzer.measures.measure import MEASURES
from analyzer.reports.cautions import CAUTIONS, NOT_SEEN
from analyzer.reports.reference import find_topics
from analyzer.reports.sheets.flight_sheet import MOST_FLIGHTS, ROOM, Drawn, drawn, flight_sheet
from analyzer.reports.sheets.html import html
from analyzer.reports.sheets.pdf import pdf
from analyzer.reports.sheets.traceability import measure_windows
from analyzer.reports.wording import (
    FINDING_LABELS,
    TREND_FINDING_LABELS,
    finding_label,
    measure_label,
    measure_words,
)  # fmt: skip
from analyzer.results import FlightResult, LogResult, log_result
from analyzer.review import LogReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.healthy import healthy
from tests.flown import judged, with_table
from tests.paper import assert_stands_alone, packed, pages, pdf_feet, pdf_words, tidy

SAMPLES = Path(__file__).resolve().parents[3] / "sample_logs"
FILES = sorted(file.name for file in SAMPLES.glob("*.csv"))
RECORDED = ("semicolon_14v_raw_download.csv", "semicolon_14v_one_session.csv")
MADE = date(2026, 10, 1)
Reviewed = tuple[LogResult, tuple[Drawn, ...]]


def reviewed(path: Path) -> Reviewed:
    """A log's result and its flights drawn."""
    (source,) = find_logs([path])
    log = read_log(source)
    assert isinstance(log, Log)
    review = review_log(log, read_fleet(SAMPLES / "fleet.toml").of(log.tail))
    return log_result(review), tuple(drawn(one, log) for one in review.flights)


@pytest.fixture(scope="module", params=FILES)
def sample(request: pytest.FixtureRequest) -> Reviewed:
    return reviewed(SAMPLES / request.param)


@pytest.fixture(scope="module")
def trip() -> Reviewed:
    return reviewed(SAMPLES / "N012LF_2026-05-09.csv")


def assert_holds_the_flight(words: str, flight: FlightResult) -> None:
    """Every number and sentence of a flight with up to three findings is there."""
    shown = packed(words)
    for name, measure in flight.measures.items():
        assert packed(measure_label(measure)).lower() in shown.lower()
        if measure.because is None:
            assert packed(f"{measure_label(measure)} {measure_words(measure)}") in shown
            assert packed(name) in shown
        else:
            assert packed(measure.because) in shown
        assert packed(measure.note or "") in shown
    assert len(flight.findings) <= 3
    causes, checks, _ = ROOM[len(flight.findings)]
    for finding in flight.findings:
        assert packed(finding_label(finding.name)) in shown
        assert packed(finding.says) in shown
        assert packed(f"reference: {finding.name}") in shown
        for cause in finding.likely[:causes]:
            assert packed(f"{100 * cause.weight:.0f} % {cause.words}") in shown
        for check in finding.check[:checks]:
            assert packed(check) in shown
    for caution in CAUTIONS:
        assert packed(caution) in shown


@pytest.mark.long(keep=15)
def test_the_pdf_holds_every_number_of_the_review(sample: Reviewed) -> None:
    document = sample[0]
    made = pdf(flight_sheet([sample], MADE))
    words = pdf_words(made)
    assert_holds_the_flight(words, document.flights[0])
    assert packed(document.source) in packed(words)
    feet = pdf_feet(made)
    assert len(feet) == pages(made)
    assert all(f"analysis taper {__version__} · sheet made 2026-10-01" in foot for foot in feet)
    if document.tail:
        assert document.tail in words


def test_the_html_holds_every_number_of_the_review_and_stands_alone(sample: Reviewed) -> None:
    page = assert_stands_alone(html(flight_sheet([sample], MADE)))
    assert page.tags.count("img") == 1
    assert_holds_the_flight(page.words, sample[0].flights[0])


@pytest.mark.long(keep=15)  # each log, and both papers: of 14 all would be on one
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_flight_takes_two_pages_at_most(sample: Reviewed, paper: str) -> None:
    assert len(sample[0].flights[0].findings) <= 3
    alone = pages(pdf(flight_sheet([sample], MADE), paper))
    assert alone <= 2
    foretold = flight_sheet([with_outlook(sample)], MADE)
    made = pdf(foretold, paper)
    assert pages(made) == alone, "the outlook takes no page of its own"
    assert tidy(OUTLOOK) in pdf_words(made)


#: As long as one is with two limits passed.
OUTLOOK = (
    "Outlook after this flight, by the 33 flights up to it: Recharge time constant 10.4 min: past its limit of 6.0 "
    "min; Lowest cranking voltage 8.18 V: past its limit of 8.40 V."
)


def with_outlook(one: Reviewed) -> Reviewed:
    log, pictures = one
    return log, [replace(picture, outlook=OUTLOOK) for picture in pictures]


def test_a_flight_with_nothing_found_says_that_not_seen_is_not_not_there() -> None:
    calm = reviewed(SAMPLES / "N012LF_2026-05-02.csv")
    words = pdf_words(pdf(flight_sheet([calm], MADE)))
    assert tidy(NOT_SEEN) in words
    assert "Likely causes" not in words


def crowded(findings: int) -> Reviewed:
    """A log whose findings are as wordy as they come, each check and cause another."""
    (source,) = find_logs([SAMPLES / "N012LF_2026-05-09.csv"])
    log = read_log(source)
    assert isinstance(log, Log)
    (review,) = review_log(log).flights
    wordy = tuple(
        structs.replace(
            review.findings[0],
            says="The alternator stopped carrying the bus with the engine fast enough. " * 3,
            likely=tuple(
                Cause(
                    f"cause_{place}",
                    f"{place} {'a connection before it drops voltage ' * 3}"[:120],
                    1 / 7,
                    ("x " * 20,) * 6,
                )
                for place in range(7)
            ),
            check=tuple(f"{number}.{place} {'look at the breaker, ' * 6}" for place in range(8)),
        )
        for number in range(findings)
    )
    review = structs.replace(review, findings=wordy)
    notes = ("row 812: 'abc' in the voltage column is not a number; left blank " * 4,) * 5
    return log_result(LogReview(log, (review,), notes)), (drawn(review, log),)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("findings", [1, 2, 3, 6])
def test_the_wordiest_flight_still_takes_two_pages_and_says_what_is_left_out(findings: int, paper: str) -> None:
    made = pdf(flight_sheet([crowded(findings)], MADE), paper)
    assert pages(made) <= 2
    words = pdf_words(made)
    assert "Left out here:" in words
    assert ("Also found:" in words) == (findings > 3)


def test_several_flights_have_an_index_and_pages_of_their_own(trip: Reviewed) -> None:
    calm = reviewed(SAMPLES / "N037LF_2026-04-19.csv")
    refused: Reviewed = (LogResult("broken.csv", "no row of it is a reading", None, (), ()), ())
    made = pdf(flight_sheet([trip, refused, calm], MADE))
    assert 4 <= pages(made) <= 5
    words = pdf_words(made)
    for told in ("N012LF_2026-05-09.csv", "N037LF_2026-04-19.csv", "refused: no row of it is a reading"):
        assert packed(told) in packed(words)
    assert_holds_the_flight(words, trip[0].flights[0])
    assert_holds_the_flight(words, calm[0].flights[0])


def test_more_flights_than_a_document_bears_stand_in_the_index_and_it_says_so(trip: Reviewed) -> None:
    many = [trip] * (MOST_FLIGHTS + 1)
    sheet = flight_sheet(many, MADE)
    assert sum(part.kind == "page" for part in sheet.parts) == MOST_FLIGHTS
    assert any(getattr(part, "words", "") == f"The first {MOST_FLIGHTS} flights follow with pages of their own; "
               "name fewer logs for the others." for part in sheet.parts)  # fmt: skip


def test_the_same_flight_and_day_give_the_same_bytes(trip: Reviewed) -> None:
    again = reviewed(SAMPLES / "N012LF_2026-05-09.csv")
    assert pdf(flight_sheet([trip], MADE)) == pdf(flight_sheet([again], MADE))
    assert html(flight_sheet([trip], MADE)) == html(flight_sheet([again], MADE))


def test_each_measure_names_the_stretch_it_is_worked_from(trip: Reviewed) -> None:
    """By the sample's truth: power on 10:03:00, crank 10:03:52, trip 10:34:27 to 10:35:17 (sample_logs/README.md)."""
    (source,) = find_logs([SAMPLES / "N012LF_2026-05-09.csv"])
    log = read_log(source)
    assert isinstance(log, Log)
    (review,) = review_log(log).flights
    windows = measure_windows(review)
    assert windows.keys() == MEASURES.keys()
    assert windows["cranking_time"] == (52.0, 55.0)
    assert windows["prestart_discharge"] == (0.0, 52.0)
    assert windows["offline_time"] == pytest.approx((1887.0, 1937.0), abs=1.5)
    assert windows["recharge_settling_time"][1] >= windows["recharge_time_constant"][1]
    assert windows["highest_voltage"] == (review.flight.from_s, review.flight.to_s)
    for first, last in windows.values():
        assert review.flight.from_s <= first < last <= review.flight.to_s
    words = pdf_words(pdf(flight_sheet([trip], MADE)))
    assert packed("10:03:52 to 10:03:55 cranking_time") in packed(words)
    assert packed("10:34:21 to 10:35:16; reference: overvoltage_trip") in packed(words)


#: A channel that each measure is worked from, and how far it is moved.
MOVED = {
    "resting_voltage": ("bus_voltage", 0.05),
    "prestart_discharge": ("battery_current", -0.4),
    "recharge_settling_time": ("battery_current", 0.5),
    "recharge_returned": ("battery_current", 0.5),
    "recharge_peak_current": ("battery_current", 0.5),
    "maintenance_current": ("battery_current", 0.3),
    "regulated_voltage": ("bus_voltage", 0.05),
    "regulation_scatter": ("bus_voltage", 0.05),
}
#: A level moves by as much as all of its rows; times and spreads need not.
LEVELS = ("resting_voltage", "maintenance_current", "regulated_voltage")


@pytest.mark.parametrize("name", MOVED)
def test_no_row_outside_the_stretch_that_a_measure_names_moves_it(name: str) -> None:
    channel, by = MOVED[name]
    scenario = healthy(3)
    flown, review = simulate(scenario), judged(scenario)
    usual = review.measures[name].value
    first, last = measure_windows(review)[name]
    assert last - first < 0.9 * (review.flight.to_s - review.flight.from_s)  # not the whole flight
    inside = pl.col("time_s").is_between(first - 0.01, last + 0.01)

    def moved(where: pl.Expr) -> float:
        column = pl.when(where).then(pl.col(channel) + by).otherwise(pl.col(channel))
        value = judged(with_table(flown, **{channel: column})).measures[name].value
        assert value is not None
        return value

    assert moved(~inside) == pytest.approx(usual, rel=1e-3)  # which rows are settled may shift by one
    if name in LEVELS:
        assert moved(inside) - usual == pytest.approx(by, abs=0.02)


@pytest.mark.parametrize("name", RECORDED)
def test_recorded_flights_come_out_whole(shared: Path, name: str) -> None:
    log = reviewed(shared / "real_logs" / name)
    sheet = flight_sheet([log], MADE)
    flights = len(log[0].flights)
    made = pdf(sheet)
    assert pages(made) <= 2 * flights + (flights > 1)
    page = assert_stands_alone(html(sheet))
    for flight in log[0].flights:
        assert_holds_the_flight(pdf_words(made), flight)
        assert_holds_the_flight(page.words, flight)


def test_every_name_that_a_number_refers_to_is_in_the_reference() -> None:
    for name in [*MEASURES, *FINDING_LABELS, *TREND_FINDING_LABELS]:
        assert any(topic["name"] == name for topic in find_topics(name)), name
