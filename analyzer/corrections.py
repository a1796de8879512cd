"""What a mechanic corrected of this program's tables: thresholds, weights of causes, words; in effect for the process.

The tables themselves lie in the installed package, where an update would write over a correction. So corrections
stand in a file of their own beside the records. Every flight of a process is judged by the same ones.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from typing import Protocol, TypeVar

from msgspec import Struct, field


class CorrectionsError(ValueError):
    """A file of corrections that cannot be used; the message says what is wrong, where, and what to do."""


class Corrections(Struct, frozen=True):
    """What stands in place of, or beside, what this program ships; empty where nothing is corrected."""

    limits: Mapping[str, tuple[float, float]] = field(default_factory=dict)  # name -> value at 14 V and at 28 V
    weights: Mapping[tuple[str, str], float] = field(default_factory=dict)  # (cause, finding) -> weight to begin with
    header_words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # meaning -> more words in a header
    pilots_words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # concept -> more ways to write it
    source: str = ""  # the file that they stand in

    def __bool__(self) -> bool:
        return bool(self.limits or self.weights or self.header_words or self.pilots_words)

    @property
    def mark(self) -> str:
        """What tells these corrections from others, wherever they stand; nothing where there are none."""
        if not self:
            return ""
        told = [sorted(part.items()) for part in (self.limits, self.weights, self.header_words, self.pilots_words)]
        return hashlib.sha256(repr(told).encode()).hexdigest()


class _Cached(Protocol):
    def cache_clear(self) -> None: ...


#: The file's name beside the records.
CORRECTIONS = "corrections.toml"
C = TypeVar("C", bound=_Cached)
_in_effect = Corrections()
_forgetters: list[Callable[[], None]] = []


def rests_on_corrections(loader: C) -> C:
    """Mark a cached reader of a table, so that it reads anew once other corrections are in effect."""
    _forgetters.append(loader.cache_clear)
    return loader


def in_effect() -> Corrections:
    """Give the corrections by which this process judges."""
    return _in_effect


def put_in_effect(corrections: Corrections) -> None:
    """Judge by these from now on, in this process."""
    global _in_effect
    if corrections == _in_effect:
        return
    _in_effect = corrections
    for forget in _forgetters:
        forget()
