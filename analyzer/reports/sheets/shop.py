"""What every sheet hands to a shop: causes by weight, ground checks to tick, and the form to sign."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.findings.finding import Cause
from analyzer.phrases import counted
from analyzer.reports.sheets.document import Check, Checks, FormLines, Heading, Paragraph, Part, Table
from analyzer.reports.wording import share_words

#: Letters that tell the findings of a sheet apart, on its chart as well.
MARKS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: Reasons shown for the weight of a cause.
REASONS_SHOWN = 3
FORM = FormLines(
    (
        ("Findings of the mechanic", 1),
        ("Work done, parts and part numbers", 1),
        ("Name", 0),
        ("Signature", 0),
        ("Licence or approval number", 0),
        ("Date", 0),
    )
)


def with_form(parts: Sequence[Part]) -> tuple[Part, ...]:
    """A sheet's parts with the form to sign below what it is about, so that it always stands on page one."""
    first = next((place for place, part in enumerate(parts) if place and isinstance(part, Heading)), len(parts))
    return (*parts[:first], Heading("For the shop"), FORM, *parts[first:])


def cause_table(findings: Sequence[tuple[str, Sequence[Cause]]], most: int) -> list[Part]:
    """The causes of some findings, each by its mark, with their weights; those left out are counted."""
    rows = [
        (mark, share_words(one), one.words, _reasons(one.why)) for mark, likely in findings for one in likely[:most]
    ]
    left = sum(max(0, len(likely) - most) for _, likely in findings)
    marked = any(mark for mark, _ in findings)
    whole = Table(("For", "Weight", "Likely cause", "Because"), tuple(rows), (0, 0, 5, 6))
    plain = Table(whole.head[1:], tuple(row[1:] for row in rows), whole.widths[1:])
    parts: list[Part] = [whole if marked else plain] if rows else []
    return parts + (
        [Paragraph(f"Left out here: {counted(left, 'more cause')} of no more weight.", small=True)] if left else []
    )


def _reasons(why: Sequence[str]) -> str:
    """What speaks for a cause, as much as there is room for; what is left out is counted."""
    left = len(why) - REASONS_SHOWN
    return "; ".join([*why[:REASONS_SHOWN], *([f"{left} more"] if left > 0 else [])])


def check_list(findings: Sequence[tuple[str, Sequence[str]]], most: int) -> list[Part]:
    """The first checks of each finding in one list, each once; those left out are counted."""
    marks: dict[str, list[str]] = {}
    for mark, checks in findings:
        for words in checks[:most]:
            marks.setdefault(words, []).append(mark)
    left = len({words for _, checks in findings for words in checks} - marks.keys())
    listed = tuple(Check(f"{words} ({', '.join(own)})" if any(own) else words) for words, own in marks.items())
    parts: list[Part] = [Checks(listed)] if listed else []
    return parts + ([Paragraph(f"Left out here: {counted(left, 'more later check')}.", small=True)] if left else [])


def shortened(words: str, most: int) -> str:
    """Words from outside that may be of any length, cut with the count of what is left out."""
    return words if len(words) <= most else f"{words[:most]}… ({len(words) - most} more characters)"
