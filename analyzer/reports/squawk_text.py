"""A report against the recordings as text: the verdict first, then for, against, conditions, what to do."""

from __future__ import annotations

import sys
from typing import Any

from analyzer.reports.entry_text import side_words
from analyzer.reports.text import CAUSES_SHOWN, Style, wrapped
from analyzer.reports.wording import clock_words, copies_words, finding_label

#: Occasions, flights against and other findings that are shown; the JSON document has them all.
OCCASIONS_SHOWN, OTHERS_SHOWN = 3, 3
#: Measurements that are shown, and checks, of one symptom and of several together, so that it all fits on a screen.
STEPS_SHOWN, STEPS_OF_SEVERAL = 2, 3


def squawk_text(document: dict[str, Any]) -> str:
    """The squawk document as text."""
    style = Style.of(sys.stdout)
    lines = _head(document, style)
    told: list[str] = []
    for symptom in document["symptoms"]:
        lines += ["", *_symptom(symptom, told, style)]
        told += [cause["key"] for cause in symptom["likely"][:CAUSES_SHOWN] if symptom["for"]]
    lines += _on_the_ground(document["on_the_ground"], several=len(document["symptoms"]) > 1)
    lines += _work(document["work"])
    lines += _also_found(document["also_found"])
    lines += ["", "  The aircraft's maintenance manual has the last word on every value and step."]
    lines += ["  More, to hand to a shop: --sheet FILE.pdf. All of it: --json."]
    lines += [
        "",
        *(style.paint(line, "faint") for caution in document["cautions"] for line in wrapped(caution, "", "")),
    ]
    return "\n".join(lines) + "\n"


def _head(document: dict[str, Any], style: Style) -> list[str]:
    report = document["report"]
    period = f"since {document['since'][:10]}" if document["since"] else "all"
    period += f" until {document['until'][:10]}" if document["until"] else ""
    flights = f"{document['flights']} flight" + ("" if document["flights"] == 1 else "s")
    lines = [style.paint(f"{document['tail']}  {flights}, {document['hours']:.1f} h looked through, {period}", "head")]
    lines += wrapped(copies_words(len(document["copies_left_out"])), "  ")
    if report["words"]:
        lines += wrapped(f'Reported: "{_shortened(report["words"])}"', "  ")
    if report["denied"]:
        lines += wrapped("said not to have happened: " + ", ".join(report["denied"]), "  ")
    if report["circumstances"]:
        named = ", ".join(report["circumstances"])
        lines += wrapped(f"circumstances named, to compare below (no flight is left out for them): {named}", "  ")
    if report["not_understood"]:
        lines += wrapped("words not understood: " + ", ".join(report["not_understood"]), "  ")
    return lines


def _shortened(words: str) -> str:
    flat = " ".join(words.split())
    return flat if len(flat) <= 160 else flat[:157] + "..."


def _symptom(symptom: dict[str, Any], told: list[str], style: Style) -> list[str]:
    """One symptom; ``told`` are causes that stand above already."""
    verdict = symptom["verdict"]
    head = f"  {symptom['title']}: {verdict.upper()}"
    head += f", {symptom['only']}" if symptom["only"] else ""
    lines = [style.paint(head, "caution" if symptom["state"] == "seen" else "head")]
    lines += wrapped(symptom["because"], "    ", "")
    if (blind := symptom["counts"]["not_observable"]) and (symptom["for"] or symptom["against"]):
        lines.append(f"    {blind} more flight{'' if blind == 1 else 's'} could not have shown it")
    for occasion in _different_first(symptom["for"])[:OCCASIONS_SHOWN]:
        lines += wrapped(f"for: {_when(occasion)}  {occasion['says']}{_circumstances(occasion)}", "    ", "     ")
    lines += _more(len(symptom["for"]) - OCCASIONS_SHOWN, "occasion")
    if symptom["for"]:
        for one in symptom["against"][:1]:
            lines += wrapped(f"against: {_flight(one['flight'])}  {one['says']}", "    ", "     ")
    lines += _conditions(symptom["conditions"], symptom["only"])
    if symptom["for"]:
        lines += _causes(symptom["likely"], told)
    return lines


def _different_first(occasions: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The latest occasion of each phase of flight before the others, so that a rare one is not hidden."""
    latest: dict[str, dict[str, Any]] = {}
    for occasion in occasions:
        latest.setdefault(occasion["conditions"]["phase"], occasion)
    first = list(latest.values())
    return [*first, *(occasion for occasion in occasions if not any(occasion is one for one in first))]


def _when(occasion: dict[str, Any]) -> str:
    at = occasion["at"]
    return at.replace("T", " ")[:19] if at else clock_words(None, occasion["from_s"])


def _flight(reference: dict[str, Any]) -> str:
    return reference["start"].replace("T", " ")[:16] if reference["start"] else f"flight {reference['number']}"


def _circumstances(occasion: dict[str, Any]) -> str:
    shown = []
    for name, form in (
        ("engine_speed", "{:,.0f} rpm"),
        ("load", "load {:.0f} A"),
        ("outside_air_temperature", "air {:.0f} degC"),
        ("minutes_after_start", "{:.0f} min after start"),
    ):
        if name in occasion["conditions"]:
            shown.append(form.format(occasion["conditions"][name]["value"]))
    return f" ({', '.join(shown)})" if shown else ""


def _more(count: int, thing: str) -> list[str]:
    return [f"    and {count} more {thing}{'' if count == 1 else 's'}"] if count > 0 else []


def _conditions(conditions: list[dict[str, Any]], only: str | None) -> list[str]:
    lines = []
    for one in conditions:
        if one["telling"]:
            lines += wrapped(f"when: {one['says']}", "    ", "     ")
    few = [one["condition"] for one in conditions if one["too_few"] and not (only and one["condition"] == "low rpm")]
    if few and not lines:
        lines += wrapped(f"when: too few to say whether it goes with {', '.join(few)}", "    ", "     ")
    return lines


def _causes(likely: list[dict[str, Any]], told: list[str]) -> list[str]:
    lines = []
    if likely and all(cause["key"] in told for cause in likely[:CAUSES_SHOWN]):
        return ["    likely: the causes named above"]
    for place, cause in enumerate(likely[:CAUSES_SHOWN]):
        words = f"{cause['cause']} ({100.0 * cause['weight']:.0f} %)"
        lines += wrapped(("likely: " if not place else "        ") + words, "    ", " " * 8)
        if not place and cause["why"] and not cause["why"][0].startswith("not seen"):
            lines += wrapped(f"since {cause['why'][0]}", " " * 14, "")
    return lines


def _on_the_ground(steps: dict[str, Any], *, several: bool) -> list[str]:
    shown = STEPS_OF_SEVERAL if several else STEPS_SHOWN
    lines = ["", "  On the ground", *(line for one in steps["before"] for line in wrapped(one, "    "))]
    for place, one in enumerate(steps["measure_first"][:shown]):
        words = f"{one['what']}: {one['expected']}, {one['source']}. {one['tells']}"
        lines += wrapped(("measure: " if not place else "         ") + words, "    ", " " * 9)
    for place, one in enumerate(steps["check"][:shown]):
        lines += wrapped(("check:   " if not place else "         ") + one["what"], "    ", " " * 9)
    return lines + _more(sum(max(0, len(steps[key]) - shown) for key in steps), "step")


def _work(work: list[dict[str, Any]]) -> list[str]:
    """In how many flights each symptom was seen before work and after it."""
    lines = ["", "  Before and after work"] if work else []
    for one in work:
        lines += wrapped(f"{one['when'][:10]}  {one['words'] or one['kind'].replace('_', ' ')}", "    ", "     ")
        for symptom in one["symptoms"]:
            sides = f"before {side_words(symptom['before'])}, after {side_words(symptom['after'])}"
            lines += wrapped(f"{symptom['title']}: {sides}", "      ")
    return lines


def _also_found(found: list[dict[str, Any]]) -> list[str]:
    if not found:
        return []
    lines = ["", "  Also found in these flights:"]
    for one in found[:OTHERS_SHOWN]:
        title = f"{one['severity']}: {finding_label(one['finding'])}"
        lines += wrapped(f"{_flight(one['flight'])}  {title}. {one['says']}", "    ", "     ")
    return lines + _more(len(found) - OTHERS_SHOWN, "finding")
