"""The reference: every measure, finding, phase, trend, formula and threshold as one structure of plain data.

Prose comes from ``reference.toml``, values from ``limits.toml``, causes and checks from ``causes.toml``, what a
trend takes out from the trends themselves; nothing is typed twice. Readers are ``taper explain`` and a
page; all text is plain, for the reader to escape.

    {"contract": 1, "sections": [{"name", "title", "topics": [TOPIC, ...]}, ...]}

TOPIC: ``anchor`` (stable: the plain name, or ``kind_name`` where another topic has that name already), ``name``,
``kind``, ``title``, ``unit`` or null, ``parts`` [{"title", "form": "text" | "list" | "formula", "lines": [...]}],
``limits`` (anchors of the limits that it speaks of) and ``see`` (anchors of other topics). A limit also has ``group``,
``at_14``, ``at_28``, ``meaning``, ``source`` and ``own`` (whether the fleet file can give an aircraft its own).
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from analyzer.aircraft import Aircraft
from analyzer.corrections import rests_on_corrections
from analyzer.findings.causes import weigh_causes
from analyzer.findings.finding import OF_ONE_FLIGHT
from analyzer.flights.flight import PHASES
from analyzer.limits import LIMITS_FILE, load_limits
from analyzer.measures.measure import MEASURES
from analyzer.phrases import figures
from analyzer.reports.reference_trends import TREND_FINDINGS, trend_lines, trend_rule
from analyzer.reports.wording import MEASURE_LABELS, finding_label, unit_shown
from analyzer.shipped_tables import read_table

PROSE_FILE = Path(__file__).with_name("reference.toml")
#: What is known of each symptom of a pilot's report; there is no such section without it.
SYMPTOMS_FILE = Path(__file__).resolve().parents[1] / "squawk" / "symptoms.toml"
CONTRACT = 1
SECTIONS = {
    "measure": "Measures of a flight",
    "finding": "Findings",
    "phase": "Phases of a flight",
    "trend": "Over many flights",
    "moment": "At one moment, and on the battery alone",
    "symptom": "Symptoms of a report",
    "formula": "Formulas",
    "limit": "Thresholds",
}
#: Parts of a topic as the prose names them, in the order in which they are shown.
PARTS = {
    "what": ("What it is", "text"),
    "needs": ("What the recording must hold", "text"),
    "rows": ("Rows of the log", "text"),
    "worked_out": ("How it is worked out", "text"),
    "formula": ("Formula", "formula"),
    "interval": ("What its interval contains", "text"),
    "not_measurable": ("Not measurable when", "list"),
    "rule": ("When it is raised", "text"),
    "severity": ("Severity", "text"),
    "innocent": ("Innocent explanations", "list"),
    "think": ("What to think of it", "text"),
    "source": ("Source", "text"),
}
_PLACE = re.compile(r"\{(\w+)(%?)\}")


@cache
def load_prose() -> Mapping[str, Mapping[str, Any]]:
    """Read ``reference.toml``."""
    return read_table(PROSE_FILE)


@rests_on_corrections
@cache
def reference() -> dict[str, Any]:
    """Give the whole reference; do not change it."""
    topics = [*_measures(), *_findings(), *_phases(), *_titled("trends", "trend"), *_titled("moments", "moment")]
    topics += _symptoms()
    topics += _titled("formulas", "formula")
    topics += _limits(topics)
    _anchor(topics)
    sections = [
        {"name": kind, "title": title, "topics": [topic for topic in topics if topic["kind"] == kind]}
        for kind, title in SECTIONS.items()
        if any(topic["kind"] == kind for topic in topics)
    ]
    return {"contract": CONTRACT, "sections": sections}


def _anchor(topics: list[dict[str, Any]]) -> None:
    """Give each topic its anchor, and name by theirs the limits that it speaks of and the topics that speak of it."""
    taken: dict[tuple[str, str], str] = {}
    for topic in topics:
        kind, name = topic["kind"], topic["name"]
        taken[kind, name] = topic["anchor"] = f"{kind}_{name}" if name in taken.values() else name
    for topic in topics:
        topic["limits"] = [taken["limit", name] for name in topic["limits"]]
        if topic["kind"] == "limit":
            topic["see"] = [taken[user] for user in topic["see"]]


def all_topics() -> list[dict[str, Any]]:
    """Give every topic of the reference in its order."""
    return [topic for section in reference()["sections"] for topic in section["topics"]]


def find_topics(asked: str) -> list[dict[str, Any]]:
    """Give the topics that a person means by a name, an anchor or a title, in any case; none when there is none."""
    wanted = _plain(asked)
    return [t for t in all_topics() if wanted in (_plain(t["name"]), _plain(t["anchor"]), _plain(t["title"]))]


def near_names(asked: str, most: int = 5) -> list[str]:
    """Give names of topics that are close to what was asked for: they hold its words, or are spelt much like it."""
    wanted = _plain(asked)
    names = {_plain(key): t["anchor"] for t in all_topics() for key in (t["anchor"], t["title"])}
    holding = [anchor for key, anchor in names.items() if wanted and wanted in key]
    spelt = [names[key] for key in difflib.get_close_matches(wanted, names, n=most, cutoff=0.6)]
    return list(dict.fromkeys([*spelt, *holding]))[:most]


def limit_words(name: str, *, share: bool = False) -> str:
    """A limit's value with its unit, and that of a 28 V system where it differs: "13.4 V (26.8 V at 28 V)"."""
    limit = load_limits()[name]
    shown = [f"{figures(100.0 * value)} %" if share else figures(value, 6) for value in (limit.at_14, limit.at_28)]
    if not share and limit.unit != "1":
        shown = [f"{value} {_unit_words(limit.unit, value)}" for value in shown]
    return shown[0] if shown[0] == shown[1] else f"{shown[0]} ({shown[1]} at 28 V)"


def _unit_words(unit: str, value: str) -> str:
    return ("day" if value == "1" else "days") if unit == "d" else unit_shown(unit)


def filled(text: str) -> str:
    """A text with its limits' values in place.

    Raises
    ------
    KeyError
        When it names a limit that does not exist.
    """
    return _PLACE.sub(lambda place: limit_words(place[1], share=bool(place[2])), text)


def limits_named(texts: Iterable[str]) -> list[str]:
    """Give the limits that some texts name, once each, in their order."""
    return list(dict.fromkeys(place[1] for text in texts for place in _PLACE.finditer(text)))


def _plain(words: str) -> str:
    return re.sub(r"[\s_-]+", " ", words).strip().lower()


def _topic(kind: str, name: str, title: str, prose: Mapping[str, Any], unit: str | None = None) -> dict[str, Any]:
    """A topic from its prose, with its limits' values in place."""
    parts, texts = [], []
    for key, (heading, form) in PARTS.items():
        if key in prose:
            lines = [prose[key]] if isinstance(prose[key], str) else list(prose[key])
            texts += lines
            parts.append({"title": heading, "form": form, "lines": [filled(line) for line in lines]})
    return {
        "anchor": name, "name": name, "kind": kind, "title": title, "unit": unit, "parts": parts,
        "limits": limits_named(texts), "see": list(prose.get("see", ())),
    }  # fmt: skip


def _extend(topic: dict[str, Any], title: str, form: str, lines: list[str]) -> None:
    """Add a part to a topic; lines may name limits."""
    if lines:
        topic["parts"].append({"title": title, "form": form, "lines": [filled(line) for line in lines]})
        topic["limits"] = list(dict.fromkeys([*topic["limits"], *limits_named(lines)]))


def _measures() -> list[dict[str, Any]]:
    prose, topics = load_prose(), []
    for name, unit in MEASURES.items():
        topic = _topic("measure", name, MEASURE_LABELS[name], prose["measures"].get(name, {}), unit)
        _extend(topic, "As a trend over many flights", "list", trend_lines(name, prose["covariates"]))
        topics.append(topic)
    return topics


def _findings() -> list[dict[str, Any]]:
    prose, topics = load_prose(), []
    for name in dict.fromkeys([*OF_ONE_FLIGHT, *TREND_FINDINGS]):
        own = prose["findings"].get(name) or prose["trend_findings"].get(name, {})
        topic = _topic("finding", name, finding_label(name), own)
        _extend(topic, "Over many flights", "list", trend_rule(name))
        _add_causes(topic, name, ())
        topics.append(topic)
    return topics


def _add_causes(topic: dict[str, Any], entry: str, checks: Iterable[str]) -> None:
    """Add the causes and ground checks that ``causes.toml`` has for an entry; ``checks`` come first."""
    likely, known = weigh_causes(entry, {})
    causes = [f"{cause.words} ({100.0 * cause.weight:.0f} %)" for cause in likely]
    _extend(topic, "Likely causes, before the flight's own signs are weighed", "list", causes)
    _extend(topic, "What to check on the ground", "list", list(dict.fromkeys([*checks, *known])))
    if likely:
        topic["see"] = list(dict.fromkeys([*topic["see"], "cause_weights"]))


def _symptoms() -> list[dict[str, Any]]:
    """Every symptom of a pilot's report, in the file's order."""
    if not SYMPTOMS_FILE.exists():
        return []
    topics = []
    for name, entry in read_table(SYMPTOMS_FILE).items():
        prose = {key: entry[key] for key in ("needs", "innocent")}
        prose |= {"see": entry["findings"], **load_prose()["symptom"]}
        topic = _topic("symptom", name, entry["title"], prose)
        measure = [
            f"{one['what']}: {_expected(one)}. {one['tells']} Source: {one['source']}."
            for one in entry["measure_first"]
        ]
        _extend(topic, "What to measure first", "list", measure)
        _add_causes(topic, entry["causes_of"], entry["check"])
        topics.append(topic)
    return topics


def _expected(one: Mapping[str, str]) -> str:
    low, high = load_limits()["regulated_low"], load_limits()["regulated_high"]
    at_14 = one["at_14"].format(band=f"{low.at_14:.1f} to {high.at_14:.1f} V")
    at_28 = one["at_28"].format(band=f"{low.at_28:.1f} to {high.at_28:.1f} V")
    return at_14 if at_28 == at_14 else f"{at_14} (in a 28 V system {at_28})"


def _phases() -> list[dict[str, Any]]:
    own = load_prose()["phases"]
    return [_topic("phase", name, name.replace("_", " ").capitalize(), own.get(name, {})) for name in PHASES]


def _titled(table: str, kind: str) -> list[dict[str, Any]]:
    return [_topic(kind, name, own["title"], own) for name, own in load_prose()[table].items()]


def _limits(topics: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Every limit, with the topics that speak of it."""
    overruled, groups, found = _own_limits(), limit_groups(), []
    for name, limit in load_limits().items():
        topic = _topic("limit", name, limit.meaning.rstrip("."), {"source": limit.source}, limit.unit)
        lines = [limit_words(name)]
        lines += ["An aircraft's settings can give it its own."] if name in overruled else []
        topic["parts"].insert(0, {"title": "Value", "form": "text", "lines": lines})
        topic |= {
            "at_14": limit.at_14, "at_28": limit.at_28, "meaning": limit.meaning, "source": limit.source,
            "group": groups[name], "own": name in overruled,
            "see": [(other["kind"], other["name"]) for other in topics if name in other["limits"]],
        }  # fmt: skip
        found.append(topic)
    return found


def limit_groups() -> dict[str, str]:
    """Give each limit's group: the heading that it stands under in ``limits.toml``."""
    group, groups = "", {}
    for line in LIMITS_FILE.read_text("utf-8").splitlines():
        if heading := re.fullmatch(r"# ---- (.+)", line):
            group = heading[1]
        elif entry := re.fullmatch(r"\[(\w+)\]", line):
            groups[entry[1]] = group
    return groups


def _own_limits() -> set[str]:
    """Names of the limits that a fleet file can overrule for one aircraft."""
    told = Aircraft(
        battery_capacity=1.0, alternator_rating=1.0, regulated_voltage=(1.0, 1.0), overvoltage=1.0, low_voltage=1.0
    )
    return set(told.limits(14).overrides)
