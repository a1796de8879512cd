"""Flights made by columns are those made one by one."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, fields

import pytest
from made_histories import made

from analyzer.trends.history import FlightSummary, flights_by_columns


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
