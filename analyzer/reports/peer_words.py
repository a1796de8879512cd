"""Aircraft beside their peers, and how repairs turned out, in words: for the text and the page."""

from __future__ import annotations

from analyzer.limits import limit_value
from analyzer.phrases import counted
from analyzer.reports.setting_words import choice_words
from analyzer.reports.wording import MEASURE_LABELS, finding_label, number, with_unit
from analyzer.service.beside_peers import RepairRecord
from analyzer.trends.entries import kinds
from analyzer.trends.peers import Beside, Peers
from analyzer.trends.repairs import Outcome, ShiftedCause

#: What stands below every table of peers.
CONTEXT = (
    "Context only: each aircraft counts once, with its recent level; peers may be worn themselves, and an aircraft is "
    "judged by its own history and its manuals."
)
PEERS_HEAD = ("Measure", "Here", "Peers", "Where it stands")
OUTCOMES_HEAD = ("Finding", "Work", "Ended it", "Not told yet")
CAUSES_HEAD = ("Cause", "Weight", "Why")


def peers_lead(one: Peers) -> str:
    """Who the peers are, or why there are none."""
    if one.because is not None:
        return f"Not set beside others, because {one.because}."
    assert one.kind is not None  # else there would be a reason
    told = [f"type {one.kind.aircraft_type!r}", f"{one.kind.nominal_voltage} V"]
    told += [choice_words("battery", one.kind.battery)] if one.kind.battery else ["kind of battery not set"]
    told.append(choice_words("source", one.kind.source))
    others = counted(len(one.peers), "other aircraft", "other aircraft")
    return f"Beside {others} of its kind ({', '.join(told)}): {', '.join(one.peers)}."


def beside_row(one: Beside) -> tuple[str, str, str, str]:
    """One measure: its label, this aircraft's level, the peers' range, where it stands."""
    label, unit = MEASURE_LABELS[one.measure], one.unit
    here = with_unit(one.level, unit) + ("" if one.corrected else ", as recorded")
    if not one.peers:
        return label, here, "none", "no peer carries it"
    if one.mixed:
        return label, here, "not compared", "kind of battery not set: set it for each aircraft of the type"
    low, high = min(one.peers.values()), max(one.peers.values())
    others = f"{number(low, unit)} to {with_unit(high, unit)}, middle {number(one.middle, unit)}"
    if one.percentile is None:
        needed = f"{limit_value('peers_fewest'):.0f}"
        carry = "1 carries" if len(one.peers) == 1 else f"{len(one.peers)} carry"
        return label, here, others, f"too few peers: {carry} it, {needed} are needed"
    return label, here, others, f"higher than {one.lower} of {len(one.peers)}; percentile {one.percentile:.0f}"


def outcome_row(one: Outcome) -> tuple[str, str, str, str]:
    """How one kind of work turned out on one finding."""
    told = f"{one.ended} of {one.told}" if one.told else "not told yet"
    return finding_label(one.finding), kinds()[one.kind].words, told, str(one.open)


def first_words(record: RepairRecord) -> str:
    """How often the first cause was right."""
    if not record.first.of:
        return "No work of these records surely ended a finding whose causes are kept."
    return (
        f"In {record.first.right} of {record.first.of} cases in which work surely ended a finding, the first cause "
        "named before was what that work mends."
    )


def too_few_words() -> str:
    """From when on weights shift."""
    return (
        f"Weights of causes shift only where work ended a finding on {limit_value('repairs_fewest'):.0f} aircraft or "
        "more; elsewhere they stay as judged."
    )


def cause_row(one: ShiftedCause) -> tuple[str, str, str]:
    """One cause with its weight, what it was, and why it is another."""
    shifted = round(one.weight, 2) != round(one.judged, 2)
    way = "raised" if one.weight > one.judged else "lowered"
    why = f"{way} from {one.judged:.2g}: ended by work that mends it on {one.ended} of {one.of} aircraft"
    return one.words, f"{one.weight:.2f}", why if shifted else "as judged"
