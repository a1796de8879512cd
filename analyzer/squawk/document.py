"""A report against a tail's flights: the squawk document.

report = report_of("ALT light flickered")
since = look_back(newest_flight(store, "N047KT"))        # of across.py and of the records' replay.py
flights = replay(store, "N047KT", since)
document = squawk_document("N047KT", report, look_through(flights, report), since=since, cautions=CAUTIONS)
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import zip_longest
from typing import Any

from analyzer import CONTRACT
from analyzer.contract import cause_entry, plain
from analyzer.limits import Limits
from analyzer.phrases import counted
from analyzer.review import FlightReview
from analyzer.squawk import weighing
from analyzer.squawk.across import across_flights
from analyzer.squawk.around_work import around_work
from analyzer.squawk.examine import FlightEvidence, OccasionEvidence, SymptomEvidence, examine
from analyzer.squawk.known import SYMPTOMS, Symptom, ToMeasure, band_words, load_symptoms
from analyzer.squawk.sighting import State
from analyzer.squawk.understanding import Understood, understand
from analyzer.squawk.vocabulary import load_vocabulary
from analyzer.trends.entries import Entry

VERDICTS = {
    State.SEEN: "seen in the recordings",
    State.NOT_SEEN: "not seen though it could have been",
    State.NOT_OBSERVABLE: "could not have been seen",
}
#: What every measurement on the ground begins with.
ENGINE_RUNNING = (
    "With the engine running: somebody at the controls, brakes and chocks set, and everybody clear of the propeller."
)
#: Beside the verdict of a symptom all whose occasions were at low engine speed.
AT_LOW_RPM = "at low engine speed only"
#: Beside that of a symptom of which a log only shows signs.
INDIRECTLY = "by indirect signs only"
#: Source of an expected voltage that is the aircraft's own.
OWN_BAND = "this aircraft's band, from the fleet file"
NOT_SEEN_IS_NOT_GONE = "Not recorded does not mean it did not happen."


class ReportError(ValueError):
    """A report that names no symptom; the message says what can be picked."""


@dataclass(frozen=True, slots=True)
class Report:
    """What was reported: words, and the symptoms that they mean or that were picked."""

    words: str | None
    understood: Understood
    picked: tuple[str, ...]

    @property
    def symptoms(self) -> tuple[str, ...]:
        """Symptoms in the order reported, each once."""
        return tuple(dict.fromkeys([*(match.symptom for match in self.understood.matches), *self.picked]))


def report_of(words: str | None, picked: Sequence[str] = ()) -> Report:
    """Give what a report means.

    Raises
    ------
    ReportError
        When a picked name is no symptom, or words and picks name none; it lists what can be picked.
    """
    for name in picked:
        if name not in SYMPTOMS:
            raise ReportError(f"'{name[:40]}' is no symptom. {pickable()}")
    said = words if words and words.strip() else None
    report = Report(said, understand(said or ""), tuple(picked))
    if not report.symptoms:
        raise ReportError(f"{_why_none(report)} {pickable()}")
    return report


def _why_none(report: Report) -> str:
    if report.words is None:
        return "There are no words to look for, and no symptom was picked."
    if report.understood.denied:
        return (
            f"The report says what did not happen ({', '.join(report.understood.denied)[:80]}), and nothing that did."
        )
    return "These words match no symptom."


def pickable() -> str:
    """The symptoms with their titles, for a person to pick from."""
    lines = [f"  {name:<18} {symptom.title}" for name, symptom in load_symptoms().items()]
    return "\n".join(["Pick with --symptom NAME:", *lines])


def symptoms_text() -> str:
    """Every symptom with its title, what it needs and the phrases that mean it."""
    lines = []
    for name, symptom in load_symptoms().items():
        phrases = [phrase.replace("_", " ") for phrase in load_vocabulary().phrases_of(name)]
        lines += [f"{name}  {symptom.title}", f"  needs: {symptom.needs}", f"  words: {', '.join(sorted(phrases))}"]
    return "\n".join(lines) + "\n"


def look_through(flights: Iterable[tuple[Mapping[str, Any], FlightReview]], report: Report) -> Iterator[FlightEvidence]:
    """Look through flights one by one for what was reported."""
    return (examine(ref, review, report.symptoms) for ref, review in flights)


def squawk_document(
    tail: str,
    report: Report,
    evidence: Iterable[FlightEvidence],
    *,
    since: datetime | None = None,
    until: datetime | None = None,
    entries: Iterable[Entry] = (),
    cautions: Sequence[str] = (),
) -> dict[str, Any]:
    """Give the squawk document.

    Parameters
    ----------
    tail : the aircraft
    report : from ``report_of``
    evidence : from ``look_through``, in any order; of a flight that came in two files the longer copy counts
    since, until : what flights were asked for
    entries : maintenance work done, for the symptoms before and after it
    cautions : what stands wherever results are read
    """
    flights, copies = across_flights(_told_of_noise(flight, report) for flight in evidence)
    symptoms = [_symptom_document(load_symptoms()[name], flights) for name in report.symptoms]
    about = {finding for name in report.symptoms for finding in load_symptoms()[name].findings}
    document = {
        "contract": CONTRACT,
        "tail": tail,
        "report": _report_document(report),
        "since": since.isoformat() if since else None,
        "until": until.isoformat() if until else None,
        "flights": len(flights),
        "copies_left_out": [dict(copy.ref) for copy in copies],
        "hours": round(sum(flight.hours for flight in flights), 2),
        "symptoms": symptoms,
        "on_the_ground": on_the_ground(symptoms),
        "also_found": [
            {"flight": dict(flight.ref), "with_it": with_it, **finding}
            for flight, with_it in _with_it_first(flights)
            for finding in flight.findings
            if finding["finding"] not in about or not with_it
        ],
        "cautions": list(cautions),
    }
    return document | {"work": around_work(document, entries)}


def _with_it_first(flights: Sequence[FlightEvidence]) -> list[tuple[FlightEvidence, bool]]:
    """Flights and whether they show anything of the report: those that do first, the latest first."""
    told = [(flight, any(own.state == State.SEEN for own in flight.symptoms.values())) for flight in reversed(flights)]
    return sorted(told, key=lambda pair: not pair[1])


def _told_of_noise(flight: FlightEvidence, report: Report) -> FlightEvidence:
    """Say that no log shows noise or ripple, unless the report speaks only of a slow pulsing."""
    own = flight.symptoms.get("noise_or_pulsing")
    if own is None or own.state != State.NOT_SEEN or _speaks_of_pulsing(report):
        return flight
    says = f"radio noise and ripple are far faster than any log; a slow pulsing would have shown: {own.says}"
    changed = replace(own, state=State.NOT_OBSERVABLE, says=says, watched_h=0.0)
    return replace(flight, symptoms={**flight.symptoms, "noise_or_pulsing": changed})


def _speaks_of_pulsing(report: Report) -> bool:
    fast = load_vocabulary().faster_than_a_log
    phrases = [p for match in report.understood.matches if match.symptom == "noise_or_pulsing" for p in match.phrases]
    return bool(phrases) and not any(fast & set(phrase.split()) for phrase in phrases)


def _report_document(report: Report) -> dict[str, Any]:
    matched = {match.symptom: match.matched for match in report.understood.matches}
    return {
        "words": report.words,
        "symptoms": [
            {
                "symptom": name,
                "title": load_symptoms()[name].title,
                "from": "words" if name in matched else "picked",
                "matched": list(matched.get(name, ())),
            }
            for name in report.symptoms
        ],
        "denied": list(report.understood.denied),
        "circumstances": list(report.understood.circumstances),
        "not_understood": list(report.understood.not_understood),
    }


def _symptom_document(symptom: Symptom, flights: Sequence[FlightEvidence]) -> dict[str, Any]:
    name = symptom.name
    by_state = {
        state: [flight for flight in reversed(flights) if flight.symptoms[name].state == state] for state in VERDICTS
    }
    occasions = [one for flight in by_state[State.SEEN] for one in _longest_first(flight.symptoms[name].occasions)]
    state = next((state for state in (State.SEEN, State.NOT_SEEN) if by_state[state]), State.NOT_OBSERVABLE)
    watched = sum(flight.symptoms[name].watched_h for flight in flights)
    volts = [flight.nominal_voltage for flight in flights if flight.nominal_voltage is not None]
    nominal = max(set(volts), key=volts.count) if volts else None
    latest = next((flight for flight in reversed(flights) if flight.nominal_voltage == nominal), None)
    band, own = (None, False) if latest is None else (latest.band, latest.own_band)
    return {
        "symptom": name,
        "title": symptom.title,
        "state": state,
        "verdict": VERDICTS[state],
        "only": _only(symptom, by_state[State.SEEN]),
        "because": _because(symptom, state, by_state, len(occasions)),
        "counts": {
            **{state: len(found) for state, found in by_state.items()},
            "occasions": len(occasions),
            "hours_observed": round(watched, 2),
        },
        "for": [one.document for one in occasions],
        "against": [
            {"flight": dict(flight.ref), "says": own.says, "numbers": dict(own.numbers)}
            for flight in by_state[State.NOT_SEEN]
            for own in [flight.symptoms[name]]
        ],
        "not_observable": [
            {"flight": dict(flight.ref), "because": flight.symptoms[name].says}
            for flight in by_state[State.NOT_OBSERVABLE]
        ],
        "conditions": weighing.conditions(name, flights),
        "likely": [plain(cause_entry(one)) for one in weighing.causes(name, flights)],
        "before": symptom.before,
        "measure_first": [
            {
                "what": one.what,
                "expected": _expected(one.expected, nominal, band),
                "tells": one.tells,
                "source": _source(one, own),
            }
            for one in symptom.measure_first
        ],
        "check": weighing.checks(symptom.check, name, flights),
        "innocent": list(symptom.innocent),
        "needs": symptom.needs,
    }


def on_the_ground(symptoms: Sequence[Mapping[str, Any]]) -> dict[str, list[Any]]:
    """What to mind ``before``, what to measure first, then to check, for all symptoms together, and for which.

    Each stands there once. The first of each symptom come before the second ones, those of symptoms that were seen
    before the others'.
    """
    ordered = sorted(symptoms, key=lambda one: one["state"] != State.SEEN)
    joined: dict[str, list[Any]] = {"measure_first": [], "check": []}
    for key, listed in joined.items():
        known: dict[str, dict[str, Any]] = {}
        for row in zip_longest(*(one[key] for one in ordered)):
            for symptom, step in zip(ordered, row, strict=True):
                if step is None:
                    continue
                words = step["what"] + step["expected"] if key == "measure_first" else step
                if words not in known:
                    known[words] = {**(step if key == "measure_first" else {"what": step}), "for": []}
                    listed.append(known[words])
                known[words]["for"].append(symptom["title"])
    first = dict.fromkeys(one["before"] for one in ordered if one["before"])
    return {"before": [*first, ENGINE_RUNNING], **joined}


def _source(step: ToMeasure, own_band: bool) -> str:
    """Where an expected value is from; the band may be the aircraft's own."""
    return OWN_BAND if own_band and any("{band}" in words for words in step.expected.values()) else step.source


def _longest_first(occasions: Sequence[OccasionEvidence]) -> list[OccasionEvidence]:
    return sorted(occasions, key=lambda one: one.document["from_s"] - one.document["to_s"])


def _expected(values: Mapping[int, str], nominal: int | None, band: tuple[float, float] | None) -> str:
    if nominal is not None and band is not None:
        return f"{values[nominal].format(band=band_words(*band))} ({nominal} V system)"
    usual = {volts: (Limits(volts, {})["regulated_low"], Limits(volts, {})["regulated_high"]) for volts in values}
    return "; ".join(f"{words.format(band=band_words(*usual[v]))} ({v} V system)" for v, words in values.items())


def _because(symptom: Symptom, state: State, by_state: Mapping[State, Sequence[FlightEvidence]], occasions: int) -> str:
    """One or two sentences with the numbers that justify the verdict."""
    could = len(by_state[State.SEEN]) + len(by_state[State.NOT_SEEN])
    if state == State.NOT_OBSERVABLE:
        return _unseen(symptom, by_state[State.NOT_OBSERVABLE])
    headline = _headline(symptom, by_state[state])
    if state == State.SEEN:
        latest = by_state[State.SEEN][0]
        says = f"Seen in {len(by_state[State.SEEN])} of {counted(could, 'flight')} in which it would have shown, "
        if symptom.indirect:
            every = could + len(by_state[State.NOT_OBSERVABLE])
            says = f"Signs of it in {len(by_state[State.SEEN])} of {counted(every, 'flight')}; "
            says += "the thing itself is in no log; "
        says += f"on {counted(occasions, 'occasion')}{headline}."
        says += f" Last seen in the flight of {latest.start[:10]}." if latest.start else ""
        return says + _of_low_rpm(symptom, by_state[State.SEEN])
    own = [flight.symptoms[symptom.name] for flight in by_state[State.NOT_SEEN]]
    says = f"In none of {counted(could, 'flight')} in which it would have shown{headline}. "
    return says + f"Latest: {own[0].says}. {NOT_SEEN_IS_NOT_GONE}"


def _only(symptom: Symptom, flights: Sequence[FlightEvidence]) -> str | None:
    """What a verdict of a symptom that was seen does not go beyond."""
    if symptom.indirect and flights:
        return INDIRECTLY
    return AT_LOW_RPM if _at_low_rpm(symptom.name, flights) else None


def _at_low_rpm(name: str, flights: Sequence[FlightEvidence]) -> bool | None:
    """Whether every occasion of some flights lay mostly at low engine speed; None where that is not recorded.

    A symptom that can only show at one speed, as cranking, is not looked at for it: it has no exposure.
    """
    own = [flight.symptoms[name] for flight in flights if flight.symptoms[name].exposure]
    occasions = [one.within.get("low_rpm") for symptom in own for one in symptom.occasions]
    known = [share for share in occasions if share is not None]
    return min(known) > 0.5 and len(known) == len(occasions) if known else None


def _of_low_rpm(symptom: Symptom, flights: Sequence[FlightEvidence]) -> str:
    """What a symptom says that came at low engine speed only, or whose engine speed is not known."""
    if symptom.at_low_rpm is None or (only := _at_low_rpm(symptom.name, flights)) is False:
        return ""
    if only:
        return f" All of it at low engine speed. {symptom.at_low_rpm}"
    return " Engine speed is not recorded, so that idling, at which it can be no fault, cannot be told from flight."


def _unseen(symptom: Symptom, flights: Sequence[FlightEvidence]) -> str:
    if not flights:
        return "There is no flight to look through."
    reasons = [flight.symptoms[symptom.name].says for flight in flights]
    kinds = [re.sub(r"\d[\d.,]*", "#", reason) for reason in reasons]  # alike but for their numbers
    usual = max(dict.fromkeys(kinds), key=kinds.count)
    told = reasons[kinds.index(usual)]
    of = f" ({kinds.count(usual)} of {counted(len(flights), 'flight')})" if len(flights) > 1 else ""
    return f"Not in these recordings: {told}{of}. It needs {symptom.needs}. {NOT_SEEN_IS_NOT_GONE}"


def _headline(symptom: Symptom, flights: Sequence[FlightEvidence]) -> str:
    """The number that sums a symptom up, over flights: ", lowest bus voltage 12.1 V"."""
    wanted = symptom.headline["number"]
    told = [
        numbers[wanted]
        for flight in flights
        for numbers in _numbers(flight.symptoms[symptom.name])
        if wanted in numbers
    ]
    if not told:
        return ""
    pick = min if symptom.headline["pick"] == "lowest" else max
    best = pick(told, key=lambda one: one["value"])
    return f", {symptom.headline['words']} {best['value']:.4g} {best['unit']}"


def _numbers(own: SymptomEvidence) -> list[Mapping[str, Any]]:
    return [own.numbers] if own.state != State.SEEN else [one.document["numbers"] for one in own.occasions]
