"""Flights made by columns, and readings that lie in one table, are those made one by one."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields, replace

import numpy as np
import pytest
from made_histories import made

from analyzer.measures.measure import MEASURES
from analyzer.trends.history import FlightSummary, History, ReadingsRow, flights_by_columns


def columns_of(flights: tuple[FlightSummary, ...]) -> dict[str, list[object]]:
    return {one.name: [getattr(flight, one.name) for flight in flights] for one in fields(FlightSummary)}


def test_flights_made_by_columns_are_those_made_one_by_one():
    flights = made("step", 3).history.flights
    together = flights_by_columns(columns_of(flights))
    assert tuple(together) == flights
    assert [one.readings for one in together] == [one.readings for one in flights]
    with pytest.raises(FrozenInstanceError):
        together[0].hours = 2.0


def test_no_flight_is_made_without_one_of_its_fields():
    columns = columns_of(made("step", 3).history.flights)
    with pytest.raises(ValueError, match="every flight needs every field"):
        flights_by_columns(columns | {"hours": columns["hours"][1:]})
    del columns["hours"]
    with pytest.raises(KeyError):
        flights_by_columns(columns)


def test_readings_of_some_flights_of_a_table_are_their_own():
    table = np.random.default_rng(1).normal(size=(6, len(MEASURES), 3))
    flights = [replace(made("step", 3).history.flights[0], readings=ReadingsRow(table, place)) for place in range(6)]
    at = list(MEASURES).index("cranking_voltage")
    chosen = History("N0001H", tuple(flights[::-2]))
    assert chosen.shown("cranking_voltage").tolist() == table[::-2, at].tolist()
    alone = replace(flights[3], readings=dict(flights[3].readings))
    mixed = History("N0001H", (flights[5], alone, flights[0]))
    assert mixed.shown("cranking_voltage").tolist() == table[[5, 3, 0], at].tolist()
    elsewhere = replace(flights[1], readings=ReadingsRow(-table, 2))
    both = History("N0001H", (flights[4], elsewhere))
    assert both.shown("cranking_voltage").tolist() == [table[4, at].tolist(), (-table[2, at]).tolist()]
