"""The digest in words: its sections and items, as the text and the e-mail both lay them out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analyzer.phrases import counted
from analyzer.reports.entry_text import found_words
from analyzer.reports.wording import MEASURE_LABELS, finding_label, number, raised_words, unit_shown
from analyzer.trends.open_findings import key_moment

Document = Mapping[str, Any]
UNKNOWN = "unknown aircraft"
#: Starts of flights, and logs, named one by one before the rest are counted.
NAMED_MOST = 5


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that the digest tells: whose, what, and the lines below it; nothing here is escaped yet."""

    tail: str
    title: str
    severity: str | None = None
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the digest with its items."""

    name: str
    title: str
    items: tuple[Item, ...]


def headline(document: Document) -> str:
    """What the digest covers, in one sentence."""
    return (
        f"{counted(document['tails'], 'aircraft', 'aircraft')}, {counted(document['flights'], 'flight')} and "
        f"{document['hours']:.1f} engine hours since {_when(document['since'])}; as of {_when(document['as_of'])}."
    )


def nothing_new(document: Document) -> str | None:
    """The sentence that stands alone when nothing changed, None when something did."""
    if any(document[part] for part in ("new", "worse", "fixed", "soon")):
        return None
    return (
        f"Nothing new since {_when(document['since'])}: no finding raised, none worse, none fixed, no limit near. "
        "Not recorded does not mean it did not happen."
    )


def sections(document: Document) -> list[Section]:
    """Every part that has something to tell, the most urgent first."""
    logs = document["logs"]
    told = [
        Section("new", "New", tuple(_new(item) for item in document["new"])),
        Section("worse", "Worse", tuple(_worse(item) for item in document["worse"])),
        Section("soon", "Soon", tuple(_soon(item) for item in document["soon"])),
        Section("fixed", "Fixed", tuple(_fixed(item) for item in document["fixed"])),
        Section("still_open", "Still open from before", tuple(_standing(item) for item in document["still_open"])),
        Section("not_flown", "No flights since", tuple(_idle(item) for item in document["not_flown"])),
        Section("logs", "Logs to look at", tuple(_of_logs(logs) + _late(document["added_late"]))),
    ]
    return [section for section in told if section.items]


def _when(moment: str) -> str:
    """A moment as a person writes it; midnight goes without saying."""
    return moment.replace("T", " ")[:16].removesuffix(" 00:00")


def _value(value: float, unit: str) -> str:
    return f"{number(value, unit)} {unit_shown(unit)}".rstrip()


def _causes(item: Document) -> list[str]:
    lines = [f"likely: {item['likely'][0]['cause']}"] if item["likely"] else []
    own = item["likely"][0].get("check", ())[:1] if item["likely"] else ()
    return lines + [f"check: {one}" for one in dict.fromkeys([*item["check"][:1], *own])]


def _flights(item: Document) -> list[str]:
    flights = item.get("flights", ())
    if not flights:
        return []
    named = ", ".join(_when(flight["start"]) for flight in flights[-NAMED_MOST:])
    rest = len(flights) - NAMED_MOST
    return [f"in {counted(len(flights), 'flight')}: {'the latest ' if rest > 0 else ''}{named}"]


def _new(item: Document) -> Item:
    raised = f"raised {_when(key_moment(item))}, over many flights: " if "raised_at" in item else ""
    lines = [raised + item["says"], *_flights(item), *_causes(item)]
    if done := item["disposition"]:
        lines.append(f"{done['who']} says: {done['verdict']}" + (f", {done['words']}" if done["words"] else ""))
    lines.append(f"reference: {item['finding']}")
    return Item(item["tail"] or UNKNOWN, finding_label(item["finding"]), item["severity"], tuple(lines))


def _worse(item: Document) -> Item:
    if item["what"] == "finding":
        lines = [f"{item['severity']} now, {item['severity_then']} before: {item['says']}", *_flights(item)]
        title = finding_label(item["finding"])
        return Item(item["tail"] or UNKNOWN, title, item["severity"], (*lines, *_causes(item)))
    then, now, unit = item["then"], item["now"], item["unit"]
    lines = [
        f"level {_value(now['level'], unit)}{_before(then['level'], unit)}; "
        f"slope {now['slope_per_100h']:+.2f} {unit_shown(unit)} in 100 h"
        + (f" ({then['slope_per_100h']:+.2f} before)" if then["slope_per_100h"] is not None else "")
    ]
    if now["reaches_limit_in_h"] is not None:
        had = then["reaches_limit_in_h"]
        lines.append(
            f"limit {_value(item['limit'], unit)}: {_left(now['reaches_limit_in_h'])}"
            + (f"; before: {_left(had)}" if had is not None else "; before: no trend to it")
        )
    return Item(item["tail"], f"{MEASURE_LABELS[item['measure']]}: {item['way']}", None, tuple(lines))


def _before(level: float | None, unit: str) -> str:
    return "" if level is None else f" ({_value(level, unit)} before)"


def _left(hours: float) -> str:
    return "passed" if hours == 0.0 else f"in about {counted(round(hours), 'engine hour')}"


def _soon(item: Document) -> Item:
    unit, label = item["unit"], MEASURE_LABELS[item["measure"]]
    level = f"now {_value(item['level'], unit)}, limit {_value(item['limit'], unit)}"
    if item["past"]:
        return Item(item["tail"], f"{label} is past its limit", None, (level,))
    hours = counted(round(item["reaches_limit_in_h"]), "engine hour")
    hours += f" ({item['earliest_h']:.0f} to {item['latest_h']:.0f})"
    if item["weeks"] is None:
        rate = "the aircraft is not flying, so no date can be given"
    else:
        weeks = item["weeks"]
        rate = (
            f"about {counted(round(weeks['likely']), 'week')} ({weeks['earliest']:.0f} to {weeks['latest']:.0f}) "
            f"at its {item['hours_a_week']:.1f} h a week"
        )
    return Item(item["tail"], f"{label} reaches its limit", None, (level, f"in about {hours}; {rate}"))


def _fixed(item: Document) -> Item:
    day = _when(item["at"])[:10]
    if item["how"] == "entry helped":
        lines = [
            f"{MEASURE_LABELS[one['measure']]}: {_value(one['before'], one['unit'])} before, "
            f"{_value(one['after'], one['unit'])} after ({counted(one['flights_after'], 'flight')} since)"
            for one in item["measures"]
        ]
        lines += [says] if not lines and (says := found_words(item["findings"])) else []
        return Item(
            item["tail"],
            f"Helped: {(item['words'] or item['kind'].replace('_', ' ')).rstrip('.')} ({day})",
            None,
            tuple(lines),
        )
    title = finding_label(item["finding"])
    if item["how"] == "called fixed":
        words = f": {item['words']}" if item["words"] else ""
        return Item(item["tail"], title, None, (f"called fixed by {item['who']} on {day}{words}",))
    return Item(item["tail"], title, None, (f"{raised_words(item)}, lapsed {day}",))


def _standing(item: Document) -> Item:
    lines = [raised_words(item)]
    if work := item["work"]:
        done = (work["words"] or work["kind"].replace("_", " ")).rstrip(".")
        lines.append(f"work done {_when(work['when'])[:10]}: {done}; did it help: {work['verdict']}")
    return Item(item["tail"], finding_label(item["finding"]), item["severity"], tuple(lines))


def _idle(item: Document) -> Item:
    if item["last_flight"] is None:
        return Item(item["tail"], "no flight with a clock is kept")
    return Item(item["tail"], f"last flight {_when(item['last_flight'])[:10]}, {counted(item['days'], 'day')} ago")


def _of_logs(logs: Document) -> list[Item]:
    items = []
    if nameless := logs["without_tail"]:
        lines = [log["source"] for log in nameless[:NAMED_MOST]]
        lines += [f"and {len(nameless) - NAMED_MOST} more"] if len(nameless) > NAMED_MOST else []
        title = f"{counted(len(nameless), 'log')} of no known aircraft; say whose with: taper assign"
        items.append(Item("", title, None, tuple(lines)))
    if refused := logs["refused"]:
        lines = [f"{log['source']}: {log['because']}" for log in refused[:NAMED_MOST]]
        lines += [f"and {len(refused) - NAMED_MOST} more"] if len(refused) > NAMED_MOST else []
        items.append(Item("", f"{counted(len(refused), 'log')} refused", None, tuple(lines)))
    if logs["without_clock"]:
        count = counted(logs["without_clock"], "flight")
        items.append(Item("", f"{count} added since without a clock: no date finds them, and no trend"))
    if logs["dated_later"]:
        count = counted(logs["dated_later"], "flight")
        items.append(Item("", f"{count} dated after this digest and left out: is a recorder's clock wrong?"))
    return items


def _late(late: list[Document]) -> list[Item]:
    """Flights from before the date that came after it; what they show lies before this digest."""
    if not late:
        return []
    count = counted(sum(one["flights"] for one in late), "flight")
    whose = [f"{one['tail'] or UNKNOWN} ({one['flights']})" for one in late[:NAMED_MOST]]
    whose += [f"and {len(late) - NAMED_MOST} more aircraft"] if len(late) > NAMED_MOST else []
    lines = (", ".join(whose), "what they show is dated by the flight: an earlier --since tells it")
    title = (
        f"{count} from before the date were added since it, the first of {min(one['earliest'] for one in late)[:10]}"
    )
    return [Item("", title, None, lines)]
