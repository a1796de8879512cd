"""Answers about words that come again and again in logs, remembered; long texts never are, so that little is held."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, update_wrapper
from typing import Generic, ParamSpec, TypeVar, cast

P = ParamSpec("P")
T = TypeVar("T")
#: The longest text that is remembered [letters]: no header, unit, date or number is longer. Of 65,536 answers, the
#: most of any function, the texts weigh 13 MB then.
LONGEST = 200
#: Answers about all columns of a log at once that are remembered. A fleet's recorders write few heads, and of sixteen
#: heads of a thousand columns the answers weigh 16 MB.
HEADS = 16


class Remembering(Generic[P, T]):
    """A function that knows its latest answers to short texts."""

    def __init__(self, function: Callable[P, T], most: int) -> None:
        answers = lru_cache(maxsize=most)(function)
        self._function, self._answers, self._forget = function, cast("Callable[P, T]", answers), answers.cache_clear
        update_wrapper(self, function)

    def __call__(self, *told: P.args, **named: P.kwargs) -> T:
        """Answer."""
        for one in told:
            if type(one) is str and len(one) > LONGEST:
                return self._function(*told, **named)
        return self._answers(*told, **named)

    def cache_clear(self) -> None:
        """Forget all answers."""
        self._forget()


def remembered(most: int) -> Callable[[Callable[P, T]], Remembering[P, T]]:
    """Remember a function's latest answers, ``most`` of them."""
    return lambda function: Remembering(function, most)
