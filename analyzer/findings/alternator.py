"""Rules on the alternator's presence: lost, tripped by overvoltage, short of output; and overvoltage itself."""

from __future__ import annotations

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer import quantity
from analyzer.findings.connection import counted_dips
from analyzer.findings.finding import Finding, FindingName, Severity
from analyzer.flights.alternatives import chances, engine_shown_fast
from analyzer.flights.alternator_online import shown_current
from analyzer.flights.dips import UNTOLD
from analyzer.flights.flight import Flight
from analyzer.flights.outage_kinds import (
    BRIEF,
    LATE_START,
    LOW_RPM,
    OFFLINE,
    OUTPUT_LIMITED,
    VOLTMETER_ONLY,
    AlternatorOutage,
    OutageKind,
)
from analyzer.flights.run_up import RunUp, run_up
from analyzer.flights.trace import Trace
from analyzer.limits import limit_value
from analyzer.measures.measure import Measure
from analyzer.phrases import bus_volts, chance, duration, fixed
from analyzer.quantity import Quantity
from analyzer.series import (
    Floats,
    Mask,
    drop_short_runs,
    fill_short_gaps,
    finite_of,
    hold,
    median,
    mostly,
    percentile,
    running_median,
    runs,
)


def alternator_losses(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """alternator_offline and overvoltage_trip: one for each stretch without the alternator.

    Innocent, and left out before this rule: low engine speed, the alternator switched off for a moment on
    the ground, a loss shorter than a few seconds.
    """
    if not flight.bus_told:
        return []
    lost = [a for a in flight.outages if a.kind in (OFFLINE, LATE_START) and not _of_a_connection(flight, a)]
    if flight.alternator_on_row is None and flight.running.any() and lost:
        lost = [AlternatorOutage(lost[0].first, lost[-1].end, OFFLINE)]
    joined = _joined(lost, flight)
    found = [_loss(flight, outage, len(joined)) for outage in joined]
    return found if shown_current(flight.trace) is not None else _told_once(found)


#: Each explanation of an outage as another one beside the finding.
_OR_ELSE = {
    OFFLINE: "an alternator that gave nothing",
    OUTPUT_LIMITED: "an alternator at its limit",
    LOW_RPM: "too low an engine speed, or a bus that still climbs",
    VOLTMETER_ONLY: "the voltmeter's connection",
}
#: What a loss may be called where another explanation is the likelier one.
_LOST_OR = {
    OUTPUT_LIMITED: "the alternator went off line or could not carry the load",
    LOW_RPM: "the alternator went off line or turned too slowly",
    VOLTMETER_ONLY: "the alternator went off line or the bus only read low",
}


class _Other(Struct, frozen=True):
    """The nearest other explanation of some outages than the one that is acted on."""

    kind: OutageKind
    chance: float
    words: str

    @property
    def likelier(self) -> bool:
        """Whether it is told as the likelier one."""
        return self.chance >= limit_value("alternative_likelier")

    @property
    def says(self) -> str:
        """The sentence that follows those of the finding."""
        return f" {'Rather' if self.likelier else 'Or'} {self.words}: {chance(self.chance)}."


def _other(flight: Flight, span: AlternatorOutage, acted_on: OutageKind) -> _Other | None:
    """The nearest other explanation of the outages in a span that nothing rules out, None where none is near.

    An engine that is shown to be fast was not too slow. All that is left of that explanation is a low battery that
    takes all that is given: not beside a loss, which it had been charged before, nor where the battery gives.
    """
    kinds = (OFFLINE, LATE_START) if acted_on == OFFLINE else (acted_on,)
    inside = [one for one in flight.outages if one.first < span.end and one.end > span.first and one.kind in kinds]
    words = dict(_OR_ELSE)
    del words[acted_on]
    if engine_shown_fast(inside):
        words[LOW_RPM] = "a low battery that still takes all it gives"
        lost = any(one.kind == OFFLINE for one in inside)
        if lost or _middle(flight.trace.battery_current, span) < -limit_value("discharge_smallest"):
            del words[LOW_RPM]
    others = {kind: share for kind, share in chances(inside, flight.trace.seconds).items() if kind in words}
    if not others or max(others.values()) < limit_value("alternative_near"):
        return None
    kind = max(others, key=lambda one: others[one])
    return _Other(kind, others[kind], words[kind])


def _told_once(found: list[Finding]) -> list[Finding]:
    """Where no ammeter tells, many losses that look alike are one finding from the first to the last."""
    alike = [finding for finding in found if finding.name == FindingName.ALTERNATOR_OFFLINE]
    if len(alike) <= limit_value("losses_told_singly"):
        return found
    first, last = alike[0], alike[-1]
    evidence = dict(first.evidence) | {"times": quantity.count(len(alike))}
    lasted = sum(finding.evidence["duration_min"].value for finding in alike)
    evidence["duration_min"] = quantity.minutes(lasted)
    evidence["lowest_voltage"] = min((one.evidence["lowest_voltage"] for one in alike), key=lambda low: low.value)
    says = f"{len(alike)} losses, {lasted:.1f} min in all. First: {first.says}"
    severity = max((finding.severity for finding in alike), key=lambda severity: severity.rank)
    one = replace(first, to_s=last.to_s, evidence=evidence, says=says, severity=severity)
    return [one, *(finding for finding in found if finding.name != FindingName.ALTERNATOR_OFFLINE)]


def _of_a_connection(flight: Flight, outage: AlternatorOutage) -> bool:
    """Whether a short loss is one of the moments by which an unsteady connection is known.

    Where no ammeter tells it is one of many falls, of which a third and more leave the bus above a full battery's rest,
    where no battery holds it that gives the load.
    """
    lasts = flight.trace.time[outage.end - 1] - flight.trace.time[outage.first]
    if lasts > limit_value("connection_longest"):
        return False
    dips = counted_dips(flight)
    inside = [dip for dip in dips if dip.first < outage.end and dip.end > outage.first]
    full = flight.limits["lithium_full_battery" if flight.battery.is_lithium else "full_battery"]
    part, times = limit_value("outage_level_short"), limit_value("shallow_one_in")
    shallow = sum(percentile(finite_of(flight.trace.bus_voltage[dip.first : dip.end]), part) > full for dip in dips)
    return any(dip.kind != UNTOLD or times * shallow > len(dips) for dip in inside)


def _joined(lost: list[AlternatorOutage], flight: Flight) -> list[AlternatorOutage]:
    """Losses that follow each other within moments, or between which the alternator gives nothing, are one."""
    joined: list[AlternatorOutage] = []
    for outage in lost:
        last = joined[-1] if joined else None
        apart = limit_value("losses_apart")
        back = last is not None and _gives_between(flight, last.end, outage.first)
        if last and (not back or flight.trace.time[outage.first] - flight.trace.time[last.end - 1] < apart):
            joined[-1] = AlternatorOutage(last.first, outage.end, OFFLINE if last.kind == OFFLINE else outage.kind)
        else:
            joined.append(outage)
    return joined


def _gives_between(flight: Flight, first: int, end: int) -> bool:
    """Whether the alternator gives anything from row ``first`` to ``end``: it carries the bus, or gives too little."""
    return _limited(flight, first, end) is not None or bool(flight.alternator_online[first:end].any())


def _limited(flight: Flight, first: int, end: int) -> AlternatorOutage | None:
    """The first stretch from row ``first`` to ``end`` in which the alternator gives too little."""
    return next((one for one in flight.outages if one.kind == OUTPUT_LIMITED and first <= one.first < end), None)


def _loss(flight: Flight, outage: AlternatorOutage, times: int) -> Finding:
    trace = flight.trace
    from_s, to_s = float(trace.time[outage.first]), float(trace.time[outage.end - 1])
    minutes = (to_s - from_s) / 60.0
    volts = trace.bus_voltage[outage.first : outage.end]
    evidence = {"duration_min": quantity.minutes(minutes), "times": quantity.count(times)}
    if np.isfinite(volts).any():
        light = volts < flight.limits["low_voltage"]
        seconds = trace.seconds[outage.first : outage.end]
        evidence["lowest_voltage"] = quantity.volts(np.nanmin(volts))
        evidence["below_low_voltage_min"] = quantity.minutes(seconds[light].sum() / 60.0)
    drawn = -_middle(trace.battery_current, outage)
    if np.isfinite(drawn):
        evidence["drawn_a"] = quantity.amperes(drawn)
    returned = bool(flight.alternator_online[outage.end : flight.run.stop].any())
    if returned:
        evidence["restored_s"] = quantity.seconds(to_s - from_s)
    before = run_up(trace, flight.alternator_online, outage.first, outage.end, flight.limits)
    signs = _signs(flight, outage, before, returned, times)
    other = _other(flight, outage, OFFLINE)
    signs["rather_at_limit"] = other is not None and other.likelier and other.kind == OUTPUT_LIMITED
    if outage.kind == LATE_START or flight.alternator_on_row is None:
        return _with(other, _never_or_late(flight, outage, evidence, signs, minutes))
    if not flight.voltmeter.tells:
        after = _after(flight, outage, returned, minutes)
        return _with(other, _by_current(flight, outage, evidence, signs, _lost(flight, other), after))
    level = before.level if before.rose or not np.isfinite(before.lately) else before.lately
    peak = max(before.peak, level)
    evidence |= {"voltage_before": quantity.volts(level), "peak_voltage": quantity.volts(peak)}
    after = _after(flight, outage, returned, minutes)
    fell = f"bus {bus_volts(level)} to {bus_volts(median(volts))}"
    severity = Severity.CAUTION if returned and minutes < limit_value("loss_warning") else Severity.WARNING
    if signs.get("voltage_rose_before"):
        evidence["limit"] = Quantity(flight.limits["overvoltage"], "V")
        says = (
            f"Bus rose to {peak:.1f} V (was {level:.1f} V), then the alternator dropped off line"
            f"{' in one step' if signs.get('abrupt_loss') else ''}{after}. Most likely overvoltage protection tripped."
        )
        return Finding(FindingName.OVERVOLTAGE_TRIP, severity, before.from_s, to_s, evidence, says, signs)
    how = {True: " in one step", False: " gradually", None: ""}[signs.get("abrupt_loss")]
    says = f"{_lost(flight, other)}: {fell}{how}{after}."
    if signs.get("abrupt_loss") and returned:
        says += " No voltage rise recorded before it; a surge between two rows would not show."
    return _with(other, Finding(FindingName.ALTERNATOR_OFFLINE, severity, from_s, to_s, evidence, says, signs))


def _with(other: _Other | None, finding: Finding) -> Finding:
    """The finding with the nearest other explanation behind its sentences."""
    return finding if other is None else replace(finding, says=finding.says + other.says)


def _lost(flight: Flight, other: _Other | None) -> str:
    """That the alternator was lost, no more surely than it is: the beginning of a sentence."""
    if other is None or not other.likelier:
        return f"{at_speed(flight, other)} the alternator dropped off line"
    return f"{at_speed(flight, other)} {_LOST_OR[other.kind]}"


def _by_current(
    flight: Flight,
    outage: AlternatorOutage,
    evidence: dict[str, Quantity],
    signs: dict[str, bool],
    lost: str,
    after: str,
) -> Finding:
    """A loss that the ammeter alone shows."""
    trace = flight.trace
    flow = shown_current(trace)
    before = slice(max(0, outage.first - trace.rows_in(limit_value("output_before"))), max(1, outage.first - 1))
    was, then = (float("nan"),) * 2 if flow is None else (median(flow[before]), _middle(flow, outage))
    fell = ""
    if np.isfinite(was) and np.isfinite(then):
        evidence |= {"current_before": quantity.amperes(was), "current_then": quantity.amperes(then)}
        what = "its output" if flight.ammeter.kind == "alternator" else "the battery's current"
        fell = f": {what} fell from {fixed(was, 1)} A to {fixed(then, 1)} A"
    says = (
        f"{lost}{fell}{' in one step' if signs.get('abrupt_loss') else ''}{after}. "
        "No voltmeter shows whether the voltage rose before."
    )
    from_s, to_s = float(trace.time[outage.first]), float(trace.time[outage.end - 1])
    soon_back = signs["restored"] and (to_s - from_s) / 60.0 < limit_value("loss_warning")
    severity = Severity.CAUTION if soon_back else Severity.WARNING
    return Finding(FindingName.ALTERNATOR_OFFLINE, severity, from_s, to_s, evidence, says, signs)


def _middle(channel: Floats | None, outage: AlternatorOutage) -> float:
    """Median of a channel over an outage, NaN when it is not recorded."""
    return float("nan") if channel is None else median(channel[outage.first : outage.end])


def _after(flight: Flight, outage: AlternatorOutage, returned: bool, minutes: float) -> str:
    """What became of a loss, in words."""
    if returned:
        return f"; back after {duration(60.0 * minutes)}"
    limited = _limited(flight, outage.end, flight.run.stop)
    if limited is not None:
        amps = _middle(flight.trace.alternator_output, limited)
        return f"; then gave {f'{fixed(amps)} A, ' if np.isfinite(amps) else ''}too little; not back on line"
    if outage.end < flight.run.stop:
        return f"; what came after {duration(60.0 * minutes)} is not recorded"
    return "; off until the engine stopped"


def at_speed(flight: Flight, other: _Other | None = None) -> str:
    """How fast the engine turned, as far as it is known: the beginning of a sentence."""
    too_slow = other is not None and other.words == _OR_ELSE[LOW_RPM]
    return "With the engine running" if flight.trace.engine_speed is None or too_slow else "At normal rpm"


def _never_or_late(
    flight: Flight, outage: AlternatorOutage, evidence: dict[str, Quantity], signs: dict[str, bool], minutes: float
) -> Finding:
    trace = flight.trace
    from_s, to_s = float(trace.time[outage.first]), float(trace.time[outage.end - 1])
    if flight.alternator_on_row is None:
        says = (
            f"The alternator never came on line in {minutes:.0f} min with the engine running: "
            "the battery carried the load"
        )
        low, drawn = evidence.get("lowest_voltage"), evidence.get("drawn_a")
        taken = f" with {drawn.value:.0f} A." if drawn and drawn.value else "."
        says += f", down to {bus_volts(low.value)}." if low else taken
        return Finding(FindingName.ALTERNATOR_OFFLINE, Severity.WARNING, from_s, to_s, evidence, says, signs)
    says = (
        f"The alternator came on line {duration(60.0 * minutes)} after the engine was fast enough: "
        "switched on late, or slow to build up."
    )
    return Finding(FindingName.ALTERNATOR_OFFLINE, Severity.ADVISORY, from_s, to_s, evidence, says, signs)


def _signs(flight: Flight, outage: AlternatorOutage, before: RunUp, returned: bool, times: int) -> dict[str, bool]:
    """What the loss shows of its cause."""
    trace = flight.trace
    onset = trace.time[outage.first]
    level = before.level if before.rose or not np.isfinite(before.lately) else before.lately
    clear = limit_value("abrupt_clear")
    just = slice(*np.searchsorted(trace.time, (onset - limit_value("abrupt_before"), onset - clear)))
    soon = slice(*np.searchsorted(trace.time, (onset + clear, onset + limit_value("abrupt_after"))))
    shown = trace.bus_voltage if flight.voltmeter.tells else shown_current(trace)
    fall = whole = float("nan")
    if shown is not None:
        before_it = level if flight.voltmeter.tells else median(shown[just])
        fall = median(shown[just]) - median(shown[soon])
        whole = before_it - median(shown[outage.first : outage.end])
    signs = {
        "restored": returned,
        "repeated": times > 1,
        "one_of_two": False,
        "never_on": flight.alternator_on_row is None,
        "from_the_start": flight.alternator_on_row is None or outage.kind == LATE_START,
        "late": outage.kind == LATE_START and flight.alternator_on_row is not None,
    }
    if returned:
        away = float(trace.time[outage.end - 1] - onset) / 60.0
        signs["back_soon"] = away <= limit_value("reset_longest")
    if flight.voltmeter.tells:
        signs["voltage_rose_before"] = before.rose
    if trace.engine_speed is not None and not signs["from_the_start"]:
        signs["steady_speed"] = _steady_speed(flight, outage.first) and (
            not returned or _steady_speed(flight, outage.end)
        )
    # one that was never there has not left; and slower logs do not tell a step from a fade
    if np.isfinite(fall) and not signs["from_the_start"] and trace.step_s <= limit_value("abrupt_within"):
        signs["abrupt_loss"] = bool(fall > limit_value("abrupt_share") * whole)
    return signs


def _steady_speed(flight: Flight, row: int) -> bool:
    """Whether the engine held its speed about a row: a hand on the switch and not one on the throttle."""
    beside = flight.trace.rows_in(limit_value("speed_lag"))
    speed = flight.trace.engine_speed
    return speed is None or float(np.ptp(hold(speed)[max(0, row - beside) : row + beside])) < limit_value("speed_swing")


def overvoltage(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """The bus stays above the overvoltage limit and nothing takes the alternator off."""
    trace = flight.trace
    limit = flight.limits["overvoltage"]
    above = flight.running & (running_median(trace.bus_voltage, 3) > limit)
    if not above.any():
        return []
    tripped = [span for span in runs(above) if _trips(flight, span[1])]
    for first, end in tripped:
        above[first:end] = False
    above = fill_short_gaps(above, trace.time, limit_value("losses_apart"))
    spans = [
        (first, end)
        for first, end in runs(above)
        if trace.time[end - 1] - trace.time[first] >= limit_value("overvoltage_lasting")
        and np.isfinite(trace.bus_voltage[first:end]).any()  # its neighbours alone say nothing of a blank
    ]
    if not spans:
        return []
    first, end = spans[0][0], spans[-1][1]
    minutes = sum(float(trace.seconds[a:b].sum()) for a, b in spans) / 60.0
    peak = float(np.nanmax(trace.bus_voltage[first:end]))
    evidence = {
        "peak_voltage": quantity.volts(peak),
        "limit": Quantity(limit, "V"),
        "duration_min": quantity.minutes(minutes),
    }
    signs = {"follows_engine_speed": _follows_engine_speed(flight, first, end)}
    says = (
        f"Bus above {limit:.1f} V for {duration(60.0 * minutes)}, up to {peak:.1f} V, and the alternator stayed on "
        "line: neither the regulator nor overvoltage protection brought it down."
    )
    if signs["follows_engine_speed"]:
        says += " The voltage follows engine rpm: nothing regulates it."
    return [
        Finding(
            FindingName.OVERVOLTAGE,
            Severity.WARNING,
            float(trace.time[first]),
            float(trace.time[end - 1]),
            evidence,
            says,
            signs,
        )
    ]


def _trips(flight: Flight, end: int) -> bool:
    """Whether a high voltage that ends at row ``end`` ends in the loss of the alternator."""
    time = flight.trace.time
    return any(
        outage.kind in (OFFLINE, BRIEF)
        and abs(time[outage.first] - time[min(end, time.size - 1)]) < limit_value("trip_window")
        for outage in flight.outages
    )


def _follows_engine_speed(flight: Flight, first: int, end: int) -> bool:
    speed, volts = flight.trace.engine_speed, flight.trace.bus_voltage
    if speed is None or end - first < limit_value("speed_fewest_rows"):
        return False
    pair = np.isfinite(speed[first:end]) & np.isfinite(volts[first:end])
    x, y = speed[first:end][pair], volts[first:end][pair]
    lag = flight.trace.rows_in(limit_value("speed_lag"))
    # changes, since a battery that charges lifts the bus slowly all the while
    dx, dy = x[lag:] - x[:-lag], y[lag:] - y[:-lag]
    swings = np.abs(dx) > limit_value("speed_swing")
    dx, dy = dx[swings], dy[swings]
    if dx.size < limit_value("speed_fewest_changes") or not dy.any():
        return False
    return bool((dx * dy).sum() > limit_value("correlation_telling") * np.sqrt((dx**2).sum() * (dy**2).sum()))


def output_short(flight: Flight, measures: dict[str, Measure]) -> list[Finding]:
    """The alternator is there, but cannot hold the bus at cruise speed under the load.

    Where no ammeter tells, a low bus that no battery holds may be this or only a reading; it is told with both.
    """
    trace, untold = flight.trace, _untold_stretches(flight)
    spans = _short_stretches(flight, untold)
    minutes = sum(float(trace.seconds[a.first : a.end].sum()) for a in spans) / 60.0
    if 60.0 * minutes < limit_value("short_shortest"):
        return []
    first, end = spans[0].first, spans[-1].end
    rows = np.zeros(trace.time.size, dtype=np.bool_)
    for outage in spans:
        rows[outage.first : outage.end] = True
    volts = median(trace.bus_voltage[rows])
    amps, words = _amperes_when_short(trace, rows)
    evidence = {
        "voltage": quantity.volts(volts),
        "lowest_voltage": quantity.volts(np.nanmin(trace.bus_voltage[rows])),
        "duration_min": quantity.minutes(minutes),
        "times": quantity.count(len(spans)),
    } | amps
    back = bool(flight.alternator_online[end : flight.run.stop].any())
    lasting = f"for {duration(60.0 * minutes)}" if back else f"for the last {duration(60.0 * minutes)}"
    told = max((one for a in spans for one in a.evidence), key=lambda one: one.odds, default=None)
    sure = told is not None and told.odds > 0.0
    other = None if sure else _other(flight, AlternatorOutage(first, end, OUTPUT_LIMITED), OUTPUT_LIMITED)
    says = f"{at_speed(flight, other)} the alternator could not carry the load {lasting}: bus {bus_volts(volts)}{words}"
    says += "; it recovered later." if back else "."
    if told is not None and sure:
        says += f" {told.words[0].upper()}{told.words[1:]}: it gave all it had."
    if untold:
        says += " That is above battery voltage. No ammeter shows whether only the reading is low."
    fades = _fades(flight, spans[0])
    signs = {} if fades is None else {"slow_fade": fades}
    if trace.battery_current is not None and np.isfinite(trace.battery_current[rows]).any():
        signs["drained_at_speed"] = median(trace.battery_current[rows]) < -limit_value("drained_smallest")
    from_s, to_s = float(trace.time[first]), float(trace.time[end - 1])
    short = Finding(FindingName.OUTPUT_SHORT, Severity.CAUTION, from_s, to_s, evidence, says, signs)
    return [_with(other, short)]


def _short_stretches(flight: Flight, untold: list[AlternatorOutage]) -> list[AlternatorOutage]:
    """Those of an alternator at its limit, of a battery drained beside it, and the ``untold``; where the bus shows."""
    spans = [outage for outage in flight.outages if outage.kind == OUTPUT_LIMITED] + drained_stretches(flight) + untold
    spans.sort(key=lambda outage: outage.first)
    volts = flight.trace.bus_voltage
    return [one for one in spans if np.isfinite(volts[one.first : one.end]).any()]  # else nothing sagged


def _amperes_when_short(trace: Trace, rows: Mask) -> tuple[dict[str, Quantity], str]:
    """What battery and alternator gave in some rows, as evidence and in words."""
    evidence, words = {}, ""
    for name, channel, phrase in (
        ("battery_a", trace.battery_current, "battery giving"),
        ("output_a", trace.alternator_output, "output only"),
    ):
        amps = float("nan") if channel is None else median(channel[rows])
        if np.isfinite(amps):
            evidence[name] = quantity.amperes(amps)
            words += f", {phrase} {abs(amps):.0f} A"
    return evidence, words


def _untold_stretches(flight: Flight) -> list[AlternatorOutage]:
    """Stretches of a bus that is low for longer than a contact, where neither ammeter nor voltmeter shows why."""
    if shown_current(flight.trace) is not None or any(f.channel == "bus_voltage" for f in flight.reading_faults):
        return []
    time, longest = flight.trace.time, limit_value("connection_longest")
    low = [outage for outage in flight.outages if outage.kind == VOLTMETER_ONLY]
    return [outage for outage in low if time[outage.end - 1] - time[outage.first] > longest]


def drained(flight: Flight) -> Mask:
    """Rows in which a battery ammeter shows discharge under a low bus though the alternator seems to carry it."""
    flow = flight.trace.battery_current
    if flow is None or flight.ammeter.charge_at_rest:
        return np.zeros(flight.trace.time.size, dtype=np.bool_)
    rows = flight.trace.rows_in(limit_value("short_shortest"))
    gives = mostly(hold(flow) < -limit_value("drained_smallest"), rows)
    gives &= flight.alternator_online & flight.rpm_sufficient
    if not gives.any():
        return gives
    return gives & mostly(hold(flight.trace.bus_voltage) < flight.limits["regulated_low"], rows)


def drained_stretches(flight: Flight) -> list[AlternatorOutage]:
    """Stretches of ``drained`` that last, as outages of an alternator at its limit."""
    rows = drained(flight)
    if not rows.any():
        return []
    lasting = fill_short_gaps(rows, flight.trace.time, limit_value("losses_apart"))
    lasting = drop_short_runs(lasting, flight.trace.time, limit_value("short_shortest"))
    return [AlternatorOutage(first, end, OUTPUT_LIMITED) for first, end in runs(lasting)]


def _fades(flight: Flight, outage: AlternatorOutage) -> bool | None:
    """Whether the alternator's output sank slowly before and into the outage; None when nothing shows it."""
    output, time = flight.trace.alternator_output, flight.trace.time
    if output is None:
        return None
    before = time - time[outage.first]
    early = median(
        output[
            (before > -limit_value("slow_rise_window"))
            & (before < -limit_value("fade_well_before"))
            & flight.rpm_sufficient
        ]
    )
    late = median(output[(before > -limit_value("fade_just_before")) & (before < 0.0) & flight.rpm_sufficient])
    return bool(early - late > limit_value("fade_smallest")) if np.isfinite(early - late) else None
