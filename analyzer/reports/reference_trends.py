"""What the reference says of trends, taken from the tables that the trends themselves work by."""

from __future__ import annotations

from collections.abc import Mapping

from analyzer.findings.finding import FindingName
from analyzer.reports.wording import MEASURE_LABELS
from analyzer.trends.entries import kinds
from analyzer.trends.tracked_series import BY_MEASURE, TRACKED, TrackedMeasure

#: Findings over many flights that a measure's movement raises, in the order of the measures.
TREND_FINDINGS = tuple(dict.fromkeys(kind.finding for kind in TRACKED))
_WORSE = {1: "Rising is worse.", -1: "Falling is worse.", 0: "Moving either way counts."}


def trend_lines(measure: str, covariates: Mapping[str, str]) -> list[str]:
    """How a measure is followed from flight to flight, with {limits}; nothing for one that is not."""
    if measure not in BY_MEASURE:
        return []
    kind = BY_MEASURE[measure]
    logs = " (natural logarithm: 0.1 is about a tenth)" if kind.logarithmic else ""
    lines = [f"{_WORSE[kind.worse]} It raises {kind.finding}."]
    lines.append(
        f"Innocent causes may leave a movement of {{{kind.innocent_move}}}; "
        f"the usual scatter from flight to flight is {{{kind.scatter}}}{logs}."
    )
    lines += [
        f"Taken out: {covariates[effect.of]}, {{{effect.prior_mean}}} known beforehand "
        f"with a doubt of {{{effect.prior_sd}}} (one standard deviation)."
        for effect in kind.effects
    ]
    lines += [f"Limit that it may come to: {words}." for words in _limits_of(kind)]
    lines += _traits(kind)
    anew = [entry.words for entry in kinds().values() if measure in entry.resets]
    return [*lines, f"Restarts at: {'; '.join(anew)}."]


def _limits_of(kind: TrackedMeasure) -> list[str]:
    """The limits of a measure, each way."""
    ends = (("upwards", kind.limit_up), ("downwards", kind.limit_down))
    return [f"{way} {{{name}}} ({name})" for way, name in ends if name is not None]


def _traits(kind: TrackedMeasure) -> list[str]:
    """What is allowed for in a measure's readings."""
    said = []
    if kind.stepped:
        said.append("Read in the meter's steps: a move from one step to the next is no step of the aircraft.")
    if kind.upper_bound:
        said.append("A log may miss the lowest instant: readings far above their like are drawn in.")
    if kind.coarse:
        said.append("A coarse meter errs alike in every flight: twice half its interval is allowed for on top.")
    return said


def trend_rule(finding: str) -> list[str]:
    """When a finding is raised over many flights, with {limits}."""
    rules = [
        f"{MEASURE_LABELS[kind.measure]} has clearly moved by more than {{{kind.innocent_move}}}"
        f"{' (natural logarithm)' if kind.logarithmic else ''}, corrected for weather and load where they matter."
        for kind in TRACKED
        if kind.finding == finding
    ]
    if finding == "reading_fault":
        rules.append("Resting and regulated voltage step by the same amount in the same flights (see instrument).")
    if finding in tuple(FindingName):
        rules.append("Found in {trend_recurs} of the latest {trend_recent} flights it is raised for the aircraft.")
    return rules
