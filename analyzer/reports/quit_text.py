"""What would follow if the alternator quit at a moment, and what is back after a jump start, as text for a terminal."""

from __future__ import annotations

from datetime import datetime

from analyzer.measures.alternator_quit import AlternatorQuits
from analyzer.measures.jump_start import ChargeBack
from analyzer.reports.jump_words import jump_sentences
from analyzer.reports.quit_words import case_rows, quit_notes, quit_sentences
from analyzer.reports.text import Style, wrapped


def quit_text(said: AlternatorQuits, clock: datetime | None, style: Style) -> str:
    """The bus, the light and each case with what to plan on and its interval; then what it rests on."""
    when = f"{clock:%H:%M:%S}" if clock else f"{said.at_s / 60.0:.1f} min into the log"
    lines = [style.paint(f"If the alternator quit at {when}", "head")]
    for sentence in quit_sentences(said):
        lines += wrapped(sentence, "  ")
    for words, load, plan_on, interval in case_rows(said):
        told = f"plan on {plan_on}, {interval}" if interval else plan_on
        lines += wrapped(f"{words:<34} {load:>7}   {told}", "  ")
    for sentence in quit_notes(said):
        lines += wrapped(sentence, "  ")
    return "\n".join(lines) + "\n"


def jump_text(back: ChargeBack, style: Style) -> str:
    """How much charge is back at the least, and that it is no go."""
    lines = [style.paint("After a jump start", "head")]
    for sentence in jump_sentences(back):
        lines += wrapped(sentence, "  ")
    return "\n".join(lines) + "\n"
