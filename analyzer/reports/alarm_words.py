"""Limits for a recorder's alarms, and whether the light and the alarms warned in time: for the page and the command."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from analyzer.limits import limit_value
from analyzer.phrases import counted, day, duration
from analyzer.service.own_meters import OwnMeters
from analyzer.trends.alarm_limits import Alarm, AlarmLimits, Warned

LABELS = {"low_voltage": "Low voltage", "high_voltage": "High voltage", "discharge": "Discharge"}
HEAD = ("Alarm", "Suggested limit", "Usual without a finding (95 %)", "False alarms")
LOSS_HEAD = ("Lost", "Lasted", "Low-voltage light", "Low-voltage alarm", "Discharge alarm")
#: Where a recorder's limits come from first.
MANUALS = (
    "The manuals of aircraft and recorder come first: a limit from past readings does not know what the maker asks "
    "for. A silent alarm does not mean that all is well."
)
#: A warning that comes later than this after the alternator is lost is late [s].
IN_TIME_S = 60.0


def limit_words(alarm: Alarm) -> str:
    """The suggested limit, or why there is none."""
    if alarm.limit is None:
        return f"not measurable: {alarm.because}"
    side = "above" if alarm.name == "high_voltage" else "below"
    value = f"{alarm.limit:.0f}" if alarm.unit == "A" else f"{alarm.limit:.1f}"
    return f"{side} {value} {alarm.unit}".replace("-", "−")


def usual_words(alarm: Alarm) -> str:
    """The lasting extreme of sound flights with its interval."""
    if alarm.usual is None:
        return ""
    which = "highest" if alarm.name == "high_voltage" else "lowest"
    value, low, high = (f"{end:.1f}" for end in (alarm.usual.value, alarm.usual.low, alarm.usual.high))
    ends = (
        "" if low == value == high else f" ({low} to {high})"
    )  # an interval that its digits do not show tells nothing
    return f"{which} {value} {alarm.unit}{ends}".replace("-", "−")


def false_words(alarm: Alarm) -> str:
    """In how many sound flights it would have sounded, and how many it may be."""
    if alarm.limit is None:
        return ""
    slow = ""
    if alarm.false_slow:
        slow = ", at low rpm only" if alarm.false_slow == alarm.false_flights else f", {alarm.false_slow} at low rpm"
    most = f"may be up to {100.0 * alarm.false_most:.0f} % of flights"
    return f"in {alarm.false_flights} of {counted(alarm.of_flights, 'flight')}{slow} ({most})"


def alarm_rows(limits: AlarmLimits) -> list[tuple[str, str, str, str]]:
    """Each alarm: its name, its limit, what is usual, and how often it would have sounded falsely."""
    return [(LABELS[one.name], limit_words(one), usual_words(one), false_words(one)) for one in limits.alarms]


def _after(at: float | None, lasts: float, *, told: bool, watched: bool = True) -> str:
    if not told:
        return "not recorded"
    if not watched:
        return "no limit"
    if at is None:
        looked = limit_value("alarm_around")
        return "not while it lasted" if lasts <= looked else f"not within {duration(looked)}"
    if at < 0.0:
        return f"{duration(-at)} before the loss"
    return f"{duration(at)} after"


def loss_rows(own: OwnMeters) -> list[tuple[str, str, str, str, str]]:
    """Each recorded loss: when, how long, and when light and alarms would have come."""
    if own.alarms is None:
        return []
    low, discharge = (own.alarms.alarm(name).limit is not None for name in ("low_voltage", "discharge"))
    return [
        (
            _when(own.flights[one.flight].start, one),
            duration(one.lasts),
            _after(one.light, one.lasts, told=one.told),
            _after(one.low_voltage, one.lasts, told=one.told, watched=low),
            _after(one.discharge, one.lasts, told=True, watched=discharge),
        )
        for one in own.alarms.losses
    ]


def _when(start: datetime | None, loss: Warned) -> str:
    into = f"{loss.from_s / 60.0:.0f} min into the log"
    return into if start is None else f"{day(start)}, {into}"


def light_sentence(own: OwnMeters) -> str:
    """Whether the low-voltage light would have warned in time, over all recorded losses."""
    limits = own.alarms
    if limits is None:
        return "No limit can be given: no flight that could be read shows the system voltage."
    at = f"{limits.light_at.value:.1f} V{', assumed' if limits.light_at.assumed else ''}"
    told = [one for one in limits.losses if one.told]
    if not told:
        return (
            f"No loss of the alternator with a bus voltage is recorded: whether a light at {at} warns in time is not "
            "known."
        )
    soon = sum(one.light is not None and one.light <= IN_TIME_S for one in told)
    return (
        f"Would the low-voltage light ({at}) have warned in time? In {soon} of "
        f"{counted(len(told), 'recorded loss', 'recorded losses')} it would have been on within {IN_TIME_S:.0f} s."
    )


def basis_sentences(own: OwnMeters) -> list[str]:
    """What it all rests on, and what goes first."""
    limits = own.alarms
    sound = 0 if limits is None else limits.sound
    since = f" since {day(own.since)}, when the regulator or an instrument was replaced" if own.since else ""
    told = [_unread_words(own.unread)] if own.unread else []
    if own.flights:
        used = "is" if sound == 1 else "are"
        told.append(
            f"From the latest {counted(len(own.flights), 'flight')}: used {used} the {counted(sound, 'flight')} "
            f"without a finding{since}."
        )
    told += [
        f"An alarm is taken to sound when readings stay beyond its limit for {limit_value('alarm_lasting'):.0f} s. "
        "Each flight is checked against a limit from the other flights.",
    ]
    discharge = None if limits is None else limits.alarm("discharge").limit
    if discharge is not None:
        told.append(f"A discharge alarm stays silent while the battery gives less than {-discharge:.0f} A.")
    return [*told, MANUALS]


def _unread_words(unread: Sequence[str]) -> str:
    """How many logs could not be read, and why the first could not: many have the same reason."""
    which = ", the first" if len(unread) > 1 else ""
    return f"{counted(len(unread), 'log')} could not be read{which} because: {unread[0]}"
