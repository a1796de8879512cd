"""A squawk's result in words: the one place where its numbers and reasons become sentences."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from analyzer.phrases import counted, figures, fixed
from analyzer.quantity import Quantity
from analyzer.squawk.circumstances import CircumstanceAnswer
from analyzer.squawk.conditions import OF_FLIGHT, SymptomCondition
from analyzer.squawk.idling import Beside
from analyzer.squawk.reasons import Reason, Unobservable
from analyzer.squawk.symptom_result import State
from analyzer.squawk.verdict import OnlyWhere, SymptomVerdict, last_seen
from analyzer.squawk.weighing import ConditionShare

VERDICTS = {
    State.SEEN: "seen in the recordings",
    State.NOT_SEEN: "not seen though it could have been",
    State.NOT_OBSERVABLE: "could not have been seen",
}
#: In place of the verdict of a symptom that came at low rpm only: what it says beside this aircraft's usual idling.
AT_IDLE = {
    Beside.USUAL: "seen at low rpm only, as usual for this aircraft at that rpm",
    Beside.WORSE: "seen at low rpm only, worse than usual there",
    Beside.SELDOM: "seen at low rpm only, not usual for this aircraft there",
    Beside.TOO_FEW: "seen at low rpm only, with too few flights to say what is usual there",
}
ONLY = {
    OnlyWhere.SIGNS: "by indirect signs only",
    OnlyWhere.LATE_START: "only until the alternator was switched on",
    OnlyWhere.LOW_RPM: "outside low rpm: never",
}
CONDITIONS = {
    SymptomCondition.LOW_RPM: "low rpm",
    SymptomCondition.HIGH_RPM: "high rpm",
    SymptomCondition.HIGH_LOAD: "high load",
    SymptomCondition.SOON_AFTER_START: "soon after start",
    SymptomCondition.NEAR_GROUND: "pattern height",
    SymptomCondition.COLD: "cold air",
    SymptomCondition.HOT: "hot air",
}
#: What a recording must hold to tell a condition.
NEEDED = {
    SymptomCondition.LOW_RPM: "engine speed",
    SymptomCondition.HIGH_RPM: "engine speed",
    SymptomCondition.HIGH_LOAD: "the alternator's current",
    SymptomCondition.SOON_AFTER_START: "the start",
    SymptomCondition.NEAR_GROUND: "height and speed",
    SymptomCondition.COLD: "the outside air's temperature",
    SymptomCondition.HOT: "the outside air's temperature",
}
NOT_SEEN_IS_NOT_GONE = "Not recorded does not mean it did not happen."

Numbers = Mapping[str, Quantity]
_METER = {
    Unobservable.VOLTMETER_BEHIND_RESISTANCE: "the voltmeter reads low through a resistance in its wiring",
    Unobservable.VOLTMETER_AGAINST_CURRENTS: (
        "the voltmeter read low while the currents say that the alternator carried on"
    ),
}
_PLAIN = {
    Unobservable.NO_VOLTAGE: "no bus voltage is recorded with the engine running",
    Unobservable.NO_AMMETER: "no ammeter is recorded",
    Unobservable.TOO_SHORT: "only {observed:.0f} s are recorded in which it could have shown",
    Unobservable.AMMETER_CHARGES_AT_REST: "the ammeter shows {current:.1f} A of charge with the engine stopped",
    Unobservable.OUTPUT_TOO_SMALL: "the alternator usually gives {current:.1f} A, too little to tell from zero",
    Unobservable.SLOW_FOR_FLICKER: (
        "one reading every {step:.0f} s misses a flicker; no lasting fall was recorded, lowest {lowest_voltage:.1f} V"
    ),
    Unobservable.SLOW_FOR_CRANK: "one reading every {step:.0f} s; a crank of seconds falls in between",
    Unobservable.SLOW_FOR_JUMP: "one reading every {step:.0f} s misses a momentary jump; none was recorded",
    Unobservable.SLOW_FOR_PULSING: "one reading every {step:.0f} s is slower than pulsing",
    Unobservable.NEVER_CHARGED: "the alternator never carried the bus, so nothing charged the battery",
    Unobservable.NEVER_HELD: "the alternator never held the bus for {wanted:.0f} min without a break",
    Unobservable.ENDS_EARLY: (
        "the recording ends {carried:.0f} min after the alternator came on, when a high current is still normal"
    ),
}


def reason_words(reason: Reason) -> str:
    """Why a recording could not have shown a symptom, as a phrase that follows "because"."""
    values = {name: one.value for name, one in reason.numbers.items()}
    if reason.kind in _PLAIN:
        return _PLAIN[reason.kind].format(**values)
    return _TOLD[reason.kind](reason)


def _meter(reason: Reason) -> str:
    doubt = _METER.get(reason.kind, "the voltmeter is off")
    if "offset" in reason.numbers:
        doubt = f"the voltmeter reads {reason.numbers['offset'].value:+.1f} V off throughout"
    if "light_at" in reason.numbers:
        return f"{doubt}, so whether the bus fell below {reason.numbers['light_at'].value:.1f} V cannot be told"
    return f"{doubt}, so how high the bus really stood cannot be told"


def _kind_unknown(reason: Reason) -> str:
    if reason.more is None:
        return "the ammeter's kind is unknown, so a high reading may be load or charge"
    return f"the ammeter's kind is unknown, so a reading near zero says nothing; {reason.more}"


def _not_measured(reason: Reason) -> str:
    if reason.measure == "regulation_scatter":
        return f"how steady the bus was cannot be told: {reason.because}"
    returned = reason.numbers.get("recharge_returned")
    if returned is None:
        return str(reason.because)
    return f"{reason.because}; {returned.value:.1f} Ah went back into the battery, no sign of an empty one"


def _battery_heat(reason: Reason) -> str:
    unknown = "the battery's temperature is not recorded"
    if reason.more is not None:
        return f"{unknown}; indirect sign: {reason.more}"
    if not reason.numbers:
        return f"{unknown}, and no current or voltage late in flight hints at it"
    amps, volts = reason.numbers.get("late_current"), reason.numbers.get("late_voltage")
    flowing = "no ammeter that shows charging current" if amps is None else f"{fixed(amps.value, 1)} A into the battery"
    shown = "the bus not recorded" if volts is None else f"the bus at {volts.value:.1f} V"
    return f"{unknown}; the only hints late in flight: {flowing}, {shown}"


_TOLD: Mapping[Unobservable, Callable[[Reason], str]] = {
    Unobservable.VOLTMETER_OFFSET: _meter,
    Unobservable.VOLTMETER_BEHIND_RESISTANCE: _meter,
    Unobservable.VOLTMETER_AGAINST_CURRENTS: _meter,
    Unobservable.AMMETER_KIND_UNKNOWN: _kind_unknown,
    Unobservable.AMMETER_KIND_APART: lambda reason: (
        f"the ammeter looks like the {reason.more}'s in this flight and like another kind in the others"
    ),
    Unobservable.NOT_MEASURED: _not_measured,
    Unobservable.NOISE_TOO_FAST: lambda reason: (
        f"radio noise and ripple are far faster than any log; a slow pulsing would have shown: {reason.more}"
    ),
    Unobservable.BATTERY_HEAT: _battery_heat,
}


def verdict_words(verdict: SymptomVerdict) -> str:
    """The verdict in a few words; ordinary idling is no confirmation."""
    if verdict.only == OnlyWhere.LOW_RPM and verdict.idling is not None:
        return AT_IDLE[verdict.idling.beside]
    return VERDICTS[verdict.state]


def only_words(verdict: SymptomVerdict) -> str | None:
    """What a verdict does not go beyond; None where nothing bounds it."""
    return None if verdict.only is None else ONLY[verdict.only]


def because_words(verdict: SymptomVerdict) -> str:
    """One or two sentences with the numbers that justify the verdict."""
    seen, against = len(verdict.seen_in), len(verdict.against)
    if verdict.state == State.NOT_OBSERVABLE:
        return _unseen(verdict)
    if verdict.state == State.NOT_SEEN:
        latest = verdict.against[0]
        says = f"Seen in none of {counted(against, 'flight')} in which it would have shown{_headline(verdict)}. "
        return f"{says}{_low_starts(verdict)}Latest: {latest.says}. {NOT_SEEN_IS_NOT_GONE}"
    says = f"Seen in {seen} of {counted(seen + against, 'flight')} in which it would have shown, "
    if verdict.symptom.indirect:
        every = seen + against + len(verdict.not_observable)
        says = f"Signs of it in {seen} of {counted(every, 'flight')}; no log records the thing itself; "
    says += f"on {counted(len(verdict.occasions), 'occasion')}{_headline(verdict)}."
    latest_start = last_seen(verdict)
    says += f" Last seen in the flight of {latest_start:%Y-%m-%d}." if latest_start else ""
    return says + _of_low_rpm(verdict)


def _low_starts(verdict: SymptomVerdict) -> str:
    """That starts fell below the limit though none was slow by itself, so that nobody takes them for sound."""
    low = verdict.low_starts
    if low is None:
        return ""
    return (
        f"But in {low.flights} of them the bus fell below {low.limit.value:.2f} V: one reading may catch the first "
        "instant, so look at the trend of the lowest cranking voltage. "
    )


def _headline(verdict: SymptomVerdict) -> str:
    """The number that sums a symptom up: ", lowest bus voltage 12.1 V"."""
    best = verdict.headline
    if best is None:
        return ""
    value = f"{best.value:.2f}" if best.unit == "V" else figures(best.value)
    return f", {verdict.symptom.headline['words']} {value} {best.unit}"


def _unseen(verdict: SymptomVerdict) -> str:
    """Why no flight could show a symptom: the reason of most of them, told by the latest that has it."""
    if not verdict.not_observable:
        return "There is no flight to search."
    alike = [one.reason.alike for one in verdict.not_observable]
    usual = max(dict.fromkeys(alike), key=alike.count)
    told = reason_words(verdict.not_observable[alike.index(usual)].reason)
    of = f" ({alike.count(usual)} of {counted(len(alike), 'flight')})" if len(alike) > 1 else ""
    return f"Not in these recordings: {told}{of}. It needs {verdict.symptom.needs}. {NOT_SEEN_IS_NOT_GONE}"


def _of_low_rpm(verdict: SymptomVerdict) -> str:
    """What a symptom says that came at low engine speed only, or whose engine speed is not known."""
    innocent = verdict.symptom.at_low_rpm
    if verdict.only == OnlyWhere.LATE_START:
        return " All of it before the alternator came on after the start: it was switched on late, or came on late."
    if verdict.only == OnlyWhere.LOW_RPM and verdict.idling is not None:
        idling = verdict.idling
        says = f" All of it at low engine speed, in {idling.flights} of {counted(idling.of, 'flight')} that idled"
        says += f"; never in {idling.outside_h:.1f} h outside it."
        return f"{says} {innocent}" if innocent else says
    if innocent is None or verdict.rpm_known:
        return ""
    return " Engine speed is not recorded, so idling, where it need not be a fault, cannot be told from flight."


def condition_words(one: ConditionShare) -> str:
    """How often a symptom came in a condition, held against chance."""
    told = (
        "too few flights to say"
        if one.too_few
        else "more often than by chance"
        if one.telling
        else "no more often than by chance"
    )
    if one.part is None:
        air = f"{'below' if one.condition == SymptomCondition.COLD else 'above'} {one.threshold:.0f} °C"
        return (
            f"{one.seen} of {counted(one.of, 'flight')} with it began {air}, as {100.0 * one.exposure:.0f} % of all "
            f"flights did: {told}"
        )
    return (
        f"{one.seen} of {counted(one.of, 'occasion')} {_place(one)}, {100.0 * one.part:.0f} % of their time, where "
        f"chance alone gives {100.0 * one.exposure:.0f} %: {told}"
    )


def _place(one: ConditionShare) -> str:
    """A condition within a flight, in words."""
    if one.condition == SymptomCondition.LOW_RPM:
        return f"at under {one.threshold:,.0f} rpm"
    if one.condition == SymptomCondition.SOON_AFTER_START:
        return f"within {one.threshold:.0f} min after start"
    return "under a load well above the flight's usual one"


def circumstance_words(one: CircumstanceAnswer) -> str:
    """What the recordings say of a circumstance that the report names."""
    what = CONDITIONS[one.condition]
    if not one.recorded:
        return f"“{one.words}”: these recordings do not tell; it needs {NEEDED[one.condition]}"
    if one.condition in OF_FLIGHT:
        sides = ((one.inside, one.inside_h), (one.outside, one.outside_h))
        inside, outside = (f"{seen} of {counted(round(flights), 'flight')}" for seen, flights in sides)
        return f"“{one.words}”, by {what}: seen in {inside}, otherwise in {outside}"
    inside = f"{counted(one.inside, 'occasion')} in {_hours(one.inside_h)}"
    return f"“{one.words}”, by {what}: {inside}, elsewhere {one.outside} in {_hours(one.outside_h)}"


def _hours(hours: float) -> str:
    return f"{hours:.1f} h" if hours >= 1.0 else f"{60.0 * hours:.0f} min"
