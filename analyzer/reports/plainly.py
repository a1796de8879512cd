"""Sentences that name a command, as pages, e-mails and sheets say them: nobody who reads those has a command line."""

from __future__ import annotations

import re

#: What a sentence says for the command line, and what it says elsewhere.
_SAID = tuple(
    (re.compile(pattern), words)
    for pattern, words in (
        (r"with --map \w+=COLUMN(?: or --map \w+=COLUMN)*", "on the page Import, under Details"),
        (r"run `taper columns` on this log to see its headers", "the page Import shows its headers under Details"),
        (r"keep some logs first with: taper add PATH \(--records DIR or TAPER_RECORDS names another folder\)",
         "import some logs first"),
        (r",? or name (?:another folder|others) with --records", ""),
        (r"taper rebuild makes an empty database anew", "whoever keeps the records can make it anew"),
        (r"Its administrator makes it: createdb --encoding UTF8 \S+\.", "Have the server's administrator make it."),
        (r"make one: createdb --encoding UTF8.*", "have the server's administrator make one that is"),
        (r"To bring them over: taper backup FILE, then taper restore FILE --records ADDRESS",
         "Have whoever keeps the records bring them over"),
        (r"list them with: taper entry --list", "the maintenance log lists them"),
        (r"\brun: taper rebuild", "have whoever keeps the records rebuild them"),
        (r"\bRun: taper rebuild", "Have whoever keeps the records rebuild them"),
        (r"\bRun: taper check --repair", "Have whoever keeps the records check and repair them"),
        (r"add the accounts again: taper user add NAME --role manager", "add the accounts again"),
        (r"(?:change it|list them) with: taper user (?:password|list)", "ask whoever keeps the accounts"),
        (r"Pick with --symptom NAME:", "Symptoms to pick from:"),
        (r"\bthe fleet file\b", "the file of the aircraft's settings"),
    )
)  # fmt: skip


def plainly(says: object) -> str:
    """A sentence without words of the command line; one that has none stays as it is."""
    text = str(says)
    for pattern, words in _SAID:
        text = pattern.sub(words, text)
    return text
