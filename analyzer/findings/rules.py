"""Every rule, in the order in which findings of one severity are listed."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from analyzer.findings.alternator import alternator_losses, output_short, overvoltage
from analyzer.findings.battery import (
    low_resting_voltage,
    recharge_never_settles,
    slow_recharge,
    weak_cranking,
)
from analyzer.findings.battery_offline import battery_offline
from analyzer.findings.connection import unsteady_connection
from analyzer.findings.finding import Finding, FindingName
from analyzer.findings.one_of_two import one_of_two
from analyzer.findings.readings import reading_fault
from analyzer.findings.regulation import (
    regulator_drift,
    regulator_hunting,
    regulator_level,
)
from analyzer.findings.restart import restarted_in_flight
from analyzer.flights.flight import Flight
from analyzer.flights.reading_faults import ReadingFault
from analyzer.measures.measure import Measure

Rule = Callable[[Flight, dict[str, Measure]], list[Finding]]

RULES: tuple[Rule, ...] = (
    overvoltage,
    battery_offline,
    alternator_losses,
    one_of_two,
    output_short,
    regulator_level,
    regulator_drift,
    regulator_hunting,
    unsteady_connection,
    restarted_in_flight,
    recharge_never_settles,
    slow_recharge,
    low_resting_voltage,
    weak_cranking,
    reading_fault,
)


#: Rules on the bus voltage: they have nothing to say of a flight that shows none.
OF_VOLTAGE = frozenset(
    (overvoltage, output_short, regulator_level, regulator_drift, regulator_hunting, unsteady_connection)
)

#: Finding -> findings of the same flight that say it already, and better.
SUPERSEDED_BY = {
    FindingName.UNSTEADY_CONNECTION: (FindingName.REGULATOR_HUNTING, FindingName.BATTERY_OFFLINE),
    FindingName.REGULATOR_HUNTING: (FindingName.BATTERY_OFFLINE, FindingName.OVERVOLTAGE),
    FindingName.REGULATOR_DRIFT: (FindingName.REGULATOR_HUNTING,),
}

#: What a voltmeter that is off, or behind a resistance, makes look like an electrical fault.
DISPROVED_BY = {
    "offset": (
        FindingName.REGULATOR_HIGH,
        FindingName.REGULATOR_LOW,
        FindingName.OVERVOLTAGE,
        FindingName.LOW_RESTING_VOLTAGE,
        FindingName.WEAK_CRANKING,
    ),
    "path": (
        FindingName.REGULATOR_LOW,
        FindingName.REGULATOR_DRIFT,
        FindingName.OUTPUT_SHORT,
        FindingName.BATTERY_OFFLINE,
        FindingName.WEAK_CRANKING,
    ),
}


#: Findings of one moment: a reading that is wrong at another says nothing of them.
OF_ONE_MOMENT = (FindingName.WEAK_CRANKING,)

#: Signs that no voltmeter's path makes: the current says it, or the bus is dead.
CERTAIN = ("backup", "bus_dead", "current_vanished", "drained_at_speed")


def apply_rules(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """Give what every rule finds, the most severe first."""
    rules = [rule for rule in RULES if flight.voltmeter.tells or rule not in OF_VOLTAGE]
    found = [finding for rule in rules for finding in rule(flight, measures)]
    faults = [fault for fault in flight.reading_faults if fault.channel == "bus_voltage"]
    superseded = _superseded({finding.name for finding in found})
    found = [
        finding
        for finding in found
        if any(map(finding.signs.get, CERTAIN))
        or not (finding.name in superseded or any(_disproves(fault, finding) for fault in faults))
    ]
    dead = [finding for finding in found if finding.signs.get("bus_dead")]
    found = [
        finding for finding in found if not (finding.name == FindingName.ALTERNATOR_OFFLINE and _within(finding, dead))
    ]
    return sorted(found, key=lambda finding: -finding.severity.rank)


def _disproves(fault: ReadingFault, finding: Finding) -> bool:
    """Whether a fault of the voltmeter makes what looks like this finding."""
    another_time = fault.then_only and not _within(finding, [fault])
    if fault.unsure or (finding.name in OF_ONE_MOMENT and another_time):
        return False
    reads_low = fault.kind == "offset" and (fault.value or 0.0) < 0.0
    if reads_low and finding.name == FindingName.REGULATOR_DRIFT:
        return True  # what reads low by so much may be a resistance, which loads move
    return finding.name in DISPROVED_BY.get(fault.kind, ())


def _superseded(names: set[FindingName]) -> set[FindingName]:
    """Findings that another of the flight supersedes."""
    return {name for name, others in SUPERSEDED_BY.items() if names.intersection(others)}


def _within(finding: Finding, others: Sequence[Finding | ReadingFault]) -> bool:
    """Whether a finding's stretch overlaps one of some others', which then says all of it."""
    return any(finding.from_s <= other.to_s and other.from_s <= finding.to_s for other in others)
