"""Where the power goes at one moment, in a sentence and as labels: for the page's drawing and the command's text."""

from __future__ import annotations

from analyzer.limits import limit_value
from analyzer.measures.power_flow import BY_TAPER, Current, Feeder, PowerFlow


def next_to_nothing(current: Current) -> bool:
    """Whether a current is no more than a charged battery takes."""
    return abs(current.amps.value) < limit_value("settled_most")


def flow_sentence(flow: PowerFlow) -> str:
    """Why the current goes as it does, in one sentence."""
    at = "" if flow.bus is None else f" at {flow.bus.value:.1f} V"
    if flow.feeder is Feeder.STARTER:
        dips = "" if flow.bus is None else f", and the bus dips to {flow.bus.value:.1f} V"
        return f"The starter draws hundreds of amperes from the battery{dips}."
    if flow.feeder is Feeder.OUTSIDE:
        return "The alternator is not turning, yet the battery is charging: external power feeds the bus."
    if flow.feeder is Feeder.UNKNOWN:
        return "No reading shows what feeds the bus."
    if flow.feeder is Feeder.BATTERY:
        why = "The alternator gives nothing" if flow.running else "The alternator is not turning"
        return f"{why}, so the battery{at} feeds the bus{_giving(flow.battery)}."
    if flow.feeder is Feeder.BOTH:
        to = "" if flow.bus is None else f" to {flow.bus.value:.1f} V"
        return f"The alternator cannot carry the load on its own; the bus sags{to} until the battery adds the rest" + (
            f"{_giving(flow.battery)}."
        )
    return f"The alternator{at} is above battery voltage, so it feeds the bus{_charging(flow.battery)}."


def _giving(battery: Current | None) -> str:
    if battery is None or battery.amps.value > -limit_value("settled_most"):
        return ""
    return f", {_about(battery)}{-battery.amps.value:.0f} A"


def _charging(battery: Current | None) -> str:
    if battery is None:
        return "; what the battery takes is not recorded"
    if next_to_nothing(battery):
        return f", and the battery takes next to nothing{_by_what(battery)}"
    if battery.amps.value < 0.0:
        return f", while the battery still gives {_about(battery)}{-battery.amps.value:.0f} A"
    return f" and puts {_about(battery)}{battery.amps.value:.0f} A into the battery"


def _by_what(battery: Current) -> str:
    return f", judged {battery.basis}" if battery.basis == BY_TAPER else ""


def _about(current: Current) -> str:
    return "about " if current.basis else ""


def current_label(current: Current | None) -> str:
    """A current as the drawing has it: its size with its unit; "?" where nothing tells it."""
    return "?" if current is None else f"{_about(current).replace('about', '≈')}{abs(current.amps.value):.0f} A"


def current_words(current: Current | None) -> str:
    """A current with its sign, its interval and what it rests on."""
    if current is None:
        return "not recorded"
    amps = current.amps
    value = f"{amps.value:+.1f} A".replace("-", "−").replace("+0.0", "0.0").replace("−0.0", "0.0")
    if not current.basis:
        return value
    within = "" if amps.low is None or amps.high is None else f" ({_whole(amps.low)} to {_whole(amps.high)} A)"
    return f"{value}{within}, {current.basis}"


def _whole(amps: float) -> str:
    return f"{round(amps) + 0:d}".replace("-", "−")


def instruments(flow: PowerFlow) -> list[tuple[str, str]]:
    """What the pilot's instruments showed, and what a low-voltage light would have."""
    told = [("Voltmeter", "not recorded" if flow.bus is None else f"{flow.bus.value:.1f} V")]
    if flow.alternator and not flow.alternator.basis:
        told.append(("Alternator ammeter", current_words(flow.alternator)))
    if flow.battery and not flow.battery.basis:
        told.append(("Battery ammeter", current_words(flow.battery)))
    if flow.light_on is not None and flow.light_at is not None:
        at = f"comes on below {flow.light_at.value:.1f} V" + (", assumed" if flow.light_at.assumed else "")
        told.append(("Low-voltage light", f"{'on' if flow.light_on else 'off'} ({at})"))
    return told


def flow_line(flow: PowerFlow) -> str:
    """The three currents in one line of text."""
    parts = (("alternator", flow.alternator), ("battery", flow.battery), ("loads", flow.load))
    return "; ".join(f"{name} {current_words(current)}" for name, current in parts) + "."
