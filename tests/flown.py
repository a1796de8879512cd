"""Simulated flights through the whole judgement, for the tests of findings and measures."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from functools import lru_cache

import polars as pl

from analyzer.findings.finding import Finding
from analyzer.review import FlightReview, review_log
from analyzer.simulator import LoadEvent, Scenario, SimulatedFlight, simulate
from analyzer.simulator.as_log import as_log


def judged(flown: Scenario | SimulatedFlight, without: Collection[str] = (), *, untyped: bool = False) -> FlightReview:
    """The review of the one flight that the log holds."""
    if isinstance(flown, Scenario) and not without and not untyped:
        return _judged_scenario(flown)
    flight = simulate(flown) if isinstance(flown, Scenario) else flown
    reviews = review_log(as_log(flight, without=without, untyped=untyped)).flights
    assert len(reviews) == 1
    return reviews[0]


@lru_cache(maxsize=32)
def _judged_scenario(scenario: Scenario) -> FlightReview:
    """The same flight is asked for by one test after the other."""
    return judged(simulate(scenario))


def names(review: FlightReview) -> set[str]:
    return {finding.name for finding in review.findings}


def the(review: FlightReview, name: str) -> Finding:
    """The first finding of a name."""
    return next(finding for finding in review.findings if finding.name == name)


def causes(review: FlightReview, name: str) -> list[str]:
    """Words of a finding's causes, best first."""
    return [cause.words for cause in the(review, name).likely]


def with_event(scenario: Scenario, *events: LoadEvent) -> Scenario:
    return replace(scenario, loads=replace(scenario.loads, events=(*scenario.loads.events, *events)))


def with_table(flight: SimulatedFlight, **columns: pl.Expr | pl.Series) -> SimulatedFlight:
    """The same flight with other recorded columns."""
    return replace(flight, table=flight.table.with_columns(**columns))
