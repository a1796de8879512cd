"""Grids: tables that sort, filter and scroll, in the look of the rest."""

from __future__ import annotations

from typing import Any

import dash_ag_grid as dag
from dash import html

THEME = {
    "function": (
        "themeQuartz.withParams({backgroundColor: 'var(--raised)', foregroundColor: 'var(--ink)', "
        "headerBackgroundColor: 'var(--sheet)', headerTextColor: 'var(--ink)', borderColor: 'var(--rule)', "
        "accentColor: 'var(--accent)', oddRowBackgroundColor: 'var(--raised)', "
        "rowHoverColor: 'var(--accent-soft)', fontFamily: 'inherit', fontSize: 15, browserColorScheme: 'inherit'})"
    )
}

COLUMN = {"sortable": True, "resizable": True, "filter": True, "wrapHeaderText": True, "autoHeaderHeight": True}


def grid(name: str, rows: list[dict[str, Any]], columns: list[dict[str, Any]], label: str, **options: Any) -> html.Div:
    """A grid under its label.

    Parameters
    ----------
    name : id of the grid
    rows, columns : row data and column definitions of AG Grid
    label : what a screen reader calls it
    options : more grid options
    """
    settings = {
        "localeText": {"noRowsToShow": "Nothing matches."},
        "theme": THEME,
        "domLayout": "autoHeight",
        "suppressColumnVirtualisation": len(rows) < 200,
        "ensureDomOrder": True,
        "enableCellTextSelection": True,
        **options,
    }
    return html.Div(
        dag.AgGrid(
            id=name,
            rowData=rows,
            columnDefs=columns,
            defaultColDef=COLUMN,
            columnSize="responsiveSizeToFit",
            dashGridOptions=settings,
            style={"height": None} if settings["domLayout"] == "autoHeight" else {"height": "34rem"},
            className="grid",
        ),
        role="region",
        **{"aria-label": label},
    )
