"""A page as the server sends it, without a browser: its words, its parts by their id, and what comes after it stands.

For what a page says; what a browser makes of it is tried with one.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tests.dashboards.asking import call, known_call, open_page

#: Components that stand within a line; what any other says stands apart from what is around it.
WITHIN_A_LINE = ("A", "Abbr", "B", "Em", "Link", "Small", "Span", "Strong", "Sub", "Sup")


@dataclass(frozen=True)
class Unseen:
    """The content of a page, or what one of its callbacks gave."""

    address: str
    content: Any

    @property
    def words(self) -> str:
        """All that it says, also what is folded."""
        return " ".join("".join(_said(self.content)).split())

    def part(self, name: str) -> Unseen:
        """The part of that id."""
        return Unseen(self.address, next(one for one in parts_of(self.content) if one["props"].get("id") == name))

    def has(self, name: str) -> bool:
        """Whether there is a part of that id."""
        return any(one["props"].get("id") == name for one in parts_of(self.content))

    def all(self, kind: str) -> list[Unseen]:
        """Its components of one kind, in their order."""
        return [Unseen(self.address, one) for one in parts_of(self.content) if one["type"] == kind]

    def of_class(self, name: str, words: str = "") -> Unseen:
        """The first part of that class that says these words."""
        own = (Unseen(self.address, one) for one in parts_of(self.content) if name in _classes(one))
        return next(one for one in own if words in one.words)

    @property
    def links(self) -> list[Unseen]:
        """Its links, in their order."""
        return [Unseen(self.address, one) for one in parts_of(self.content) if one["type"] in ("A", "Link")]

    def link(self, words: str) -> str:
        """Where the first link leads whose words hold these."""
        return str(next(one for one in self.links if words in one.words).content["props"]["href"])

    def after(self, named: str) -> dict[str, Unseen]:
        """What a callback of the page gives once the page stands.

        ``named`` is of an output, an input or a state of it alone.
        """
        known = [one for one in parts_of(self.content) if isinstance(one["props"].get("id"), str)]
        values = {f"{one['props']['id']}.{prop}": value for one in known for prop, value in one["props"].items()}
        return answered(self.address, known_call(self.address, named, values))


def unseen(address: str, path: str, **headers: str) -> Unseen:
    """A page's content."""
    answer = open_page(address, path, **headers)
    assert answer.status == 200, answer.text
    return Unseen(address, json.loads(answer.body)["response"]["_pages_content"]["children"])


def answered(address: str, body: Any, **headers: str) -> dict[str, Unseen]:
    """What a callback gives: id of a part -> what it holds then."""
    answer = call(address, body, **headers)
    assert answer.status == 200, answer.text
    given = json.loads(answer.body)["response"]
    return {name: Unseen(address, list(props.values())) for name, props in given.items()}


def shown_in_reference(address: str, link: str) -> Unseen:
    """What the reference shows of the term that a link names, once the page stands."""
    assert link.startswith("/reference#"), link
    asked = known_call(address, "reference-term", {"_pages_location.href": address + link})
    return answered(address, asked)["reference-term"]


def parts_of(shown: Any) -> Iterator[dict[str, Any]]:
    """Each component of a content, whatever holds it."""
    if isinstance(shown, dict):
        if "props" in shown and "type" in shown:
            yield shown
        shown = list(shown.values())
    if isinstance(shown, list):
        for one in shown:
            yield from parts_of(one)


def _classes(component: dict[str, Any]) -> list[str]:
    return str(component["props"].get("className") or "").split()


def _said(shown: Any) -> Iterator[str]:
    if isinstance(shown, str | int | float):
        yield str(shown)
    elif isinstance(shown, list):
        for one in shown:
            yield from _said(one)
    elif isinstance(shown, dict):
        apart = "" if shown.get("type") in WITHIN_A_LINE else " "
        props = shown.get("props", {})
        yield apart
        for prop in ("label", "description", "children"):
            yield from _said(props.get(prop))
        yield apart
