"""From what is kept of an aircraft to the points that its charts draw."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np

from analyzer.findings.finding import Finding
from analyzer.measures.measure import MEASURES
from analyzer.records.changing import settled_findings
from analyzer.records.latest import LatestFlight, open_of_latest
from analyzer.records.stored import KeptFinding
from analyzer.reports.wording import number
from analyzer.trends.chart import chart_points, limits_of
from analyzer.trends.open_findings import NONE_SETTLED, OpenFindings, flights_that_count
from dashboards.figures.figure_style import SEVERITY
from dashboards.figures.trend_chart import ChartSeries
from dashboards.grid import number_column
from dashboards.kept import TailView

FLIGHTS_CAPTION = "Flights, the latest first"
#: Measures of the table of flights, with the heading of each.
TABLE_MEASURES = (
    ("regulated_voltage", "Reg., V"),
    ("recharge_settling_time", "Settled after, min"),
    ("cranking_voltage", "Crank, V"),
    ("resting_voltage", "Rest, V"),
    ("maintenance_current", "Settled, A"),
    ("battery_resistance", "Battery, mΩ"),
    ("bus_load", "Load, A"),
)


def points(view: TailView, measure: str) -> ChartSeries | None:
    """One measure's points, None when no flight carries it."""
    found = chart_points(view.followed, measure)
    if not found:
        return None
    flights = view.history.flights
    return ChartSeries(
        measure,
        tuple(one.start for one in found),
        np.array([one.hours for one in found]),
        np.array([one.value for one in found]),
        np.array([one.low for one in found]),
        np.array([one.high for one in found]),
        np.array([one.adjusted for one in found]),
        tuple(flights[one.flight].id or 0 for one in found),
        tuple(limits_of(view.followed, measure)),
        tuple(one.flight for one in found),
    )


def open_of(view: TailView) -> OpenFindings[Finding]:
    """What stands open of this aircraft."""
    own: dict[int | None, list[KeptFinding]] = {}
    for kept in view.findings:
        own.setdefault(kept.flight_id, []).append(kept)
    latest = [
        LatestFlight(flight.id or 0, flight.start, tuple(own.get(flight.id, ())))
        for flight in view.history.flights[-flights_that_count() :]
    ]
    return open_of_latest(view.result, latest, settled_findings(view.dispositions).get(view.result.tail, NONE_SETTLED))


def entry_marks(view: TailView) -> list[tuple[datetime, float, str, str]]:
    """Maintenance done: when, engine hours by then, kind, words; none where no flight has a clock to set it against."""
    marks: list[tuple[datetime, float, str, str]] = []
    if not view.history.begun:
        return marks
    for kept in view.entries:
        entry = kept.entry
        hours = sum(one.hours for one in view.history.flights if one.start is not None and one.start < entry.when)
        marks.append((entry.when, hours, entry.kind, entry.words))
    return marks


def decimals(measure: str) -> int:
    """Digits behind the decimal point that the measure's unit deserves."""
    return len(number(1.0, MEASURES[measure]).partition(".")[2])


def table_measures(view: TailView) -> list[tuple[str, str]]:
    """Measures of the table that some flight carries, with their headings."""
    carried = {name for flight in view.history.flights for name in flight.readings}
    return [(name, heading) for name, heading in TABLE_MEASURES if name in carried]


def flight_columns(view: TailView) -> list[dict[str, Any]]:
    """Columns of the table of flights."""
    return [
        {"field": "start", "headerName": "Begins", "cellRenderer": "Link", "minWidth": 130},
        {"field": "worst", "headerName": "Worst finding", "cellRenderer": "Condition", "minWidth": 130},
        number_column("minutes", "Engine, min"),
        *(number_column(name, heading, decimals(name)) for name, heading in table_measures(view)),
    ]


#: Columns of the table of flights that another cell sorts: days before flights without a clock, those by their place,
#: and findings by how grave they are.
FLIGHT_ORDER = {"start": "place", "worst": "rank"}
#: And that another cell filters: by the words that stand there.
FLIGHT_SHOWN = {"worst": "worst_word"}


def flight_rows(view: TailView) -> list[dict[str, Any]]:
    """One row a flight for the table, the latest first."""
    known = view.history.flights
    readings = {flight.start: flight.readings for flight in known if flight.start is not None}
    bare = {flight.id: (place, flight.readings) for place, flight in enumerate(known, 1) if flight.start is None}
    rows = []
    dated = [flight for flight in view.flights if flight.start is not None]
    undated = sorted((one for one in view.flights if one.start is None), key=lambda one: bare.get(one.id, (0, {}))[0])
    for order, flight in reversed([*enumerate([*dated, *undated])]):
        place, own = (0, readings.get(flight.start, {})) if flight.start else bare.get(flight.id, (0, {}))
        rows.append(
            {
                "href": f"/flight/{flight.id}",
                "start": f"{flight.start:%Y-%m-%d %H:%M}" if flight.start else f"flight {place}, no clock",
                "minutes": round(60.0 * flight.hours),
                "worst": flight.worst or "good",
                "worst_word": SEVERITY[flight.worst or "good"]["word"],
                "rank": -1 if flight.worst is None else flight.worst.rank,
                "place": order,
                **{name: round(own[name].value, decimals(name)) for name, _ in TABLE_MEASURES if name in own},
            }
        )
    return rows
