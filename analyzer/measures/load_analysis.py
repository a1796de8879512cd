"""The load-analysis form: whether a battery carries an emergency's loads for the time that rules of design ask for.

Some minutes at the normal load until the loss is noticed, cruise after shedding, and the landing at all that it needs:
the method of two aircraft equipment installation manuals, whose worked example is a check value.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from analyzer.limits import limit_value
from analyzer.measures.battery_facts import temperature_factor
from analyzer.measures.planning import Preset, load_after

LANDING_LIGHT = "landing_light"


@dataclass(frozen=True, slots=True)
class LoadAnalysis:
    """What the form comes to, by the lower ends of what is known. An estimate, and no finding of compliance."""

    minutes: float
    likely: float  # minutes by the likely charge and condition instead
    normal: float  # [A] until the loss is noticed
    cruise: float  # [A] after shedding
    landing: float  # [A]
    charge: float  # that the form begins with [Ah]
    share: float  # of rated capacity that this is, before the cold
    capacity_assumed: bool  # whether nobody knows the rated capacity

    @property
    def required(self) -> float:
        """Time that is asked for [min]."""
        return limit_value("form_required")

    @property
    def met(self) -> bool | None:
        """Whether this estimate reaches it; None where not enough is known to say."""
        surely, likely = self.minutes >= self.required, self.likely >= self.required
        return None if self.capacity_assumed or surely != likely else surely


def form_minutes(charge: float, normal: float, cruise: float, landing: float) -> float:
    """Minutes by the form: ``noticed + (60 C - noticed normal - descent landing) / cruise + descent``.

    Parameters
    ----------
    charge : C, to begin with [Ah]
    normal, cruise, landing : loads [A], above zero

    Where the charge does not last to the landing's end no cruise is left, and it ends where the charge does.
    """
    noticed, descent = limit_value("form_noticed"), limit_value("form_landing")
    left = 60.0 * charge - noticed * normal
    if left <= 0.0:
        return 60.0 * charge / normal
    if left < descent * landing:
        return noticed + left / landing
    return noticed + descent + (left - descent * landing) / cruise


def load_analysis(given: Preset, night: Collection[str] = (), shed: Collection[str] = ()) -> LoadAnalysis | None:
    """Fill in the form from a plan; None where the load or the charge is not known.

    The battery has ``form_share`` of its rated capacity, or less where less is known of its condition or charge, and
    less in the cold. The sure minutes take the lower ends of condition and charge, for a battery may be half worn
    before it shows, and the most that the load may be. The landing is flown at the normal load and with the landing
    light; nothing is shed for it.
    """
    if given.load is None or given.load <= 0.0 or given.charge is None:
        return None
    amps = {one.name: one.amps for one in given.loads}
    normal = given.load + sum(amps[name] for name in night)
    cruise = load_after(given.load, [amps[name] for name in night], [amps[name] for name in shed], given.floor or 0.0)
    landing = normal + (0.0 if LANDING_LIGHT in night else amps[LANDING_LIGHT])
    share, likely = (
        min(limit_value("form_share"), condition) * min(1.0, charge)
        for condition, charge in (
            (given.condition.low, given.charge.low),
            (given.condition.value, given.charge.value),
        )
    )
    rated = given.capacity / max(1.0, temperature_factor(given.temperature))
    if min(cruise, likely * rated) <= 0.0:
        return None
    loads = (normal, cruise, landing)
    most = (one + given.load_more for one in loads)
    return LoadAnalysis(
        form_minutes(share * rated, *most), form_minutes(likely * rated, *loads), *loads, share * rated, share,
        given.capacity_assumed,
    )  # fmt: skip
