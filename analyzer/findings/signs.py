"""What one flight shows beside a finding that speaks for or against its causes.

A sign is True when seen, False when it could have been seen and was not, and absent when nothing can be
said of it.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analyzer.findings.battery import below_empty
from analyzer.findings.finding import Finding, FindingName
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import BRIEF, OFFLINE
from analyzer.flights.recharge import total_output
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.series import median, robust_sigma, running_median, series_median


def flight_signs(flight: Flight, measures: Mapping[str, Measure], findings: list[Finding]) -> dict[str, bool]:
    """Signs that hold for every finding of the flight."""
    names = {finding.name for finding in findings if not finding.signs.get("backup")}  # of the main battery
    signs = {"unsteady_too": True} if FindingName.UNSTEADY_CONNECTION in names else {}
    signs["alternator_lost_too"] = FindingName.ALTERNATOR_OFFLINE in names
    fades = [finding.signs["slow_fade"] for finding in findings if "slow_fade" in finding.signs]
    if fades:
        signs["slow_fade"] = any(fades)
    if measures["cranking_voltage"].value is not None:
        signs["weak_cranking_too"] = FindingName.WEAK_CRANKING in names
    rest = measures["resting_voltage"].value
    if rest is not None:
        signs["low_rest_too"] = FindingName.LOW_RESTING_VOLTAGE in names
        signs["below_empty"] = below_empty(flight, rest)
    resistance = measures["battery_resistance"]
    if resistance.low is not None and resistance.high is not None:
        usual = flight.limits["assumed_battery_resistance"]
        if resistance.low > usual * (1.0 + limit_value("resistance_spread")):
            signs["high_resistance"] = True
        elif resistance.high < usual * (1.0 + limit_value("resistance_spread")):
            signs["high_resistance"] = False
    if measures["regulated_voltage"].value is not None:
        signs["overcharged"] = FindingName.REGULATOR_HIGH in names or FindingName.OVERVOLTAGE in names
        signs["low_regulated"] = FindingName.REGULATOR_LOW in names
        signs["unsteady_too"] = FindingName.UNSTEADY_CONNECTION in names
    signs["lithium"] = flight.battery.is_lithium
    return (
        signs | _of_the_battery(measures, names) | _of_the_output(flight) | _of_the_air(flight) | _of_the_loss(flight)
    )


def _of_the_battery(measures: Mapping[str, Measure], names: set[FindingName]) -> dict[str, bool]:
    """Whether the battery rested full and came back well; only where both were measured."""
    charge, settling = measures["resting_charge"].low, measures["recharge_settling_time"].value
    if charge is None or settling is None:
        return {}
    ill = names & {FindingName.SLOW_RECHARGE, FindingName.RECHARGE_NEVER_SETTLES, FindingName.LOW_RESTING_VOLTAGE}
    return {"battery_well": charge >= limit_value("charge_well") and not ill}


def _of_the_output(flight: Flight) -> dict[str, bool]:
    """Whether the alternator's own output moves to and fro faster than loads do; None where no ammeter shows it."""
    output = flight.trace.alternator_output
    rows = flight.regulated & (np.isfinite(output) if output is not None else False)
    if output is None or rows.sum() < limit_value("speed_fewest_rows"):
        return {}
    amps = output[rows]
    scatter = robust_sigma(amps - running_median(amps, flight.trace.rows_in(limit_value("hunting_window"))))
    return {"restless_output": scatter > limit_value("output_restless")}


def _of_the_air(flight: Flight) -> dict[str, bool]:
    air = flight.trace.outside_air_temperature
    if air is None or not np.isfinite(air).any():
        return {}
    signs = {"hot": series_median(air) > limit_value("hot_air")}
    start = flight.air_at_start
    return signs | ({"cold": start < limit_value("cold_start")} if np.isfinite(start) else {})


def _of_the_loss(flight: Flight) -> dict[str, bool]:
    """What went before the first lasting loss of the alternator, when there is one."""
    lost = [outage for outage in flight.outages if outage.kind == OFFLINE]
    if not lost:
        return {}
    first = lost[0].first
    onset = flight.trace.time[first]
    brief = sum(outage.kind == BRIEF and outage.end <= first for outage in flight.outages)
    signs = {}
    if flight.alternator_on_row is not None:
        signs["dropouts_before"] = brief + _dips_before(flight, first) >= limit_value("connection_fewest")
    time = flight.trace.time
    minutes = (time > onset - limit_value("charging_before")) & (time < onset - 2.0 * flight.trace.step_s)
    charge = flight.trace.battery_current
    output = total_output(flight.trace)
    rating = flight.limits["alternator_rating"]
    for channel, share in ((charge, "charging_hard_share"), (output, "output_hard_share")):
        amps = float("nan") if channel is None else median(channel[minutes])
        if np.isfinite(amps) and "charging_hard_before" not in signs:
            signs["charging_hard_before"] = amps > limit_value(share) * rating
    return signs


def _dips_before(flight: Flight, first: int) -> int:
    """Single readings that fall by a connection's drop before a loss, on a carried bus."""
    volts = flight.trace.bus_voltage[flight.alternator_on_row : first]
    if volts.size < 10:
        return 0
    rpm_sufficient = flight.rpm_sufficient[flight.alternator_on_row : first]
    dips = (
        running_median(volts, int(limit_value("dip_level_rows"))) - volts > flight.limits["connection_drop"]
    ) & rpm_sufficient
    return int(np.count_nonzero(np.diff(dips.astype(np.int8)) == 1))
