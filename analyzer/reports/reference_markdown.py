"""The reference as the section of DEVELOPERS.md, between two markers.

python -m analyzer.reports.reference_markdown        # writes the section anew

Run it after a change of limits.toml, causes.toml, entries.toml or reference.toml; a test fails until it is done.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from analyzer.reports.reference import limit_words, reference

DOCUMENT = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"
BEGIN, END = "<!-- reference: begin, written by analyzer/reports/reference_markdown.py -->", "<!-- reference: end -->"


def reference_markdown() -> str:
    """The whole reference in Markdown; each topic's heading is its anchor."""
    lines = []
    for section in reference()["sections"]:
        lines += [f"### {section['title']}", ""]
        if section["name"] == "limit":
            lines += _limits(section["topics"])
        else:
            for topic in section["topics"]:
                lines += _topic(topic)
    return "\n".join(lines).rstrip() + "\n"


def _topic(topic: dict[str, Any]) -> list[str]:
    unit = f" [{topic['unit']}]" if topic["unit"] else ""
    lines = [f"#### {topic['anchor']}", "", f"**{_safe(topic['title'])}**{unit}", ""]
    for part in topic["parts"]:
        if part["form"] == "formula":
            lines.append(f"- {part['title']}: " + "; ".join(f"`{line}`" for line in part["lines"]))
        else:
            whole = all(line.endswith(".") for line in part["lines"])  # sentences, not phrases
            lines.append(f"- {part['title']}: {_safe((' ' if whole else '; ').join(part['lines']))}")
    if topic["see"]:
        lines.append("- See: " + ", ".join(f"[{anchor}](#{anchor})" for anchor in topic["see"]))
    return [*lines, ""]


def _limits(topics: list[dict[str, Any]]) -> list[str]:
    lines = []
    for group in dict.fromkeys(topic["group"] for topic in topics):
        lines += [f"#### Thresholds: {group}", "", "| name | value | meaning | source |", "|---|---|---|---|"]
        lines += [
            f"| `{t['name']}` | {_safe(limit_words(t['name']))} | {_safe(t['meaning'])} | {_safe(t['source'])} |"
            for t in topics
            if t["group"] == group
        ]
        lines.append("")
    return lines


def _safe(text: str) -> str:
    """A text whose characters mean themselves in Markdown."""
    return "".join("\\" + character if character in "\\`*_|<>[]" else character for character in text)


def with_reference(document: str) -> str:
    """A document with its section written anew.

    Raises
    ------
    ValueError
        When the markers are not there.
    """
    before, begin, rest = document.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not begin or not end:
        raise ValueError(f"the document lacks the markers {BEGIN} and {END}")
    return f"{before}{BEGIN}\n\n{reference_markdown()}\n{END}{after}"


def main() -> None:
    """Write the section anew."""
    DOCUMENT.write_text(with_reference(DOCUMENT.read_text("utf-8")), "utf-8")
    sys.stdout.write(f"{DOCUMENT.name}: the reference was written anew\n")


if __name__ == "__main__":
    main()
