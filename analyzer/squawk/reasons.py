"""Why a recording could not have shown a symptom: a kind with its numbers, and the sentence for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from analyzer.quantity import Quantity


class Unobservable(StrEnum):
    """Kinds of reasons; the words for each stand in ``WORDS``."""

    NO_VOLTAGE = "no_voltage"
    TOO_SHORT = "too_short"  # observed
    NO_AMMETER = "no_ammeter"
    AMMETER_CHARGES_AT_REST = "ammeter_charges_at_rest"  # current
    AMMETER_KIND_UNKNOWN = "ammeter_kind_unknown"
    AMMETER_KIND_APART = "ammeter_kind_apart"  # kind told apart from the aircraft's other flights
    OUTPUT_TOO_SMALL = "output_too_small"  # current
    VOLTMETER_OFFSET = "voltmeter_offset"  # offset, where it is known
    VOLTMETER_BEHIND_RESISTANCE = "voltmeter_behind_resistance"
    VOLTMETER_AGAINST_CURRENTS = "voltmeter_against_currents"
    SLOW_FOR_FLICKER = "slow_for_flicker"  # step, lowest_voltage
    SLOW_FOR_CRANK = "slow_for_crank"  # step
    SLOW_FOR_JUMP = "slow_for_jump"  # step
    SLOW_FOR_PULSING = "slow_for_pulsing"  # step
    NEVER_CHARGED = "never_charged"
    NEVER_HELD = "never_held"  # wanted
    ENDS_EARLY = "ends_early"  # carried
    NOT_MEASURED = "not_measured"  # because: the measure's own reason
    NOISE_TOO_FAST = "noise_too_fast"
    BATTERY_HEAT = "battery_heat"


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason with its numbers."""

    kind: Unobservable
    numbers: Mapping[str, Quantity] = field(default_factory=dict)
    measure: str | None = None  # the measure that has no value
    because: str | None = None  # why it has none, in its own words
    more: str | None = None  # what was seen all the same, in words

    @property
    def alike(self) -> tuple[Unobservable, str | None, tuple[str, ...]]:
        """What reasons have in common that differ in their numbers only."""
        return self.kind, self.measure, tuple(self.numbers)
