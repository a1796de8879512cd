"""Who asks for something of the records, and what they may: read, write, or manage."""

from __future__ import annotations

import getpass
from dataclasses import dataclass
from enum import IntEnum

from analyzer.records.problems import RecordsError


class Role(IntEnum):
    """What somebody may do; each role may all that those below it may."""

    READER = 1  # look at everything that is kept
    EDITOR = 2  # add logs, entries, dispositions, assignments, corrections
    MANAGER = 3  # let logs go, repair, back up, accounts

    @property
    def word(self) -> str:
        """Its name as people write it."""
        return self.name.lower()


class NotAllowedError(RecordsError):
    """Somebody asked for what their role does not allow; the text says so."""


@dataclass(frozen=True, slots=True)
class Person:
    """Who asks."""

    name: str
    role: Role
    by: str = "command line"  # the way that they came

    def allow(self, role: Role) -> None:
        """Check that they may what a role may.

        Raises
        ------
        NotAllowedError
            When they may not.
        """
        if self.role < role:
            raise NotAllowedError(
                f"{self.name} may not do that: it takes the role {role.word}, and {self.name} has the role "
                f"{self.role.word}. Ask a manager of these records."
            )


#: What a program does by itself may change nothing that people said or brought.
NOBODY = Person("the program itself", Role.READER, "program")


def at_the_machine() -> Person:
    """Whoever has the records' folder at hand may everything; their login name says who it was."""
    try:
        name = getpass.getuser()
    except (KeyError, OSError):
        name = ""
    return Person(name or "somebody at this machine", Role.MANAGER)
