"""After a jump start, in words: for the page and the command."""

from __future__ import annotations

from analyzer.measures.jump_start import ChargeBack

#: Stands wherever charge after a jump start is told.
NEVER_A_GO = (
    "This does not clear the aircraft for its next flight. What charge and checks a battery needs before flight, after "
    "it was flat or the engine was jump-started, is for the maintenance manual and a certificated person to say. A "
    "battery that was flat may have lost capacity for good, which its charge does not show."
)
CANNOT_TELL = "The log does not show the battery's charge before the start, so it cannot show whether there was one."


def jump_sentences(back: ChargeBack) -> list[str]:
    """What speaks for it, how much is back at the least, and that it clears no flight."""
    nothing = "Nothing in the log shows one." if back.shows_start else CANNOT_TELL
    told = [f"Signs of it: {'; '.join(back.signs)}."] if back.signs else [nothing]
    if back.amp_hours is None:
        told.append(f"How much charge is back is not known: {back.because}.")
    else:
        share = "; its rated capacity is not known"
        if back.share is not None:
            share = f", {_down(100.0 * back.share, 0)} % of its rated {back.capacity:.0f} Ah"
        told.append(f"At least {_down(back.amp_hours)} Ah was back by engine stop{share}.")
    return [*told, NEVER_A_GO]


def _down(value: float, digits: int = 1) -> str:
    """Rounded down to so many decimals; what a sum of fractions misses by its last digit is not taken off."""
    parts = 10.0**digits
    return f"{int(parts * value + 1e-9) / parts:.{digits}f}"
