"""Findings over many flights: a measure that moves for the worse, and flight findings that recur.

Every finding carries the flight at which it was first raised, knowing only the flights up to it. Innocent
explanations that are left out first: weather and load (taken out of the series), a maintenance entry (starts
the series anew), and an instrument that reads differently from one day on (below).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import pairwise
from math import exp, log

import numpy as np

from analyzer.findings.causes import weigh_causes
from analyzer.findings.finding import Cause, FindingName, Severity
from analyzer.limits import limit_value
from analyzer.measures.measure import MEASURES
from analyzer.quantity import Quantity
from analyzer.series import middle
from analyzer.trends.detection import Alarm, Shape
from analyzer.trends.entries import kinds, kinds_reset
from analyzer.trends.followed_tail import FollowedTail, Trend, covariate_adjusted, level_before, stretch_before
from analyzer.trends.history import FlightAt, History
from analyzer.trends.tracked_series import BY_MEASURE, Series, TrackedMeasure

#: Measures of one voltmeter: when it reads differently all of them step alike.
OF_THE_VOLTMETER = ("regulated_voltage", "resting_voltage")
#: What flights look like whose voltmeter reads too low (False) or too high (True).
READS_AS = {
    False: (FindingName.REGULATOR_LOW, FindingName.LOW_RESTING_VOLTAGE, FindingName.WEAK_CRANKING),
    True: (FindingName.REGULATOR_HIGH,),
}
OVERVOLTAGES = {FindingName.REGULATOR_HIGH, FindingName.OVERVOLTAGE, FindingName.OVERVOLTAGE_TRIP}
WORDS = {
    "regulated_voltage": "Regulated voltage",
    "recharge_time_constant": "Recharge time constant",
    "recharge_settling_time": "Time to settle",
    "cranking_voltage": "Cranking voltage",
    "resting_voltage": "Resting voltage",
    "maintenance_current": "Settled charging current",
    "regulation_scatter": "Regulation scatter",
    "regulation_droop": "Voltage drop under load",
    "battery_resistance": "Battery and cable resistance",
}


@dataclass(frozen=True, slots=True)
class Levels:
    """One measure at both ends of a shift, weather and load taken out."""

    measure: str
    start: Quantity
    end: Quantity
    over: Quantity  # engine hours between them


@dataclass(frozen=True, slots=True)
class Shift:
    """How far a measure, or every voltage alike, was seen to move."""

    moved: Quantity  # in the measure's unit, or of its natural logarithm; of one measure with its interval
    since_flight: int
    shape: Shape
    of: Levels | None = None  # None where every voltage moved alike


@dataclass(frozen=True, slots=True)
class TrendFinding:
    """What was found over many flights of one tail."""

    name: FindingName
    severity: Severity
    raised_flight: int  # place in the tail's history, from 0
    raised_at: datetime | None  # None without a clock, as the other moments
    lapsed_flight: int | None  # place of the flight at which it lapsed, None while it stands
    lapsed_at: datetime | None
    began: datetime | None  # first flight of the evidence
    began_flight: int
    says: str
    shift: Shift | None = None  # None where flights were only counted
    flights: tuple[int, ...] = ()  # places of the flights in which it was found, or raised, where they were counted
    lapsed_by: datetime | None = None  # the entry that started its measure anew, where that made it lapse
    again: tuple[FlightAt, ...] = ()  # flights at which it was raised again after it had been before
    likely: tuple[Cause, ...] = ()
    check: tuple[str, ...] = ()

    @property
    def open(self) -> bool:
        """Whether it still stands."""
        return self.lapsed_flight is None

    @property
    def measure(self) -> str | None:
        """The measure that moved, None where it was no single one."""
        return None if self.shift is None or self.shift.of is None else self.shift.of.measure

    @property
    def raisings(self) -> tuple[FlightAt, ...]:
        """The flights at which it was raised, in order."""
        return (FlightAt(self.raised_flight, self.raised_at), *self.again)

    @property
    def key(self) -> str:
        """When it was raised last, as people's words on it are kept: what was said before does not settle it.

        The moment by ISO 8601, or its flight where no clock tells, "flight 4".
        """
        last = self.raisings[-1]
        return f"flight {last.flight + 1}" if last.start is None else last.start.isoformat()


@dataclass(frozen=True, slots=True)
class _Raised:
    """An alarm of one measure on its way to a finding."""

    kind: TrackedMeasure
    series: Series
    alarm: Alarm
    flight: int = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "flight", int(self.series.flight[self.alarm.raised]))

    @property
    def began_flight(self) -> int:
        return int(self.series.flight[self.alarm.began])


def judge_tail(tail: FollowedTail, trends: Mapping[str, Trend]) -> tuple[TrendFinding, ...]:
    """Give every finding over a tail's flights, open ones first, then by severity and by when it was raised."""
    moved = _of_the_measures(tail, trends)
    found = [*moved, *(one for one in _recurring(tail.history) if not _of_an_offset(one, moved))]
    signs = _signs(tail.history, found)
    told = [_with_causes(finding, signs) for finding in _told_once(tail.history, found)]
    return tuple(sorted(told, key=lambda f: (not f.open, -f.severity.rank, f.raised_flight)))


def _told_once(history: History, found: list[TrendFinding]) -> list[TrendFinding]:
    """Tell what comes and goes once, with all its flights; what comes back after work that ended it is another one."""
    spells: dict[tuple[FindingName, int], list[TrendFinding]] = {}
    for one in sorted(found, key=lambda finding: finding.raised_flight):
        ended = [own.lapsed_flight for own in found if own.name == one.name and own.lapsed_by is not None]
        since = max((flight for flight in ended if flight is not None and flight <= one.raised_flight), default=0)
        spells.setdefault((one.name, since), []).append(one)
    return [_joined(history, own) if len(own) > 1 else own[0] for own in spells.values()]


def _joined(history: History, spells: list[TrendFinding]) -> TrendFinding:
    """One finding of several spells of one name, in order: with the figures of the latest that stands, or of all."""
    first, standing = spells[0], [one for one in spells if one.open]
    shown = (standing or spells)[-1]
    flights = sorted({place for one in spells for place in one.flights or [one.raised_flight]})
    others = [f"{_on(history.day(one.raised_flight))}{_figures(one)}" for one in spells if one is not shown]
    says = f"{shown.says} Also raised {', '.join(others)}."
    if not any(one.shift for one in spells):
        worst = _worst_of(history, shown.name, flights)
        says = f"{_found_in(history, flights)}, in {len(spells)} spells.{worst}"
    ended = max(spells, key=lambda one: one.lapsed_flight or 0)
    joined = replace(
        shown,
        severity=max((one.severity for one in standing or [shown]), key=lambda one: one.rank),
        raised_flight=first.raised_flight,
        raised_at=first.raised_at,
        began=first.began,
        began_flight=first.began_flight,
        flights=tuple(flights),
        says=says,
        again=tuple(FlightAt(one.raised_flight, one.raised_at) for one in spells[1:]),
    )
    return joined if standing else _lapsed(history, joined, ended.lapsed_flight, ended.lapsed_by)


def _figures(one: TrendFinding) -> str:
    """How far an earlier spell saw its measure move, behind its day; nothing where flights were only counted."""
    shift = one.shift
    if shift is None:
        return f" ({len(one.flights)} flights)"
    if shift.of is None:
        return f" ({shift.moved.value:+.2f} {shift.moved.unit})"
    return f" (from {shift.of.start.value:.2f} to {shift.of.end.value:.2f} {shift.of.start.unit})"


def _of_the_measures(tail: FollowedTail, trends: Mapping[str, Trend]) -> list[TrendFinding]:
    raised = [
        _Raised(BY_MEASURE[measure], tail.series[measure], alarm)
        for measure, followed in tail.followed.items()
        for alarm in followed.alarms
    ]
    raised.sort(key=lambda one: (one.flight, one.alarm.shape == "drift"))  # a step says more exactly when
    offsets = [one for one in raised if one.kind.measure in OF_THE_VOLTMETER and _is_offset(tail, one)]
    shifts: list[list[_Raised]] = []  # of the voltmeter, each with the alarms that it gave
    found: list[TrendFinding] = []
    for one in raised:
        if any(_same_event(one, offset) for offset in offsets):
            if one in offsets and not _told_by(shifts, one):
                shifts.append([one])
                found.append(_offset_finding(tail, one))
            continue
        if not _for_the_worse(one) or _undone(tail, found, one):
            continue
        if any(f.name == one.kind.finding and _stands(f, one.flight) for f in found):
            continue
        found.append(_moved_finding(tail, one, trends[one.kind.measure]))
    return found


def _for_the_worse(one: _Raised) -> bool:
    return one.kind.worse == 0 or one.alarm.moved * one.kind.worse > 0.0


def _stands(finding: TrendFinding, flight: int) -> bool:
    """Whether a finding was still open when a flight was flown."""
    return finding.lapsed_flight is None or finding.lapsed_flight > flight


def _undone(tail: FollowedTail, found: list[TrendFinding], one: _Raised) -> bool:
    """Whether a step brings back what an open finding of the same measure saw move; that one lapses."""
    for place, finding in enumerate(found):
        if finding.shift is None or finding.measure != one.kind.measure or not finding.open:
            continue
        moved = finding.shift.moved.value
        if abs(moved + one.alarm.moved) < max(float(one.series.innocent_move[one.alarm.raised]), 0.5 * abs(moved)):
            found[place] = _lapsed(tail.history, finding, one.flight)
            return True
    return False


def _lapsed(history: History, finding: TrendFinding, flight: int | None, work: datetime | None = None) -> TrendFinding:
    """A finding that lapsed at a flight, None for one that stands; ``work`` is the entry that made it lapse."""
    at = None if flight is None else history.flights[flight].start
    return replace(finding, lapsed_flight=flight, lapsed_at=at, lapsed_by=work)


def _moved_finding(tail: FollowedTail, one: _Raised, trend: Trend) -> TrendFinding:
    history, kind, alarm = tail.history, one.kind, one.alarm
    flights = history.flights
    start = level_before(one.series, stretch_before(tail.followed[kind.measure], alarm), alarm)
    ends = (start, start + alarm.moved)
    if kind.logarithmic:
        ends = (exp(ends[0]), exp(ends[1]))
    hours, unit = float(one.series.hours[alarm.raised] - one.series.hours[alarm.began]), MEASURES[kind.measure]
    lapsed, by = _reset_after(tail, kind, one.flight)
    finding = TrendFinding(
        name=kind.finding,
        severity=_severity(tail, one, ends[1], None if lapsed is not None else trend),
        raised_flight=one.flight,
        raised_at=flights[one.flight].start,
        lapsed_flight=None,
        lapsed_at=None,
        began=flights[one.began_flight].start,
        began_flight=one.began_flight,
        says=_says(one, ends, hours, history.day(one.began_flight), history.day(one.flight)),
        shift=Shift(
            Quantity(alarm.moved, "1" if kind.logarithmic else unit, alarm.low, alarm.high),
            one.began_flight,
            alarm.shape,
            Levels(kind.measure, Quantity(ends[0], unit), Quantity(ends[1], unit), Quantity(hours, "h")),
        ),
    )
    return _lapsed(history, finding, lapsed, by)


def _says(one: _Raised, ends: tuple[float, float], hours: float, since: str, until: str) -> str:
    unit, words = MEASURES[one.kind.measure], WORDS[one.kind.measure]
    figures = f"from {ends[0]:.2f} to {ends[1]:.2f} {unit}"
    taken = " (corrected for temperature and load)" if one.kind.effects else ""
    if one.alarm.shape == "step":
        return f"{words} stepped {figures} {_on(since)} and stayed{taken}."
    return f"{words} moved {figures} over {hours:.0f} engine hours, {since} to {until}{taken}."


def _on(day: str) -> str:
    """ "On a day", or "at a flight" that has none."""
    return f"at {day}" if day.startswith("flight") else f"on {day}"


def _severity(tail: FollowedTail, one: _Raised, now: float, trend: Trend | None) -> Severity:
    """Warning past the limit, caution when it may be reached soon or a step came, else advisory.

    ``trend`` is the measure's present one, None for a finding that has lapsed.
    """
    kind = one.kind
    if kind.measure == "battery_resistance":
        return _of_a_rise(one.alarm, now, trend)
    name = kind.limit_up if one.alarm.moved > 0.0 or kind.limit_down is None else kind.limit_down
    if name is not None:
        past = (now - tail.limits[name]) * (1.0 if one.alarm.moved > 0.0 else -1.0) > 0.0
        if past:
            return Severity.WARNING if kind.measure != "recharge_time_constant" else Severity.CAUTION
    soon = trend is not None and trend.projection is not None and trend.projection.earliest <= limit_value("trend_soon")
    return Severity.CAUTION if soon or one.alarm.shape == "step" else Severity.ADVISORY


def _of_a_rise(alarm: Alarm, now: float, trend: Trend | None) -> Severity:
    """Severity of a rise above a tail's own baseline: by the lower end of what it has come to.

    ``now`` is the level as the alarm was raised; the present level counts where it stands still.
    """
    since = 0.0 if trend is None or trend.now is None else max(0.0, log(trend.now.level / now))
    far = alarm.low + since >= limit_value("trend_battery_resistance_far")
    return Severity.CAUTION if far else Severity.ADVISORY


def _reset_after(tail: FollowedTail, kind: TrackedMeasure, flight: int) -> tuple[int, datetime] | tuple[None, None]:
    """The first flight after an entry that starts the measure anew, once the finding was raised, and the entry."""
    for entry in kinds_reset(tail.history.entries, kind.measure):
        later = tail.history.first_from(entry.when)
        if flight < later < len(tail.history.flights):
            return later, entry.when
    return None, None


def _same_event(one: _Raised, other: _Raised) -> bool:
    """Whether two alarms are of one event: both of voltages, one way, and at the same time."""
    of_volts = MEASURES[one.kind.measure] == "V" and one.kind.measure != "regulation_scatter"
    slack = limit_value("trend_fewest_step")
    near = one.began_flight <= other.flight + slack and other.began_flight <= one.flight + slack
    return of_volts and near and one.alarm.moved * other.alarm.moved > 0.0


def _told_by(shifts: list[list[_Raised]], one: _Raised) -> bool:
    """Whether an alarm is of a shift of the voltmeter that was told already; that shift takes it in."""
    for shift in shifts:
        if any(_same_shift(one, other) for other in shift) or (
            all(other.kind.measure != one.kind.measure for other in shift) and _same_event(one, shift[0])
        ):
            shift.append(one)
            return True
    return False


def _same_shift(one: _Raised, earlier: _Raised) -> bool:
    """Whether an alarm tells again of what an earlier one told: it begins there, or in the drift that it was.

    A shift in a series that scatters may first be seen as a drift which begins earlier, and later as the step it is.
    """
    if one.alarm.moved * earlier.alarm.moved <= 0.0:
        return False
    together = abs(earlier.began_flight - one.began_flight) <= limit_value("trend_fewest_step")
    was_drift = earlier.alarm.shape == "drift" and earlier.kind.measure == one.kind.measure
    return together or (was_drift and earlier.began_flight <= one.began_flight <= earlier.flight)


def _is_offset(tail: FollowedTail, one: _Raised) -> bool:
    """Whether the voltmeter's other measure stepped by the same amount in the same flights.

    A regulator that moves leaves the resting voltage alone, a battery that rests lower leaves the regulated
    voltage alone; a meter, its supply or its ground that changes moves both alike.
    """
    other = next(measure for measure in OF_THE_VOLTMETER if measure != one.kind.measure)
    series = tail.series[other]
    values = covariate_adjusted(series)
    recent = 2 * int(limit_value("trend_recent"))
    before = values[series.flight < one.began_flight][-recent:]
    after = values[(series.flight >= one.began_flight) & (series.flight <= one.flight)]
    after = after[-int(limit_value("trend_fewest_before")) :]
    if min(before.size, after.size) < limit_value("trend_fewest_step"):
        return False
    moved = middle(after) - middle(before)
    usual = float(np.sqrt(series.variance[series.flight <= one.flight].max()))
    scatter = max(usual / 2.0, 1.4826 * middle(np.abs(before - middle(before))))
    error = scatter * np.sqrt(1.0 / before.size + 1.0 / after.size) * 1.2533
    own = (one.alarm.high - one.alarm.low) / (2.0 * 1.96)
    alike = abs(moved - one.alarm.moved) < limit_value("trend_alike") * np.hypot(error, own)
    return bool(alike and abs(moved) > limit_value("trend_alike") * error and abs(moved) > 0.5 * abs(one.alarm.moved))


def _offset_finding(tail: FollowedTail, one: _Raised) -> TrendFinding:
    flights, unit = tail.history.flights, MEASURES[one.kind.measure]
    lapsed, by = _reset_after(tail, one.kind, one.flight)
    finding = TrendFinding(
        name=FindingName.READING_FAULT,
        severity=Severity.ADVISORY,
        raised_flight=one.flight,
        raised_at=flights[one.flight].start,
        lapsed_flight=None,
        lapsed_at=None,
        began=flights[one.began_flight].start,
        began_flight=one.began_flight,
        shift=Shift(Quantity(one.alarm.moved, unit), one.began_flight, "step"),
        says=(
            f"Every voltage reads {one.alarm.moved:+.2f} {unit} differently since "
            f"{tail.history.day(one.began_flight)}, at rest and charging alike: the voltmeter or its "
            "connections, not the regulator."
        ),
    )
    return _lapsed(tail.history, finding, lapsed, by)


def _of_an_offset(finding: TrendFinding, others: list[TrendFinding]) -> bool:
    """Whether a finding recurs only since, and only because, the voltmeter reads higher or lower."""
    first = min(finding.flights, default=0)
    for other in others:
        shift = other.shift
        if other.name == FindingName.READING_FAULT and shift is not None and first >= shift.since_flight:
            return finding.name in READS_AS[shift.moved.value > 0.0]
    return False


def _recurring(history: History) -> list[TrendFinding]:
    """Flight findings in ``trend_recurs`` of the latest ``trend_recent`` flights; lapsed when in none of them.

    Work that is done to end a finding starts it anew, as it does a measure.
    """
    found = []
    for name in sorted({finding.name for flight in history.flights for finding in flight.findings}):
        seen = [i for i, flight in enumerate(history.flights) if any(f.name == name for f in flight.findings)]
        done = [one.when for one in history.entries if name in kinds()[one.kind].ends]
        works = {history.first_from(when): when for when in done}
        ends = [*sorted(works), len(history.flights)]
        for first, end in pairwise([0, *ends]):
            part = [place for place in seen if first <= place < end]
            found += _recurring_between(history, name, part, end, works.get(end))
    return found


def _recurring_between(
    history: History, name: FindingName, seen: list[int], end: int, work: datetime | None
) -> list[TrendFinding]:
    """One finding's recurrences up to the flight that comes first after work that can end it, or to the last."""
    window, least = int(limit_value("trend_recent")), int(limit_value("trend_recurs"))
    found = []
    start = 0
    while start < len(seen):
        raised = next((k for k in range(start + least - 1, len(seen)) if seen[k] - seen[k - least + 1] < window), None)
        if raised is None:
            break
        last = raised
        while last + 1 < len(seen) and seen[last + 1] - seen[last] <= window:
            last += 1
        lapsed = min(seen[last] + window + 1, end)
        one = _recurring_finding(history, name, seen[raised - least + 1 : last + 1], seen[raised])
        if lapsed < len(history.flights):
            one = _lapsed(history, one, lapsed, work if lapsed == end else None)
        found.append(one)
        start = last + 1
    return found


def _recurring_finding(history: History, name: FindingName, seen: list[int], raised: int) -> TrendFinding:
    recent = seen[-int(limit_value("trend_recent")) :]
    severities = [f.severity for place in recent for f in history.flights[place].findings if f.name == name]
    return TrendFinding(
        name=name,
        severity=max(severities, key=lambda one: one.rank),
        raised_flight=raised,
        raised_at=history.flights[raised].start,
        lapsed_flight=None,
        lapsed_at=None,
        began=history.flights[seen[0]].start,
        began_flight=seen[0],
        flights=tuple(seen),
        says=f"{_found_in(history, seen)}.{_worst_of(history, name, seen)}",
    )


def _found_in(history: History, seen: list[int]) -> str:
    return f"Seen on {len(seen)} flights, {history.day(seen[0])} to {history.day(seen[-1])}"


#: What tells the worst of the flights that show a finding: a measure, whether its lowest, and how it is said.
_WORST: Mapping[FindingName, tuple[str, bool, str]] = {
    FindingName.OVERVOLTAGE_TRIP: ("highest_voltage", False, "{:.1f} V"),
    FindingName.OVERVOLTAGE: ("highest_voltage", False, "{:.1f} V"),
    FindingName.REGULATOR_HIGH: ("regulated_voltage", False, "{:.2f} V held"),
    FindingName.REGULATOR_LOW: ("regulated_voltage", True, "{:.2f} V held"),
    FindingName.SLOW_RECHARGE: ("recharge_settling_time", False, "{:.0f} min to settle"),
    FindingName.WEAK_CRANKING: ("cranking_voltage", True, "{:.1f} V while cranking"),
    FindingName.LOW_RESTING_VOLTAGE: ("resting_voltage", True, "{:.2f} V at rest"),
}


def _worst_of(history: History, name: FindingName, seen: list[int]) -> str:
    """The worst of the flights that show a finding, " Worst: 38 min to settle, 2026-07-04."; empty where none tells."""
    if name not in _WORST:
        return ""
    measure, lowest, words = _WORST[name]
    told = [(history.flights[place].readings[measure].value, place) for place in seen
            if measure in history.flights[place].readings]  # fmt: skip
    if not told:
        return ""
    value, place = (min if lowest else max)(told, key=lambda one: one[0])
    return f" Worst: {words.format(value)}, {history.day(place)}."


def _signs(history: History, found: list[TrendFinding]) -> dict[str, bool]:
    """What the tail's other findings, and its latest flights', show of a cause; signs are those of ``causes.toml``."""
    names: set[FindingName] = {finding.name for finding in found if finding.open}
    names |= {one.name for flight in history.flights[-int(limit_value("trend_recent")) :] for one in flight.findings}
    return {
        "weak_cranking_too": bool(names & {FindingName.CRANKING_WEAKENING, FindingName.WEAK_CRANKING}),
        "low_rest_too": bool(names & {FindingName.RESTING_VOLTAGE_FALLING, FindingName.LOW_RESTING_VOLTAGE}),
        "unsteady_too": bool(names & {FindingName.UNSTEADY_CONNECTION, FindingName.REGULATION_LOOSENING}),
        "high_voltage_too": bool(names & OVERVOLTAGES),
        "low_regulated": FindingName.REGULATOR_LOW in names,
        **({"resistance_rises": True} if FindingName.BATTERY_RESISTANCE_RISING in names else {}),
    }


def _with_causes(finding: TrendFinding, signs: Mapping[str, bool]) -> TrendFinding:
    own = dict(signs)
    if finding.name == FindingName.READING_FAULT and finding.shift is not None:
        own["offset"] = True
    likely, check = weigh_causes(finding.name, own)
    return replace(finding, likely=likely, check=check)
