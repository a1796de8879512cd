"""Faults of readings, restarts, the signs of a flight and the weights of causes: numbers and edges by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from analyzer.findings.causes import load_knowledge, weigh_causes
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.findings.readings import reading_fault
from analyzer.findings.restart import restarted_in_flight
from analyzer.findings.signs import flight_signs
from analyzer.flights.outage_kinds import BRIEF, OFFLINE, AlternatorOutage
from analyzer.flights.reading_faults import ReadingFault
from analyzer.flights.trace import Trace
from analyzer.limits import Limits, limit_value
from analyzer.measures.measure import MEASURES, Measure, measured, not_measurable
from analyzer.quantity import Quantity

MISSING = {name: not_measurable(name, "not looked at") for name in MEASURES}


def fault(kind: str, channel: str = "bus_voltage", value: float | None = None, **more: Any) -> Finding:
    told = {"from_s": 60.0, "to_s": 150.0, "times": 1, "because": "the ammeter did not move"} | more
    (found,) = reading_fault(SimpleNamespace(reading_faults=[ReadingFault(kind, channel, value=value, **told)]), {})  # type: ignore[arg-type]
    return found


POINTS = ". Points to the instrument, not the aircraft: the ammeter did not move."
#: A kind of fault with what is known of it, the sentence and its gravity.
FAULTS = {
    "one spike": (("spike", "bus_voltage", 19.96), {},
                  "The bus voltage jumped once to 19.96 V for one or two readings" + POINTS, "advisory"),
    "three spikes": (("spike", "bus_voltage", -0.004), {"times": 3},
                     "The bus voltage jumped 3 times to -0.004 V for one or two readings" + POINTS, "advisory"),
    "stuck volts": (("stuck", "bus_voltage", 13.8), {}, "The bus voltage stuck at 13.8 V" + POINTS, "caution"),
    "stuck amperes": (("stuck", "battery_current", 5.0), {}, "The battery current stuck at 5 A" + POINTS, "advisory"),
    "dropouts": (("dropout",), {"times": 2},
                 "The bus voltage dropped out 2 times, 1.5 min from first to last" + POINTS, "caution"),
    "offset volts": (("offset", "bus_voltage", 0.62), {}, "The bus voltage is off by about 0.62 V" + POINTS, "caution"),
    "offset amperes": (("offset", "battery_current", -3.25), {},
                       "The battery current shows -3.25 A with the engine stopped" + POINTS, "advisory"),
    "not connected": (("unconnected",), {}, "The bus voltage input is not connected" + POINTS, "advisory"),
    "unsure": (("offset", "bus_voltage", 15.6), {"unsure": True, "because": "nobody can say which"},
               "The bus voltage stood at 15.6 V: instrument or regulator, nobody can say which. Measure at the battery "
               "posts with the engine running before the next flight.", "caution"),
}  # fmt: skip


@pytest.mark.parametrize(("what", "more", "says", "severity"), FAULTS.values(), ids=FAULTS)
def test_a_fault_of_readings_is_told_with_its_unit_and_its_gravity(what, more, says: str, severity: str) -> None:
    """Volts that cannot be trusted are graver than amperes, and a spike or an open input judges nothing."""
    found = fault(*what, **more)
    assert (found.says, found.severity) == (says, severity)
    assert ("reading" in found.evidence) is (len(what) == 3)


@pytest.mark.parametrize(
    ("value", "channel", "high"),
    [(0.6, "bus_voltage", True), (-0.6, "bus_voltage", False), (0.6, "battery_current", None)],
)
def test_a_voltmeter_that_is_off_reads_high_or_low(value: float, channel: str, high: bool | None) -> None:
    assert fault("offset", channel, value).signs.get("reads_high") is high


def restarted(
    *rows: int, bus: float = 14.0, after: float | None = None, flow: tuple[float, float] | None = None
) -> Any:
    """Ten minutes at a row a second, 40 s missing before some rows; volts and amperes before and after the first."""
    time = np.arange(600.0)
    volts, amps = np.full(600, bus), None if flow is None else np.full(600, flow[0])
    for row in rows:
        time[row:] += 39.0
    if rows and after is not None:
        volts[rows[0] :] = after
    if rows and amps is not None and flow is not None:
        amps[rows[0] :] = flow[1]
    trace = Trace(time=time, bus_voltage=volts, battery_current=amps)
    return SimpleNamespace(trace=trace, run=SimpleNamespace(restarts=rows), limits=Limits(14, {}))


def test_a_recorder_that_starts_anew_in_the_air_says_how_much_was_not_recorded() -> None:
    """40 s from the row before to the row after, each time; from three times on it is the supply (restarts_telling)."""
    (once,) = restarted_in_flight(restarted(200), {})
    assert once.says == (
        "Recorder restarted once in the air, 40 s not recorded: bus power may have been lost, unless someone switched "
        "it off. Bus 14.0 V before, 14.0 V after."
    )
    assert (once.name, once.severity, once.from_s, once.to_s) == ("reading_fault", "advisory", 199.0, 239.0)
    (twice,) = restarted_in_flight(restarted(200, 300), {})
    assert (twice.name, twice.evidence["unrecorded_s"]) == ("reading_fault", Quantity(80.0, "s"))
    (thrice,) = restarted_in_flight(restarted(200, 300, 400), {})
    assert (thrice.name, thrice.severity) == ("unsteady_connection", "caution")
    assert (thrice.evidence["restarts"], thrice.evidence["unrecorded_s"]) == (Quantity(3.0, "1"), Quantity(120.0, "s"))
    assert restarted_in_flight(restarted(), {}) == []


@pytest.mark.parametrize(("more", "name"), [(0.9, "reading_fault"), (1.1, "unsteady_connection")])
def test_a_battery_that_takes_more_afterwards_had_carried_the_bus(more: float, name: str) -> None:
    limit = Limits(14, {})["restart_recharge"]
    (found,) = restarted_in_flight(restarted(200, flow=(1.0, 1.0 + more * limit)), {})
    assert found.name == name
    assert ("it had carried the bus" in found.says) == (name == "unsteady_connection")
    told = found.evidence.get("charge_more_a")
    assert told is None or told.value == pytest.approx(more * limit, abs=0.05)


@pytest.mark.parametrize("before", [True, False])
def test_a_restart_beside_which_the_bus_was_not_read_says_nothing_of_it(before: bool) -> None:
    """As far as is looked on either side; the evidence then has no volts."""
    flight = restarted(200)
    volts = flight.trace.bus_voltage.copy()
    width = flight.trace.rows_in(limit_value("restart_beside"))
    volts[200 - width : 200] = np.nan if before else 14.0
    volts[200 : 200 + width] = 14.0 if before else np.nan
    flight.trace = Trace(time=flight.trace.time, bus_voltage=volts)
    (found,) = restarted_in_flight(flight, {})
    assert found.says.endswith("unless someone switched it off.")
    assert found.evidence.keys() == {"restarts", "unrecorded_s"}


# Signs


def flown(rows: int = 1200, **more: Any) -> Any:
    """Twenty minutes of a carried bus at a row a second; what names a channel goes into the trace."""
    names = ("bus_voltage", "battery_current", "alternator_current", "outside_air_temperature")
    channels: dict[str, Any] = {"bus_voltage": np.full(rows, 14.0)} | {n: more.pop(n) for n in names if n in more}
    everything = np.ones(rows, dtype=np.bool_)
    told = {
        "trace": Trace(time=np.arange(float(rows)), **channels), "regulated": everything, "rpm_sufficient": everything,
        "limits": Limits(14, {"alternator_rating": 60.0}), "outages": [], "alternator_on_row": 0,
        "air_at_start": float("nan"), "battery": SimpleNamespace(is_lithium=False),
    }  # fmt: skip
    return SimpleNamespace(**told | more)


def signs(flight: Any, found: tuple[FindingName, ...] = (), **measures: Measure) -> dict[str, bool]:
    evidence = {"limit": Quantity(1.0, "V")}
    findings = [Finding(name, Severity.CAUTION, 0.0, 1.0, evidence, "", {}) for name in found]
    return flight_signs(flight, MISSING | measures, findings)


@pytest.mark.parametrize(
    ("low", "high", "sign"),
    [
        (21.1, 30.0, True),  # usual is 14 mOhm and half more, 21 (limits assumed_battery_resistance, resistance_spread)
        (21.0, 30.0, None),  # the interval reaches to just there
        (15.0, 21.0, None),
        (15.0, 20.9, False),
    ],
)
def test_a_resistance_speaks_where_its_whole_interval_lies_on_one_side(low: float, high: float, sign) -> None:
    told = signs(flown(), battery_resistance=measured("battery_resistance", 0.5 * (low + high), low, high))
    assert told.get("high_resistance") is sign


#: What is found beside, what of it was measured, and the sign: True and False where it could have been seen.
BESIDE = {
    "weak_cranking_too": (FindingName.WEAK_CRANKING, "cranking_voltage"),
    "low_rest_too": (FindingName.LOW_RESTING_VOLTAGE, "resting_voltage"),
    "low_regulated": (FindingName.REGULATOR_LOW, "regulated_voltage"),
    "overcharged": (FindingName.REGULATOR_HIGH, "regulated_voltage"),
    "overcharged by far": (FindingName.OVERVOLTAGE, "regulated_voltage"),
}


@pytest.mark.parametrize(("sign", "name", "measure"), [(sign, *one) for sign, one in BESIDE.items()], ids=BESIDE)
def test_what_is_found_beside_is_a_sign_and_its_absence_one_only_where_it_was_measured(sign, name, measure) -> None:
    told = {measure: measured(measure, 12.6, 12.5, 12.7)}
    sign = sign.removesuffix(" by far")
    assert signs(flown(), (name,), **told)[sign] is True
    assert signs(flown(), (), **told)[sign] is False
    assert sign not in signs(flown(), ())


@pytest.mark.parametrize(
    ("air", "hot", "start", "cold"),
    [(30.0, False, 5.0, False), (30.1, True, 4.9, True), (-5.0, False, float("nan"), None)],
)
def test_air_is_hot_above_30_and_cold_below_5_degrees(air: float, hot: bool, start: float, cold) -> None:
    told = signs(flown(outside_air_temperature=np.full(1200, air), air_at_start=start))
    assert told["hot"] is hot
    assert told.get("cold") is cold
    assert "hot" not in signs(flown())


@pytest.mark.parametrize(
    ("charge", "found", "well"),
    [
        (75.0, (), True),  # at least 75 % by the lower end (limit charge_well)
        (74.9, (), False),
        (80.0, (FindingName.SLOW_RECHARGE,), False),
        (80.0, (FindingName.REGULATOR_LOW,), True),
    ],
)
def test_a_battery_that_rested_full_and_came_back_is_well(charge: float, found, well: bool) -> None:
    rested = measured("resting_charge", charge + 5.0, charge, charge + 10.0)
    settled = measured("recharge_settling_time", 8.0, 7.0, 9.0)
    assert signs(flown(), found, resting_charge=rested, recharge_settling_time=settled)["battery_well"] is well
    assert "battery_well" not in signs(flown(), found, resting_charge=rested), "nothing tells how it came back"


@pytest.mark.parametrize(
    ("channel", "amps", "hard"),
    [
        ("battery_current", 27.1, True),  # 0.45 of 60 A are 27 A (limit charging_hard_share)
        ("battery_current", 27.0, False),
        ("alternator_current", 48.1, True),  # 0.8 of 60 A are 48 A (limit output_hard_share)
        ("alternator_current", 48.0, False),
    ],
)
def test_a_loss_came_while_charging_hard_by_the_five_minutes_before_it(channel: str, amps: float, hard: bool) -> None:
    """From 600 s on the alternator is gone: what flows then, or more than 300 s before, does not count."""
    flow = np.zeros(1200)
    flow[301:598] = amps
    lost = flown(**{channel: flow}, outages=[AlternatorOutage(600, 1200, OFFLINE)])
    assert signs(lost)["charging_hard_before"] is hard


@pytest.mark.parametrize(("dips", "seen"), [(3, True), (2, False)])
@pytest.mark.parametrize("as_outages", [True, False])
def test_dropouts_before_a_loss_are_three_brief_ones_or_single_readings(
    dips: int, seen: bool, as_outages: bool
) -> None:
    """A reading that falls by more than a connection's drop on a carried bus counts as a brief loss does."""
    bus, outages = np.full(1200, 14.0), [AlternatorOutage(600, 1200, OFFLINE)]
    for row in (100, 200, 300)[:dips]:
        if as_outages:
            outages.insert(0, AlternatorOutage(row, row + 2, BRIEF))
        else:
            bus[row] = 14.0 - 1.5 * Limits(14, {})["connection_drop"]
    outages.append(AlternatorOutage(1150, 1160, BRIEF))  # after the loss, no sign of it
    assert signs(flown(bus_voltage=bus, outages=outages))["dropouts_before"] is seen


def test_without_a_lasting_loss_nothing_is_said_of_what_went_before_one() -> None:
    told = signs(flown(outages=[AlternatorOutage(600, 602, BRIEF)], battery_current=np.full(1200, 50.0)))
    assert "dropouts_before" not in told
    assert "charging_hard_before" not in told


@pytest.mark.parametrize(("swing", "restless"), [(0.66, False), (0.69, True)])
def test_an_output_that_moves_from_row_to_row_is_restless(swing: float, restless: bool) -> None:
    """To and fro every row by so many amperes about 20 A.

    Of the 31 rows about each, 16 lie on the other side, so that each is two swings off their median, half of them up
    and half down: 1.4826 times two swings is the scatter, 1.96 and 2.05 A; more than 2 A is restless (output_restless).
    """
    amps = 20.0 + swing * np.resize([1.0, -1.0], 1200)
    told = signs(flown(alternator_current=amps))
    assert told["restless_output"] is restless


# Weights


def test_a_sign_multiplies_its_causes_weights_and_the_whole_is_one() -> None:
    """Worked again here from the file: begin, multiply, leave out nothing, share out."""
    knowledge = load_knowledge()
    name, sign = FindingName.ALTERNATOR_OFFLINE, "dropouts_before"
    assert sign in knowledge.signs
    for seen in (True, False):
        weights = {}
        for cause in knowledge.causes:
            if name in cause.weights:
                factors = cause.signs.get(sign, (1.0, 1.0))
                weights[cause.key] = cause.weights[name] * factors[0 if seen else 1]
        likely, _ = weigh_causes(name, {sign: seen})
        best = sorted((key for key in weights if weights[key] > 0.0), key=lambda key: -weights[key])[: len(likely)]
        whole = sum(weights[key] for key in best)
        assert [cause.key for cause in likely] == best
        assert [cause.weight for cause in likely] == pytest.approx([weights[key] / whole for key in best])
        assert sum(cause.weight for cause in likely) == pytest.approx(1.0)


def test_what_moved_a_weight_is_said_with_its_factor_and_unseen_signs_as_such() -> None:
    knowledge = load_knowledge()
    name, sign = FindingName.ALTERNATOR_OFFLINE, "dropouts_before"
    for seen in (True, False):
        for cause in weigh_causes(name, {sign: seen})[0]:
            known = next(one for one in knowledge.causes if one.key == cause.key)
            factor = known.signs.get(sign, (1.0, 1.0))[0 if seen else 1]
            words = knowledge.signs[sign] if seen else f"not seen: {knowledge.signs[sign]}"
            assert cause.why == ((f"{words} (x {factor:g})",) if factor != 1.0 else ())
