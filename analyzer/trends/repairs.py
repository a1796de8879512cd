"""How the fleet's repairs turned out: which work ended which finding, and what that says of the causes' weights.

The weights of ``causes.toml`` are judgement. Work that ended a finding in the flights tells where the cause was: in
what such work mends. With enough of them the weights shift, by the Dirichlet distribution's rule: judgement counts as
``repairs_judgement`` repairs that turned out as the weights say (conjugate updating of a multinomial; Gelman et al.,
Bayesian Data Analysis, ch. 3; formula from memory). What no such work mends keeps its weight.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from analyzer.findings.causes import load_knowledge
from analyzer.findings.finding import FindingName
from analyzer.limits import limit_value
from analyzer.trends.comparison import Comparison
from analyzer.trends.found_around import FoundAround
from analyzer.trends.tail_result import TailResult

#: What is mended: causes by their keys.
Mended = frozenset[str]


@dataclass(frozen=True, slots=True)
class Ended:
    """One work that surely ended one finding of one aircraft."""

    tail: str
    finding: FindingName
    comparison: Comparison


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one kind of work turned out on one finding that was there when it was done."""

    finding: FindingName
    kind: str
    ended: int
    told: int  # of so many works whose flights tell
    open: int  # and so many more whose flights do not tell yet


@dataclass(frozen=True, slots=True)
class ShiftedCause:
    """A cause's weight to begin with for one finding, as judged and as the fleet's repairs shift it."""

    key: str
    words: str
    judged: float
    weight: float
    ended: int  # aircraft whose finding ended by work that mends it
    of: int  # aircraft whose finding ended by any work that mends a cause of it


def outcomes(results: Iterable[TailResult]) -> tuple[Outcome, ...]:
    """Count, over all aircraft, how each kind of work turned out on each finding that it is done to end."""
    ended: Counter[tuple[FindingName, str]] = Counter()
    told: Counter[tuple[FindingName, str]] = Counter()
    still: Counter[tuple[FindingName, str]] = Counter()
    for comparison, one in _there_before(results):
        key = (one.finding, comparison.entry.kind)
        ended[key] += one.ended
        told[key] += _tells(one)
        still[key] += not _tells(one)
    return tuple(Outcome(*key, ended[key], told[key], still[key]) for key in sorted(told))


def _there_before(results: Iterable[TailResult]) -> Iterable[tuple[Comparison, FoundAround]]:
    """Each work with each finding that it is done to end and that was there lately."""
    for result in results:
        for comparison in result.comparisons:
            for one in comparison.findings:
                if one.lately and one.before > limit_value("trend_stray_flights"):
                    yield comparison, one


def _tells(one: FoundAround) -> bool:
    """Whether the flights since tell what came of the work."""
    return one.ended or one.goes_on or one.clean is not None


def ended_by_work(results: Iterable[TailResult]) -> tuple[Ended, ...]:
    """Give each work that ended a finding; of one aircraft, finding and what is mended the latest alone.

    Where works without a flight between them mend different things, nothing tells which of them ended it.
    """
    found: dict[tuple[str, str, Mended], Ended] = {}
    for result in results:
        for comparison in result.comparisons:
            mended = mended_by(comparison.entry.kind)
            for one in comparison.findings:
                if one.ended and mended and not _shared(result, comparison, one):
                    found[result.tail, one.finding, mended] = Ended(result.tail, one.finding, comparison)
    return tuple(found.values())


def _shared(result: TailResult, comparison: Comparison, found: FoundAround) -> bool:
    """Whether other work at the same stop in the shop may have ended a finding as well."""
    mended = mended_by(comparison.entry.kind)
    at_this_stop = (
        other
        for other in result.comparisons
        for one in other.findings
        if (one.finding, one.place) == (found.finding, found.place)
    )
    return any(mended_by(other.entry.kind) != mended for other in at_this_stop)


def mended_by(kind: str) -> Mended:
    """Give the causes that a kind of work mends; none where it may be anything."""
    return frozenset(load_knowledge().mended_by.get(kind, ()))


def shifted_causes(finding: FindingName, ended: Iterable[Ended]) -> tuple[ShiftedCause, ...]:
    """Give a finding's causes with their weights as repairs shift them, the likeliest first.

    None with fewer than ``repairs_fewest`` aircraft, or where no work mends any of them.
    """
    causes = [cause for cause in load_knowledge().causes if finding in cause.weights]
    judged = {cause.key: float(cause.weights[finding]) for cause in causes}
    parts = {part: sum(judged[key] for key in part if key in judged) for part in _parts()}
    parts = {part: weight for part, weight in parts.items() if weight > 0.0}
    by_tail = {(one.tail, mended_by(one.comparison.entry.kind)) for one in ended if one.finding == finding}
    by_tail = {(tail, part) for tail, part in by_tail if part in parts}
    counted = Counter(part for _, part in by_tail)
    aircraft = len({tail for tail, _ in by_tail})
    if aircraft < limit_value("repairs_fewest"):
        return ()
    factors = _factors(parts, counted)
    told = []
    for cause in causes:
        part = next((part for part in parts if cause.key in part), frozenset[str]())
        weight = judged[cause.key] * factors.get(part, 1.0)
        told.append(ShiftedCause(cause.key, cause.words, judged[cause.key], weight, counted[part], aircraft))
    return tuple(sorted(told, key=lambda one: -one.weight))


def _parts() -> set[Mended]:
    """What is mended by any kind of work; kinds that mend the same causes are one."""
    return {frozenset(keys) for keys in load_knowledge().mended_by.values()}


def _factors(parts: Mapping[Mended, float], counted: Mapping[Mended, int]) -> dict[Mended, float]:
    """By what each part's weight is multiplied: the Dirichlet's mean after the repairs over that before them."""
    whole, judgement, total = sum(parts.values()), limit_value("repairs_judgement"), sum(counted.values())
    before = {part: weight / whole for part, weight in parts.items()}
    after = {part: (judgement * share + counted.get(part, 0)) / (judgement + total) for part, share in before.items()}
    return {part: after[part] / before[part] for part in parts}
