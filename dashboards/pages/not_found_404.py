"""The page for addresses that lead nowhere."""

from __future__ import annotations

import dash
from dash import dcc, html

from dashboards.parts import nothing_here, page


def layout(**_query: str) -> html.Div:
    """Say so, and where to go."""
    back = html.P(dcc.Link("Back to the fleet", href="/"))
    return page(
        "nowhere", "There is no such page", nothing_here("The address leads to nothing here.", back), results=False
    )


dash.register_page(__name__, title="taper: no such page", layout=layout)
