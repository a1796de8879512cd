"""A finding: what a rule saw in one flight, with its evidence, causes and checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from analyzer.quantity import Quantity

SEVERITIES = ("advisory", "caution", "warning")
FINDINGS = (
    "overvoltage_trip",
    "overvoltage",
    "alternator_offline",
    "regulator_high",
    "regulator_low",
    "regulator_drift",
    "regulator_hunting",
    "slow_recharge",
    "recharge_never_settles",
    "weak_cranking",
    "low_resting_voltage",
    "output_short",
    "unsteady_connection",
    "battery_offline",
    "reading_fault",
)


@dataclass(frozen=True, slots=True)
class Cause:
    """What could explain a finding, with its share of the weight and the words that explain the share."""

    words: str
    weight: float  # the weights of a finding's causes sum to 1
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """What one rule found. Times are seconds from the log's first row."""

    name: str  # one of FINDINGS
    severity: str  # one of SEVERITIES
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
