"""The lines of what falls due, as the page and its file hold them."""

from __future__ import annotations

from typing import Any

from dash import dcc, html

from analyzer.reports.due_words import due_words
from analyzer.service.due_result import Due, DueList, DueState

DUE_HEAD = ("Aircraft", "When", "What", "Why then")
DUE_CAPTION = "What is due, the most urgent first"


def dated(due: DueList) -> list[Due]:
    """What is known to fall due, without what is not known."""
    return [one for one in due.items if one.state is not DueState.UNKNOWN]


def due_cells(one: Due) -> tuple[Any, ...]:
    """One line, under ``DUE_HEAD``."""
    told = due_words(one)
    when = html.Strong(told.when) if one.state is not DueState.LATER else told.when
    return dcc.Link(one.tail, href=f"/aircraft/{one.tail}"), when, told.title, told.why
