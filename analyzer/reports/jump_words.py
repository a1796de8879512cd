"""After a jump start, in words: for the page and the command."""

from __future__ import annotations

from analyzer.measures.jump_start import ChargeBack

#: Stands wherever charge after a jump start is told.
NEVER_A_GO = (
    "This is no go for the next flight. What charge and which checks a battery needs before flight, after it was flat "
    "or the engine was started with help, is for the maintenance manual and for a certificated person to find. A "
    "battery that was flat may have lost capacity for good, which its charge does not show."
)
CANNOT_TELL = "The log does not show the battery's charge before the start, so it cannot tell whether there was one."


def jump_sentences(back: ChargeBack) -> list[str]:
    """What speaks for it, how much is back at the least, and that it is no go."""
    nothing = "Nothing in the log shows one." if back.shows_start else CANNOT_TELL
    told = [f"Signs of it: {'; '.join(back.signs)}."] if back.signs else [nothing]
    if back.amp_hours is None:
        told.append(f"How much charge is back cannot be told: {back.because}.")
    else:
        share = "; its rated capacity is not known"
        if back.share is not None:
            share = f", {int(100.0 * back.share)} % of its rated {back.capacity:.0f} Ah"
        told.append(f"At least {_down(back.amp_hours)} Ah are back by the engine's stop{share}.")
    return [*told, NEVER_A_GO]


def _down(amp_hours: float) -> str:
    """Rounded down to a tenth."""
    return f"{int(10.0 * amp_hours + 1e-9) / 10.0:.1f}"
