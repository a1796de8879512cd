"""What a command prints reaches a terminal without what would steer it: the one place where that is taken out.

Words of a log may hold escape sequences, or marks that turn the direction of writing. They are written as ``\\u001b``,
which stands for the same character inside JSON. Our own colours pass, on a terminal alone.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TextIO, cast

#: Control characters but tab and line end; what is invisible or turns the direction; halves of characters.
_STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"
    "\ud800-\udfff\U000e0000-\U000e0fff]"
)
_OURS = re.compile("(\x1b\\[(?:0|1|2|31;1|33;1)m)")


def without_steering(text: str, *, colours: bool = False) -> str:
    """A text with every steering character written out; ``colours`` lets our own through."""
    if not _STEERING.search(text):
        return text
    if colours:
        return "".join(
            part if place % 2 else _STEERING.sub(_written, part) for place, part in enumerate(_OURS.split(text))
        )
    return _STEERING.sub(_written, text)


def _written(found: re.Match[str]) -> str:
    code = ord(found[0])
    if code < 0x10000:
        return f"\\u{code:04x}"
    code -= 0x10000
    return f"\\u{0xD800 + (code >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"


class CleanStream:
    """A stream that is written to as another, and hands on what it is given without steering characters."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._colours = stream.isatty()

    def write(self, text: str) -> int:
        """Write a text; as many characters as it was given."""
        self._stream.write(without_steering(text, colours=self._colours))
        return len(text)

    def writelines(self, lines: Any) -> None:
        """Write some texts."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


@contextmanager
def clean_output() -> Iterator[None]:
    """Let all that is printed within go through ``CleanStream``."""
    before = sys.stdout, sys.stderr
    sys.stdout, sys.stderr = (cast(TextIO, CleanStream(stream)) if stream is not None else stream for stream in before)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before
