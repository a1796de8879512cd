"""What would follow if the alternator quit at a moment of a kept flight."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from math import floor

from analyzer.measures.alternator_quit import AlternatorQuits, alternator_quits
from analyzer.records.flight_again import battery_known
from analyzer.records.store import Store
from analyzer.service.plan_endurance import PlanError, loads_named
from analyzer.service.show_flight import ShownFlight

#: Longest time with the master off that is planned [min].
MASTER_OFF_MOST = 600.0


def quit_alternator(
    store: Store,
    shown: ShownFlight,
    minute: float,
    today: datetime,
    night: Iterable[str] | None = None,
    shed: Iterable[str] = (),
    master_off: float = 0.0,
) -> AlternatorQuits:
    """Give what would follow.

    Parameters
    ----------
    minute : minutes from the flight's first row
    night : names of usual loads that come on by night; when None the usual ones
    shed : names of those that are switched off after the alternator fails
    master_off : minutes of the way with the master off

    Raises
    ------
    PlanError
        When the minute lies outside the flight, the master off is no time, or a load is not known.
    """
    flight = shown.review.flight
    lasts = (flight.to_s - flight.from_s) / 60.0
    if not 0.0 <= minute <= lasts:
        whole = floor(10.0 * lasts) / 10.0  # rounded up it would name a minute that is refused
        raise PlanError(f"the flight's recording lasts {whole:.1f} min; minute {minute:g} is not in it")
    if not 0.0 <= master_off <= MASTER_OFF_MOST:
        raise PlanError(f"the master is off for 0 to {MASTER_OFF_MOST:.0f} min, not {master_off:g}")
    dark = None if night is None else loads_named(night)
    known = battery_known(store, shown.kept.tail, shown.log, today)
    at = flight.from_s + 60.0 * minute
    return alternator_quits(flight, shown.review.measures, known, today, at, dark, loads_named(shed), master_off)
