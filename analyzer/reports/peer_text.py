"""Aircraft beside their peers, and how repairs turned out, as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.reports.peer_words import (
    CAUSES_HEAD,
    CONTEXT,
    OUTCOMES_HEAD,
    PEERS_HEAD,
    beside_row,
    cause_row,
    first_words,
    outcome_row,
    peers_lead,
    too_few_words,
)
from analyzer.reports.text import Style, cautions, wrapped
from analyzer.reports.wording import finding_label
from analyzer.service.beside_peers import RepairRecord
from analyzer.trends.peers import Peers


def peers_text(one: Peers, style: Style) -> str:
    """An aircraft beside its peers."""
    lines = [style.paint(one.tail, "head"), *wrapped(peers_lead(one), "    ")]
    if one.measures:
        lines += _columns([PEERS_HEAD, *(beside_row(own) for own in one.measures)], style)
    return "\n".join([*lines, "", *wrapped(CONTEXT, "")]) + "\n" + cautions(style)


def repairs_text(record: RepairRecord, style: Style) -> str:
    """How the fleet's repairs turned out."""
    lines = [style.paint("How repairs turned out", "head")]
    rows = [outcome_row(one) for one in record.outcomes]
    lines += _columns([OUTCOMES_HEAD, *rows], style) if rows else ["    No work is logged that a finding came before."]
    lines += ["", *wrapped(first_words(record), ""), *wrapped(too_few_words(), "")]
    for finding, causes in record.shifted.items():
        lines += ["", style.paint(f"Causes of: {finding_label(finding)}", "head")]
        lines += _columns([CAUSES_HEAD, *(cause_row(one) for one in causes)], style)
    return "\n".join(lines) + "\n" + cautions(style)


def _columns(rows: Sequence[Sequence[str]], style: Style) -> list[str]:
    """Rows in columns as wide as their widest cell; the first row is the head."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    return [style.paint(f"    {lines[0]}", "head"), *(f"    {line}" for line in lines[1:])]
