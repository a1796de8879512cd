"""Every rule, in the order in which findings of one severity are listed."""

from __future__ import annotations

from collections.abc import Callable

from analyzer.findings.alternator import alternator_losses, output_short, overvoltage
from analyzer.findings.battery import (
    low_resting_voltage,
    recharge_never_settles,
    slow_recharge,
    weak_cranking,
)
from analyzer.findings.connection import unsteady_connection
from analyzer.findings.finding import SEVERITIES, Finding
from analyzer.findings.one_of_two import one_of_two
from analyzer.findings.readings import reading_fault
from analyzer.findings.regulation import (
    regulator_drift,
    regulator_hunting,
    regulator_level,
)
from analyzer.findings.restart import restarted_in_flight
from analyzer.flights.flight import Flight
from analyzer.measures.measure import Measure

Rule = Callable[[Flight, dict[str, Measure]], list[Finding]]

RULES: tuple[Rule, ...] = (
    overvoltage,
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


#: What another finding of the flight already says, and says better: this stands aside for that.
STANDS_ASIDE = {"unsteady_connection": "regulator_hunting", "slow_recharge": "recharge_never_settles"}

#: What a voltmeter that is off, or behind a resistance, makes look like an electrical fault.
BELIED = {
    "offset": ("regulator_high", "regulator_low", "overvoltage", "low_resting_voltage", "weak_cranking"),
    "path": ("regulator_low", "output_short"),
}


def apply_rules(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """Give what every rule finds, the most severe first."""
    found = [finding for rule in RULES for finding in rule(flight, measures)]
    kinds = [fault.kind for fault in flight.reading_faults if fault.channel == "bus_voltage"]
    belied = {name for kind in kinds for name in BELIED.get(kind, ())}
    names = {finding.name for finding in found}
    found = [finding for finding in found if finding.name not in belied and STANDS_ASIDE.get(finding.name) not in names]
    return sorted(found, key=lambda finding: -SEVERITIES.index(finding.severity))
