"""A small drawing of where the power goes at one moment: alternator, bus, battery, loads, amperes and direction."""

from __future__ import annotations

from typing import Any

from dash import html

from analyzer.measures.power_flow import Current, Feeder, PowerFlow
from analyzer.reports.flow_words import current_label, current_words, flow_sentence, instruments, next_to_nothing
from dashboards.attributes import aria
from dashboards.parts import explained


def flow_drawing(flow: PowerFlow) -> html.Div:
    """The drawing with its sentence, what the instruments showed, and what is not recorded."""
    told = f"{flow_sentence(flow)} {_spoken(flow)}"
    return html.Div(
        [
            html.P(flow_sentence(flow), className="flow-says"),
            html.Div(
                [
                    _part("alternator", "Alternator"),
                    _wire("from-alternator", flow.alternator, "right", _alternator_way(flow)),
                    html.Div(["Bus", html.Strong(_bus(flow))], className="flow-bus"),
                    _wire("to-load", flow.load, "right", None if flow.feeder is Feeder.UNKNOWN else "right"),
                    _part("load", "Loads"),
                    _wire("to-battery", flow.battery, "down", _battery_way(flow)),
                    _part("battery", "Battery"),
                ],
                className="flow",
                role="img",
                **aria(label=told),
            ),
            html.P(
                [
                    "Solid: recorded. Dashed, ≈: worked out or assumed. ?: not recorded. ",
                    explained("How it is worked out", "power_flow"),
                ],
                className="note",
            ),
            html.Dl(
                [html.Div([html.Dt(name), html.Dd(value)]) for name, value in (*instruments(flow), *_rest(flow))],
                className="facts",
            ),
        ]
    )


def _bus(flow: PowerFlow) -> str:
    return "? V" if flow.bus is None else f"{flow.bus.value:.1f} V"


def _spoken(flow: PowerFlow) -> str:
    parts = (("Alternator", flow.alternator), ("battery", flow.battery), ("loads", flow.load))
    return ", ".join(f"{name} {current_words(current)}" for name, current in parts) + "."


def _rest(flow: PowerFlow) -> list[tuple[str, str]]:
    """Currents that no instrument showed, with what they rest on."""
    parts = (("Alternator output", flow.alternator), ("Battery current", flow.battery), ("Loads", flow.load))
    return [(name, current_words(current)) for name, current in parts if current is None or current.basis]


def _alternator_way(flow: PowerFlow) -> str | None:
    """Which way the alternator's current goes where its size is not known."""
    return "right" if flow.feeder in (Feeder.ALTERNATOR, Feeder.BOTH) else None


def _battery_way(flow: PowerFlow) -> str | None:
    """Which way the battery's current goes where its size is not known."""
    return "up" if flow.feeder in (Feeder.BATTERY, Feeder.BOTH, Feeder.STARTER) else None


def _part(kind: str, words: str) -> html.Div:
    return html.Div([html.Div(className=f"flow-symbol {kind}"), words], className=f"flow-part {kind}")


def _wire(name: str, current: Current | None, forward: str, known_way: str | None) -> html.Div:
    """A wire with its arrow: the way of the current, dashed where it is not recorded, bare where next to nothing.

    ``known_way`` is where it goes though nothing tells its size.
    """
    way = {"right": "left", "down": "up"}[forward]
    if current is None:
        looks: Any = ["unknown", *([known_way] if known_way else [])]
    elif next_to_nothing(current):
        looks = ["still"]
    else:
        looks = [forward if current.amps.value > 0.0 else way]
    if current is not None and current.basis:
        looks.append("assumed")
    return html.Div(html.Span(current_label(current)), className=" ".join(["flow-wire", name, *looks]))
