"""What can be wrong with the records, as sentences."""

from __future__ import annotations


def shown(text: str) -> str:
    """A text out of a damaged file, as it may stand in a sentence."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)


def not_writable(where: object) -> str:
    """That records, by their folder or their place, are read-only to this account."""
    return (
        f"The records in {where} cannot be written to; nothing was changed. Correct their permissions, "
        "or name others with --records."
    )


class RecordsError(Exception):
    """The records cannot be used; the message says what is wrong, where, and what to do."""


class NoRecordsError(RecordsError):
    """There are no records yet."""


class DamagedError(RecordsError):
    """Something kept is not what was written any more: a disk changed it, or another program did."""

    def __init__(self, what: str) -> None:
        self.what = what
        super().__init__(
            f"What is kept of {shown(what)} is damaged: it is not what was written. Run: taper check --repair. "
            "It makes anew what can be made from the logs and files beside the database."
        )

    def __reduce__(self) -> tuple[type[DamagedError], tuple[str]]:
        """As it is sent from a helper: its sentence is made once."""
        return DamagedError, (self.what,)


class AccountError(RecordsError):
    """An account cannot be made, changed or used; the text says why."""
