"""An aircraft's own loads in words: for its page and the command."""

from __future__ import annotations

from analyzer.phrases import counted
from analyzer.trends.load_list import LoadList, OwnLoad

LOAD_HEAD = ("Load", "Came on", "Went off", "In flights", "When", "As large as")
#: What goes before what was recorded.
LOAD_NOTES = (
    "Size alone does not tell which load it is; usual amperes are not this aircraft's. If you know which it is, say so "
    "in the aircraft's settings: plans then count with its own amperes. Loads of one size are listed as one; those on "
    "for a few seconds, or from start to stop, do not show. The aircraft's own load analysis and placards come first."
)


def load_rows(loads: LoadList) -> list[tuple[str, str, str, str, str, str]]:
    """Each load: its size with its interval, how often it came on and went off, when, and what is as large."""
    return [
        (
            f"{one.amps.value:.1f} A ({one.amps.low:.1f} to {one.amps.high:.1f})",
            f"{one.on}",
            f"{one.off}",
            f"{one.flights} of {loads.flights}",
            _when(one),
            _alike(one),
        )
        for one in loads.loads
    ]


def _when(one: OwnLoad) -> str:
    later = one.on + one.off - one.before_take_off
    told = [(one.before_take_off, "before take-off"), (later, "after it")]
    return ", ".join(f"{count} {words}" for count, words in told if count)


def _alike(one: OwnLoad) -> str:
    if not one.as_large_as:
        return "no usual load"
    return ", ".join(one.as_large_as) + (" (from the settings)" if one.named else "")


def load_sentence(loads: LoadList) -> str:
    """What the list rests on, or why there is none."""
    if loads.because is not None:
        return f"Not measurable: {loads.because}."
    others = (
        f" {counted(loads.other_steps, 'step')} of other sizes came too seldom to list." if loads.other_steps else ""
    )
    return f"Lasting steps of the load in {counted(loads.flights, 'flight')}.{others}"
