"""Every key and number of the JSON that commands print of invented logs stays; sentences are held apart.

A number here is what was told before, not what is right: other tests hold numbers against the truth. After a change
that is meant to change what is told: python -m tests.snapshots numbers, or words, and say why in the commit.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.snapshots.taken import HELD, OF_CLUB, OF_LOGS, documents, parted

NAMES = [*OF_LOGS, "trend_made", *OF_CLUB]
#: Floats are the same to this share and size: other processors add up in another order.
CLOSE = 1e-9


class Told:
    """The documents, each taken when it is first asked for; those of the club come last, and take longest."""

    def __init__(self, folder: Path) -> None:
        self._coming = documents(folder)
        self._taken: dict[str, tuple[Any, dict[str, str]]] = {}

    def __getitem__(self, name: str) -> tuple[Any, dict[str, str]]:
        while name not in self._taken:
            taken, document = next(self._coming)
            self._taken[taken] = parted(document)
        return self._taken[name]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    return Told(tmp_path_factory.mktemp("club"))


def held(part: str, name: str) -> Any:
    return json.loads((HELD / part / f"{name}.json").read_text("utf-8"))


def differences(was: Any, now: Any, place: str = "") -> Iterator[str]:
    """Where two documents differ, one line each."""
    if isinstance(was, dict) and isinstance(now, dict):
        for key in [*was, *(key for key in now if key not in was)]:
            if key not in was or key not in now:
                yield f"{place}/{key}: {'no longer' if key in was else 'newly'} there"
            else:
                yield from differences(was[key], now[key], f"{place}/{key}")
    elif isinstance(was, list) and isinstance(now, list):
        if len(was) != len(now):
            yield f"{place}: {len(was)} entries were held, {len(now)} are told"
        for number, (one, other) in enumerate(zip(was, now, strict=False)):
            yield from differences(one, other, f"{place}/{number}")
    elif isinstance(was, float) and isinstance(now, float):
        if abs(was - now) > CLOSE * max(1.0, abs(was)):
            yield f"{place}: {was!r} was held, {now!r} is told"
    elif was != now or type(was) is not type(now):
        yield f"{place}: {was!r} was held, {now!r} is told"


@pytest.mark.parametrize("name", NAMES)
def test_keys_and_numbers_stay(told: Told, name: str) -> None:
    assert list(differences(held("numbers", name), told[name][0])) == []


@pytest.mark.parametrize("name", NAMES)
def test_sentences_stay(told: Told, name: str) -> None:
    assert list(differences(held("words", name), told[name][1])) == []


def test_everything_held_is_told() -> None:
    for part in ("numbers", "words"):
        assert {file.stem for file in Path(HELD / part).glob("*.json")} == set(NAMES)


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ({"a": 1}, {"a": 2}),
        ({"a": 1.0}, {"a": 1.0 + 1e-8}),
        ({"a": 1.0}, {"a": 1}),
        ({"a": 1.0}, {"a": None}),
        ({"a": 1}, {}),
        ({}, {"a": 1}),
        ({"a": [1, 2]}, {"a": [1]}),
        ({"a": [{"b": "x"}]}, {"a": [{"b": "y"}]}),
    ],
)
def test_whatever_differs_is_noticed(was: Any, now: Any) -> None:
    assert len(list(differences(was, now))) == 1


def test_a_difference_in_the_last_digits_is_none() -> None:
    assert list(differences({"a": [0.1 + 0.2, {"b": "c"}]}, {"a": [0.3, {"b": "c"}]})) == []


def test_sentences_stand_apart() -> None:
    document = {"says": "16.4 V", "likely": [{"cause": "regulator", "weight": 0.6, "why": ["x (x 2)"]}], "from": "V"}
    numbers, words = parted(document)
    assert numbers == {"says": "…", "likely": [{"cause": "…", "weight": 0.6, "why": ["…"]}], "from": "V"}
    assert words == {"/says": "16.4 V", "/likely/0/cause": "regulator", "/likely/0/why/0": "x (x 2)"}
