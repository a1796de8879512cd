"""Aircraft beside their peers, and how the fleet's repairs turned out, from the records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.aircraft import Fleet
from analyzer.findings.finding import FindingName
from analyzer.records.in_order import OverTails, one_by_one
from analyzer.records.kept import KeptFinding, fleet_kept, flight_findings, tail_reviews
from analyzer.records.latest import tail_names
from analyzer.records.store import Store
from analyzer.service.follow_tails import check_tails
from analyzer.trends.peers import Peers, beside_peers
from analyzer.trends.repairs import (
    Ended,
    Outcome,
    ShiftedCause,
    ended_by_work,
    mended_by,
    outcomes,
    shifted_causes,
)
from analyzer.trends.tail_result import TailResult


@dataclass(frozen=True, slots=True)
class FirstCause:
    """How often the first cause of a finding was of what the work that ended it mends."""

    right: int
    of: int


@dataclass(frozen=True, slots=True)
class RepairRecord:
    """How the repairs of all kept aircraft turned out."""

    aircraft: int
    outcomes: tuple[Outcome, ...]
    first: FirstCause
    shifted: dict[FindingName, tuple[ShiftedCause, ...]]  # of findings with enough repairs


def tail_beside_peers(store: Store, tail: str, fleet: Fleet | None = None, over: OverTails = one_by_one) -> Peers:
    """Set an aircraft beside the others of its type.

    Raises
    ------
    UnknownTailError
        When no flight of it is kept.
    RecordsError
        When the records cannot be read.
    """
    names = tail_names(store)
    check_tails([tail], names)
    known = fleet_kept(store) if fleet is None else fleet
    results = tail_reviews(store, list(names), known, over)
    own = next(one for one in results if one.tail == tail)
    return beside_peers(own, results, {name: known.of(name) for name in names})


def repair_record(store: Store, fleet: Fleet | None = None, over: OverTails = one_by_one) -> RepairRecord:
    """Give how the repairs of all kept aircraft turned out.

    Raises
    ------
    RecordsError
        When the records cannot be read.
    """
    known = fleet_kept(store) if fleet is None else fleet
    results: Sequence[TailResult] = tail_reviews(store, list(tail_names(store)), known, over)
    ended = ended_by_work(results)
    shifted = {name: told for name in FindingName if (told := shifted_causes(name, ended))}
    return RepairRecord(len(results), outcomes(results), _first_causes(store, ended), shifted)


def _first_causes(store: Store, ended: Sequence[Ended]) -> FirstCause:
    found = {tail: flight_findings(store, tail) for tail in {one.tail for one in ended}}
    told = [_first_cause(one, found[one.tail]) for one in ended]
    known = [key in mended_by(one.comparison.entry.kind) for one, key in zip(ended, told, strict=True) if key]
    return FirstCause(sum(known), len(known))


def _first_cause(ended: Ended, found: Sequence[KeptFinding]) -> str | None:
    """The first cause that the last flight with the finding before the work named; None where it named none."""
    when = ended.comparison.entry.when
    before = (one for one in found if one.finding.name == ended.finding and one.start is not None and one.start < when)
    last = next(before, None)  # the latest flight's come first
    return last.finding.likely[0].key if last is not None and last.finding.likely else None
