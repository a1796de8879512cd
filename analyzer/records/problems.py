"""What can be wrong with the records, as sentences."""

from __future__ import annotations


class RecordsError(Exception):
    """The records cannot be used; the message says what is wrong, where, and what to do."""
