"""Findings of one aircraft over time: those of single flights as marks, those over many flights as bars."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, cast

import plotly.graph_objects as go

from analyzer.findings.finding import FindingName, Severity
from analyzer.records.stored import KeptFinding
from analyzer.reports.trend_words import flight_of, lapsed_words, raised_words
from analyzer.trends.entries import kinds
from analyzer.trends.judging import TrendFinding
from dashboards.figures.figure_style import DATES, SEVERITY, axis, base_layout, faded
from dashboards.figures.marks import Mark, add_marks, upright
from dashboards.flight_words import finding_label


def findings_chart(
    over_many: Sequence[TrendFinding],
    of_flights: Sequence[KeptFinding],
    entries: Sequence[tuple[datetime, str, str]],
    since: datetime | int,
    until: datetime | int,
    numbers: Mapping[int, int] | None = None,
) -> go.Figure:
    """The chart.

    Parameters
    ----------
    over_many : findings of the trends
    of_flights : findings of flights, the latest first
    entries : maintenance done: when, kind, words
    since, until : first and last flight; bars of findings that stand open end there
    numbers : flight_id -> number in file order, where a flight has no clock: all is drawn by these numbers then,
        ``since`` and ``until`` are numbers too, and no entry can be set against the flights
    """
    over = dict.fromkeys(one.name for one in over_many)
    names = dict.fromkeys([*over, *(one.finding.name for one in reversed(of_flights))])
    labels = {name: finding_label(name, over_many=name in over) for name in names}
    first, last = cast(Any, since), cast(Any, until)  # two moments, or two numbers
    room: Any = max(timedelta(days=2), 0.02 * (last - first)) if numbers is None else 0.5
    title, kind = (None, "date") if numbers is None else ("flight, in file order", "linear")
    figure = go.Figure(
        layout=base_layout(
            height=116 + 34 * max(1, len(labels)),
            minreducedheight=24,  # else slanting days of a narrow chart have no room and are cut off
            showlegend=True,
            hovermode="closest",
            legend={"orientation": "h", "y": 1.0, "yanchor": "bottom", "x": 0.0, "font": {"size": 12}},
            margin={"l": 10, "r": 18, "t": 44, "b": 30},
            barmode="overlay",
            xaxis=axis(
                title, type=kind, range=[first - room, last + room], tickformatstops=DATES if kind == "date" else None
            ),
            yaxis=axis(
                categoryarray=list(reversed(labels.values())), categoryorder="array", range=[-0.6, len(labels) - 0.4]
            ),
        )
    )
    for one in over_many:
        figure.add_trace(_bar(one, labels[one.name], until, by_number=numbers is not None))
    for severity in Severity:
        places: Mapping[int, Any] = {one.flight_id: one.start for one in of_flights} if numbers is None else numbers
        found = [one for one in of_flights if one.finding.severity == severity and places.get(one.flight_id)]
        if found:
            figure.add_trace(_marks(severity, found, labels, places))
    add_marks(figure, [_mark(*entry) for entry in (entries if numbers is None else ())])
    return figure


def _mark(when: datetime, kind: str, words: str) -> Mark:
    """An entry: an upright line with a sign at its foot."""
    told = {
        "x": when, "yref": "paper", "y": 0.0, "yanchor": "bottom", "text": "▼",
        "hovertext": f"{kinds()[kind].words}: {words}", "showarrow": False,
    }  # fmt: skip
    return upright(when, "dash"), told


def _bar(finding: TrendFinding, label: str, until: datetime | int, *, by_number: bool) -> go.Scatter:
    """A bar from when it was raised until it lapsed."""
    look = SEVERITY[finding.severity]
    ends = "and stands open" if finding.open else lapsed_words(finding)
    raised: Any = finding.raised_flight + 1 if by_number else finding.raised_at
    lapsed: Any = until
    if finding.lapsed_flight is not None:
        lapsed = finding.lapsed_flight + 1 if by_number else finding.lapsed_at
    return go.Scatter(
        x=[raised, lapsed],
        y=[label] * 2,
        mode="lines",
        line={"color": faded(look["colour"], 0.45), "width": 16},
        showlegend=False,
        hovertemplate=f"{look['word']}, {raised_words(finding)}, {ends}<extra></extra>",
    )


def _marks(
    severity: Severity, found: Sequence[KeptFinding], labels: Mapping[FindingName, str], places: Mapping[int, Any]
) -> go.Scatter:
    look = SEVERITY[severity]
    return go.Scatter(
        x=[places[one.flight_id] for one in found],
        y=[labels[one.finding.name] for one in found],
        mode="markers",
        marker={"symbol": look["symbol"], "size": 11, "color": look["colour"]},
        name=f"{look['word']} in a flight",
        customdata=[
            [one.flight_id, flight_of(one.start, 0 if one.start else int(places[one.flight_id]) - 1)] for one in found
        ],
        hovertemplate=f"{look['word']}, %{{customdata[1]}}<extra></extra>",
    )
