"""How long a battery carries a load: one formula for a flight's endurance and for the planner."""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec import Struct

from analyzer.aircraft import Battery
from analyzer.limits import limit_value
from analyzer.measures.battery_facts import peukert_hours, temperature_factor

#: Days of a mean year.
DAYS_A_YEAR = 365.25


class Share(Struct, frozen=True):
    """A share of 1, such as a charge or a condition, with the least and the most that it may be."""

    value: float
    low: float
    high: float


def usual_condition(battery: Battery | None) -> Share:
    """Share of its rated capacity that a battery in service has, where nothing is known of this one."""
    if battery is Battery.LITHIUM:
        least = limit_value("lithium_capacity_cold")
        return Share(least, least, 1.0)
    return Share(limit_value("capacity_typical"), limit_value("capacity_least"), 1.0)


def worn_condition() -> Share:
    """Share of its rated capacity that a battery has whose wear its flights already show."""
    return Share(limit_value("capacity_worn"), limit_value("capacity_worn_least"), limit_value("capacity_worn_most"))


class CapacityTest(Struct, frozen=True):
    """What a test found of a battery's capacity."""

    when: datetime
    capacity: float  # [% of rated]


class RunDown(Struct, frozen=True):
    """What a flight that ran its battery down shows of the capacity."""

    when: datetime | None  # the flight's start; None without a clock
    capacity: Share  # at the one-hour rate and 25 degC [Ah]


class BatteryKnown(Struct, frozen=True):
    """What the records know of an aircraft's battery.

    What was seen before it was fitted, or before its last test that still counts, is superseded; what was seen since
    counts against it, whichever flight a plan is made from.
    """

    worn: bool = False  # whether findings show wear
    tested: CapacityTest | None = None  # the last test of the battery that is fitted
    since: datetime | None = None  # when it was fitted or tested; None where neither is entered
    run_down: tuple[RunDown, ...] = ()  # flights that ran it down

    def counts(self, at: datetime | None) -> bool:
        """Whether what was seen at a moment counts; without a clock it does."""
        return self.since is None or at is None or at >= self.since


UNKNOWN_BATTERY = BatteryKnown()


def months_since(test: CapacityTest, today: datetime) -> float:
    """Months between a test and today, none below zero."""
    return max(0.0, (today - test.when) / timedelta(days=DAYS_A_YEAR / 12))


def condition_by_test(test: CapacityTest, today: datetime) -> Share | None:
    """Share of its rated capacity that a tested battery has today; None where the test is too old to tell.

    What may have been lost since widens it downwards only.
    """
    months = months_since(test, today)
    return None if months > limit_value("capacity_test_holds") else _share_by_test(test, months)


def _share_by_test(test: CapacityTest, months: float) -> Share:
    """What a test says so many months after it."""
    share, spread = test.capacity / 100.0, limit_value("capacity_test_spread")
    least = max(0.01, share * (1.0 - spread) - months * limit_value("capacity_test_lost") / 100.0)
    return Share(min(share, 1.0), min(least, 1.0), min(share * (1.0 + spread), 1.0))


def known_condition(known: BatteryKnown, battery: Battery | None, today: datetime) -> Share:
    """Share of its rated capacity that a battery has, as far as the records know it.

    Where the flights since a test show wear, each end is the lower of what the test and the wear say. A test that is
    too old to count still bounds it: what a battery has lost does not come back.
    """
    told = [worn_condition()] if known.worn else []
    if known.tested is not None:
        tested = condition_by_test(known.tested, today)
        told += [tested] if tested else [_share_by_test(known.tested, limit_value("capacity_test_holds"))]
        told += [] if tested else [usual_condition(battery)]
    if not told:
        return usual_condition(battery)
    return Share(min(one.value for one in told), min(one.low for one in told), min(one.high for one in told))


def battery_life(
    load: float, capacity: float, charge: Share, temperature: float, condition: Share, battery: Battery | None
) -> Share:
    """Minutes that a battery carries a steady load, with the least and the most.

    ``t = 60 H (C / (I H))^k`` with the one-hour rating, H = 1 h (Peukert), C what is left of the rated capacity at
    this temperature, charge and condition. The interval spans the exponents k of such batteries, the charge and the
    condition; never more than the whole rated capacity. What is missing may be missing of the plates, so that the rest
    carries more each, or of what they hold, so that the time falls by that share and no more: the upper end takes the
    second.

    Parameters
    ----------
    load : to be carried [A], above zero
    capacity : rated, at the one-hour rate [Ah]
    charge, condition : shares of 1
    temperature : of the battery [degC]
    battery : its kind; None is taken as lead-acid
    """
    cold = temperature_factor(temperature)
    exponents = (limit_value("peukert_least"), limit_value("peukert_most"))
    typical, warm = limit_value("peukert_typical"), cold
    if battery is Battery.LITHIUM:  # loses less in the cold than a lead-acid one, how much less is not known
        typical, cold, warm = limit_value("lithium_peukert"), max(1.0, cold), 1.0
        exponents = (1.0, typical)
    value = _minutes(capacity / cold * charge.value * condition.value, load, typical)
    lows = [_minutes(capacity / cold * charge.low * condition.low, load, k) for k in exponents]
    most = charge.high * condition.high
    highs = [
        minutes
        for k in exponents
        for minutes in (
            _minutes(min(capacity / warm * most, capacity), load, k),
            min(most / warm, 1.0) * _minutes(capacity, load, k),
        )
    ]
    return Share(value, min(*lows, value), max(*highs, value))


def _minutes(capacity: float, amps: float, exponent: float) -> float:
    return 60.0 * peukert_hours(max(capacity, 1e-3), 1.0, amps, exponent)
