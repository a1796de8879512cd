"""The log of changes in words: what was done, and each part of it that differs, for the page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

from analyzer.aircraft import Aircraft, FleetFileError, Setting, parse_fleet
from analyzer.phrases import counted
from analyzer.records.changes import Change
from analyzer.reports.setting_words import SETTING_WORDS, setting_words
from analyzer.reports.text import shortened
from analyzer.reports.wording import FINDING_LABELS, MEASURE_LABELS, TREND_FINDING_LABELS
from analyzer.service.aircraft_settings import settings_of
from analyzer.trends.entries import kinds

#: How what was done is said, where it is not said so in the log itself.
DONE = {
    "disposition added": "outcome recorded",
    "disposition changed": "outcome changed",
    "disposition removed": "outcome removed",
    "log added": "log imported",
    "log changed": "log corrected",
    "log removed": "log deleted",
    "message added": "message sent",
    "fleet file changed": "settings changed",
}
#: How what a line holds is called.
PARTS = {
    "tail": "aircraft",
    "when": "date",
    "kind": "work",
    "words": "notes",
    "capacity": "tested capacity",
    "finding": "finding",
    "at": "seen at",
    "verdict": "outcome",
    "who": "said by",
    "entry_id": "maintenance entry no.",
    "recipient": "to",
    "key": "about",
    "source": "file",
    "hash": "SHA-256 of the file",
    "tail_from": "aircraft known from",
    "rows": "readings",
    "starts": "begins",
    "columns": "columns picked",
    "original_kept": "original file kept",
}
#: By which of its parts a line names what was changed, and what else it tells of what was added or removed whole.
NAMED = {
    "maintenance entry": (("kind", "when"), ("capacity", "words")),
    "disposition": (("finding", "at"), ("verdict", "who", "words")),
}
#: Parts that are moments.
MOMENTS = ("at", "starts", "when")
#: Keys that have a title: findings and measures.
KNOWN_FINDINGS = {**FINDING_LABELS, **TREND_FINDING_LABELS}
KNOWN_KEYS = {**MEASURE_LABELS, **KNOWN_FINDINGS}
#: Longest value that is shown in a line [letters].
LONGEST = 160


@dataclass(frozen=True, slots=True)
class Differs:
    """One part of a change: what it is called, and what stood there before and after; "" for nothing."""

    label: str
    before: str
    after: str


def done_words(one: Change) -> str:
    """What was done, "maintenance entry added"."""
    return DONE.get(one.what, one.what)


def about_words(one: Change) -> str:
    """What was added or removed whole, in a word or two: the file, the work, the finding."""
    whole = one.after or one.before or {}
    if "source" in whole:
        return PurePath(str(whole["source"])).name
    if "text" in whole:
        return counted(len(what_differs(one)), "setting")
    if "kind" in whole:
        return shortened(str(whole.get("words") or _shown("kind", whole["kind"])), LONGEST)
    if "key" in whole:
        return _shown("key", whole["key"])
    return _shown("finding", whole["finding"]) if "finding" in whole else one.about


#: Said beside a line of the log of changes that a disk, or somebody behind its back, changed.
DAMAGED = "This line is not what was written."


def line_words(one: Change) -> str:
    """A change in one line: what was done, and to what, or what stood there before and after."""
    return f"{_line_words(one)}{f' - {DAMAGED}' if one.damaged else ''}"


def _line_words(one: Change) -> str:
    whole = one.before or one.after or {}
    named, rest = NAMED.get(one.what.rpartition(" ")[0], ((), ()))
    if not (one.before and one.after) and "text" not in whole:
        return f"{done_words(one)}: {_parts_of(whole, (*named, *rest)) or about_words(one)}"
    told = [f"{part.label} {part.after or 'not set'} (was {part.before or 'not set'})" for part in what_differs(one)]
    which = _parts_of(whole, named)
    return f"{done_words(one)}: {f'{which}: ' if which else ''}{'; '.join(told) or 'no setting differs'}"


def _parts_of(whole: Mapping[str, Any], names: Iterable[str]) -> str:
    """Some parts of a line as they are shown, those that are said."""
    return ", ".join(shown for name in names if (shown := _shown(name, whole.get(name))))


def what_differs(one: Change) -> list[Differs]:
    """Give what differs between before and after, in words."""
    before, after = one.before or {}, one.after or {}
    if "text" in before or "text" in after:
        return _of_fleet_file(str(before.get("text", "")), str(after.get("text", "")))
    return [
        Differs(PARTS.get(name, name.replace("_", " ")), _shown(name, before.get(name)), _shown(name, after.get(name)))
        for name in dict.fromkeys([*before, *after])
        if before.get(name) != after.get(name)
    ]


def _shown(name: str, value: Any) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, Mapping):
        return shortened(", ".join(f"{key.replace('_', ' ')} from {header}" for key, header in value.items()), LONGEST)
    if isinstance(value, bool) or name == "original_kept":
        return "yes" if value else "no"
    if name == "capacity" and isinstance(value, int | float):
        return f"{float(value):g} % of rated"
    text = str(value)
    if name == "source":
        return shortened(PurePath(text).name, LONGEST)
    if name == "key":
        return shortened(", ".join(_part_of_key(part) for part in text.split("|")[1:] if part), LONGEST)
    if name == "finding" and text in KNOWN_FINDINGS:
        return KNOWN_FINDINGS[text]
    if name == "kind" and text in kinds():
        return kinds()[text].words
    return shortened(text.replace("T", " ")[:16] if name in MOMENTS else text, LONGEST)


def _part_of_key(part: str) -> str:
    """A part of a message's key: a finding or measure by its title, a moment as people write it."""
    return KNOWN_KEYS.get(part) or part.replace("T", " " if part[:1].isdigit() else "T").replace("_", " ")


def _of_fleet_file(before: str, after: str) -> list[Differs]:
    """The settings of each aircraft that differ; the texts themselves where one of them was no fleet file."""
    try:
        first, second = parse_fleet(before, Path()), parse_fleet(after, Path())
    except FleetFileError:
        return [Differs("text", shortened(before, LONGEST), shortened(after, LONGEST))]
    tails = dict.fromkeys([*first.aircraft, *second.aircraft])
    return [one for tail in tails for one in _of_aircraft(tail, first.of(tail), second.of(tail))]


def _of_aircraft(tail: str, before: Aircraft, after: Aircraft) -> list[Differs]:
    first, second = settings_of(before), settings_of(after)
    settings = [
        Differs(f"{tail}, {SETTING_WORDS[key].label}", _set(key, first[key]), _set(key, second[key]))
        for key in first
        if first[key] != second[key]
    ]
    columns = [
        Differs(
            f"{tail}, column of the {role.replace('_', ' ')}", before.columns.get(role, ""), after.columns.get(role, "")
        )
        for role in dict.fromkeys([*before.columns, *after.columns])
        if before.columns.get(role) != after.columns.get(role)
    ]
    return settings + columns


def _set(key: str, value: Setting) -> str:
    return "" if value is None else setting_words(key, value)
