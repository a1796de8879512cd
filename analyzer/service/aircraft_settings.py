"""What is known of an aircraft beforehand: read, and changed, in the fleet file beside the records."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from analyzer.aircraft import (
    ALTERNATORS,
    BAND_RANGE,
    DAYS,
    FIRST_DAY,
    LOADS,
    NOMINAL_VOLTAGES,
    RANGES,
    UNJUDGED,
    WORDS,
    WRITTEN,
    Aircraft,
    Setting,
    tail_name,
    written_name,
)
from analyzer.records.correcting import keep_settings_of_tail
from analyzer.records.histories import fleet_kept
from analyzer.records.problems import RecordsError
from analyzer.records.store import Store
from analyzer.trends.dates import date_named

#: What can be set, in the order in which it is shown.
KEYS = (
    "nominal_voltage", "battery", "battery_capacity", "ammeter", "source", "alternators", "alternator_rating",
    "regulated_voltage", "overvoltage", "low_voltage", "essential_load", "battery_fitted", "battery_part",
    "alternator_fitted", "alternator_hours", "aircraft_type", "coldest_morning", "check_hours", "stranded_hours",
    *LOADS,
)  # fmt: skip
#: What each key whose values are few may be.
CHOICES: Mapping[str, tuple[str, ...]] = {
    "nominal_voltage": tuple(map(str, NOMINAL_VOLTAGES)),
    "alternators": tuple(map(str, ALTERNATORS)),
    **WORDS,
}


class SettingsError(ValueError):
    """A setting that cannot be: ``key`` is what it is about, ``says`` what is wrong and what to give instead."""

    def __init__(self, key: str, says: str) -> None:
        super().__init__(f"{key}: {says}")
        self.key, self.says = key, says


@dataclass(frozen=True, slots=True)
class SettingsChanged:
    """What was changed of an aircraft's settings: key -> what it was, and what it is."""

    tail: str
    before: Mapping[str, Setting]
    after: Mapping[str, Setting]

    @property
    def judged_anew(self) -> bool:
        """Whether flights are judged otherwise by it."""
        return bool(self.after.keys() - set(UNJUDGED) - set(LOADS))


def settings_of(aircraft: Aircraft) -> dict[str, Setting]:
    """Give every setting of an aircraft; None for what is not set."""
    return {key: aircraft.loads.get(LOADS[key]) if key in LOADS else getattr(aircraft, key) for key in KEYS}


def setting_from(key: str, text: str) -> Setting:
    """Give a setting from what a person wrote; nothing takes it away.

    Raises
    ------
    SettingsError
        When there is no such setting, or its value cannot be; the nearest right one, or the range, is named.
    """
    if key not in KEYS:
        near = difflib.get_close_matches(key, KEYS, n=1, cutoff=0.4)
        hint = f"did you mean '{near[0]}'?" if near else f"settings: {', '.join(KEYS)}"
        raise SettingsError(key, f"this is no setting; {hint}")
    told = text.strip()
    if not told:
        return None
    if key in CHOICES:
        return _choice(key, told)
    if key == "regulated_voltage":
        return _band(key, told)
    if key in DAYS:
        return _day(key, told)
    if key in WRITTEN:
        return _written(key, told)
    value, (lowest, highest) = _number(key, told), RANGES[key]
    if not lowest <= value <= highest:
        raise SettingsError(key, f"a number from {lowest:g} to {highest:g}, not {value:g}")
    return int(value) if value.is_integer() else value


def _written(key: str, told: str) -> str:
    try:
        return written_name(key, told)
    except ValueError as problem:
        raise SettingsError(key, f"{problem}, not {told[:30]!r}") from None


def _choice(key: str, told: str) -> str | int:
    word, may_be = told.lower().replace(" ", "_"), CHOICES[key]
    if word not in may_be:
        near = difflib.get_close_matches(word, may_be, n=1, cutoff=0.4)
        hint = f"; did you mean '{near[0]}'?" if near else ""
        raise SettingsError(key, f"one of {', '.join(may_be)}, not {told[:30]!r}{hint}")
    return int(word) if word.isdecimal() else word


def _band(key: str, told: str) -> tuple[float, float]:
    ends = told.replace("to", "-").replace(",", "-").split("-")
    if len(ends) != 2:
        raise SettingsError(key, f"the lowest and the highest, such as 13.6-14.3, not {told[:30]!r}")
    if not all(end.strip() for end in ends):
        raise SettingsError(key, "give both ends, the lowest and the highest, or neither")
    lowest, highest = (_number(key, end) for end in ends)
    if not BAND_RANGE[0] <= lowest < highest <= BAND_RANGE[1]:
        within = f"from {BAND_RANGE[0]:g} to {BAND_RANGE[1]:g}"
        raise SettingsError(key, f"two voltages {within}, the lowest below the highest, not {lowest:g} and {highest:g}")
    return lowest, highest


def _day(key: str, told: str) -> date:
    now = datetime.now()
    try:
        day = date_named(told, now)[0].date()
    except ValueError as problem:
        raise SettingsError(key, str(problem)) from None
    if not FIRST_DAY <= day <= (now + timedelta(days=1)).date():
        raise SettingsError(key, f"the day on which it was fitted, not {day}: no later than today, from {FIRST_DAY} on")
    return day


def _number(key: str, text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise SettingsError(key, f"a number, not {text.strip()[:30]!r}") from None


def keep_settings(
    store: Store, tail: str, given: Mapping[str, Setting], seen: Mapping[str, Setting] | None = None
) -> SettingsChanged:
    """Change settings of an aircraft, and leave those that are as given already.

    Its kept flights are stale from then on, until they are judged anew.

    Parameters
    ----------
    store : open for writing
    given : of ``KEYS``, what each is from now on; None takes it away
    seen : the settings that whoever changes them saw, where they may have been changed since

    Raises
    ------
    TailError
        When the tail is none.
    SettingsError
        When settings contradict each other; nothing was changed then.
    FleetFileError
        When the file was spoilt by hand.
    RecordsError
        When the records cannot be written, who asks may not, or a setting is not as it was seen.
    """
    name = tail_name(tail)
    changed = _changed(name, fleet_kept(store).of(name), given, seen)

    def chosen(now: Aircraft) -> Mapping[str, Setting]:
        nonlocal changed
        changed = _changed(name, now, given, seen)
        return changed.after

    if changed.after:
        keep_settings_of_tail(store, name, chosen)
    return changed


def _changed(
    tail: str, aircraft: Aircraft, given: Mapping[str, Setting], seen: Mapping[str, Setting] | None
) -> SettingsChanged:
    """What is to be changed of an aircraft's settings, held to what was seen of them and to each other."""
    now = settings_of(aircraft)
    after = {key: value for key, value in given.items() if now[key] != value}
    if seen is not None and any(now[key] != seen[key] for key in after):
        raise RecordsError(
            f"Somebody else changed the settings of {tail} at the same moment, so nothing was saved. Save again."
        )
    band, trips = (now | after)["regulated_voltage"], (now | after)["overvoltage"]
    if isinstance(band, tuple) and isinstance(trips, int | float) and trips <= band[1]:
        raise SettingsError(
            "overvoltage", f"it must lie above the regulated voltage, {band[1]:g} V, not at {trips:g} V"
        )
    return SettingsChanged(tail, {key: now[key] for key in after}, after)
