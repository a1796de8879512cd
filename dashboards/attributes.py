"""Attributes of a page's parts whose names Python cannot write as keywords."""

from __future__ import annotations

from typing import Any


def told_as(name: str) -> dict[str, Any]:
    """What a cell is called where its table is drawn as cards, for the attribute ``data-label``."""
    return {"data-label": name}


def aria(**attributes: str) -> dict[str, Any]:
    """Keyword arguments of a component, ``aria(label="Pages")`` for the attribute ``aria-label``."""
    return {f"aria-{name}": value for name, value in attributes.items()}
