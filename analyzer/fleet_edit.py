"""Changing a fleet file's text: what is known of one aircraft, everything else staying as it was written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from analyzer.aircraft import FleetFileError, Setting


def with_columns(text: str, tail: str, columns: Mapping[str, str]) -> str:
    """Give a fleet file's text with columns (role -> header) mapped for a tail."""
    return _changed(text, tail, columns, "columns")


def with_settings(text: str, tail: str, settings: Mapping[str, Setting]) -> str:
    """Give a fleet file's text with some keys of a tail set, or taken away.

    Parameters
    ----------
    text : of a fleet file that can be read
    tail : the aircraft; a table is made for it where none stands there
    settings : key -> what it is from now on
    """
    return _changed(text, tail, settings)


def _changed(text: str, tail: str, values: Mapping[str, Setting], *below: str) -> str:
    import tomlkit
    from tomlkit.exceptions import ParseError

    try:
        document = tomlkit.parse(text)
    except ParseError as problem:
        raise FleetFileError(f"the fleet file cannot be changed here ({problem}); change it by hand") from problem
    table: Any = document
    for name in ("aircraft", tail.upper(), *below):
        there = next((key for key in table if key.upper() == name.upper()), None)
        if there is None:
            table[name] = tomlkit.table(is_super_table=name == "aircraft")
            there = name
        table = table[there]
    below_it = _taken_off(table.value.body)
    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        else:
            table[key] = list(value) if isinstance(value, tuple) else value
    table.value.body.extend(below_it)
    return tomlkit.dumps(document)


def _taken_off(body: list[Any]) -> list[Any]:
    """Take the comments and blank lines off the end of a table: they are about what follows it."""
    taken: list[Any] = []
    while body and body[-1][0] is None:
        taken.insert(0, body.pop())
    return taken
