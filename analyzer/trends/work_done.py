"""Did it help: the maintenance of one day, each entry with what came of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from analyzer.trends.comparison import Comparison
from analyzer.trends.tail_result import TailResult


@dataclass(frozen=True, slots=True)
class EntryWithSymptoms:
    """One entry and what came of it."""

    comparison: Comparison
    symptoms: tuple[Mapping[str, Any], ...] | None = None  # of ``squawk.around_work``; None where nobody looked


@dataclass(frozen=True, slots=True)
class WorkOfDay:
    """What was done to a tail on a day, or at a moment."""

    tail: str
    when: datetime
    entries: tuple[EntryWithSymptoms, ...]


def work_of_day(result: TailResult, when: datetime) -> WorkOfDay:
    """Give what was done on a day, or at a moment when the time of day is given (midnight means the whole day)."""
    done = (one for one in result.comparisons if _meant(one.entry.when, when))
    return WorkOfDay(result.tail, when, tuple(EntryWithSymptoms(one) for one in done))


def _meant(at: datetime, when: datetime) -> bool:
    return at == when or (when.time() == datetime.min.time() and at.date() == when.date())
