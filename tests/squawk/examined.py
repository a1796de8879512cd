"""Flights looked through, written down without recordings behind them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from analyzer.findings.finding import Cause
from analyzer.quantity import Quantity
from analyzer.squawk.conditions import Circumstances, SymptomCondition
from analyzer.squawk.examine import ExaminedFlight, FlightSymptom, Occasion, SquawkFlight
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import State

FIRST = datetime(2026, 3, 1, 9, 0)
BLIND = Reason(Unobservable.NO_VOLTAGE)


def occasion(
    ref: SquawkFlight,
    lasted_s: float = 30.0,
    within: Mapping[SymptomCondition, float] | None = None,
    numbers: Mapping[str, Quantity] | None = None,
    says: str = "the bus fell",
) -> Occasion:
    """One occasion ten minutes into a flight."""
    at = None if ref.start is None else ref.start + timedelta(seconds=600)
    circumstances = Circumstances({}, "cruise")
    return Occasion(ref, 600.0, 600.0 + lasted_s, at, says, numbers or {}, circumstances, within or {})


def examined(
    symptom: str,
    day: int,
    state: State = State.NOT_SEEN,
    occasions: Sequence[tuple[float, Mapping[SymptomCondition, float]]] = (),
    *,
    exposure: Mapping[SymptomCondition, tuple[float, float]] | None = None,
    conditions: Mapping[SymptomCondition, bool] | None = None,
    numbers: Mapping[str, Quantity] | None = None,
    likely: Sequence[Cause] = (),
    check: Sequence[str] = (),
    low_rpm_below: float | None = 1300.0,
    ammeter: str = "battery",
    hours: float = 1.0,
) -> ExaminedFlight:
    """A flight of an hour on the n-th of March; each occasion with its seconds and its part in each condition."""
    start = FIRST + timedelta(days=day - 1)
    ref = SquawkFlight(day, f"{day}.csv", day, start)
    shown = tuple(occasion(ref, lasted, within, numbers) for lasted, within in occasions)
    own = FlightSymptom(
        state,
        "the bus held" if state == State.NOT_SEEN else "",
        BLIND if state == State.NOT_OBSERVABLE else None,
        numbers or {},
        shown,
        exposure or {},
        hours,
        tuple(likely),
        tuple(check),
    )
    return ExaminedFlight(
        ref, start + timedelta(hours=hours), hours, 14, ammeter, (13.4, 14.5), False, conditions or {}, low_rpm_below,
        (), {symptom: own},
    )  # fmt: skip
