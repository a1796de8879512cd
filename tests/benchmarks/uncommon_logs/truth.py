"""What is true of a drawn log, and how an answer about it is marked.

Each log asks for being read, its flights, its ammeter, each finding that must be there, no finding that must not,
each measure, and words that must or must not be said. Each is one point, so that a silent product and one that
finds everything everywhere both fail.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

#: How far apart in time a finding and its fault may lie [s].
APART_S = 12.0

FINDINGS = (
    "overvoltage_trip", "overvoltage", "alternator_offline", "regulator_high", "regulator_low", "regulator_drift",
    "regulator_hunting", "slow_recharge", "recharge_never_settles", "weak_cranking", "low_resting_voltage",
    "output_short", "unsteady_connection", "battery_offline", "reading_fault",
)  # fmt: skip
VOLTAGE_MEASURES = (
    "resting_voltage", "resting_charge", "cranking_voltage", "regulated_voltage", "regulation_scatter",
    "regulation_slope", "regulation_droop", "highest_voltage",
)  # fmt: skip
START_MEASURES = (
    "resting_voltage", "resting_charge", "prestart_discharge", "cranking_voltage", "cranking_time", "start_attempts",
)  # fmt: skip
Need = Literal["measured", "not_measurable", "either", "band", "fair_band"]


@dataclass(frozen=True, slots=True)
class Expected:
    """A measure: ``either`` may be refused; a ``band`` must hold ``low``..``high`` and not all, a fair one if any."""

    need: Need
    low: float = float("nan")
    high: float = float("nan")
    widest: float = float("inf")


REFUSED = Expected("not_measurable")


@dataclass(frozen=True, slots=True)
class Must:
    """A finding by one of its names; a pattern of ``causes`` must stand among its first three causes."""

    names: tuple[str, ...]
    from_s: float
    to_s: float
    causes: tuple[str, ...] = ()
    severities: tuple[str, ...] = ()
    evidence: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Trend:
    """What ``trend --json`` must say of a tail's flights."""

    flights: int
    measured: tuple[str, ...] = ()  # trends that the flights can carry
    musts: tuple[str, ...] = ()  # its findings
    must_nots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Truth:
    """All that is asked of one log. Seconds count from its first row."""

    about: str
    flights: tuple[int, ...] = (1,)  # each a fair number of flights
    ammeter: tuple[str, ...] = ()  # fair answers
    musts: tuple[Must, ...] = ()
    may: frozenset[str] = frozenset()  # findings that are fair, of any severity
    may_advise: frozenset[str] = frozenset()  # fair as advisories
    no_causes: tuple[str, ...] = ()  # patterns that no first cause may match
    measures: Mapping[str, Expected] = field(default_factory=dict)
    of_flight: int = 0  # whose measures
    spans: tuple[tuple[float, float], ...] = ()  # length of each flight, lowest and highest [s]
    says: tuple[str, ...] = ()  # patterns somewhere in the log's entry
    not_said: tuple[str, ...] = ()  # patterns nowhere in findings and causes
    roles: Mapping[str, str | None] = field(default_factory=dict)  # role -> header, None: no column plays it
    nominal: tuple[int | None, ...] = ()
    start_recorded: bool | None = None
    trend: Trend | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """One point: what was asked, and why it was missed."""

    what: str
    missed: str | None


def mark(truth: Truth, entry: Mapping[str, Any], columns: Mapping[str, Any], trouble: str) -> list[Mark]:
    """All points of one log, from its entries of ``review --json`` and ``columns --json``."""
    flights = entry.get("flights") or [] if entry.get("state") == "read" else []
    marks = [Mark("read", None if flights else f"not read: {entry.get('because')} {entry.get('warnings')}"[:200])]
    marks.append(Mark("quiet", f"on standard error: {trouble[:200]}" if trouble else None))
    spans = [(f["from_s"], f["to_s"]) for f in flights]
    right = len(flights) in truth.flights
    said = ", ".join(f"{a:.0f}-{b:.0f}" for a, b in spans)
    marks.append(Mark("flights", None if right else f"{len(flights)} flights ({said}), true {_or(truth.flights)}"))
    if truth.ammeter:
        kinds = [str(f.get("ammeter")) for f in flights]
        fits = bool(kinds) and all(kind in truth.ammeter for kind in kinds)
        marks.append(Mark("ammeter", None if fits else f"ammeter {_or(kinds)}, true {_or(truth.ammeter)}"))
    if truth.nominal:
        volts = [f.get("nominal_voltage") for f in flights]
        fits = bool(volts) and all(one in truth.nominal for one in volts)
        marks.append(Mark("nominal", None if fits else f"nominal voltage {_or(volts)}, true {_or(truth.nominal)}"))
    findings = [one for flight in flights for one in flight.get("findings", [])]
    marks += [Mark("must", _missed(must, findings)) for must in truth.musts]
    marks.append(Mark("must not", _babble(truth, findings) if flights else "not read"))
    flight = flights[truth.of_flight] if truth.of_flight < len(flights) else {}
    measures = flight.get("measures", {})
    marks += [Mark(name, _measure(name, want, measures.get(name))) for name, want in truth.measures.items()]
    marks += _spans(truth, spans)
    if truth.start_recorded is not None and flights:
        got = flight.get("start_recorded")
        fits = got is truth.start_recorded or (got is None and truth.start_recorded)
        marks.append(Mark("start", None if fits else f"start_recorded {got}, true {truth.start_recorded}"))
    marks += list(_words(truth, entry, findings, bool(flights)))
    by_role = {one["role"]: one["name"] for one in columns.get("columns", [])}
    for role, name in truth.roles.items():
        got = by_role.get(role)
        marks.append(Mark("column", None if got == name else f"column of {role}: {got!r}, true {name!r}"))
    return marks


def _or(values: Any) -> str:
    return "/".join(map(str, values)) or "none"


def _near(must: Must, finding: Mapping[str, Any]) -> bool:
    overlaps = finding["from_s"] <= must.to_s + APART_S and finding["to_s"] >= must.from_s - APART_S
    return finding["finding"] in must.names and overlaps


def _missed(must: Must, findings: list[dict[str, Any]]) -> str | None:
    """Why no finding answers a must; None when one does."""
    near = [finding for finding in findings if _near(must, finding)]
    where = f"{must.from_s:.0f}-{must.to_s:.0f} s"
    if not near:
        said = ", ".join(f"{f['finding']} {f['from_s']:.0f}-{f['to_s']:.0f}" for f in findings) or "nothing"
        return f"no {_or(must.names)} in {where} (said: {said})"
    if must.severities:
        near = [f for f in near if f["severity"] in must.severities]
        if not near:
            return f"{_or(must.names)} in {where} not as {_or(must.severities)}"
    for key, value in must.evidence:
        near = [f for f in near if f.get("evidence", {}).get(key) == value]
        if not near:
            return f"{_or(must.names)} in {where} without {key} {value:g} in its evidence"
    if not must.causes:
        return None
    first = [c["cause"] for f in near for c in sorted(f.get("likely", []), key=lambda c: -c["weight"])[:3]]
    if any(re.search(pattern, cause, re.I) for pattern in must.causes for cause in first):
        return None
    return f"{near[0]['finding']} without its cause among the first three: {' | '.join(first[:3])}"


def _babble(truth: Truth, findings: list[dict[str, Any]]) -> str | None:
    """Findings that must not be there; None when there are none."""
    fair = set(truth.may) | {name for must in truth.musts for name in must.names}
    wrong = []
    for finding in findings:
        name, severity = finding["finding"], finding["severity"]
        if name in fair or (severity == "advisory" and name in truth.may_advise):
            continue
        wrong.append(f"{name} ({severity}, {finding['from_s']:.0f}-{finding['to_s']:.0f} s): {finding['says'][:160]}")
    return "said " + "; ".join(wrong) if wrong else None


def _measure(name: str, want: Expected, got: Mapping[str, Any] | None) -> str | None:
    if got is None:
        return f"{name}: absent"
    value = got.get("value") if got.get("state") == "measured" else None
    if want.need == "not_measurable":
        return None if value is None else f"{name} {value:g} ({got.get('low')} to {got.get('high')}), not measurable"
    if value is None:
        return (
            None if want.need in ("either", "fair_band") else f"{name} not measured ({str(got.get('because'))[:140]})"
        )
    low, high = got.get("low"), got.get("high")
    if low is None or high is None or not low <= value <= high:
        return f"{name} {value:g} outside its own interval {low} to {high}"
    if high - low > want.widest:
        return f"{name} {value:g} with an interval of {high - low:g}"
    if want.need in ("band", "fair_band"):
        fits = low <= want.high and high >= want.low
    else:
        fits = want.low - 1e-9 <= value <= want.high + 1e-9
    return None if fits else f"{name} {value:g} ({low:g} to {high:g}), true {want.low:.4g} to {want.high:.4g}"


def _spans(truth: Truth, spans: list[tuple[float, float]]) -> Iterator[Mark]:
    for number, (shortest, longest) in enumerate(truth.spans):
        length = spans[number][1] - spans[number][0] if number < len(spans) else -1.0
        fits = shortest <= length <= longest
        why = f"flight {number + 1} of {length:.0f} s, true {shortest:.0f} to {longest:.0f}"
        yield Mark("span", None if fits else why)


def _words(truth: Truth, entry: Mapping[str, Any], findings: list[dict[str, Any]], read: bool) -> Iterator[Mark]:
    whole = json.dumps(entry, ensure_ascii=False)
    for pattern in truth.says:
        yield Mark("said", None if re.search(pattern, whole, re.I) else f"nothing says /{pattern}/")
    told = " ".join(f"{f['says']} {' '.join(c['cause'] for c in f.get('likely', []))}" for f in findings)
    for pattern in truth.not_said:
        hit = re.search(pattern, told, re.I)
        yield Mark("phrase", f"says '{hit.group(0)}'" if hit else (None if read else "not read"))
    for pattern in truth.no_causes:
        firsts = [max(f["likely"], key=lambda c: c["weight"])["cause"] for f in findings if f.get("likely")]
        wrong = [cause for cause in firsts if re.search(pattern, cause, re.I)]
        yield Mark("cause", f"first cause '{wrong[0]}'" if wrong else (None if read else "not read"))


def mark_trend(trend: Trend, document: Mapping[str, Any]) -> list[Mark]:
    """All points of a tail's trend, from ``trend --json``."""
    tail = (document.get("tails") or [{}])[0]
    counted = tail.get("flights")
    marks = [Mark("trend", None if counted == trend.flights else f"{counted} flights trended, true {trend.flights}")]
    for name in trend.measured:
        one = tail.get("trends", {}).get(name, {})
        said = one.get("because") or "absent"
        marks.append(Mark("trend", None if one.get("state") == "measured" else f"trend of {name}: {said}"))
    names = {one["finding"] for one in tail.get("findings", [])}
    said = _or(sorted(names))
    marks += [
        Mark("trend", None if one in names else f"the trend finds no {one} (found: {said})") for one in trend.musts
    ]
    marks += [Mark("trend", f"the trend finds {one}" if one in names else None) for one in trend.must_nots]
    return marks
