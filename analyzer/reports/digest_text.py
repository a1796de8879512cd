"""The digest as text for a terminal."""

from __future__ import annotations

import sys

from analyzer.reports.digest_words import Item, headline, line_words, nothing_new, sections
from analyzer.reports.text import Style, cautions, wrapped
from analyzer.service.digest_result import Digest


def digest_text(digest: Digest) -> str:
    """The digest as text."""
    style = Style.of(sys.stdout)
    if not digest.tails and not digest.logs.any:
        return "No flight is kept yet.\n"
    lines = wrapped(headline(digest), "", "")
    if (sentence := nothing_new(digest)) is not None:
        lines += ["", *wrapped(sentence, "", "")]
    for section in sections(digest):
        lines += ["", style.paint(f"{section.title} ({len(section.items)})", "head")]
        for item in section.items:
            lines += _item(item, style)
    lines.append("")
    return "\n".join(lines) + "\n" + cautions(style)


def _item(item: Item, style: Style) -> list[str]:
    title = f"{item.severity.upper()}: {item.title}" if item.severity else item.title
    first, *rest = wrapped(f"{item.tail}  {title}" if item.tail else title, "  ")
    lines = [style.paint(first, item.severity) if item.severity else first, *rest]
    for line in item.lines:
        lines += wrapped(line_words(line), "      ")
    return lines
