"""The JSON of the contract for a plan of endurance: what ``taper plan`` prints."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from analyzer import CONTRACT
from analyzer.contract import iso
from analyzer.records.kept import KeptFlight
from analyzer.service.plan_endurance import EndurancePlan


class CaseEntry(Struct, frozen=True):
    """How long the battery lasts in one case."""

    case: str
    load: float
    plan_on: float | None
    value: float | None
    low: float | None
    high: float | None
    unit: str
    because: str | None


class CapacityEntry(Struct, frozen=True):
    """What this flight's stretch on battery alone shows of the capacity [Ah]; null ends where it was not run down."""

    minutes: float
    at_least: float
    value: float | None
    low: float | None
    high: float | None


class FormEntry(Struct, frozen=True):
    """What the load-analysis form comes to by the lower ends of what is known [min, A, Ah]; null ``met``: not known.

    An estimate, and no finding of compliance.
    """

    minutes: float
    likely: float
    required: float
    met: bool | None
    normal: float
    cruise: float
    landing: float
    charge: float
    share: float


class PlanEntry(Struct, frozen=True):
    """What ``taper plan --json`` prints."""

    contract: int
    tail: str | None
    flight: str | None
    load: float | None
    basis: Mapping[str, str]
    cases: tuple[CaseEntry, ...]
    capacity_shown: CapacityEntry | None = None
    load_analysis: FormEntry | None = None


def plan_entry(kept: KeptFlight, plan: EndurancePlan) -> PlanEntry:
    """A plan from a kept flight as the contract has it."""
    cases = tuple(
        CaseEntry(
            one.words, round(one.load, 2), one.lasts.low, one.lasts.value, one.lasts.low, one.lasts.high,
            one.lasts.unit, one.lasts.because,
        )
        for one in plan.cases
    )  # fmt: skip
    preset = plan.preset
    return PlanEntry(
        CONTRACT, kept.tail, iso(kept.start), preset.load, dict(preset.basis), cases, _capacity(plan), _form(plan)
    )


def _capacity(plan: EndurancePlan) -> CapacityEntry | None:
    shown = plan.preset.shown
    if shown is None:
        return None
    found = shown.capacity
    ends = (None,) * 3 if found is None else tuple(round(one, 2) for one in (found.value, found.low, found.high))
    return CapacityEntry(round(shown.minutes, 1), round(shown.given, 2), *ends)


def _form(plan: EndurancePlan) -> FormEntry | None:
    form = plan.form
    if form is None:
        return None
    return FormEntry(
        minutes=round(form.minutes, 1),
        likely=round(form.likely, 1),
        required=form.required,
        met=form.met,
        normal=round(form.normal, 2),
        cruise=round(form.cruise, 2),
        landing=round(form.landing, 2),
        charge=round(form.charge, 2),
        share=round(form.share, 3),
    )
