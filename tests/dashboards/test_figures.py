"""Figures as functions: what is drawn is what was measured."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest
from msgspec import structs

pytest.importorskip("plotly")

from analyzer.contract_tails import trend_entry
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.quantity import Quantity
from analyzer.records.stored import KeptFinding
from analyzer.reports.story import story
from analyzer.reports.trend_words import outlook_words, trend_words
from analyzer.review import FlightReview, review_log
from analyzer.simulator import scenarios
from analyzer.simulator.as_log import as_log
from analyzer.simulator.simulate import simulate
from analyzer.trends.followed_tail import Began, LevelStep, Trend
from analyzer.trends.foretold import Came, Forecast, ForecastRecord
from analyzer.trends.history import FlightAt
from dashboards.figures.figure_style import LINES, PAPERS, SEVERITY
from dashboards.figures.findings_chart import findings_chart
from dashboards.figures.flight_chart import (
    POINTS,
    amperes_shown,
    flight_chart,
    lines_of,
    moments,
    points_between,
    window_of,
)
from dashboards.figures.marks import add_marks, upright
from dashboards.figures.preview_chart import preview_chart, preview_of
from dashboards.figures.thin_out import kept_rows
from dashboards.figures.time_axis import TimeAxis
from dashboards.figures.trend_chart import ChartSeries, moves, trend_chart
from tests import made_results


def review_of(name: str = "trip_with_reset", kind: str = "battery") -> FlightReview:
    maker = {**scenarios.HEALTHY, **scenarios.FAULTY}[name]
    (review,) = review_log(as_log(simulate(maker(3, 14, kind)))).flights
    return review


@pytest.fixture(scope="module")
def review() -> FlightReview:
    return review_of()


def luminance(colour: str) -> float:
    # WCAG 2.2, relative luminance of sRGB.
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS.keys())
@pytest.mark.parametrize("colour", [*LINES.values(), *(look["colour"] for look in SEVERITY.values())])
def test_every_line_stands_out_from_both_papers(colour: str, paper: str) -> None:
    # WCAG 2.2, 1.4.11: 3:1 for what must be seen to understand a graphic.
    assert contrast(colour, paper) >= 3.0


def test_contrast_is_computed_as_published() -> None:
    # WCAG 2.2: white on black is 21:1.
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)


def test_every_severity_has_a_mark_a_symbol_and_a_word_of_its_own() -> None:
    for key in ("mark", "word"):
        assert len({look[key] for look in SEVERITY.values()}) == len(SEVERITY)
    assert len({SEVERITY[name]["symbol"] for name in ("warning", "caution", "advisory")}) == 3


def test_thinning_keeps_the_extremes_the_ends_and_the_order() -> None:
    values = np.random.default_rng(1).normal(size=100_000)
    values[[12_345, 77_777]] = 50.0, -50.0
    rows = kept_rows(values, 2000)
    assert rows.size <= 2600
    assert {0, 12_345, 77_777, 99_999} <= set(rows.tolist())
    assert all(first < second for first, second in pairwise(rows.tolist()))


def test_thinning_keeps_a_gap_of_a_single_reading() -> None:
    values = np.sin(np.arange(50_000) / 100.0)
    values[31_000] = np.nan
    rows = kept_rows(values, 1000)
    assert np.isnan(values[rows]).sum() == 1


def test_thinning_leaves_a_short_trace_as_it_is() -> None:
    assert kept_rows(np.arange(50.0), 1000).size == 50


def test_thinning_survives_a_trace_without_any_reading() -> None:
    assert np.isnan(np.full(9000, np.nan)[kept_rows(np.full(9000, np.nan), 400)]).all()


@pytest.mark.parametrize("start", [datetime(2026, 5, 9, 10, 3), None])
@pytest.mark.parametrize("seconds", [0.0, 1881.25, 20_000.0])
def test_a_place_on_the_axis_leads_back_to_its_moment(start: datetime | None, seconds: float) -> None:
    axis = TimeAxis(start)
    assert axis.seconds(float(axis.place(seconds))) == pytest.approx(seconds, abs=1e-3)


def test_a_place_that_the_browser_says_in_words_is_understood() -> None:
    axis = TimeAxis(datetime(2026, 5, 9, 10, 3))
    assert axis.seconds("2026-05-09 10:34:21.5") == pytest.approx(1881.5)


@pytest.mark.parametrize(("start", "words"), [(datetime(2026, 5, 9, 10, 3), True), (None, False)])
def test_words_are_a_place_only_on_an_axis_of_dates(start: datetime | None, words: bool) -> None:
    assert TimeAxis(start).has("2026-05-09 10:34:21.5") == words
    assert TimeAxis(start).has(31.4)


def test_the_chart_draws_every_channel_that_was_recorded_and_no_other(review: FlightReview) -> None:
    names = [line.channel for line in lines_of(review.flight.trace)]
    assert names == ["bus_voltage", "battery_current", "engine_speed", "outside_air_temperature"]
    drawn = [trace for trace in flight_chart(review).data if isinstance(trace, go.Scatter) and trace.mode == "lines"]
    assert len(drawn) == len(names) + 1  # and the fit


def test_the_fit_is_drawn_from_the_fit_itself(review: FlightReview) -> None:
    found = review.flight.recharge
    assert found is not None
    assert found.decay is not None
    (fit,) = [trace for trace in flight_chart(review).data if trace.name == "Fitted recharge"]
    assert fit.y[0] == pytest.approx(found.decay.level + found.decay.amplitude, rel=1e-5)


def test_every_finding_frames_its_window(review: FlightReview) -> None:
    (finding,) = review.findings
    frames = [shape for shape in flight_chart(review).layout.shapes if shape.label.text]
    axis = TimeAxis(review.flight.clock_start)
    assert [(frame.x0, frame.x1) for frame in frames] == [(axis.place(finding.from_s), axis.place(finding.to_s))]
    assert SEVERITY[finding.severity]["mark"] in frames[0].label.text


def test_the_shown_window_has_every_reading_of_a_short_stretch(review: FlightReview) -> None:
    (finding,) = review.findings
    first, last = window_of(review.flight, finding.from_s, finding.to_s)
    assert review.flight.from_s <= first < finding.from_s
    assert finding.to_s < last <= review.flight.to_s
    points = points_between(review.flight, first, last)[0]
    axis = TimeAxis(review.flight.clock_start)
    inside = [axis.seconds(float(x)) for x in points["x"]]
    rows = (review.flight.trace.time >= first) & (review.flight.trace.time < last)
    assert sum(first <= at < last for at in inside) == int(rows.sum())


def test_a_long_trace_travels_thinned_out() -> None:
    long = review_of("healthy")
    trace = long.flight.trace
    assert trace.time.size > POINTS
    for points in points_between(long.flight, long.flight.from_s, long.flight.to_s):
        assert len(points["x"]) < 1.4 * POINTS


def test_cranking_does_not_press_the_amperes_flat_unless_it_is_looked_at(review: FlightReview) -> None:
    flight = review.flight
    whole = amperes_shown(flight, flight.from_s, flight.to_s)
    start = float(flight.trace.time[flight.first_crank])
    close = amperes_shown(flight, start - 20.0, start + 60.0)
    assert whole[0] > -40.0
    assert close[0] < -80.0


def test_moments_that_would_overlap_stand_as_one_and_part_when_looked_at_closely(review: FlightReview) -> None:
    told, axis = story(review), TimeAxis(review.flight.clock_start)
    whole = moments(told, axis, review.flight.from_s, review.flight.to_s)
    close = moments(told, axis, 40.0, 100.0)
    assert len(whole["text"]) < len(close["text"])
    assert "–" in whole["text"][0]


@pytest.mark.parametrize("width", [290.0, 700.0, 1100.0])
def test_no_two_of_the_story_s_numbers_are_nearer_than_a_mark_is_wide(review: FlightReview, width: float) -> None:
    told, axis = story(review), TimeAxis(review.flight.clock_start)
    first, last = review.flight.from_s, review.flight.to_s
    places = np.asarray(moments(told, axis, first, last, width)["x"], dtype=np.float64)
    pixels = (places - float(axis.place(first))) / axis.unit / (last - first) * width
    assert pixels.size > 1
    assert np.diff(pixels).min() >= 29.9


def test_limits_are_told_in_the_legend_where_no_line_runs_through_them(review: FlightReview) -> None:
    layout = flight_chart(review).layout
    assert not layout.annotations
    told = [shape.name for shape in layout.shapes if shape.showlegend]
    low, high = (review.flight.limits[f"regulated_{end}"] for end in ("low", "high"))
    assert told == [f"Band for the regulator, {low:.1f} to {high:.1f} V", "Overvoltage, 16.0 V"]


@pytest.mark.parametrize(
    ("from_part", "to_part", "side"), [(0.1, 0.3, "left"), (0.6, 1.0, "right"), (0.0, 1.0, "left")]
)
def test_a_finding_s_words_stand_where_there_is_room_for_them(
    review: FlightReview, from_part: float, to_part: float, side: str
) -> None:
    first, lasts = review.flight.from_s, review.flight.to_s - review.flight.from_s
    moved = structs.replace(review.findings[0], from_s=first + from_part * lasts, to_s=first + to_part * lasts)
    (frame,) = [
        shape for shape in flight_chart(structs.replace(review, findings=[moved])).layout.shapes if shape.label.text
    ]
    assert frame.label.textposition == f"bottom {side}"


@pytest.mark.long(keep=25)
@pytest.mark.parametrize("name", sorted(scenarios.HEALTHY) + sorted(scenarios.FAULTY))
@pytest.mark.parametrize("kind", ["battery", "alternator", "none"])
def test_every_flight_can_be_drawn(name: str, kind: str) -> None:
    review = review_of(name, kind)
    figure = flight_chart(review, story(review))
    assert "NaN" not in str(figure.layout.xaxis.range)
    assert figure.to_json()


def history(
    values: list[float], measure: str = "regulated_voltage", limits: tuple[float, ...] = (13.4, 14.5)
) -> ChartSeries:
    starts = tuple(datetime(2026, 3, 1) + timedelta(days=7 * place) for place in range(len(values)))
    own = np.array(values)
    hours, ids = 1.2 * np.arange(own.size), tuple(range(1, own.size + 1))
    return ChartSeries(measure, starts, hours, own, own - 0.05, own + 0.05, own, ids, limits)


def trend(**more: Any) -> Trend:
    usual = {"slope": 0.9, "low": 0.6, "high": 1.2, "ends": (33.0, 25.0, 50.0)}
    return made_results.trend(**usual | more)


def test_both_limits_of_a_band_are_drawn_and_the_near_ones_are_within_the_chart() -> None:
    layout = trend_chart(history([14.0, 14.1, 14.4]), trend()).layout
    band, *lines = layout.shapes
    assert [shape.y0 for shape in lines] == [13.4, 14.5]
    assert (band.y0, band.y1) == (13.4, 14.5)
    low, high = layout.yaxis.range
    assert low < 13.4
    assert high > 14.5
    assert [note.text.strip() for note in layout.annotations] == ["limit 13.40", "limit 14.50"]
    assert all(note.xanchor == "left" and note.x == 1.0 for note in layout.annotations), "outside the plot"


def test_a_limit_is_red_only_where_it_is_crossed() -> None:
    red = SEVERITY["warning"]["colour"]
    _, low, high = trend_chart(history([14.0, 14.1, 14.6]), trend()).layout.shapes
    assert (low.line.color == red, high.line.color == red) == (False, True)
    _, low, high = trend_chart(history([13.3, 14.1, 14.2]), trend()).layout.shapes
    assert (low.line.color == red, high.line.color == red) == (True, False)
    band, only = trend_chart(history([5.0, 6.0], "recharge_time_constant", (7.0,)), trend()).layout.shapes
    assert only.line.color != red
    assert band.y1 == 7.0, "below the limit is good"
    band, only = trend_chart(history([9.0, 7.0], "cranking_voltage", (8.0,)), trend()).layout.shapes
    assert only.line.color == red
    assert band.y0 == 8.0, "above the limit is good"


def test_a_trend_is_said_with_its_interval_and_when_it_reaches_its_limit() -> None:
    words = trend_words(trend())
    assert words.startswith("14.20 V now; limit 14.50 V.")
    assert "Rising 0.90 V per 100 engine hours (0.60 to 1.20)" in words
    assert words.endswith("Reaches it in about 33 engine hours (25 to 50): 1 in 10 by 25 h, 1 in 2 by 33 h.")
    sinking = trend_words(trend(slope=-0.9, low=-1.2, high=-0.6))
    assert "Falling 0.90 V per 100 engine hours (0.60 to 1.20)" in sinking


def test_a_trend_says_what_the_measure_was_by_the_month_of_its_first_flights() -> None:
    began = replace(trend(), began=Began(14.0, datetime(2026, 3, 2, 10)))
    assert "14.20 V now, was 14.00 V in March 2026; limit" in trend_words(began)
    assert "was" not in trend_words(trend())


def test_what_moves_is_told_apart_from_what_is_steady() -> None:
    assert moves(trend())
    assert not moves(trend(low=-0.2))
    assert not moves(made_results.untold("only 3 flights measured it"))


def test_a_forecast_is_told_with_the_record_of_earlier_ones() -> None:
    made = [Forecast(FlightAt(9, None), 50.0, 20.0, 90.0, came) for came in (Came.HELD, Came.HELD, Came.LATER)]
    told = replace(trend(), record=ForecastRecord(tuple(made)))
    assert trend_words(told).endswith(" Record: of 3 earlier forecasts 2 held, 1 came later.")
    assert "Record" not in trend_words(trend())


def test_a_slope_whose_interval_holds_zero_is_no_clear_trend_and_a_level_past_its_limit_is_still_said() -> None:
    words = trend_words(trend(low=-0.2, ends=None))
    assert words == "14.20 V now; no clear trend (change per 100 engine hours -0.20 to 1.20 V)."
    worn = trend_words(
        made_results.trend(
            "recharge_time_constant", level=7.0, limit=6.0, slope=0.5, low=-0.2, high=1.2, ends=None, past=True
        )
    )
    assert worn.startswith("7.0 min now, past its limit of 6.0 min; no clear trend (")


def test_a_level_that_comes_back_to_its_limit_and_one_whose_time_is_untold_are_said_so() -> None:
    back = trend_words(made_results.trend(level=14.7, slope=-0.9, low=-1.2, high=-0.6, ends=None, past=True))
    assert back.endswith(" Past its limit, moving back.")
    assert trend_words(trend(ends=None)).endswith(" When it reaches its limit cannot be told yet.")
    away = trend_words(trend(slope=-0.9, low=-1.2, high=-0.6, ends=None))
    assert away.endswith("per 100 engine hours (0.60 to 1.20).")


def test_a_trend_that_cannot_be_told_says_why() -> None:
    assert trend_words(made_results.untold("only 3 flights measured it")) == "No trend: only 3 flights measured it."


def test_the_projection_is_drawn_only_along_engine_hours() -> None:
    points = history([14.0 + 0.01 * n for n in range(20)])
    assert len(trend_chart(points, trend(), along="date").data) == 2
    assert len(trend_chart(points, trend(), along="hours").data) == 4


def test_the_projection_ends_where_its_hours_lie_after_the_last_flight_that_may_not_have_measured_it() -> None:
    points = history([14.0, 14.1, 14.0])
    told = trend()
    late = replace(told, now=replace(told.now, flown_since=7.0))
    last, ahead = points.hours[-1], told.projection
    for shown, since in ((told, 0.0), (late, 7.0)):
        band, middle = trend_chart(points, shown, along="hours").data[-2:]
        assert list(band.x) == [last, last + since + ahead.earliest, last + since + ahead.latest, last]
        assert list(middle.x) == [last, last + since + ahead.likely]


def test_where_no_one_number_is_told_the_band_alone_is_drawn_and_the_words_say_so() -> None:
    points, unsure = history([14.0, 14.1, 14.0]), trend(ends=(None, 12.0, 90.0))
    *_, band = shown = trend_chart(points, unsure, along="hours").data
    assert len(shown) == len(trend_chart(points, trend(), along="hours").data) - 1
    assert list(band.x)[1:3] == [points.hours[-1] + 12.0, points.hours[-1] + 90.0]
    assert trend_words(unsure).endswith(
        "Reaches it in 12 to 90 engine hours, too unsure for one number: 1 in 10 by 12 h, 1 in 2 by 51 h."
    )
    assert outlook_words(unsure.now, "V") == "reaches 14.50 V in 12 to 90 h"
    told = trend_entry(unsure)
    assert (told.reaches_limit_in_h, told.earliest_h, told.latest_h) == (None, 12.0, 90.0)


@pytest.mark.parametrize(("shown", "count"), [("both", 2), ("raw", 1), ("adjusted", 1)])
def test_raw_and_adjusted_points_can_be_shown_apart(shown: str, count: int) -> None:
    assert len(trend_chart(history([14.0, 14.1, 14.0]), trend(), shown=shown).data) == count


def test_entries_and_steps_are_marked_with_words() -> None:
    points = history([14.0] * 10)
    entry = (datetime(2026, 3, 20), 4.0, "regulator_replaced", "a new one")
    step = LevelStep(datetime(2026, 4, 5), 5, 14.0, 14.3, 0.01)
    words = [note.text for note in trend_chart(points, trend(changes=(step,)), [entry]).layout.annotations]
    assert any("regulator replaced" in text for text in words)
    assert any("step to 14.30 V" in text for text in words)


def test_a_meters_own_steps_do_not_fill_the_chart() -> None:
    low, high = trend_chart(history([14.1, 14.2, 14.1, 14.2], limits=()), trend()).layout.yaxis.range
    assert high - low == pytest.approx(0.8)


def of_flight(severity: str, start: datetime | None, flight_id: int) -> KeptFinding:
    evidence = {"peak_voltage": Quantity(16.4, "V")}
    found = Finding(FindingName.OVERVOLTAGE_TRIP, Severity(severity), 0.0, 9.0, evidence, "Tripped.")
    return KeptFinding(found, flight_id, "N012AB", start)


def test_findings_over_time_show_each_kind_once_and_open_ones_to_the_end() -> None:
    many = [made_results.trend_finding(raised_at=datetime(2026, 4, 1, 10), raised_flight=9)]
    single = [
        of_flight("caution", datetime(2026, 5, 9, 10, 34, 21), 7),
        of_flight("warning", datetime(2026, 5, 16, 10, 34, 21), 8),
    ]
    since, until = datetime(2026, 3, 1), datetime(2026, 6, 1)
    figure = findings_chart(many, single, [(datetime(2026, 5, 12), "regulator_replaced", "")], since, until)
    assert figure.data[0].x[1] == until
    assert {row for trace in figure.data for row in trace.y} == {"Regulated voltage drifts", "Overvoltage trip"}
    assert [trace.marker.symbol for trace in figure.data[1:]] == [SEVERITY[s]["symbol"] for s in ("caution", "warning")]


def test_without_a_clock_findings_and_points_lie_at_their_flights_numbers() -> None:
    many = [made_results.trend_finding(raised_at=None, raised_flight=4, lapsed_flight=9)]
    single = [of_flight("caution", None, 70)]
    work = [(datetime(2026, 5, 12), "regulator_replaced", "")]
    figure = findings_chart(many, single, work, 1, 12, {70: 11})
    assert list(figure.data[0].x) == [5, 10]
    assert "raised at flight 5, ended at flight 10" in figure.data[0].hovertemplate
    assert (list(figure.data[1].x), figure.data[1].customdata[0][1]) == ([11], "flight 11")
    assert not figure.layout.shapes
    bare = replace(history([14.1, 14.2, 14.3]), starts=(None,) * 3, flights=(0, 2, 5))
    step = LevelStep(None, 2, 14.1, 14.2, 0.01)
    works = [(datetime(2026, 5, 12), 3.0, "regulator_replaced", "")]
    for along, places, at in (("date", [1, 3, 6], 3), ("hours", list(bare.hours), bare.hours[1])):
        drawn = trend_chart(bare, trend(changes=(step,)), works if along == "date" else (), along=along)
        assert list(drawn.data[0].x) == pytest.approx(places)
        assert [row[1] for row in drawn.data[0].customdata] == ["flight 1", "flight 3", "flight 6"]
        assert [shape.x0 for shape in drawn.layout.shapes if shape.yref == "paper"] == [at]


def test_the_preview_of_a_log_shows_its_roles() -> None:
    log = as_log(simulate(scenarios.HEALTHY["healthy"](3, 14, "alternator")))
    figure = preview_chart(preview_of(log))
    assert [trace.name for trace in figure.data][:2] == ["Bus voltage", "Alternator current"]


def test_hundreds_of_entries_are_marked_beside_what_a_chart_has_and_in_little_time() -> None:
    figure = go.Figure(layout={"shapes": [{"type": "line"}], "annotations": [{"text": "limit"}]})
    begun = time.process_time()
    add_marks(figure, [(upright(at, "dash"), {"x": at, "text": str(at)}) for at in range(500)])
    assert time.process_time() - begun < 5.0  # one by one it takes minutes
    assert [one.x0 for one in figure.layout.shapes] == [None, *range(500)]
    assert [one.text for one in figure.layout.annotations] == ["limit", *map(str, range(500))]
