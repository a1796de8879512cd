"""Page /reference: every measure, finding, phase, symptom, formula and threshold, a term at a time.

The address names the term behind "#". Layout and wiring only.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import unquote

import dash
import dash_mantine_components as dmc
from dash import Input, Output, callback, html

from analyzer.phrases import counted
from analyzer.reports.reference import all_topics, limit_words, near_names, reference
from analyzer.reports.wording import unit_shown
from dashboards.attributes import aria
from dashboards.error_notices import in_words
from dashboards.parts import facts, fold, page, section

Topic = Mapping[str, Any]
#: Terms that a search shows at most.
FOUND_SHOWN = 40
#: What a term is, behind its title.
KINDS = {
    "measure": "measure", "finding": "finding", "phase": "phase of a flight", "trend": "over many flights",
    "moment": "at one moment", "symptom": "symptom of a report", "formula": "formula",
}  # fmt: skip


@in_words
def layout(**_query: str) -> html.Div:
    """The search and the list of terms; the term that the address names stands above them."""
    return page(
        "reference",
        "Reference",
        html.Div(id="reference-term", role="status"),
        section(
            "Find a term",
            dmc.TextInput(
                id="reference-search",
                label="Search",
                placeholder="regulated voltage, slow recharge, 14.5 V",
                debounce=200,
            ),
            html.Div(_contents(), id="reference-found"),
            name="reference-contents",
        ),
        lead="What each number is, how it is worked out, and where each threshold comes from.",
        results=False,
    )


dash.register_page(__name__, path="/reference", title="taper: reference", layout=layout)


def _contents() -> html.Nav:
    """Every term by its title, the thresholds folded."""
    return html.Nav([_listed(one) for one in reference()["sections"]], className="contents no-print",
                    **aria(label="Contents"))  # fmt: skip


def _listed(part: Mapping[str, Any]) -> html.Div:
    links = html.Ul([html.Li(_link(topic)) for topic in part["topics"]])
    if part["name"] == "limit":
        folded = html.Details([html.Summary(f"{len(part['topics'])} thresholds"), links])
        return html.Div([html.H3(part["title"]), folded])
    return html.Div([html.H3(part["title"]), links])


def _link(topic: Topic) -> html.A:
    return html.A(topic["title"], href=f"#{topic['anchor']}")


@callback(Output("reference-term", "children"), Input("_pages_location", "href"))
def show(address: str | None) -> Any:
    """The term that the address names."""
    anchor = unquote((address or "").partition("#")[2])
    topic = next((one for one in all_topics() if one["anchor"] == anchor), None)
    if topic is None:
        return None
    content = _limit(topic) if topic["kind"] == "limit" else _topic(topic)
    return section(topic["title"], content, _used_by(topic), name="reference-shown")


@callback(Output("reference-found", "children"), Input("reference-search", "value"), prevent_initial_call=True)
def find(words: str | None) -> Any:
    """Terms whose title, name or meaning has every word; the nearest names where none has."""
    wanted = (words or "").lower().split()
    if not wanted:
        return _contents()
    found = [topic for topic in all_topics() if all(word in _searched(topic) for word in wanted)]
    if not found:
        near = near_names(words or "")
        found = [topic for topic in all_topics() if topic["anchor"] in near]
        says = "Nothing matches." if not found else "Nothing matches. Near:"
    else:
        says = f"{len(found)} found" + (f", the first {FOUND_SHOWN} shown." if len(found) > FOUND_SHOWN else ".")
    return [
        html.P(says),
        html.Ul([html.Li([_link(topic), _kind(topic)]) for topic in found[:FOUND_SHOWN]]),
    ]


def _kind(topic: Topic) -> html.Span:
    """What a term that was found is; a threshold by its value."""
    told = limit_words(topic["name"]) if topic["kind"] == "limit" else KINDS[topic["kind"]]
    return html.Span(f": {told}", className="quiet")


def _searched(topic: Topic) -> str:
    """What a search looks through: title, name, and what the term is."""
    told = [topic["title"], topic["name"].replace("_", " "), topic["name"], topic.get("meaning", "")]
    if topic["kind"] == "limit":
        told.append(limit_words(topic["name"]))
    return " ".join([*told, *(line for part in topic["parts"][:1] for line in part["lines"])]).lower()


def _used_by(topic: Topic) -> html.P | None:
    """Where a threshold is used."""
    return _named("Used by", topic["see"]) if topic["kind"] == "limit" else None


def _topic(topic: Topic) -> html.Article:
    unit = html.Span(f"[{unit_shown(topic['unit'])}]", className="quiet") if topic["unit"] not in (None, "1") else None
    return html.Article(
        [
            html.P([html.Code(topic["name"]), " ", unit]),
            *(line for part in topic["parts"] for line in _part(part)),
            _thresholds(topic["limits"]),
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


def _thresholds(anchors: list[str]) -> html.Details | None:
    """The thresholds that a term speaks of, each with its value, folded."""
    if not anchors:
        return None
    by_anchor = {topic["anchor"]: topic for topic in all_topics()}
    rows = [html.Li([_link(by_anchor[anchor]), _kind(by_anchor[anchor])]) for anchor in anchors]
    return fold(counted(len(anchors), "threshold"), html.Ul(rows), name="reference-thresholds")


def _named(title: str, anchors: list[str]) -> html.P | None:
    """Links to other topics, by their titles."""
    if not anchors:
        return None
    titles = {topic["anchor"]: topic["title"] for topic in all_topics()}
    links: list[Any] = [html.Strong(f"{title}: ")]
    for place, anchor in enumerate(anchors):
        links += [", " if place else "", html.A(titles[anchor], href=f"#{anchor}")]
    return html.P(links)


def _limit(topic: Topic) -> html.Div:
    """A threshold in detail: its value, whether an aircraft can have its own, its source and its name."""
    own = "yes, under the aircraft's settings" if topic["own"] else "no"
    return html.Div(
        facts(
            (
                ("Value", limit_words(topic["name"])),
                ("Settable per aircraft", own),
                ("Source", topic["source"]),
                ("Name", html.Code(topic["name"])),
            )
        ),
        id=topic["anchor"],
    )
