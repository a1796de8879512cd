"""What waiting costs, in words: for the text and the page."""

from __future__ import annotations

from analyzer.phrases import counted
from analyzer.quantity import Quantity
from analyzer.reports.due_words import TITLES
from analyzer.reports.trend_words import latest_words, raised_words
from analyzer.reports.wording import MEASURE_LABELS, finding_label, with_unit
from analyzer.service.waiting import Coming, Visit, Waiting

#: What stands below it.
CAUTION = (
    "An estimate for planning. Strandings that nobody logged are not counted, so that the chance is rather too low; a "
    "low one never speaks against a check that the manuals or a finding ask for."
)


def waiting_words(one: Waiting) -> list[str]:
    """Everything that is told, a sentence or two an item; what stands open first."""
    told = [*_stands(one), *(_overdue(one, own) for own in one.overdue), _visit(one)]
    told += [_coming(own) for own in one.coming]
    if not one.coming:
        told.append("No measure is foretold to reach a limit.")
    told.append(_record(one))
    if cost := _cost(one):
        told.append(cost)
    return [*told, _check(one)]


def percent(chance: float) -> str:
    """A chance, never none and never certain."""
    return "less than 1 %" if chance < 0.01 else "more than 99 %" if chance > 0.99 else f"{100.0 * chance:.0f} %"


def _stands(one: Waiting) -> list[str]:
    """What stands open, each finding an item; nothing where nothing does."""
    told = [f"{finding_label(own.name)} ({own.severity}), {raised_words(own)}" for own in one.stands.over_many]
    if latest := latest_words(one.stands.of_flights):
        told.append(latest)
    return [f"Check before flight: {'; '.join(told)}."] if told else []


def _overdue(one: Waiting, work: Visit) -> str:
    since = "due today" if work.on == one.as_of else f"overdue since {work.on}"
    return f"{_title(work)}: {since}{'' if _named(one) else '; name the day'}."


def _named(one: Waiting) -> bool:
    return one.visit is not None and one.visit.what is None


def _visit(one: Waiting) -> str:
    if one.visit is None:
        return "Next visit: not known."
    what = "as named" if _named(one) else _title(one.visit).lower()
    hours = "" if one.hours is None else f"; until then about {one.hours:.0f} h, counted from the last flight"
    return f"Next visit: {one.visit.on} ({what}){hours}."


def _coming(one: Coming) -> str:
    label, limit = MEASURE_LABELS[one.measure], with_unit(one.limit, one.unit)
    if one.past:
        return f"{label} is past its limit of {limit}."
    by = "not known by when" if one.one_in_ten is None else f"one in ten by {one.one_in_ten}"
    if one.chance is None:
        return f"{label} reaches {limit}: {by}."
    return f"{label} reaches {limit} before then: chance {percent(one.chance)}; {by}."


def _record(one: Waiting) -> str:
    if one.chance is None:
        return f"Chance of losing the alternator or being stranded before then: not known, because {one.because}."
    record = one.record
    rests = (
        f"{counted(record.calm.events, 'event')} in {record.calm.hours:.0f} h with nothing open, "
        f"{record.warned.events} in "
        f"{record.warned.hours:.0f} h with something open, {counted(one.aircraft, 'aircraft', 'aircraft')}"
    )
    return (
        f"Chance of losing the alternator or being stranded before then: {_between(one.chance)}, at least, by these "
        f"records ({rests})."
    )


def _between(chance: Quantity) -> str:
    return f"{percent(chance.value)} ({percent(chance.low or 0.0)} to {percent(chance.high or 0.0)})"


def _cost(one: Waiting) -> str:
    """What both cost in hours; empty where neither was set."""
    told = []
    if one.costs.check is not None:
        told.append(f"A check takes {one.costs.check:g} h.")
    if one.urgent and told:
        told.append("What waiting costs is not set beside it: what stands above asks for a check whatever it costs.")
    if one.costs.expected is not None:
        cost = one.costs.expected
        ends = f"{cost.low or 0.0:.1f} to {cost.high or 0.0:.1f}"
        told.append(
            f"Waiting costs at least {cost.value:.1f} h on average ({ends}), at {one.costs.stranded:g} h for being "
            "stranded."
        )
    return " ".join(told)


def _check(one: Waiting) -> str:
    first = "Check what stands open before flight. " if one.stands.every else ""
    if one.check_by is None:
        return f"{first}No forecast tells a day for a check."
    when = "today" if one.check_by <= one.as_of else f"by {one.check_by}"
    if one.with_item is None:
        return f"{first}The forecasts ask for a check {when}; no other known work falls due by then."
    together = f"{_title(one.with_item).lower()}, due {one.with_item.on}"
    return f"{first}The forecasts ask for a check {when}, best together with {together}."


def _title(one: Visit) -> str:
    assert one.what is not None  # work that is due has a kind
    return TITLES[one.what]
