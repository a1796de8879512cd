"""A finding: what a rule saw in one flight, with its evidence, causes and checks."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from msgspec import Struct, field

from analyzer.quantity import Quantity


class Severity(StrEnum):
    """How grave a finding is, by the aviation alerting convention, the least first."""

    ADVISORY = "advisory"  # be aware
    CAUTION = "caution"  # act soon
    WARNING = "warning"  # act before flight

    @property
    def rank(self) -> int:
        """Place among the severities, the least first."""
        return list(Severity).index(self)


class FindingName(StrEnum):
    """What flights can show, in the order of the reference; a trend may raise any of them."""

    OVERVOLTAGE_TRIP = "overvoltage_trip"
    OVERVOLTAGE = "overvoltage"
    ALTERNATOR_OFFLINE = "alternator_offline"
    REGULATOR_HIGH = "regulator_high"
    REGULATOR_LOW = "regulator_low"
    REGULATOR_DRIFT = "regulator_drift"
    REGULATOR_HUNTING = "regulator_hunting"
    SLOW_RECHARGE = "slow_recharge"
    RECHARGE_NEVER_SETTLES = "recharge_never_settles"
    WEAK_CRANKING = "weak_cranking"
    LOW_RESTING_VOLTAGE = "low_resting_voltage"
    OUTPUT_SHORT = "output_short"
    UNSTEADY_CONNECTION = "unsteady_connection"
    BATTERY_OFFLINE = "battery_offline"
    READING_FAULT = "reading_fault"
    RECHARGE_SLOWING = "recharge_slowing"
    CRANKING_WEAKENING = "cranking_weakening"
    RESTING_VOLTAGE_FALLING = "resting_voltage_falling"
    MAINTENANCE_CURRENT_RISING = "maintenance_current_rising"
    REGULATION_LOOSENING = "regulation_loosening"
    BATTERY_RESISTANCE_RISING = "battery_resistance_rising"


#: What only many flights can show, and what a single one can.
OF_MANY_FLIGHTS = tuple(FindingName)[list(FindingName).index(FindingName.RECHARGE_SLOWING) :]
OF_ONE_FLIGHT = tuple(name for name in FindingName if name not in OF_MANY_FLIGHTS)


class Cause(Struct, frozen=True):
    """What could explain a finding, with its share of the weight and the words that explain the share."""

    key: str  # of ``causes.toml``
    words: str
    weight: float  # the weights of a finding's causes sum to 1
    why: tuple[str, ...]
    check: tuple[str, ...] = ()  # its own ground checks, the first to be done first


class Finding(Struct, frozen=True):
    """What one rule found. Times are seconds from the log's first row."""

    name: FindingName
    severity: Severity
    from_s: float
    to_s: float
    evidence: Mapping[str, Quantity]  # the numbers behind it
    says: str  # one or two plain sentences with numbers
    signs: Mapping[str, bool] = field(default_factory=dict)  # what this finding itself shows of its cause
    likely: tuple[Cause, ...] = ()
    check: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        bare = [name for name, number in self.evidence.items() if not isinstance(number, Quantity)]
        if bare or not self.evidence:
            raise ValueError(f"{self.name}: {bare or 'no'} evidence; each number behind a finding has its unit")
