"""Grids: tables that sort and filter, in the look of the rest; the server sends one page of rows at a time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from operator import itemgetter
from typing import Any

import dash_ag_grid as dag
from dash import html

from dashboards.attributes import aria
from dashboards.figures.figure_style import SEVERITY
from dashboards.grid_filter import passes
from dashboards.table_files import csv_at, csv_file

THEME = {
    "function": (
        "themeQuartz.withParams({backgroundColor: 'var(--raised)', foregroundColor: 'var(--ink)', "
        "headerBackgroundColor: 'var(--sheet)', headerTextColor: 'var(--ink)', borderColor: 'var(--rule)', "
        "accentColor: 'var(--accent)', oddRowBackgroundColor: 'var(--raised)', "
        "rowHoverColor: 'var(--accent-soft)', fontFamily: 'inherit', fontSize: 14, browserColorScheme: 'inherit'})"
    )
}

#: Rows of a page, as one may choose.
PAGE_SIZES = [10, 20, 50, 100]
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


def grid(name: str, columns: list[dict[str, Any]], label: str, file: str) -> html.Div:
    """A grid under its label that asks for its rows page by page, and a link to the file of all of them.

    The page that shows it answers what the grid asks for (``getRowsRequest``) by ``rows_asked``.

    Parameters
    ----------
    name : id of the grid
    columns : column definitions of AG Grid
    label : what a screen reader calls it
    file : address of its file
    """
    settings = {
        "localeText": {"noRowsToShow": "Nothing matches."},
        "theme": THEME,
        "domLayout": "autoHeight",
        "suppressColumnVirtualisation": True,
        "ensureDomOrder": True,
        "enableCellTextSelection": True,
        "pagination": True,
        "paginationPageSize": PAGE_SIZES[0],
        "paginationPageSizeSelector": PAGE_SIZES,
        "cacheBlockSize": PAGE_SIZES[-1],
    }
    drawn = html.Div(
        dag.AgGrid(
            id=name,
            rowModelType="infinite",
            columnDefs=columns,
            defaultColDef=COLUMN,
            columnSize="responsiveSizeToFit",
            dashGridOptions=settings,
            style={"height": None},
            className="grid",
        ),
        role="region",
        **aria(label=label),
    )
    return html.Div([drawn, csv_at(file, label)])


def rows_asked(
    rows: list[dict[str, Any]],
    asked: Any,
    order: Mapping[str, str] | None = None,
    shown: Mapping[str, str] | None = None,
) -> dict[str, Any]:
    """The rows that a grid asks for, sorted and filtered as it says, and how many there are; none where no grid asks.

    Parameters
    ----------
    rows : of the grid, all of them
    asked : as the browser sends it
    order : column -> the cell that sorts it, where its own does not
    shown : column -> the cell that holds what a person reads in it, where its own does not; filters look there
    """
    try:
        return _rows_asked(rows, asked, order or {}, shown or {})
    except (AttributeError, LookupError, ValueError, TypeError, ArithmeticError):
        return {"rowData": [], "rowCount": 0}


def _rows_asked(
    rows: list[dict[str, Any]], asked: Any, order: Mapping[str, str], shown: Mapping[str, str]
) -> dict[str, Any]:
    filters = [(shown.get(column, column), one) for column, one in asked["filterModel"].items()]
    found = [row for row in rows if all(passes(row.get(cell), one) for cell, one in filters)]
    for one in reversed(asked["sortModel"]):
        cell = order.get(one["colId"], one["colId"])
        there = [row for row in found if row.get(cell) is not None]
        missing = [row for row in found if row.get(cell) is None]
        there.sort(key=itemgetter(cell), reverse=one["sort"] == "desc")
        found = [*there, *missing] if one["sort"] == "desc" else [*missing, *there]
    return {"rowData": found[int(asked["startRow"]) : int(asked["endRow"])], "rowCount": len(found)}


def grid_file(rows: Iterable[dict[str, Any]], columns: list[dict[str, Any]]) -> str:
    """The text of the file of a grid: each cell as it is shown."""
    cells = ([_words(row.get(column["field"]), column) for column in columns] for row in rows)
    return csv_file([column["headerName"] for column in columns], cells)


def _words(value: Any, column: dict[str, Any]) -> str:
    """What a cell of the grid shows."""
    if value is None:
        return ""
    if "context" in column:
        return f"{value:.{column['context']['decimals']}f}"
    return SEVERITY[value]["word"] if column.get("cellRenderer") == "Condition" else str(value)
