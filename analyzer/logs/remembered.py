"""Answers about words that come again and again in logs, remembered; long texts never are, so that little is held."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import ParamSpec, Protocol, TypeVar, cast

P = ParamSpec("P")
T_co = TypeVar("T_co", covariant=True)
#: The longest text that is remembered [letters]: no header, unit, date or number is longer. Of 65,536 answers, the
#: most of any function, the texts weigh 13 MB then.
LONGEST = 200
#: Answers about all columns of a log at once that are remembered. A fleet's recorders write few heads, and of sixteen
#: heads of a thousand columns the answers weigh 16 MB.
HEADS = 16


class Remembering(Protocol[P, T_co]):
    """A function that knows its latest answers to short texts."""

    def __call__(self, *told: P.args, **named: P.kwargs) -> T_co:
        """Answer."""
        ...

    def cache_clear(self) -> None:
        """Forget all answers."""
        ...


def remembered(most: int) -> Callable[[Callable[P, T_co]], Remembering[P, T_co]]:
    """Remember a function's latest answers, ``most`` of them."""

    def remembering(function: Callable[P, T_co]) -> Remembering[P, T_co]:
        answers = cast("Remembering[P, T_co]", lru_cache(maxsize=most)(function))

        @wraps(function)
        def answer(*told: P.args, **named: P.kwargs) -> T_co:
            for one in told:
                if type(one) is str and len(one) > LONGEST:
                    return function(*told, **named)
            return answers(*told, **named)

        vars(answer)["cache_clear"] = answers.cache_clear
        return cast("Remembering[P, T_co]", answer)

    return remembering
