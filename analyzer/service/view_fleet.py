"""The fleet of the records, the aircraft in most need first."""

from __future__ import annotations

from datetime import datetime

from analyzer.aircraft import Fleet
from analyzer.records.changing import kept_dispositions, settled_findings
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.kept import fleet_kept, tail_reviews, tails
from analyzer.records.store import Store
from analyzer.trends.fleet_result import FleetResult, fleet_result


def view_fleet(
    store: Store, since: datetime | None = None, fleet: Fleet | None = None, over: OverTails = one_by_one
) -> FleetResult:
    """Give every aircraft that flights are kept of.

    Parameters
    ----------
    since : say what changed from this moment on
    fleet : what is known of each aircraft; the fleet file kept with the records when None

    Raises
    ------
    RecordsError
        When the records cannot be read.
    """
    kept = tails(store)
    known = fleet_kept(store) if fleet is None else fleet
    results = tail_reviews(store, [tail.tail for tail in kept], known, over)
    last = {tail.tail: tail.last for tail in kept}
    return fleet_result(results, last, since, settled_findings(kept_dispositions(store)))
