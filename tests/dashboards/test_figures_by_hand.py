"""Figures worked out on paper: where points, limits, bands and panels stand, and what thinning may leave out."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

pytest.importorskip("plotly")

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from analyzer.findings.finding import Severity
from analyzer.trends.followed_tail import LevelStep
from dashboards.figures.compare_chart import compare_chart
from dashboards.figures.figure_style import SEVERITY, faded
from dashboards.figures.findings_chart import findings_chart
from dashboards.figures.preview_chart import Preview, preview_chart
from dashboards.figures.tails_chart import tails_chart
from dashboards.figures.thin_out import kept_rows
from dashboards.figures.time_axis import TimeAxis
from dashboards.figures.trend_chart import MOST_DRAWN, ChartSeries, is_thinned, is_window, shown_points, trend_chart
from tests import made_results

FEW = settings(max_examples=40)
READINGS = arrays.arrays(np.float64, st.integers(9, 200), elements=st.floats(-50.0, 50.0) | st.just(np.nan))


@FEW
@given(values=READINGS, most=st.integers(8, 60))
def test_thinning_keeps_the_lowest_the_highest_the_ends_and_the_gaps_of_each_stretch(values: Any, most: int) -> None:
    """A surge of one row that a chart leaves out is a surge that nobody sees."""
    rows = kept_rows(values, most)
    assert rows.tolist() == sorted(set(rows.tolist()))
    assert {0, values.size - 1} <= set(rows.tolist())
    shown = values[rows]
    if np.isfinite(values).any():
        assert np.nanmin(shown) == np.nanmin(values)
        assert np.nanmax(shown) == np.nanmax(values)
    assert np.isnan(shown).any() == np.isnan(values).any()
    bins = max(2, most // 4)
    assert rows.size <= max(most, 5 * bins), "ends, extremes and a gap of each bin"


@FEW
@given(values=READINGS, most=st.integers(8, 60))
def test_each_stretch_of_a_thinned_trace_has_its_own_extremes(values: Any, most: int) -> None:
    if values.size <= most:
        return
    kept = set(kept_rows(values, most).tolist())
    edges = np.linspace(0, values.size, max(2, most // 4) + 1).astype(int)
    for first, end in pairwise(edges.tolist()):
        part = values[first:end]
        of_part = values[sorted(row for row in kept if first <= row < end)]
        if np.isfinite(part).any():
            assert (np.nanmin(of_part), np.nanmax(of_part)) == (np.nanmin(part), np.nanmax(part))


@pytest.mark.parametrize(("size", "most", "thinned"), [(8, 8, False), (9, 8, True), (1, 8, False), (0, 8, False)])
def test_a_trace_is_thinned_only_where_it_is_longer_than_may_be_drawn(size: int, most: int, thinned: bool) -> None:
    assert (kept_rows(np.arange(float(size)), most).size < size) is thinned


@pytest.mark.parametrize(
    ("start", "seconds", "place", "words"),
    [
        # Milliseconds from 1970: 9 May 2026 is day 20582, 10:03 the 36 180th second of it.
        (datetime(2026, 5, 9, 10, 3), 0.0, (20582 * 86400 + 36180) * 1000.0, "10:03:00"),
        (datetime(2026, 5, 9, 10, 3), 90.25, (20582 * 86400 + 36270) * 1000.0 + 250.0, "10:04:30"),
        (datetime(2026, 5, 9, 23, 59), 61.0, (20583 * 86400) * 1000.0 + 1000.0, "00:00:01"),
        (None, 90.0, 1.5, "1.5 min"),
        (None, 0.0, 0.0, "0.0 min"),
    ],
)
def test_a_moment_s_place_on_the_axis(start: datetime | None, seconds: float, place: float, words: str) -> None:
    axis = TimeAxis(start)
    assert axis.place(seconds) == pytest.approx(place, rel=0.0, abs=0.01)
    assert np.asarray(axis.place(np.array([seconds, seconds]))) == pytest.approx(place, rel=0.0, abs=0.01)
    assert (axis.title, axis.kind) == (
        ("clock of the log", "date") if start else ("minutes from the start of the log", "linear")
    )
    assert axis.words(seconds) == words


def test_a_place_in_words_with_a_zone_is_the_log_s_own_clock() -> None:
    # The browser may add a zone to what it sends; the log's clock has none.
    axis = TimeAxis(datetime(2026, 5, 9, 10, 3))
    assert axis.seconds("2026-05-09T10:04:00Z") == pytest.approx(60.0)
    assert axis.seconds("2026-05-09 10:02") == pytest.approx(-60.0)


@pytest.mark.parametrize(
    ("colour", "share", "told"),
    [
        ("#000000", 0.5, "rgba(0,0,0,0.5)"),
        ("#ff8001", 0.08, "rgba(255,128,1,0.08)"),
        ("#10ff0f", 1.0, "rgba(16,255,15,1)"),
    ],
)
def test_a_faded_colour(colour: str, share: float, told: str) -> None:
    assert faded(colour, share) == told


def series(
    values: list[float], measure: str = "regulated_voltage", limits: tuple[float, ...] = (13.4, 14.5), **more: Any
) -> ChartSeries:
    """A flight a week, 1.5 engine hours each; corrected values as recorded unless given."""
    own = np.array(values)
    told = {
        "starts": tuple(datetime(2026, 3, 1) + timedelta(days=7 * place) for place in range(own.size)),
        "hours": 1.5 * np.arange(own.size), "value": own, "low": own - 0.05, "high": own + 0.05, "adjusted": own,
        "flight_ids": tuple(range(101, 101 + own.size)), "limits": limits, "flights": tuple(range(own.size)),
    }  # fmt: skip
    return ChartSeries(measure, **told | more)


@pytest.mark.parametrize(
    ("values", "limits", "ends"),
    [
        # A span of 0.2 V is drawn 0.8 V high: 0.3 V of room to both sides.
        pytest.param([14.0, 14.2], (), (13.7, 14.5), id="narrower than a meter's steps"),
        # A span of 1 V has 12 % of room.
        pytest.param([13.5, 14.5], (), (13.38, 14.62), id="wider"),
        # Both limits lie within one and a half spans of 0.8 V: the axis holds 13.4 to 14.5 and 12 % of its 1.1 V.
        pytest.param([14.0, 14.2], (13.4, 14.5), (13.268, 14.632), id="with both limits"),
        # 14.0 - 1.5 x 0.8 = 12.8: a limit of 12.8 lies too far away, 12.81 does not.
        pytest.param([14.0, 14.2], (12.8,), (13.7, 14.5), id="a limit too far away"),
        pytest.param([14.0, 14.2], (12.81,), (12.81 - 0.12 * 1.39, 14.2 + 0.12 * 1.39), id="a limit just near enough"),
        pytest.param([0.05, 0.06], (), (0.0, 0.455), id="an axis of volts never falls below zero"),
    ],
)
def test_the_height_of_a_trend_s_axis(
    values: list[float], limits: tuple[float, ...], ends: tuple[float, float]
) -> None:
    layout = trend_chart(series(values, limits=limits), made_results.trend()).layout
    assert tuple(layout.yaxis.range) == pytest.approx(ends)
    drawn = [limit for limit in limits if ends[0] <= limit <= ends[1]]
    assert len(layout.annotations) == len(drawn), "a limit's number stands only where its line is"


def test_an_axis_holds_recorded_and_corrected_values_both() -> None:
    shown = trend_chart(series([14.0, 14.2], limits=(), adjusted=np.array([13.2, 14.9])), made_results.trend())
    low, high = shown.layout.yaxis.range
    assert (low, high) == pytest.approx((13.2 - 0.12 * 1.7, 14.9 + 0.12 * 1.7))


@pytest.mark.parametrize(
    ("measure", "limits", "good"),
    [
        pytest.param("regulated_voltage", (13.4, 14.5), (13.4, 14.5), id="a band"),
        pytest.param("recharge_time_constant", (6.0,), (None, 6.0), id="good below"),
        pytest.param("cranking_voltage", (8.0,), (8.0, None), id="good above"),
    ],
)
def test_the_good_band_reaches_to_the_chart_s_end_where_no_limit_bounds_it(
    measure: str, limits: tuple[float, ...], good: tuple[float | None, float | None]
) -> None:
    values = [limits[0] + 0.1, limits[0] - 0.1]
    layout = trend_chart(series(values, measure, limits), made_results.trend(measure)).layout
    low, high = layout.yaxis.range
    band = layout.shapes[0]
    assert (band.y0, band.y1) == pytest.approx((good[0] if good[0] else low, good[1] if good[1] else high))


@pytest.mark.parametrize(("value", "crossed"), [(14.49, False), (14.5, False), (14.51, True)])
def test_a_limit_is_crossed_beyond_it_and_not_at_it(value: float, crossed: bool) -> None:
    *_, upper = trend_chart(series([14.0, value]), made_results.trend()).layout.shapes
    assert (upper.line.color == SEVERITY["warning"]["colour"]) is crossed


def test_what_was_recorded_past_a_limit_in_the_heat_is_not_red_where_the_corrected_value_is_within() -> None:
    *_, upper = trend_chart(series([14.0, 14.6], adjusted=np.array([14.0, 14.3])), made_results.trend()).layout.shapes
    assert upper.line.color != SEVERITY["warning"]["colour"]


def test_error_bars_reach_from_the_value_to_the_ends_of_its_interval() -> None:
    shown = trend_chart(
        series([14.0, 14.2], low=np.array([13.9, 14.0]), high=np.array([14.3, 14.25])), made_results.trend()
    )
    raw = shown.data[0]
    assert np.asarray(raw.error_y.array).tolist() == pytest.approx([0.3, 0.05])
    assert np.asarray(raw.error_y.arrayminus).tolist() == pytest.approx([0.1, 0.2])
    assert list(raw.customdata[1]) == [102, "2026-03-08", "14.20", "14.00", "14.25"]


@pytest.mark.parametrize(("flights", "thinned"), [(MOST_DRAWN - 1, False), (MOST_DRAWN, False), (MOST_DRAWN + 1, True)])
def test_a_chart_leaves_points_out_only_beyond_what_it_draws(flights: int, thinned: bool) -> None:
    assert is_thinned(flights) is thinned
    drawn = trend_chart(series([14.0 + 0.001 * (place % 7) for place in range(flights)]), made_results.trend())
    assert (len(drawn.data[0].x) < flights) is thinned


def many(count: int = 1000) -> ChartSeries:
    return series([14.0 + 0.01 * ((7 * place) % 11) for place in range(count)])


@pytest.mark.parametrize(
    ("along", "window", "inside"),
    [
        pytest.param("date", ("2026-03-15", "2026-05-03 12:00"), range(2, 10), id="days in words"),
        pytest.param("hours", (3.0, 13.5), range(2, 10), id="hours, both ends within"),
        pytest.param("hours", (3.1, 13.4), range(3, 9), id="hours, neither end within"),
    ],
)
def test_a_zoomed_window_shows_every_one_of_its_points(along: str, window: tuple[Any, Any], inside: range) -> None:
    """After a zoom nothing within the window may be missing, as long as there is room for it."""
    history = many()
    (points, *_) = shown_points(history, made_results.trend(), window, along=along, shown="raw")
    ids = {int(row[0]) for row in points["customdata"]}
    assert {101 + place for place in inside} <= ids
    assert {101, 1100} <= ids, "the outermost stay, so that the axis does not jump"
    assert len(ids) < 400


def test_a_chart_of_flights_without_a_clock_is_asked_for_by_number_and_not_by_days() -> None:
    bare = series([14.0] * 3, starts=(None,) * 3)
    assert not is_window(bare, "date", ("2026-03-15", "2026-05-03"))
    assert is_window(bare, "date", (1.0, 3.0))
    assert is_window(series([14.0] * 3), "date", ("2026-03-15", "2026-05-03"))
    assert not is_window(series([14.0] * 3), "hours", ("2026-03-15", "2026-05-03"))


@pytest.mark.parametrize(
    ("start", "hours"),
    [
        # Flights on 1, 8, 15 and 22 March at 0, 1.5, 3 and 4.5 h.
        (datetime(2026, 3, 8), 1.5),
        (datetime(2026, 3, 9), 3.0),
        (datetime(2026, 2, 1), 0.0),
        (datetime(2026, 6, 1), 4.5),
    ],
)
def test_a_step_stands_at_the_first_flight_that_measured_it_from_its_day_on(start: datetime, hours: float) -> None:
    step = LevelStep(start, 2, 14.0, 14.3, 0.01)
    drawn = trend_chart(series([14.0] * 4), made_results.trend(changes=(step,)), along="hours").layout
    assert [one.x for one in drawn.annotations if "step to 14.30 V" in one.text] == [hours]


def test_two_aircraft_stand_on_one_axis_of_days_only_where_all_flights_have_a_clock() -> None:
    dated, bare = series([14.0, 14.1]), series([13.9, 14.2], starts=(None, None))
    both = tails_chart((dated, dated), ("N01", "N02"))
    assert list(both.data[0].x) == list(dated.starts)
    mixed = tails_chart((dated, bare), ("N01", "N02"))
    assert [np.asarray(one.x).tolist() for one in mixed.data] == [[0.0, 1.5], [0.0, 1.5]]
    assert mixed.layout.xaxis.title.text == "engine hours"
    assert [row[0] for row in mixed.data[1].customdata] == ["flight 1", "flight 2"]


def flown(channels: dict[str, list[float]], begins: float = 0.0) -> Any:
    """A flight of four rows a minute apart as the chart of two flights asks for it."""
    names = ("bus_voltage", "battery_current", "alternator_current", "ammeter_current", "engine_speed")
    extra = ("alternator_current_2",)
    time = begins + 60.0 * np.arange(4)
    trace = SimpleNamespace(
        time=time, rows_in=lambda _s: 1,
        **{name: np.array(channels[name]) if name in channels else None for name in (*names, *extra)},
    )  # fmt: skip
    return SimpleNamespace(trace=trace, from_s=time[0], to_s=time[-1], crank=np.zeros(4, dtype=bool))


def test_two_flights_are_laid_over_each_other_by_minutes_from_their_common_moment() -> None:
    volts = {"bus_voltage": [12.6, 14.0, 14.1, 14.1]}
    first, second = flown(volts | {"engine_speed": [0.0, 900.0, 2400.0, 2400.0]}), flown(volts, begins=600.0)
    two: Any = SimpleNamespace(
        first=SimpleNamespace(flight=first), second=SimpleNamespace(flight=second), origins=(60.0, 600.0)
    )
    drawn = compare_chart(two, ("one", "other"))
    assert [np.asarray(one.x).tolist() for one in drawn.data] == [[-1, 0, 1, 2], [0, 1, 2, 3], [-1, 0, 1, 2]]
    assert [(one.name, one.yaxis, one.showlegend) for one in drawn.data] == [
        ("one", "y", True), ("other", "y", True), ("one", "y2", False),
    ]  # fmt: skip
    # Volts have 0.34 and engine speed 0.16 of 0.50 in all, with 0.04 between: 0.96 x 0.68 = 0.6528.
    assert list(drawn.layout.yaxis.domain) == pytest.approx([1.0 - 0.6528, 1.0])
    assert list(drawn.layout.yaxis2.domain) == pytest.approx([0.0, 0.96 * 0.32])
    assert drawn.layout.height == 160 + 215


def test_the_amperes_of_two_flights_share_an_axis_that_holds_both() -> None:
    # 8 % of the span of each: 0 to 10 A reaches to -0.8 and 10.8; -5 to 20 A to -7 and 22.
    one, other = flown({"battery_current": [0.0, 10.0, 5.0, 5.0]}), flown({"battery_current": [-5.0, 20.0, 5.0, 5.0]})
    two: Any = SimpleNamespace(first=SimpleNamespace(flight=one), second=SimpleNamespace(flight=other), origins=(0, 0))
    assert list(compare_chart(two, ("a", "b")).layout.yaxis.range) == pytest.approx([-7.0, 22.0])


@pytest.mark.parametrize(
    ("roles", "domains"),
    [
        pytest.param(["bus_voltage"], [(0.05, 1.0)], id="one unit"),
        pytest.param(["bus_voltage", "bus_voltage_2", "battery_current"], [(0.55, 1.0), (0.05, 0.5)], id="two"),
    ],
)
def test_a_preview_has_a_panel_for_each_unit(roles: list[str], domains: list[tuple[float, float]]) -> None:
    line = (np.arange(3.0), np.ones(3))
    layout = preview_chart(Preview(dict.fromkeys(roles, line))).layout
    for name, domain in zip(("yaxis", "yaxis2"), domains, strict=False):
        assert tuple(layout[name].domain) == pytest.approx(domain)
    assert layout.height == 120 + 110 * len(domains)


@pytest.mark.parametrize(
    ("since", "until", "room"),
    [
        # Two days at least, or a fiftieth of the time: of 200 days four.
        (datetime(2026, 1, 1), datetime(2026, 3, 1), timedelta(days=2)),
        (datetime(2026, 1, 1), datetime(2026, 7, 20), timedelta(days=4)),
        (datetime(2026, 1, 1), datetime(2026, 1, 1), timedelta(days=2)),
    ],
)
def test_findings_have_room_to_both_sides_of_first_and_last_flight(
    since: datetime, until: datetime, room: timedelta
) -> None:
    assert list(findings_chart([], [], [], since, until).layout.xaxis.range) == [since - room, until + room]


def test_a_finding_that_lapsed_ends_where_it_lapsed_and_an_open_one_at_the_last_flight() -> None:
    raised, lapsed, until = datetime(2026, 3, 1), datetime(2026, 4, 1), datetime(2026, 6, 1)
    over = [
        made_results.trend_finding(raised_at=raised, lapsed_at=lapsed),
        made_results.trend_finding("slow_recharge", raised_at=raised),
    ]
    drawn = findings_chart(over, [], [(lapsed, "regulator_replaced", "a new one")], raised, until)
    assert [list(one.x) for one in drawn.data] == [[raised, lapsed], [raised, until]]
    assert [one.x0 for one in drawn.layout.shapes] == [lapsed]
    assert drawn.layout.height == 116 + 34 * 2
    assert "stands open" in drawn.data[1].hovertemplate
    assert "stands open" not in drawn.data[0].hovertemplate


@pytest.mark.parametrize("severity", list(Severity))
def test_a_bar_has_the_colour_and_the_word_of_its_severity(severity: Severity) -> None:
    finding = replace(made_results.trend_finding(), severity=severity)
    (bar,) = findings_chart([finding], [], [], datetime(2026, 5, 1), datetime(2026, 6, 1)).data
    assert bar.line.color == faded(SEVERITY[severity]["colour"], 0.45)
    assert bar.hovertemplate.startswith(SEVERITY[severity]["word"])
