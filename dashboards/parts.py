"""Pieces that several pages share: badges, empty states, cautions, tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import dash_mantine_components as dmc
from dash import dcc, html

from analyzer.findings.finding import Cause
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.wording import share_words, stale_words
from dashboards.attributes import aria, told_as
from dashboards.figures.figure_style import SEVERITY
from dashboards.table_files import csv_at, csv_link

T = TypeVar("T")
#: Plotly's bar of tools, reduced to what helps here; no link to anywhere.
GRAPH_CONFIG: Any = {
    "displaylogo": False,
    "responsive": True,
    "modeBarButtonsToRemove": ["select2d", "lasso2d", "autoScale2d", "toImage"],
    "scrollZoom": False,
}
#: The same for a chart too small for tools.
WITHOUT_TOOLS: Any = {**GRAPH_CONFIG, "displayModeBar": False}
#: Causes and checks of a finding that stand at once.
AT_ONCE = 3


def badge(severity: str) -> html.Span:
    """A severity by mark, word and colour."""
    look = SEVERITY[severity]
    return html.Span(
        [html.Span(look["mark"], className="mark", **aria(hidden="true")), " ", look["word"]],
        className=f"badge {severity}",
    )


def page(name: str, title: Any, *content: Any, lead: Any = None, results: bool = True) -> html.Div:
    """A page: its heading, one line that says what it answers, its content, the cautions; quiet without results."""
    head: list[Any] = [html.H1(title, id=f"{name}-title")]
    if lead is not None:
        head.append(html.P(lead, className="lead"))
    return html.Div(
        [html.Header(head, className="page-head"), *content, cautions(quiet=not results)], className=f"page {name}"
    )


def cautions(*, quiet: bool = False) -> html.Aside:
    """The cautions, wherever results are read; folded and quiet on pages that show none."""
    told = html.Ul([html.Li(caution) for caution in CAUTIONS])
    inside = [html.Details([html.Summary("Cautions"), told])] if quiet else [html.H2("Before you act on this"), told]
    return html.Aside(inside, className="cautions quiet-box" if quiet else "cautions", **aria(label="Cautions"))


def section(title: str, *content: Any, name: str, className: str = "") -> html.Section:  # noqa: N803 - Dash's spelling
    """A part of a page under its own heading; ``name`` is its id, so that a link can lead to it."""
    return html.Section(
        [html.H2(title, id=f"{name}-head"), *content],
        id=name,
        className=f"section {className}".strip(),
        **aria(labelledby=f"{name}-head"),
    )


#: A fold that printing leaves as it is seen; any other is opened for it.
AS_SEEN = "as-seen"
#: What is no use on paper.
NOT_PRINTED = "no-print"


def fold(words: Any, *content: Any, name: str, opened: bool = False, printed: str = "") -> html.Details:
    """What is read on demand: opened by click, keyboard, a link into it, and for printing without ``printed``."""
    return html.Details([html.Summary(words), *content], id=name, open=opened, className=printed)


def folded_section(title: str, *content: Any, name: str, opened: bool = False, printed: str = "") -> html.Details:
    """A part of a page under its own heading that is read on demand; ``name`` is its id."""
    head = html.Summary(html.H2(title, id=f"{name}-head"))
    return html.Details([head, *content], id=name, className=f"section {printed}".strip(), open=opened)


def at_once(entries: Sequence[T]) -> tuple[Sequence[T], Sequence[T]]:
    """The entries of a list that stand at once, and those that are read on demand; one alone is not folded."""
    shown = len(entries) if len(entries) <= AT_ONCE + 1 else AT_ONCE
    return entries[:shown], entries[shown:]


def causes_at_once(causes: Sequence[Cause]) -> tuple[Sequence[Cause], Sequence[Cause]]:
    """The likeliest causes and the others, never parted between those whose shares read the same."""
    shown = len(at_once(causes)[0])
    while 0 < shown < len(causes) and share_words(causes[shown]) == share_words(causes[shown - 1]):
        shown += 1
    shown += shown == len(causes) - 1  # one alone is not folded
    return causes[:shown], causes[shown:]


def chart(figure: Any, *, config: Any = GRAPH_CONFIG, **given: Any) -> dcc.Graph:
    """A chart in a frame of its own height, which does not fall in while the chart is drawn again for another width."""
    return dcc.Graph(figure=figure, config=config, style={"height": f"{figure['layout']['height']}px"}, **given)


def nothing_here(says: str, *more: Any) -> html.Div:
    """What stands where there is nothing to show: why, and what to do."""
    return html.Div([html.P(says), *more], className="nothing-here", role="status")


def judged_earlier(flights: int) -> list[html.Div]:
    """What stands above results of kept flights that are not judged by today's program and limits; nothing for none."""
    if not flights:
        return []
    says = f"{stale_words(flights)}. They are being re-analysed; look again in a moment."
    return [html.Div(html.P(says), className="judged-earlier", role="status")]


def table(
    head: Sequence[str],
    rows: Sequence[Sequence[Any]],
    caption: str,
    className: str = "",  # noqa: N803
    *,
    file: str | None = None,
) -> html.Div:
    """A table with a caption for screen readers; the first cell of a row names it. On a phone each row is a card.

    Below it stands a link that saves it as a file; of a table of which ``rows`` are but one page, ``file`` is the
    address of the whole.
    """

    def cells(row: Sequence[Any]) -> list[html.Td]:
        return [html.Td(cell, **told_as(name)) for name, cell in zip(head[1:], row[1:], strict=True)]

    frame = html.Div(
        html.Table(
            [
                html.Caption(caption),
                html.Thead(html.Tr([html.Th(cell, scope="col") for cell in head])),
                html.Tbody([html.Tr([html.Th(row[0], scope="row"), *cells(row)]) for row in rows]),
            ],
            className=f"table {className}".strip(),
        ),
        className="table-frame",
        tabIndex=0,
        role="region",
        **aria(label=caption),
    )
    return html.Div([frame, csv_at(file, caption) if file else csv_link(head, rows, caption)])


@dataclass(frozen=True, slots=True)
class OnePage(Generic[T]):
    """One page of a list."""

    rows: Sequence[T]
    number: int  # from 1
    pages: int  # that the list takes, at least 1
    first: int  # place of its first row in the list, from 1
    count: int  # rows of the list

    @property
    def alone(self) -> bool:
        """Whether it is the whole list."""
        return self.pages == 1

    @property
    def pager(self) -> tuple[int, int, bool]:
        """What the numbers of its pages show: how many, which one, and whether none."""
        return self.pages, self.number, self.alone


def one_page(rows: Sequence[T], number: int, size: int) -> OnePage[T]:
    """A page of a list, counted from 1; of a list that no longer has so many its last."""
    pages = max(1, -(-len(rows) // size))
    shown = min(max(number, 1), pages)
    first = (shown - 1) * size
    return OnePage(rows[first : first + size], shown, pages, first + 1, len(rows))


def of_how_many(shown: OnePage[Any]) -> list[html.P]:
    """Which rows of the list these are, on paper too; nothing where they are all."""
    if shown.alone:
        return []
    return [html.P(f"{shown.first} to {shown.first + len(shown.rows) - 1} of {shown.count}", className="note")]


def pager(kind: str, of: str, shown: OnePage[Any], label: str) -> html.Nav:
    """Numbers of the pages of a list, KIND-page; hidden where it has but one."""
    numbers: dict[str, Any] = {"type": f"{kind}-page", "of": of}
    return html.Nav(
        dmc.Pagination(id=numbers, total=shown.pages, value=shown.number, withControls=False, size="sm"),
        id={"type": f"{kind}-pager", "of": of},
        className="pager no-print",
        hidden=shown.alone,
        **aria(label=label),
    )


def sure(of: str, yes: str, **look: str) -> html.Div:
    """A question before something is done, hidden until it is asked: OF-sure with OF-question, OF-yes and OF-no."""
    return html.Div(
        [
            html.P(id=f"{of}-question"),
            dmc.Button(yes, id=f"{of}-yes", n_clicks=0, **look),
            " ",
            dmc.Button("Cancel", id=f"{of}-no", n_clicks=0, variant="outline"),
        ],
        id=f"{of}-sure",
        hidden=True,
    )


def facts(pairs: Sequence[tuple[str, Any]]) -> html.Dl:
    """Short facts, name and value."""
    return html.Dl([html.Div([html.Dt(name), html.Dd(value)]) for name, value in pairs], className="facts")


def crumbs(*steps: tuple[str, str | None]) -> html.Nav:
    """Where this page stands; the last step is the page itself."""
    items = [
        html.Li(dcc.Link(words, href=href) if href else html.Span(words, **aria(current="page")))
        for words, href in steps
    ]
    return html.Nav(html.Ol(items), className="crumbs", **aria(label="Where you are"))


def anchors(*parts: tuple[str, str]) -> html.Nav:
    """Links to the parts of a long page: words and id."""
    links = [html.Li(html.A(words, href=f"#{name}")) for words, name in parts]
    return html.Nav(html.Ul(links), className="anchors no-print", **aria(label="On this page"))


def explained(words: str, name: str) -> dcc.Link:
    """Words that lead to what the reference says of a measure, finding or symptom."""
    return dcc.Link(words, href=f"/reference#{name}", className="explained", title="What this is")


def sheet_links(path: str, query: str = "", words: str = "Sheet to print") -> html.P:
    """Links to a sheet to print: in a new tab, and as PDF on either paper."""
    letter = f"{query}&paper=letter" if query else "?paper=letter"
    return html.P(
        [
            html.A(words, href=f"/sheet/{path}.html{query}", target="_blank", className="show"),
            html.A("PDF (A4)", href=f"/sheet/{path}.pdf{query}", className="show"),
            html.A("PDF (Letter)", href=f"/sheet/{path}.pdf{letter}", className="show"),
        ],
        className="sheet-links no-print",
    )
