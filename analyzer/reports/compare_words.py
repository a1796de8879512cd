"""Two flights held against each other, in words: for the page and the command."""

from __future__ import annotations

from analyzer.measures.measure import Measure
from analyzer.reports.wording import measure_label, measure_words
from analyzer.service.compare_flights import Align, Compared, TwoFlights

ALIGNED = {Align.POWER_UP: "power up", Align.START: "engine start", Align.TAKE_OFF: "take-off"}
#: Said wherever two flights are held against each other.
NOT_A_FAULT = (
    "Differs: the 95 % intervals do not overlap. No clear difference: they do. Air, load, charge and engine speed make "
    "flights differ too; a difference alone is not a fault, and two flights show no trend."
)


def difference_words(one: Compared) -> str:
    """Whether a measure differs, or why that cannot be said."""
    if one.differs is None:
        return f"not compared: {one.because}"
    return "differs" if one.differs else "no clear difference"


def compared_rows(two: TwoFlights) -> list[tuple[str, str, str, str]]:
    """Each measure: its label, its value in either flight, and whether they differ; those that differ come first."""
    ordered = sorted(two.measures, key=lambda one: (one.differs is not True, one.differs is None))
    return [(_label(one), _value(one.first), _value(one.second), difference_words(one)) for one in ordered]


def _label(one: Compared) -> str:
    """The label of a measure, or of what it is in either flight."""
    return " / ".join(dict.fromkeys(measure_label(own) for own in (one.first, one.second)))


def _value(measure: Measure) -> str:
    return "not measurable" if measure.value is None else measure_words(measure)


def aligned_words(two: TwoFlights) -> str:
    """At which moment they are laid over each other."""
    if two.unaligned:
        return f"Not lined up at the {ALIGNED[two.align]}: {two.unaligned}."
    return f"Lined up at the {ALIGNED[two.align]}, minute 0."
