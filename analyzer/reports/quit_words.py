"""What would follow if the alternator quit at a moment, in sentences: for the page and the command."""

from __future__ import annotations

from analyzer.measures.alternator_quit import AlternatorQuits, Light
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.wording import interval_words, value_words

#: Said beside every case with the master off.
MASTER_OFF = (
    "With the master off nothing electric works: no radio, transponder, lights, flaps or gear, and no engine whose "
    "ignition or fuel needs the bus. Whether and when it may be off is for the flight manual."
)
_LIGHTS = {
    Light.ON_ALREADY: "is on already.",
    Light.WITHIN_A_MINUTE: "would come on within a minute.",
    Light.PERHAPS_LATER: "may come on within a minute or only as the bus sags; do not wait for it.",
    Light.WITH_THE_BATTERY: "would not come on until the battery is nearly empty: too late to warn.",
    Light.UNKNOWN: "may come on late or never: the voltage that the battery would hold is not known.",
}


def quit_sentences(said: AlternatorQuits) -> list[str]:
    """The bus just after and the light; or why nothing can be told."""
    if said.because is not None:
        return [f"What would happen if the alternator quit here is not known: {said.because}."]
    told = []
    if said.bus is not None and said.bus.low is not None and said.bus.high is not None:
        before = "" if said.flow.bus is None else f" from {said.flow.bus.value:.1f} V"
        told.append(
            f"The bus would go{before} to about {said.bus.value:.1f} V ({said.bus.low:.1f} to {said.bus.high:.1f} V, "
            "worked out) within a minute: battery voltage under load."
        )
    at = said.flow.light_at
    volts = "" if at is None else f" ({at.value:.1f} V{', assumed' if at.assumed else ''})"
    told.append(f"A low-voltage light{volts} {_LIGHTS[said.light]}")
    return told


def case_rows(said: AlternatorQuits) -> list[tuple[str, str, str, str]]:
    """Each case: its words, its load, what to plan on and the interval."""
    return [
        (one.words, f"{one.load:.1f} A", f"not measurable: {one.lasts.because}", "")
        if one.lasts.value is None
        else (one.words, f"{one.load:.1f} A", value_words(one.lasts), interval_words(one.lasts))
        for one in said.cases
    ]


def quit_notes(said: AlternatorQuits) -> list[str]:
    """What the minutes rest on, what is assumed, and the cautions."""
    off = [MASTER_OFF] if any("master off" in one.words for one in said.cases) else []
    return [*said.basis, *off, CAUTIONS[1]] if said.because is None else []
