"""The load-analysis form: whether a battery carries an emergency's loads for the time that rules of design ask for.

Some minutes at the normal load until the loss is noticed, cruise after shedding, and the landing at all that it needs:
the method of two aircraft equipment installation manuals, whose worked example is a check value.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from msgspec import Struct

from analyzer.limits import limit_value
from analyzer.measures.battery_facts import temperature_factor
from analyzer.measures.battery_life import Share, battery_life
from analyzer.measures.planning import Preset, load_after

LANDING_LIGHT = "landing_light"


class LoadAnalysis(Struct, frozen=True):
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
    less in the cold and at a load above its one-hour rate. The sure minutes take the lower ends of condition and
    charge, for a battery may be half worn before it shows, and the most that the load may be. The landing is flown at
    the normal load and with the landing light; nothing is shed for it.
    """
    if given.load is None or given.load <= 0.0 or given.charge is None:
        return None
    amps = {one.name: one.amps for one in given.loads}
    normal = given.load + sum(amps[name] for name in night)
    cruise = load_after(given.load, [amps[name] for name in night], [amps[name] for name in shed], given.floor or 0.0)
    landing = normal + (0.0 if LANDING_LIGHT in night else amps[LANDING_LIGHT])
    full = limit_value("form_share")
    sure = _Filled(min(full, given.condition.low), given.charge.low, sure=True)
    likely = _Filled(min(full, given.condition.value), given.charge.value, sure=False)
    if cruise <= 0.0 or likely.share <= 0.0:
        return None
    loads = (normal, cruise, landing)
    return LoadAnalysis(
        sure.minutes(given, [one + given.load_more for one in loads]), likely.minutes(given, loads), *loads,
        sure.charge_of(given), sure.share, given.capacity_assumed,
    )  # fmt: skip


class _Filled(Struct, frozen=True):
    """What the form is filled in with: a condition and a charge, shares of 1."""

    condition: float
    charge: float
    sure: bool  # whether the sure minutes are asked for, not the likely ones

    @property
    def share(self) -> float:
        """Share of the rated capacity that is in the battery, before the cold."""
        return self.condition * min(1.0, self.charge)

    def charge_of(self, given: Preset) -> float:
        """Charge to begin with [Ah]."""
        return self.share * given.capacity / max(1.0, temperature_factor(given.temperature))

    def minutes(self, given: Preset, loads: Iterable[float]) -> float:
        """Minutes by the form, each load drawing what it takes out of a battery that gives less at a high rate.

        The form counts ampere-hours alike at any load. The cases of a plan do not, and it must not outlast them.
        """
        charge = self.charge_of(given)
        if charge <= 0.0:
            return 0.0
        return form_minutes(charge, *(max(amps, 60.0 * charge / self._lasts(given, amps)) for amps in loads))

    def _lasts(self, given: Preset, amps: float) -> float:
        """Minutes that the battery carries one load."""
        charge, condition = (Share(own, own, own) for own in (min(1.0, self.charge), self.condition))
        life = battery_life(amps, given.capacity, charge, given.temperature, condition, given.battery)
        return life.low if self.sure else life.value
