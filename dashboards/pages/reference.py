"""Page /reference: every measure, finding, phase, symptom, formula and threshold explained. Layout and wiring only."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash
from dash import html

from analyzer.reports.reference import all_topics, limit_words, reference
from dashboards.error_notices import in_words
from dashboards.parts import page, section, table

Topic = Mapping[str, Any]


@in_words
def layout(**_query: str) -> html.Div:
    """The whole reference; each topic can be linked to by its name."""
    sections = reference()["sections"]
    contents = html.Nav(
        [_contents(one) for one in sections if one["name"] != "limit"],
        className="contents no-print",
        **{"aria-label": "Contents"},
    )
    return page(
        "reference",
        "Reference",
        section("Contents", contents, name="reference-contents"),
        *(
            section(one["title"], *_topics(one), name=f"reference-{one['name']}")
            for one in sections
        ),
        lead="What each number is, how it is worked out, what its interval holds, and where each threshold comes from.",
    )  # fmt: skip


dash.register_page(__name__, path="/reference", title="taper: reference", layout=layout)


def _contents(part: Mapping[str, Any]) -> html.Div:
    links = [html.Li(html.A(topic["title"], href=f"#{topic['anchor']}")) for topic in part["topics"]]
    return html.Div([html.H3(part["title"]), html.Ul(links)])


def _topics(part: Mapping[str, Any]) -> list[Any]:
    if part["name"] == "limit":
        return [_limits(part["topics"])]
    return [_topic(topic) for topic in part["topics"]]


def _topic(topic: Topic) -> html.Article:
    unit = html.Span(f"[{topic['unit']}]", className="quiet") if topic["unit"] not in (None, "1") else None
    return html.Article(
        [
            html.H3([html.Span(topic["title"]), unit, html.Code(topic["name"])]),
            *(line for part in topic["parts"] for line in _part(part)),
            _named("Thresholds", topic["limits"]),
            _named("See also", topic["see"]),
        ],
        id=topic["anchor"],
        className="finding topic",
    )


def _part(part: Mapping[str, Any]) -> list[Any]:
    title = html.Strong(f"{part['title']}: ")
    if part["form"] == "list":
        return [html.P(title), html.Ul([html.Li(line) for line in part["lines"]])]
    if part["form"] == "formula":
        return [html.P(title), *(html.Pre(line) for line in part["lines"])]
    return [html.P([title, " ".join(part["lines"])])]


def _named(title: str, anchors: list[str]) -> html.P | None:
    """Links to other topics, by their titles."""
    if not anchors:
        return None
    titles = {topic["anchor"]: topic["title"] for topic in all_topics()}
    links: list[Any] = [html.Strong(f"{title}: ")]
    for place, anchor in enumerate(anchors):
        links += [", " if place else "", html.A(titles[anchor], href=f"#{anchor}")]
    return html.P(links)


def _limits(topics: list[Topic]) -> html.Div:
    """The thresholds as a table; each row can be linked to."""
    rows = [
        (
            html.Span(html.Code(topic["name"]), id=topic["anchor"]),
            limit_words(topic["name"]),
            topic["meaning"],
            topic["source"],
            "yes" if topic["own"] else "",
        )
        for topic in topics
    ]
    head = ("Threshold", "Value", "Meaning", "Source", "Fleet file can say it")
    return table(head, rows, "Every threshold with its unit and source", "free")
