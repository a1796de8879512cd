"""The JSON of the contract for what records tell beside one aircraft's own trends: peers, repairs and waiting.

Numbers are rounded here and only here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec import Struct

from analyzer import CONTRACT
from analyzer.aircraft import Battery, Source
from analyzer.contract import QuantityEntry, quantity_entry, rounded
from analyzer.contract_tails import LatestEntry, TrendFindingEntry, latest_entry, trend_finding_entry
from analyzer.findings.finding import FindingName
from analyzer.service.beside_peers import RepairRecord
from analyzer.service.due_result import DueKind
from analyzer.service.outlook_at import OutlookAt
from analyzer.service.waiting import Coming, Visit, Waiting
from analyzer.trends.peers import Beside, Peers
from analyzer.trends.repairs import ShiftedCause
from analyzer.trends.risk import Exposure


class KindEntry(Struct, frozen=True):
    """What peers share; the voltage in V."""

    aircraft_type: str
    nominal_voltage: int
    battery: Battery | None
    source: Source


class BesideEntry(Struct, frozen=True, kw_only=True):
    """One measure beside the peers'; every level in its unit."""

    measure: str
    unit: str
    level: float
    corrected: bool
    peers: Mapping[str, float]
    percentile: float | None
    mixed: bool


class PeersDocument(Struct, frozen=True):
    """An aircraft beside its peers."""

    contract: int
    tail: str
    kind: KindEntry | None
    peers: tuple[str, ...]
    measures: tuple[BesideEntry, ...]
    because: str | None


class OutcomeEntry(Struct, frozen=True):
    """How one kind of work turned out on one finding."""

    finding: FindingName
    kind: str
    ended: int
    told: int
    open: int


class FirstCauseEntry(Struct, frozen=True):
    """How often the first cause was right."""

    right: int
    of: int


class ShiftedCauseEntry(Struct, frozen=True):
    """One cause with its weight, as judged and as repairs shift it."""

    key: str
    words: str
    judged: float
    weight: float
    ended: int
    of: int


class RepairsDocument(Struct, frozen=True):
    """How repairs turned out."""

    contract: int
    aircraft: int
    outcomes: tuple[OutcomeEntry, ...]
    first: FirstCauseEntry
    shifted: Mapping[FindingName, tuple[ShiftedCauseEntry, ...]]


class StandsEntry(Struct, frozen=True):
    """What stands open."""

    over_many: tuple[TrendFindingEntry, ...]
    of_flights: tuple[LatestEntry, ...]


class VisitEntry(Struct, frozen=True):
    """Work with its day; what is None where somebody named the day."""

    on: str
    what: DueKind | None


class ComingEntry(Struct, frozen=True):
    """A limit that is passed or may be reached; the chance by the visit, from 0 to 1."""

    measure: str
    unit: str
    limit: float
    past: bool
    chance: float | None
    one_in_ten: str | None


class ExposureEntry(Struct, frozen=True):
    """Events in some engine hours."""

    events: int
    hours: float


class EventsEntry(Struct, frozen=True):
    """Events while nothing stood open, and while something did."""

    calm: ExposureEntry
    warned: ExposureEntry


class CostsEntry(Struct, frozen=True):
    """Hours that a check and being stranded cost, and what waiting does at least."""

    check_h: float | None
    stranded_h: float | None
    expected: QuantityEntry | None


class LimitAheadEntry(Struct, frozen=True, kw_only=True):
    """A limit that a measure lies past or comes to; engine hours from the flight on, None where it comes to none."""

    measure: str
    unit: str
    level: float
    limit: float
    past: bool
    reaches_limit_in_h: float | None  # None too where it is too unsure for one number
    earliest_h: float | None
    latest_h: float | None


class OutlookAtEntry(Struct, frozen=True):
    """What was foretold once a flight was flown."""

    flights: int
    because: str | None
    measure: str | None  # of which that is said; null where it is said of the flight
    limits: tuple[LimitAheadEntry, ...]


class WaitingDocument(Struct, frozen=True, kw_only=True):
    """What waiting costs."""

    contract: int
    tail: str
    as_of: str
    stands: StandsEntry
    overdue: tuple[VisitEntry, ...]
    visit: VisitEntry | None
    hours: float | None
    coming: tuple[ComingEntry, ...]
    record: EventsEntry
    aircraft: int
    chance: QuantityEntry | None
    because: str | None
    costs: CostsEntry
    urgent: bool
    check_by: str | None
    with_item: VisitEntry | None


def peers_entry(one: Peers) -> PeersDocument:
    """An aircraft beside its peers as the contract has it."""
    kind = one.kind
    shared = None if kind is None else KindEntry(kind.aircraft_type, kind.nominal_voltage, kind.battery, kind.source)
    return PeersDocument(CONTRACT, one.tail, shared, one.peers, tuple(map(_beside, one.measures)), one.because)


def outlook_at_entry(outlook: OutlookAt) -> OutlookAtEntry:
    """What was foretold once a flight was flown as the contract has it."""
    return OutlookAtEntry(outlook.flights, outlook.because, outlook.of, tuple(_limits_ahead(outlook)))


def _limits_ahead(outlook: OutlookAt) -> Iterator[LimitAheadEntry]:
    for one in outlook.trends:
        if one.now is None or one.now.limit is None:
            continue
        reach = one.projection
        yield LimitAheadEntry(
            measure=one.measure,
            unit=one.unit,
            level=round(one.now.level, 4),
            limit=round(one.now.limit, 4),
            past=one.past_limit,
            reaches_limit_in_h=None if reach is None else rounded(reach.likely, 1),
            earliest_h=None if reach is None else round(reach.earliest, 1),
            latest_h=None if reach is None else round(reach.latest, 1),
        )


def _beside(one: Beside) -> BesideEntry:
    return BesideEntry(
        measure=one.measure,
        unit=one.unit,
        level=round(one.level, 4),
        corrected=one.corrected,
        peers={tail: round(level, 4) for tail, level in one.peers.items()},
        percentile=rounded(one.percentile, 1),
        mixed=one.mixed,
    )


def repairs_entry(record: RepairRecord) -> RepairsDocument:
    """How repairs turned out as the contract has it."""
    outcomes = tuple(OutcomeEntry(one.finding, one.kind, one.ended, one.told, one.open) for one in record.outcomes)
    first = FirstCauseEntry(record.first.right, record.first.of)
    shifted = {finding: tuple(map(_shifted, causes)) for finding, causes in record.shifted.items()}
    return RepairsDocument(CONTRACT, record.aircraft, outcomes, first, shifted)


def _shifted(one: ShiftedCause) -> ShiftedCauseEntry:
    return ShiftedCauseEntry(one.key, one.words, round(one.judged, 2), round(one.weight, 2), one.ended, one.of)


def waiting_entry(one: Waiting) -> WaitingDocument:
    """What waiting costs as the contract has it."""
    over_many = tuple(map(trend_finding_entry, one.stands.over_many))
    expected = None if one.costs.expected is None else quantity_entry(one.costs.expected, 2)
    return WaitingDocument(
        contract=CONTRACT,
        tail=one.tail,
        as_of=one.as_of.isoformat(),
        stands=StandsEntry(over_many, tuple(map(latest_entry, one.stands.of_flights))),
        overdue=tuple(map(_visit, one.overdue)),
        visit=None if one.visit is None else _visit(one.visit),
        hours=rounded(one.hours, 1),
        coming=tuple(map(_coming, one.coming)),
        record=EventsEntry(_exposure(one.record.calm), _exposure(one.record.warned)),
        aircraft=one.aircraft,
        chance=None if one.chance is None else quantity_entry(one.chance, 4),
        because=one.because,
        costs=CostsEntry(one.costs.check, one.costs.stranded, expected),
        urgent=one.urgent,
        check_by=None if one.check_by is None else one.check_by.isoformat(),
        with_item=None if one.with_item is None else _visit(one.with_item),
    )


def _visit(one: Visit) -> VisitEntry:
    return VisitEntry(one.on.isoformat(), one.what)


def _coming(one: Coming) -> ComingEntry:
    by = None if one.one_in_ten is None else one.one_in_ten.isoformat()
    return ComingEntry(one.measure, one.unit, round(one.limit, 4), one.past, rounded(one.chance, 3), by)


def _exposure(one: Exposure) -> ExposureEntry:
    return ExposureEntry(one.events, round(one.hours, 1))
