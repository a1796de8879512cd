"""What a person can say of a finding."""

from enum import StrEnum


class Disposed(StrEnum):
    """What became of a finding, in a person's words."""

    CONFIRMED = "confirmed"
    NOT_FOUND = "not found on inspection"
    ACCEPTED = "accepted"
    FIXED = "fixed"
    REOPENED = "reopened"  # takes back what was said before, which stays in the history

    @property
    def settles(self) -> bool:
        """Whether the finding no longer stands open after it."""
        return self not in (Disposed.CONFIRMED, Disposed.REOPENED)

    @property
    def ends_cause(self) -> bool:
        """Whether what caused the finding is gone, or never was; what is only accepted is still there."""
        return self in (Disposed.FIXED, Disposed.NOT_FOUND)
