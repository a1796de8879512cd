"""What the charts of a sheet show, read from the drawing itself: readings, shaded windows, levels and limits."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from test_trend_sheets import WORK, history, judged

pytest.importorskip("matplotlib", reason="the sheets' libraries are not installed")

from matplotlib.dates import date2num

from analyzer.reports.sheets import drawing
from analyzer.reports.sheets.entry_sheet import drawn_entries
from analyzer.reports.sheets.trace_plot import Window, trace_svg
from analyzer.reports.sheets.trend_sheet import drawn_tail
from analyzer.simulator.scenarios import alternator_lost
from analyzer.trends.work_done import work_of_day
from tests.flown import judged as flown

Drawn = list[Any]


@pytest.fixture
def figures(monkeypatch: pytest.MonkeyPatch) -> Drawn:
    """Every figure as it is about to become an SVG."""
    kept: Drawn = []
    as_svg: Callable[[Any], str] = drawing.as_svg

    def keep(figure: Any) -> str:
        kept.append(figure)
        return as_svg(figure)

    monkeypatch.setattr(drawing, "as_svg", keep)
    return kept


def test_a_trace_shows_the_readings_and_shades_the_window_by_the_logs_clock(figures: Drawn) -> None:
    flight = flown(alternator_lost(3)).flight
    trace_svg(flight, [Window(2000.0, 2120.0, "A")])
    (figure,) = figures
    volts = figure.axes[0]
    (line,) = [one for one in volts.lines if one.get_label() == "bus"]
    assert np.array_equal(line.get_ydata(), flight.trace.bus_voltage, equal_nan=True)
    start = datetime.fromisoformat(flight.clock(flight.trace.time[0]))
    assert date2num(line.get_xdata()[0]) == pytest.approx(date2num(start), abs=1e-6)
    for panel in figure.axes:
        (shade,) = [one for one in panel.patches if one.get_width() < 0.01]
        ends = [date2num(start + timedelta(seconds=at - flight.trace.time[0])) for at in (2000.0, 2120.0)]
        assert shade.get_x() == pytest.approx(ends[0], abs=1.5 / 86400.0)
        assert shade.get_x() + shade.get_width() == pytest.approx(ends[1], abs=1.5 / 86400.0)


def test_a_chart_around_work_shows_the_level_before_it_on_its_left_and_that_after_on_its_right(figures: Drawn) -> None:
    one = history(14.9, 14.0)
    work = work_of_day(judged(one), WORK)
    drawn_entries(one, work)
    measures = work.entries[0].comparison.measures
    held = next(measure for measure in measures if measure.measure == "regulated_voltage").difference
    figure = figures[[measure.measure for measure in measures].index("regulated_voltage")]
    levels = [line for line in figure.axes[0].lines if len(line.get_xdata()) == 2 and line.get_linewidth() > 1.5]
    told = sorted((date2num(line.get_xdata()[0]), float(line.get_ydata()[0])) for line in levels)
    assert [value for _, value in told] == pytest.approx([held.before.value, held.after.value])
    assert told[0][0] < date2num(WORK) < told[1][0]


def test_a_tails_chart_shows_the_limit_where_it_lies(figures: Drawn) -> None:
    one = history(13.9, 14.0, drift=0.04)
    drawn_tail(one, judged(one))
    levels = {
        round(float(line.get_ydata()[0]), 3)
        for figure in figures
        for line in figure.axes[0].lines
        if len(line.get_ydata()) == 2 and line.get_ydata()[0] == line.get_ydata()[1] and line.get_linestyle() != "-"
    }
    assert 14.5 in levels  # regulated_high of a 14 V system
