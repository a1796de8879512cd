"""An endurance plan as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from analyzer.limits import limit_value
from analyzer.measures.load_analysis import LoadAnalysis
from analyzer.measures.planning import Case, Preset
from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.text import Style, wrapped
from analyzer.reports.wording import interval_words, value_words


def plan_text(head: str, given: Preset, cases: Iterable[Case], form: LoadAnalysis | None, style: Style) -> str:
    """The plan: each case with its load, what to plan on and the interval; then where the numbers come from."""
    lines = [style.paint(head, "head")]
    for one in cases:
        if one.lasts.value is None:
            lines += wrapped(f"{one.words}: not measurable, {one.lasts.because}", "  ")
            continue
        lines += wrapped(
            f"{one.words:<34} {one.load:5.1f} A   plan on {value_words(one.lasts)}, {interval_words(one.lasts)}", "  "
        )
    if form is not None:
        lines += wrapped(form_words(form), "  ")
    for sentence in given.basis.values():
        lines += wrapped(sentence, "  ")
    return "\n".join([*lines, *wrapped(CAUTIONS[1], "  ")]) + "\n"


def form_words(form: LoadAnalysis) -> str:
    """What the load-analysis form comes to, as sentences."""
    return (
        f"Load-analysis form: {limit_value('form_noticed'):.0f} min at {form.normal:.1f} A, cruise at "
        f"{form.cruise:.1f} A, {limit_value('form_landing'):.0f} min of landing at {form.landing:.1f} A, from "
        f"{form.charge:.1f} Ah ({100.0 * form.share:.0f} % of rated; less in the cold and at a high load): "
        f"{int(form.minutes)} min. {met_words(form)}; it is not a finding of compliance."
    )


def met_words(form: LoadAnalysis) -> str:
    """Whether the form reaches the time that is asked for, or why nobody can say."""
    if form.met is not None:
        return f"This estimate {'meets' if form.met else 'does not meet'} the {form.required:.0f} min"
    because = (
        "the rated capacity is assumed"
        if form.capacity_assumed
        else f"the likely charge and condition make {int(form.likely)} min"
    )
    return f"Not enough is known to say whether {form.required:.0f} min are met: {because}"
