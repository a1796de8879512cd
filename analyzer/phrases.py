"""Counts and lengths of time in words: one plural and one duration for rules, texts, sheets and pages."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from datetime import date


def counted(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun, "1 flight", "1,200 flights", "3 tries"."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def times(count: int) -> str:
    """How often, "once", "3 times"."""
    return "once" if count == 1 else f"{count:,} times"


def chance(share: float) -> str:
    """A chance as a person says it: "1 in 4", "2 in 3"; no more is said of one that is beyond 9 in 10."""
    if share > 0.9:
        return "more than 9 in 10"
    if share < 0.2:
        return f"1 in {round(1.0 / share)}"
    from fractions import Fraction  # which loads decimal numbers, for one sentence of few flights

    part = Fraction(share).limit_denominator(5 if share <= 0.8 else 10)
    return f"{part.numerator} in {part.denominator}"


def nearest(name: str, known: Iterable[str]) -> str:
    """The known name that is written most alike, "; did you mean N074LF?"; empty where none is."""
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.6)
    return f"; did you mean {near[0]}?" if near else ""


def not_found(tails: Sequence[str], known: Iterable[str]) -> str:
    """That no flight of some aircraft was found, and the nearest that is there, or all that are."""
    listed = sorted(known)
    there = nearest(tails[0], listed) or f"; aircraft found: {', '.join(listed) or 'none'}"
    return f"no flight of {', '.join(tails)} was found{there}"


def not_kept_yet(tail: str, known: Iterable[str]) -> str:
    """That something is said of an aircraft without flights, which may be a slip of the pen."""
    return f"No flight of {tail} is kept yet{nearest(tail, known) or '; is its tail written so?'}"


def figures(value: float, digits: int = 4) -> str:
    """A number to so many figures and no further decimals, "15.82", "12540": never as a power of ten."""
    return f"{float(f'{value:.{digits}g}') + 0.0:.10g}"


def fixed(value: float, digits: int = 0) -> str:
    """A number with so many decimals, "-0.3"; what rounds to nothing has no sign, "0.0"."""
    shown = f"{value:.{digits}f}"
    return shown.removeprefix("-") if float(shown) == 0.0 else shown


def signed(value: float, digits: int = 3) -> str:
    """The same with its sign, "+0.25", "-12"."""
    return f"{'-' if value < 0.0 else '+'}{figures(abs(value), digits)}"


def day(moment: date) -> str:
    """A day, "2026-05-09": the one form of texts, pages, files and the fields in which days are entered."""
    return f"{moment:%Y-%m-%d}"


def bus_volts(volts: float) -> str:
    """A voltage of a bus as a person says it: "12.4 V"; below none it is a meter's error, "0 V"."""
    return "0 V" if volts < 0.0 else f"{volts:.1f} V"


def duration(seconds: float) -> str:
    """A length of time as a person says it: "2 s", "49 s", "2.4 min", "49 min", "1 h 12 min"."""
    if seconds < 90.0:
        return f"{max(1, round(seconds))} s"
    if seconds < 600.0:
        return f"{seconds / 60.0:.1f}".removesuffix(".0") + " min"
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"
