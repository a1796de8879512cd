"""Changing a fleet file's text: what is known of one aircraft, everything else staying as it was written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from analyzer.aircraft import Setting


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

    document = tomlkit.parse(text)
    table: Any = document
    for name in ("aircraft", tail.upper(), *below):
        there = next((key for key in table if key.upper() == name.upper()), None)
        if there is None:
            table[name] = tomlkit.table(is_super_table=name == "aircraft")
            there = name
        table = table[there]
    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        else:
            table[key] = list(value) if isinstance(value, tuple) else value
    return tomlkit.dumps(document)
