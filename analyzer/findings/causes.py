"""What could explain a finding, and what to check: read from ``causes.toml``, which a mechanic can correct.

A cause starts with its weight for the finding. Each sign that the flight shows, or clearly does not show,
multiplies it by the number that the file gives; a sign that is not known leaves it alone. The products are
normalised to sum to 1. (Bayes' rule with signs taken as independent, as in any naive Bayes classifier; those that
plainly are not, since both come from one observation, are weighed once: ``same_observation`` in the file.)
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Protocol

from msgspec import Struct
from msgspec.structs import replace

from analyzer.aircraft import Source
from analyzer.corrections import in_effect, rests_on_corrections
from analyzer.findings.finding import Cause, Finding, FindingName
from analyzer.findings.signs import flight_signs
from analyzer.flights.flight import Flight
from analyzer.measures.measure import Measure
from analyzer.shipped_tables import read_table

CAUSES_FILE = Path(__file__).with_name("causes.toml")


class KnownCause(Struct, frozen=True):
    """One cause of the file."""

    key: str
    words: str
    weights: Mapping[str, float]  # finding -> weight to begin with
    signs: Mapping[str, tuple[float, float]]  # sign -> factor when seen, factor when clearly not seen
    checks: tuple[str, ...]
    not_with: tuple[Source, ...] = ()  # sources that have no such part
    of_lithium: tuple[str, tuple[str, ...]] | None = None  # words and checks where the battery is lithium, if others


class Knowledge(Struct, frozen=True):
    """The whole file."""

    causes: tuple[KnownCause, ...]
    signs: Mapping[str, str]  # sign -> words for a person, "the alternator dropped off line in one step"
    same_observation: Mapping[str, tuple[str, ...]]  # sign seen -> signs that then only repeat it
    precautions: Mapping[str, tuple[str, ...]]  # finding -> what comes before anything is touched
    first_checks: Mapping[str, tuple[str, ...]]  # finding -> checks whatever the cause
    mended_by: Mapping[str, tuple[str, ...]]  # kind of maintenance entry -> causes that it mends


@rests_on_corrections
@cache
def load_knowledge() -> Knowledge:
    """Read ``causes.toml``, with the weights that were corrected."""
    weights = in_effect().weights
    document: dict[str, Any] = read_table(CAUSES_FILE)
    causes = tuple(
        KnownCause(
            key,
            entry["words"],
            {name: weights.get((key, name), float(weight)) for name, weight in entry["explains"].items()},
            {sign: (float(pair[0]), float(pair[1])) for sign, pair in entry.get("signs", {}).items()},
            tuple(entry["checks"]),
            tuple(Source(word) for word in entry.get("not_with", ())),
            (entry["lithium"]["words"], tuple(entry["lithium"]["checks"])) if "lithium" in entry else None,
        )
        for key, entry in document["causes"].items()
    )
    before, first = (
        {name: tuple(checks) for name, checks in document[table].items()} for table in ("precautions", "first_checks")
    )
    repeats = {sign: tuple(others) for sign, others in document["same_observation"].items()}
    mended = {kind: tuple(keys) for kind, keys in document["mended_by"].items()}
    return Knowledge(causes, document["signs"], repeats, before, first, mended)


#: A finding lists at most this many causes and checks; the rest share too little weight to act on.
MOST_CAUSES, MOST_CHECKS = 6, 8
#: So many causes, the likeliest, have their own check stand first.
CHECKED_FIRST = 3


#: The signs that only repeat the finding itself, and so say nothing of its cause.
_ITS_OWN_SIGNS = {
    FindingName.ALTERNATOR_OFFLINE: ("alternator_lost_too",),
    FindingName.WEAK_CRANKING: ("weak_cranking_too",),
    FindingName.LOW_RESTING_VOLTAGE: ("low_rest_too",),
    FindingName.UNSTEADY_CONNECTION: ("unsteady_too", "dropouts_before"),
    FindingName.REGULATOR_LOW: ("low_regulated",),
}


def explain(flight: Flight, measures: Mapping[str, Measure], findings: list[Finding]) -> list[Finding]:
    """Give the findings with their likely causes, best first, and their ground checks in order."""
    if not findings:
        return []
    shared = flight_signs(flight, measures, findings)
    explained = []
    for finding in findings:
        own = _ITS_OWN_SIGNS.get(finding.name, ())
        signs = {sign: seen for sign, seen in shared.items() if sign not in own}
        likely, check = weigh_causes(finding.name, {**signs, **finding.signs}, flight.source)
        explained.append(replace(finding, likely=likely, check=check))
    return explained


def weigh_causes(
    name: str, signs: Mapping[str, bool], source: Source | None = None
) -> tuple[tuple[Cause, ...], tuple[str, ...]]:
    """Give a finding's causes weighed by some signs, and its checks; neither where none is known.

    Causes in parts that the source does not have are left out; those of a lithium battery have their own words.
    """
    knowledge = load_knowledge()
    said = {other for sign, others in knowledge.same_observation.items() if signs.get(sign) for other in others}
    signs = {sign: seen for sign, seen in signs.items() if sign not in said}
    possible = (cause for cause in knowledge.causes if name in cause.weights and source not in cause.not_with)
    if signs.get("lithium"):
        possible = (_of_lithium(cause) for cause in possible)
    weighed = [(_weight(cause, name, signs), cause) for cause in possible]
    weighed = [pair for pair in weighed if pair[0] > 0.0]
    weighed.sort(key=lambda pair: -pair[0])
    weighed = weighed[:MOST_CAUSES]
    total = sum(weight for weight, _ in weighed)
    likely = tuple(
        Cause(cause.key, cause.words, weight / total, _why(cause, signs), cause.checks) for weight, cause in weighed
    )
    return likely, _checks(name, [cause for _, cause in weighed])


def _of_lithium(cause: KnownCause) -> KnownCause:
    """Give the cause as it is put for a lithium battery."""
    return cause if cause.of_lithium is None else replace(cause, words=cause.of_lithium[0], checks=cause.of_lithium[1])


def _weight(cause: KnownCause, finding: str, signs: Mapping[str, bool]) -> float:
    weight = float(cause.weights[finding])
    for sign, (seen, unseen) in cause.signs.items():
        if sign in signs:
            weight *= seen if signs[sign] else unseen
    return weight


def _why(cause: KnownCause, signs: Mapping[str, bool]) -> tuple[str, ...]:
    """Sentences for each sign that moved the weight, the strongest first."""
    knowledge = load_knowledge()
    moved = []
    for sign, (seen, unseen) in cause.signs.items():
        if sign not in signs:
            continue
        factor = seen if signs[sign] else unseen
        if factor != 1.0:
            words = knowledge.signs[sign] if signs[sign] else f"not seen: {knowledge.signs[sign]}"
            moved.append((max(factor, 1.0 / max(factor, 1e-6)), f"{words} (x {factor:g})"))
    return tuple(words for _, words in sorted(moved, key=lambda pair: -pair[0]))


def _checks(finding: str, causes: list[KnownCause]) -> tuple[str, ...]:
    """Checks in order, once each: precautions, the likeliest causes' own first ones, the finding's, then the rest."""
    knowledge = load_knowledge()
    ordered = list(knowledge.precautions.get(finding, ()))
    ordered += [cause.checks[0] for cause in causes[:CHECKED_FIRST]]
    ordered += knowledge.first_checks.get(finding, ())
    for rank in range(3):
        ordered += [cause.checks[rank] for cause in causes if rank < len(cause.checks)]
    return tuple(dict.fromkeys(ordered))[:MOST_CHECKS]


class Explained(Protocol):
    """A finding, of one flight or of many, with what could explain it."""

    @property
    def likely(self) -> tuple[Cause, ...]:
        """What could explain it, best first."""

    @property
    def check(self) -> tuple[str, ...]:
        """What to check, in order."""


def first_checks(finding: Explained) -> tuple[str, ...]:
    """Give what to do first: the first check, which may be a precaution, and the likeliest cause's own."""
    own = finding.likely[0].check[:1] if finding.likely else ()
    return tuple(dict.fromkeys((*finding.check[:1], *own)))
