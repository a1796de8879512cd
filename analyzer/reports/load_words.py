"""An aircraft's own loads in words: for its page and the command."""

from __future__ import annotations

from analyzer.phrases import counted, times
from analyzer.trends.load_list import LoadList, OwnLoad

LOAD_HEAD = ("Load", "Came on", "Went off", "In flights", "When", "As large as")
#: One load in words, a cell under each of these.
LoadRow = tuple[str, str, str, str, str, str]
#: What goes before what was recorded.
LOAD_NOTES = (
    "Size alone does not tell which load it is; usual amperes are not this aircraft's. If you know which it is, say so "
    "in the aircraft's settings: plans then count with its own amperes. Loads of one size are listed as one; those on "
    "for a few seconds, or from start to stop, do not show. The aircraft's own load analysis and placards come first."
)


def load_rows(loads: LoadList) -> list[LoadRow]:
    """Each load: its size with its interval, how often it came on and went off, when, and what is as large."""
    return [
        (
            f"{one.amps.value:.1f} A ({one.amps.low:.1f} to {one.amps.high:.1f})",
            times(one.on) if one.on else "never",
            times(one.off) if one.off else "never",
            f"{one.flights} of {loads.flights}",
            _when(one),
            _alike(one),
        )
        for one in loads.loads
    ]


def load_line(row: LoadRow) -> str:
    """A load in one line, "5.5 A (5.1 to 5.9): came on 3 times and went off once, in 2 of 2 flights; ..."."""
    amps, on, off, flights, when, alike = row
    return f"{amps}: came on {on} and went off {off}, in {flights} flights; {when}; as large as {alike}"


def _when(one: OwnLoad) -> str:
    later = one.on + one.off - one.before_take_off
    told = [(one.before_take_off, "before take-off"), (later, "after take-off")]
    return ", ".join(f"{times(count)} {words}" for count, words in told if count)


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
