"""The reference as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from analyzer.reports.reference import reference
from analyzer.reports.text import Style, wrapped
from analyzer.reports.wording import unit_shown


def topics_text(topics: Iterable[dict[str, Any]], style: Style) -> str:
    """Topics in full."""
    return "\n".join("\n".join(_topic(topic, style)) + "\n" for topic in topics)


def _topic(topic: dict[str, Any], style: Style) -> list[str]:
    unit = f" [{unit_shown(topic['unit'])}]" if topic["unit"] and topic["unit"] != "1" else ""
    if topic["kind"] == "limit":
        lines = [f"{style.paint(topic['anchor'] + unit, 'head')}  threshold", *wrapped(f"{topic['title']}.", "  ")]
    else:
        lines = [f"{style.paint(topic['title'] + unit, 'head')}  {topic['anchor']}, {topic['kind']}"]
    for part in topic["parts"]:
        lines += wrapped(part["title"] + ":", "  ")
        mark = "- " if part["form"] == "list" else ""
        for line in part["lines"]:
            lines += wrapped(mark + line, "    ")
    if topic["see"]:
        lines += wrapped("See also: " + ", ".join(topic["see"]), "  ")
    if topic["limits"]:
        lines += wrapped("Thresholds: " + ", ".join(topic["limits"]), "  ")
    return lines


def contents_text(style: Style) -> str:
    """Every name, by section."""
    lines = []
    for section in reference()["sections"]:
        lines.append(style.paint(section["title"], "head"))
        if section["name"] == "limit":
            lines += _limit_names(section["topics"])
        else:
            lines += [f"  {topic['anchor']:<28}{topic['title']}" for topic in section["topics"]]
    return "\n".join([*lines, "", "One of them: taper explain NAME", ""])


def _limit_names(topics: list[dict[str, Any]]) -> list[str]:
    lines = []
    for group in dict.fromkeys(topic["group"] for topic in topics):
        lines.append(f"  {group}")
        lines += wrapped(", ".join(t["anchor"] for t in topics if t["group"] == group), "    ", "")
    return lines
