"""A message of what is new, in words: how many and whose, each with its number first and what to do, the cautions."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.findings.causes import first_checks
from analyzer.findings.finding import Severity
from analyzer.phrases import counted
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.due_words import DEFERS, due_words
from analyzer.reports.plainly import plainly
from analyzer.reports.wording import finding_label
from analyzer.service.delivery import Message
from analyzer.service.due_result import ForecastDue
from analyzer.service.news import InFlights, News
from analyzer.trends.judging import TrendFinding

#: Aircraft named in a title before the rest are counted.
NAMED_MOST = 4


def message_of(news: Sequence[News], link: str | None = None) -> Message:
    """Give the message of some news.

    Parameters
    ----------
    link : address of the pages, without a slash at its end; no link stands there when None
    """
    parts = [f"{_counts(news)}, not told here before."]
    parts += ["\n".join(_lines(one, link)) for one in news]
    if any(not isinstance(one.about, TrendFinding | InFlights) for one in news):
        parts.append(DEFERS)
    parts.append("\n".join(CAUTIONS))
    return Message(f"taper: {_counts(news)}: {_whose(news)}", plainly("\n\n".join(parts)) + "\n")


def _counts(news: Sequence[News]) -> str:
    """How many of each, "1 warning, 2 cautions, 1 due"."""
    gravest_first = sorted(Severity, key=lambda one: -one.rank)
    counts = [(one, sum(other.severity is one for other in news)) for one in gravest_first]
    told = [counted(many, str(severity)) for severity, many in counts if many]
    if due := sum(one.severity is None for one in news):
        told.append(f"{due} due")
    return ", ".join(told)


def _whose(news: Sequence[News]) -> str:
    tails = list(dict.fromkeys(one.tail for one in news))
    more = f" and {len(tails) - NAMED_MOST} more" if len(tails) > NAMED_MOST else ""
    return ", ".join(tails[:NAMED_MOST]) + more


def _lines(one: News, link: str | None) -> list[str]:
    where = [] if link is None else [f"{link}/aircraft/{one.tail}"]
    if not isinstance(one.about, TrendFinding | InFlights):
        told = due_words(one.about)
        when = "" if isinstance(one.about, ForecastDue) and one.about.coming.reached.past else f": {told.when}"
        return [f"DUE  {one.tail}  {told.title}{when}", told.why, *where]
    about = one.about if isinstance(one.about, TrendFinding) else one.about.worst
    label = finding_label(about.name)
    lines = [f"{about.severity.upper()}  {one.tail}  {label}", about.says, _seen(one.about)]
    lines += [f"First check: {' '.join(checks)}"] if (checks := first_checks(about)) else []
    return [*lines, *where]


def _seen(about: TrendFinding | InFlights) -> str:
    if isinstance(about, TrendFinding):
        raised = about.raisings[-1].start
        return "Over many flights" + (f", raised {raised:%Y-%m-%d}." if raised else ".")
    many = counted(about.flights, "flight")
    if about.first is None or about.last is None:
        return f"In {many}."
    first, last = f"{about.first:%Y-%m-%d}", f"{about.last:%Y-%m-%d}"
    return f"In {many}, {first}." if about.flights == 1 else f"In {many}, {first} to {last}."
