"""Which passwords will do, and how soon one would be guessed: by ``zxcvbn``, which knows the common ones."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.records.problems import AccountError

SHORTEST, LONGEST = 12, 256
#: A password of fewer different letters is guessed soon.
FEWEST_LETTERS = 5
#: A name of fewer letters stands in many words.
SHORTEST_NAME = 4
#: Letters from the start by which a password is estimated; whoever guesses a longer one needs no fewer tries.
ESTIMATED = 72
#: What a password must reach of the estimate's five grades, 0 to 4: beyond 1e8 tries.
GOOD_ENOUGH = 3
GRADES = ("guessed at once", "guessed soon", "weak", "good", "strong")


class PasswordError(AccountError):
    """A password will not do; the text says why."""


@dataclass(frozen=True, slots=True)
class Strength:
    """How hard a password is to guess."""

    grade: int  # 0 to 4, a place in ``GRADES``
    why: str = ""  # a sentence, where there is one

    @property
    def words(self) -> str:
        """The grade in words."""
        return GRADES[self.grade]


def strength(name: str, password: str) -> Strength:
    """Estimate how hard the password of an account is to guess, by whoever knows the account's name.

    Raises
    ------
    PasswordError
        When the library for it is not installed.
    """
    try:
        from zxcvbn import zxcvbn
    except ModuleNotFoundError as missing:
        raise PasswordError(
            f"Accounts need {missing.name}, which is not installed. In this project's checkout: "
            "pip install '.[dashboard]'"
        ) from missing
    if len(name) >= SHORTEST_NAME and name.lower() in password.lower():
        return Strength(0, "The account's name is in it.")
    if not password or len(set(password)) < FEWEST_LETTERS:
        return Strength(0, "It has too few different letters.")
    found = zxcvbn(password[:ESTIMATED], user_inputs=[name])
    return Strength(int(found["score"]), str(found["feedback"]["warning"] or ""))


def check_password(name: str, password: str) -> None:
    """Refuse a password that will not do.

    Raises
    ------
    PasswordError
        When it is too short, too long, or would be guessed.
    """
    if not SHORTEST <= len(password) <= LONGEST:
        raise PasswordError(f"A password has {SHORTEST} to {LONGEST} letters; four unrelated words will do.")
    found = strength(name, password)
    if found.grade < GOOD_ENOUGH:
        raise PasswordError(
            f"That password is {found.words}. {found.why or 'It is made of what many people use.'} Take another: four "
            "unrelated words will do."
        )
