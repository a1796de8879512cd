"""What a person sees when something goes wrong: a sentence in place of the page, never a blank one."""

from __future__ import annotations

import functools
import logging
from collections.abc import Callable
from typing import Any

import dash
from dash import dcc, html

from analyzer.aircraft import FleetFileError
from analyzer.records.problems import RecordsError
from analyzer.reports.plainly import plainly
from analyzer.service.follow_tails import UnknownTailError
from dashboards.background import StillWorkingError
from dashboards.parts import nothing_here, page

FAULT = "Something unexpected went wrong in these pages. The window where they were started shows what."


def in_words(layout: Callable[..., html.Div]) -> Callable[..., html.Div]:
    """Let a page's layout say what is wrong with the records instead of failing."""

    @functools.wraps(layout)
    def told(*places: str, **query: str | list[str]) -> html.Div:
        try:
            return layout(*places, **{name: _last(given) for name, given in query.items()})
        except StillWorkingError as working:
            return page("trouble", "One moment", nothing_here(plainly(working), _back()))
        except (RecordsError, FleetFileError) as problem:
            return page("trouble", "The records cannot be shown", nothing_here(plainly(problem), _back()))
        except Exception:
            logging.getLogger(__name__).exception("A page could not be made")
            return page("trouble", "This page cannot be shown", nothing_here(FAULT, _back()))

    return told


def tell(problem: Exception) -> Any:
    """Say on the page what went wrong after a click; the rest of the page stays as it was."""
    known = isinstance(problem, (RecordsError, FleetFileError, UnknownTailError))
    if not known:
        logging.getLogger(__name__).error("A click could not be answered", exc_info=problem)
    dash.set_props("notice", {"children": plainly(problem) if known else FAULT})
    return dash.no_update


def _last(given: str | list[str]) -> str:
    """What an address asks for; the last where it says it more than once."""
    return given if isinstance(given, str) else given[-1]


def _back() -> html.P:
    return html.P(dcc.Link("Back to the fleet", href="/"))
