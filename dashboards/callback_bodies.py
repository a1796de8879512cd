"""Whether what is sent to the pages' callbacks is what the pages send, before anything is done with it."""

from __future__ import annotations

import inspect
import json
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    NotRequired,
    TypedDict,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

#: Longest body of a callback [bytes]: a hundred times what the pages send.
MAX_BODY_BYTES = 2_000_000
#: Deepest nesting: four times what the pages send.
MAX_DEPTH = 40
#: Largest number: three times the milliseconds of ten thousand years, which are the largest that the pages send.
LARGEST = 1e15
#: Earliest and latest year of a moment in a chart: a day more or less is one still.
FIRST_YEAR, LAST_YEAR = 2, 9998
#: When the first of them begins and the last of them ends [ms since 1970].
_BEGINS_MS, _ENDS_MS = (
    (datetime(year, 1, 1) - datetime(1970, 1, 1)) / timedelta(milliseconds=1) for year in (FIRST_YEAR, LAST_YEAR + 1)
)
#: What a property can be, where that does not depend on the component.
_COUNT, _WORDS = (int, type(None)), (str, type(None))
KINDS: dict[str, tuple[type, ...]] = {
    "n_clicks": _COUNT, "n_intervals": _COUNT, "pathname": _WORDS, "search": _WORDS, "hash": _WORDS, "href": _WORDS,
    "clickData": (dict, type(None)), "relayoutData": (dict, type(None)),
}  # fmt: skip
_MANY = ("ALL", "ALLSMALLER")
#: What is open in a component's name is a word, but for these, which are numbers.
NUMBERED = ("log", "entry", "place", "first", "last")
#: Of callbacks without hints, which are Dash's own: no page is given for an address that is none.
_UNHINTED: dict[str, Any] = {"pathname": str}


def is_moment(text: str) -> bool:
    """Whether a text is a moment as charts tell one."""
    try:
        return FIRST_YEAR <= datetime.fromisoformat(text.strip().replace(" ", "T")).year <= LAST_YEAR
    except ValueError:
        return False


def is_number_of_moment(place: float) -> bool:
    """Whether a number may be a moment [ms since 1970], or minutes of a log without a clock."""
    return _BEGINS_MS <= place < _ENDS_MS


#: A place on a chart's axis of time. What stands behind a kind must hold of each value of it.
Place = Annotated[float, is_number_of_moment] | Annotated[str, is_moment]


class Point(TypedDict):
    """A point of a chart, as far as the pages ask what a click met."""

    x: Place
    customdata: NotRequired[Any]


class Click(TypedDict):
    """A click into a chart."""

    points: list[Point]


class Window(TypedDict):
    """What a chart shows: all of it where no range is told. ``width`` is how wide it is drawn [pixels]."""

    range: NotRequired[tuple[Place, Place]]
    width: float | None


class MalformedError(Exception):
    """What was sent is not what the pages send; the text says what is wrong."""


def check_body(data: bytes, callbacks: Mapping[str, Mapping[str, Any]]) -> None:
    """Check the body of a callback.

    Parameters
    ----------
    data : as it was sent
    callbacks : what the pages answer, as Dash keeps it: output -> its inputs and states

    Raises
    ------
    MalformedError
        When it is not what the pages send.
    """
    body = _parsed(data)
    if not isinstance(body, dict) or not isinstance(body.get("output"), str):
        raise MalformedError("it is no callback of these pages")
    known = callbacks.get(body["output"])
    if known is None or "callback" not in known:
        raise MalformedError("these pages have no such callback")
    inputs, state = body.get("inputs", []), body.get("state", [])
    _check_list(inputs, known["inputs"], "inputs")
    _check_list(state, known["state"], "state")
    _check_side_by_side([*inputs, *state], [*known["inputs"], *known["state"]])
    _check_outputs(body.get("outputs"), body["output"])
    _check_kinds([*inputs, *state], known["callback"])
    changed = body.get("changedPropIds", [])
    if not isinstance(changed, list) or not all(isinstance(one, str) for one in changed):
        raise MalformedError("what changed is not named as a list of words")


def _parsed(data: bytes) -> Any:
    if len(data) > MAX_BODY_BYTES:
        raise MalformedError(f"it is larger than {MAX_BODY_BYTES / 1e6:.0f} MB")
    try:
        body = json.loads(data, parse_constant=_no_number)
    except (ValueError, RecursionError) as problem:
        raise MalformedError("it is no JSON that these pages send") from problem
    _check_values(body)
    return body


def _no_number(name: str) -> Any:
    raise ValueError(name)


def _check_values(body: Any) -> None:
    """No text or number is one that no page can show, and nothing is nested deeper than the pages nest."""
    level = [body]
    for _ in range(MAX_DEPTH):
        if not level:
            return
        below: list[Any] = []
        for one in level:
            if isinstance(one, dict):
                below += one.keys()
                below += one.values()
            elif isinstance(one, list):
                below += one
            elif isinstance(one, str):
                check_text(one)
            elif isinstance(one, int | float) and not -LARGEST <= one <= LARGEST:
                raise MalformedError("a number in it is larger than any of these pages")
        level = below
    raise MalformedError(f"it is nested deeper than {MAX_DEPTH} levels")


def check_text(text: str) -> None:
    """Check that a text holds neither a zero byte nor half a character.

    Raises
    ------
    MalformedError
        When it does.
    """
    if "\0" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise MalformedError("a text in it holds a zero byte or half a character")


def _check_list(given: Any, known: Sequence[Mapping[str, Any]], what: str) -> None:
    if not isinstance(given, list) or len(given) != len(known):
        raise MalformedError(f"its {what} are not those of this callback")
    for one, expected in zip(given, known, strict=True):
        pattern = json.loads(expected["id"]) if expected["id"].startswith("{") else None
        many = pattern is not None and any(value in ([kind] for kind in _MANY) for value in pattern.values())
        if many and not isinstance(one, list):
            raise MalformedError(f"its {what} are not those of this callback")
        for part in one if many else [one]:
            _check_part(part, expected, pattern)


def _check_side_by_side(given: Sequence[Any], known: Sequence[Mapping[str, Any]]) -> None:
    """Lists of one pattern's components name the same ones in the same order, for callbacks take them so."""
    named: dict[str, list[Any]] = {}
    for one, expected in zip(given, known, strict=True):
        if isinstance(one, list) and named.setdefault(expected["id"], names := [part["id"] for part in one]) != names:
            raise MalformedError("its lists of components are not alike")


def _check_part(part: Any, expected: Mapping[str, Any], pattern: dict[str, Any] | None) -> None:
    if not isinstance(part, dict) or part.get("property") != expected["property"]:
        raise MalformedError(f"a part of it is not {expected['property']!r}")
    name = part.get("id")
    same = name == expected["id"] if pattern is None else _fits(name, pattern)
    if not same:
        raise MalformedError("a part of it names another component")
    kinds = KINDS.get(expected["property"])
    value = part.get("value")
    if kinds is not None and (not isinstance(value, kinds) or isinstance(value, bool)):
        raise MalformedError(f"{expected['property']!r} is of another kind")
    if expected["property"] == "id" and value != name:
        raise MalformedError("a component's name is another one")
    if expected["property"] == "pathname" and isinstance(value, str) and not value.startswith("/"):
        raise MalformedError("an address begins without a slash")


def _fits(name: Any, pattern: dict[str, Any]) -> bool:
    """Whether a component's id is one that a pattern names; what is open in the pattern is of its kind."""
    if not isinstance(name, dict) or name.keys() != pattern.keys():
        return False
    return all(
        _is_single(name[key], float if key in NUMBERED else str) if isinstance(value, list) else name[key] == value
        for key, value in pattern.items()
    )


def _check_outputs(given: Any, output: str) -> None:
    """What a callback gives is named as its key names it: ``id.property``, or ``..id.property...id.property..``."""
    many = output.startswith("..")
    expected = output[2:-2].split("...") if many else [output]
    named = given if many else [given]
    if not isinstance(named, list) or len(named) != len(expected):
        raise MalformedError("its outputs are not those of this callback")
    for one, key in zip(named, expected, strict=True):
        name, prop = key.rsplit(".", 1)
        pattern = json.loads(name) if name.startswith("{") else None
        if not isinstance(one, dict) or str(one.get("property")).split("@")[0] != prop.split("@")[0]:
            raise MalformedError("its outputs are not those of this callback")
        if one.get("id") != name if pattern is None else not _fits(one.get("id"), pattern):
            raise MalformedError("its outputs are not those of this callback")


def _check_kinds(given: Sequence[Any], callback: Callable[..., Any]) -> None:
    """Check that each value is of a kind that the callback is written for; no count at all is a count of none."""
    for one, kind in zip(given, _kinds_of(inspect.unwrap(callback)), strict=False):
        parts, own = (one, (get_args(kind) or (Any,))[0]) if isinstance(one, list) else ([one], kind)
        for part in parts:
            value, prop = part.get("value"), part["property"]
            wanted = _UNHINTED.get(prop, Any) if own is Any else own
            if not (value is None and KINDS.get(prop) is _COUNT) and not _is_of(value, wanted):
                raise MalformedError("a value in it is of another kind")


@cache
def _kinds_of(function: Callable[..., Any]) -> tuple[Any, ...]:
    """The kinds of a function's parameters as its hints tell them."""
    hints = get_type_hints(function, include_extras=True)
    return tuple(hints.get(name, Any) for name in inspect.signature(function).parameters)


def _is_of(value: Any, kind: Any) -> bool:
    origin, within = get_origin(kind), get_args(kind)
    if kind is Any:
        return True
    if origin is Annotated:
        return _is_of(value, within[0]) and all(holds(value) for holds in within[1:])
    if origin in (Union, UnionType):
        return any(_is_of(value, one) for one in within)
    if is_typeddict(kind):
        return isinstance(value, dict) and _has_its_parts(value, kind)
    if origin is list:
        return isinstance(value, list) and all(_is_of(one, within[0]) for one in value)
    if origin is tuple:
        return isinstance(value, list) and len(value) == len(within) and all(map(_is_of, value, within))
    if origin is dict:
        return isinstance(value, dict) and all(_is_of(one, within[1]) for one in value.values())
    return _is_single(value, origin or kind)


def _has_its_parts(value: Mapping[str, Any], kind: Any) -> bool:
    """Whether all parts of a dictionary are there and of their kinds; more may be."""
    for name, part in get_type_hints(kind, include_extras=True).items():
        may_lack = get_origin(part) is NotRequired
        if name not in value and may_lack:
            continue
        if name not in value or not _is_of(value[name], get_args(part)[0] if may_lack else part):
            return False
    return True


def _is_single(value: Any, kind: type) -> bool:
    """Whether a value that holds no others is of a kind; one of a list of words is one of these words."""
    if value is None or kind is NoneType:
        return value is None and kind is NoneType
    if issubclass(kind, Enum):
        return any(value == one.value for one in kind)
    if isinstance(value, bool) or kind is bool:
        return isinstance(value, bool) and kind is bool
    if kind is float:
        return isinstance(value, (int, float))
    return isinstance(value, kind)
