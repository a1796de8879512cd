"""Limits for a recorder's alarms as text for a terminal."""

from __future__ import annotations

from analyzer.reports.alarm_words import LOSS_HEAD, alarm_rows, basis_sentences, light_sentence, loss_rows
from analyzer.reports.text import Style, wrapped
from analyzer.service.own_meters import OwnMeters


def alarm_text(own: OwnMeters, style: Style) -> str:
    """Each alarm, then each recorded loss, then what it rests on."""
    lines = [style.paint(f"{own.tail}  limits for the recorder's alarms, from its own flights", "head")]
    for name, limit, usual, false in [] if own.alarms is None else alarm_rows(own.alarms):
        told = "; ".join(words for words in (limit, usual, f"false alarm {false}" if false else "") if words)
        lines += wrapped(f"{name:<13} {told}", "  ", " " * 16)
    lines += ["", *wrapped(light_sentence(own), "")]
    for row in loss_rows(own):
        told = ", ".join(f"{head.lower()} {words}" for head, words in zip(LOSS_HEAD[1:], row[1:], strict=True))
        lines += wrapped(f"{row[0]}: {told}", "  ", "    ")
    lines.append("")
    for sentence in basis_sentences(own):
        lines += wrapped(sentence, "")
    return "\n".join(lines) + "\n"
