"""Grids: tables that sort, filter and scroll, in the look of the rest."""

from __future__ import annotations

from typing import Any

import dash_ag_grid as dag
from dash import html

from dashboards.attributes import aria
from dashboards.figures.figure_style import SEVERITY
from dashboards.table_files import csv_link

THEME = {
    "function": (
        "themeQuartz.withParams({backgroundColor: 'var(--raised)', foregroundColor: 'var(--ink)', "
        "headerBackgroundColor: 'var(--sheet)', headerTextColor: 'var(--ink)', borderColor: 'var(--rule)', "
        "accentColor: 'var(--accent)', oddRowBackgroundColor: 'var(--raised)', "
        "rowHoverColor: 'var(--accent-soft)', fontFamily: 'inherit', fontSize: 14, browserColorScheme: 'inherit'})"
    )
}

COLUMN = {"sortable": True, "resizable": True, "filter": True, "wrapHeaderText": True, "autoHeaderHeight": True}


def number_column(field: str, heading: str, decimals: int = 0) -> dict[str, Any]:
    """A column of numbers, each with the same digits; an empty cell where there is none."""
    return {
        "field": field,
        "headerName": heading,
        "type": "numericColumn",
        "filter": "agNumberColumnFilter",
        "suppressHeaderFilterButton": True,
        "minWidth": 78,
        "context": {"decimals": decimals},
        "valueFormatter": {"function": f"params.value == null ? '' : d3.format('.{decimals}f')(params.value)"},
    }


def grid(
    name: str,
    rows: list[dict[str, Any]],
    columns: list[dict[str, Any]],
    label: str,
    *,
    filtered: dict[str, Any] | None = None,
    **options: Any,
) -> html.Div:
    """A grid under its label, and a link that saves all of its rows as a file.

    Parameters
    ----------
    name : id of the grid
    rows, columns : row data and column definitions of AG Grid
    label : what a screen reader calls it
    filtered : filters that are set at first
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
    drawn = html.Div(
        dag.AgGrid(
            id=name,
            rowData=rows,
            columnDefs=columns,
            defaultColDef=COLUMN,
            columnSize="responsiveSizeToFit",
            filterModel=filtered or {},
            dashGridOptions=settings,
            style={"height": None} if settings["domLayout"] == "autoHeight" else {"height": "34rem"},
            className="grid",
        ),
        role="region",
        **aria(label=label),
    )
    cells = [[_words(row.get(column["field"]), column) for column in columns] for row in rows]
    return html.Div([drawn, csv_link([column["headerName"] for column in columns], cells, label)])


def _words(value: Any, column: dict[str, Any]) -> str:
    """What a cell of the grid shows."""
    if value is None:
        return ""
    if "context" in column:
        return f"{value:.{column['context']['decimals']}f}"
    return SEVERITY[value]["word"] if column.get("cellRenderer") == "Condition" else str(value)
