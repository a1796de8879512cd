"""Planning on the battery alone: a chosen load, charge, temperature and condition, for page and command.

What to plan on is the lower end of the interval: a battery may be down to half its capacity before its flights show it,
and who plans on the middle runs out of battery on half the flights.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from msgspec import Struct, field

from analyzer.aircraft import Battery
from analyzer.flights.flight import Flight
from analyzer.limits import limit_value
from analyzer.loads import Load, loads_of, night_loads
from analyzer.measures.battery_life import (
    BatteryKnown,
    RunDown,
    Share,
    battery_life,
    condition_by_test,
    known_condition,
)
from analyzer.measures.capacity import CapacityShown, capacity_shown
from analyzer.measures.charge_now import ChargeUnknownError, charge_after
from analyzer.measures.endurance import (
    ESSENTIAL_SOURCE,
    battery_kind,
    battery_temperature,
    charge_share,
    charge_unknown,
    observed_load,
)
from analyzer.measures.measure import Assumption, Measure, measured, not_measurable
from analyzer.measures.plan_numbers import NUMBERS
from analyzer.phrases import day


class Preset(Struct, frozen=True):
    """What a plan begins with, as far as one flight and the records tell it."""

    load: float | None  # [A]; None where nothing tells it
    capacity: float  # rated, at the one-hour rate [Ah]
    charge: Share | None  # None where the recording leaves it unknown
    temperature: float  # of the battery [degC]
    condition: Share
    battery: Battery | None
    nominal_voltage: int
    floor: float | None  # essential load [A]
    basis: Mapping[str, str]  # where each comes from, a sentence
    capacity_assumed: bool = False  # whether the rated capacity is a usual one and not this battery's
    shown: CapacityShown | None = None  # what this flight's stretch on battery alone shows of the capacity
    load_more: float = 0.0  # by how much the load may be higher [A]; nothing where a person names it
    own_loads: Mapping[str, float] = field(default_factory=dict)  # of the aircraft's settings, by name [A]
    night: tuple[str, ...] = ()  # names of the loads that are added for the night where nobody says otherwise
    tested: bool = False  # whether the condition rests on a capacity test that still counts

    @property
    def loads(self) -> tuple[Load, ...]:
        """The loads that may be added or shed."""
        return loads_of(self.nominal_voltage, self.own_loads)

    @property
    def held(self) -> dict[str, float]:
        """The ``NUMBERS`` that it begins with, in their units; no condition without a test, nor what is not known."""
        told = {"load": self.load, "capacity": self.capacity, "temperature": self.temperature}
        told["charge"] = None if self.charge is None else 100.0 * self.charge.value
        told["condition"] = 100.0 * self.condition.value if self.tested else None
        return {name: value for name, value in told.items() if value is not None}


def preset(flight: Flight, measures: Mapping[str, Measure], known: BatteryKnown, today: datetime) -> Preset:
    """Give what a plan that is made today begins with; ``known`` is what the records know of the battery."""
    observed, source = observed_load(flight, measures["bus_load"])
    load = None if observed is None else observed.value
    battery = battery_kind(flight)
    charge, how = charge_share(flight, measures["resting_charge"])
    usual = condition = known_condition(known, battery, today)
    rated, shown = flight.limits["battery_capacity"], capacity_shown(flight, measures["resting_charge"])
    assumed = flight.aircraft.battery_capacity is None
    run_down = list(known.run_down)
    if shown is not None and shown.capacity is not None and known.counts(flight.start):
        run_down.append(RunDown(flight.start, shown.capacity))
    for one in run_down:
        condition = _not_above(condition, one.capacity, rated)
    unknown, left = charge_unknown(flight, measures["resting_charge"]), ""
    try:
        charge, left = charge_after(flight, measures, charge, condition)
    except ChargeUnknownError as problem:
        unknown = unknown or str(problem)
    basis = {"load": load_words(flight, load, source) if load else "This flight does not show the load; enter it."}
    if observed is not None and source != ESSENTIAL_SOURCE and _may_be_dark(flight):
        basis["night"] = _night_words(flight)
    if flight.nominal_voltage is None:
        basis["nominal_voltage"] = (
            "The system voltage is not known; usual loads and capacity are those of a 14 V aircraft."
        )
    if unknown is not None:
        basis["charge"] = f"Charge is not known: {unknown}. Enter it from a test."
    elif told := " ".join(f"{words[2].upper()}{words[3:]}." for words in (how, left) if words):
        basis["charge"] = told
    if assumed:
        basis["capacity"] = f"Rated capacity is not in the aircraft's settings; {rated:.0f} Ah is assumed."
    less = (condition.low, condition.high) != (usual.low, usual.high)
    lowest = min(run_down, key=lambda one: one.capacity.low) if less else None
    basis["condition"] = condition_words(known, condition, today, lowest)
    if shown is not None:
        later = "" if known.counts(flight.start) else _superseded(known)
        basis["capacity_shown"] = shown_words(shown, rated, assumed) + later
    return Preset(
        load=load,
        capacity=rated,
        charge=None if unknown is not None else charge,
        temperature=battery_temperature(flight),
        condition=condition,
        battery=battery,
        nominal_voltage=flight.nominal_voltage or 14,
        floor=flight.aircraft.essential_load,
        basis=basis,
        capacity_assumed=assumed,
        shown=shown,
        load_more=0.0 if observed is None else observed.high - observed.value,
        own_loads=flight.aircraft.loads,
        night=tuple(night_loads(flight.nominal_voltage or 14)),
        tested=known.tested is not None and condition_by_test(known.tested, today) is not None,
    )


def otherwise(given: Mapping[str, float], held: Mapping[str, float]) -> dict[str, float]:
    """What a person gives that is not what a plan began with, which fields show to a tenth: that keeps its interval."""
    return {name: value for name, value in given.items() if name not in held or round(held[name], 1) != round(value, 1)}


def basis_with(basis: Mapping[str, str], given: Mapping[str, float], *, night_given: bool) -> dict[str, str]:
    """Give where each comes from once a person gives some of the ``NUMBERS``, in their units, or the night loads."""
    instead = {*given, *(("night",) if night_given or "load" in given else ())}
    told = {name: words for name, words in basis.items() if name not in instead}
    values = (f"{name} {value:g} {NUMBERS[name].unit}".replace("degC", "°C") for name, value in given.items())
    return told | ({"given": f"As given: {', '.join(values)}."} if given else {})


def _may_be_dark(flight: Flight) -> bool:
    """Whether the middle of a flight lies between evening and morning by the log's clock.

    Its clock may run on another zone's time, so that this never proves that it was dark, and leaves no case out.
    """
    if flight.start is None:
        return False
    middle = flight.start + timedelta(seconds=0.5 * (flight.to_s - flight.from_s))
    return not limit_value("night_ends") <= middle.hour < limit_value("night_begins")


def _night_words(flight: Flight) -> str:
    """That the night case may count some lights twice, as sentences."""
    begins, ends = (flight.clock(seconds) or "" for seconds in (flight.from_s, flight.to_s))
    return (
        f"Flown {begins[11:16]} to {ends[11:16]} by the log's clock: night lights may be in this load already. Then "
        "the night case counts them twice and is shorter than it need be; leave out those that were on."
    )


def _superseded(known: BatteryKnown) -> str:
    """Why what a flight showed does not count, behind its sentence."""
    by_test = known.tested is not None and known.tested.when == known.since
    return f" The battery was {'tested' if by_test else 'replaced'} since; that counts instead."


#: Said where the fleet file's essential load alone is known: what was on as flown is more.
ESSENTIAL_ONLY = "because no ammeter shows what was on; until all else is off the battery drains faster"


def load_words(flight: Flight, load: float, source: str) -> str:
    """What tells the load, as a sentence; ``source`` as ``observed_load`` gives it."""
    only = f", {ESSENTIAL_ONLY}" if load == flight.aircraft.essential_load else ""
    return f"Load: {source.removeprefix('at ')}{only}."


def _not_above(condition: Share, capacity: Share, rated: float) -> Share:
    """A condition that is no better than what was shown; what was shown never makes it better than was known."""
    ends = ((condition.value, capacity.value), (condition.low, capacity.low), (condition.high, capacity.high))
    return Share(*(min(known, found / rated) for known, found in ends))


def shown_words(shown: CapacityShown, rated: float, assumed: bool) -> str:
    """What a stretch on battery alone shows of the capacity, against the rated one [Ah], as a sentence.

    Against an assumed rated capacity no share says how worn a battery is: it may be a small one.
    """
    time, of_rated = f"{shown.minutes:.0f} min without the alternator", f"{rated:.0f} Ah"
    if assumed:
        of_rated = f"the assumed {of_rated}"
    if shown.capacity is None:
        share = 100.0 * shown.given / rated
        return (
            f"Capacity: {time} shows at least {shown.given:.1f} Ah at the one-hour rate, {share:.0f} % of {of_rated}; "
            "the battery was not run down, so how much more it holds is not known."
        )
    low, high = shown.capacity.low, shown.capacity.high
    told = (
        f"Capacity: {time} ran the battery down, which makes {low:.1f} to {high:.1f} Ah at the "
        f"one-hour rate, {100.0 * low / rated:.0f} to {100.0 * high / rated:.0f} % of {of_rated}"
    )
    if assumed:
        return f"{told}; how worn that makes it is not known without its rated capacity."
    end = limit_value("capacity_worn_most")
    stands = "below" if high < end * rated else "above" if low >= end * rated else "on either side of"
    return f"{told}: {stands} the {100.0 * end:.0f} % at which a battery is usually replaced (common practice)."


def condition_words(known: BatteryKnown, condition: Share, today: datetime, run_down: RunDown | None) -> str:
    """Say what the condition rests on: a test, its age, what the flights show, and one that ran the battery down."""
    span = f"{100.0 * condition.low:.0f} to {100.0 * condition.high:.0f} % of rated capacity is assumed"
    seen = ["the battery shows wear"] if known.worn else []
    if run_down is not None:
        on = "a flight without a clock" if run_down.when is None else f"the flight of {day(run_down.when)}"
        seen.append(f"a stretch on battery alone in {on} showed less")
    shown = " and ".join(seen) or "a battery can be half worn before it shows"
    shown = shown[0].upper() + shown[1:]
    if known.tested is None:
        return f"{shown}: {span} until a capacity test says otherwise."
    told = f"Capacity test of {day(known.tested.when)}: {known.tested.capacity:g} % of rated."
    if condition_by_test(known.tested, today) is None:
        months = limit_value("capacity_test_holds")
        return f"{told} It is older than {months:.0f} months. {shown}: {span} until it is tested again."
    if run_down is not None:
        return f"{told} {shown}: {span} today."
    since = " The battery shows wear since." if known.worn else ""
    return f"{told}{since} {span[0].upper()}{span[1:]} today."


class Case(Struct, frozen=True):
    """One case of a plan."""

    words: str
    load: float  # [A]
    lasts: Measure  # the measure ``endurance``


def plan(given: Preset, night: Iterable[str] = (), shed: Iterable[str] = ()) -> tuple[Case, ...]:
    """Give how long the battery carries each case: as flown, with loads added for the night, after shedding.

    ``night`` and ``shed`` name loads. A load or charge that is not known makes no case measurable.
    """
    amps = {one.name: one.amps for one in given.loads}
    added, gone = [amps[name] for name in night], [amps[name] for name in shed]
    if given.load is None or given.charge is None:
        missing = "the load" if given.load is None else "the charge"
        return (Case("At this load", 0.0, not_measurable("endurance", f"{missing} is not known")),)
    floor = given.floor or 0.0
    cases = [("At this load", given.load)]
    cases += [("At this load, after shedding", load_after(given.load, (), gone, floor))] if gone else []
    cases += [("Night loads added", load_after(given.load, added, (), floor))] if added else []
    cases += (
        [("Night loads added, after shedding", load_after(given.load, added, gone, floor))] if added and gone else []
    )
    kept = (given.capacity, given.charge, given.temperature, given.condition, given.battery)
    return tuple(Case(words, load, planned_endurance(load, *kept, more=given.load_more)) for words, load in cases)


def load_after(observed: float, added: Iterable[float], shed: Iterable[float], floor: float) -> float:
    """Load after some are switched on and others shed [A], not below ``floor``: something stays on."""
    everything = observed + sum(added)
    return max(min(floor, everything), everything - sum(shed))


def about(percent: float) -> Share:
    """A charge or condition that a person gives [%]: known to within a tenth."""
    spread, share = limit_value("plan_spread"), percent / 100.0
    return Share(share, share * (1.0 - spread), min(1.0, share * (1.0 + spread)))


def planned_endurance(
    load: float,
    capacity: float,
    charge: Share,
    temperature: float,
    condition: Share,
    battery: Battery | None = None,
    *,
    more: float = 0.0,
) -> Measure:
    """Minutes that a battery carries a chosen load, for planning on the ground: see ``battery_life``.

    Parameters
    ----------
    load : to be carried [A]
    capacity : rated, at the one-hour rate [Ah]
    charge : state of charge, a share of 1
    temperature : of the battery [degC]
    condition : share of the rated capacity that the battery still has; 0.8 is where many manuals end its service
        (common practice)
    battery : its kind, None when unknown: then it is taken as lead-acid, and the note says so
    more : by how much the load may be higher [A], at which the low end stands

    Returns
    -------
    The measure ``endurance``. Not measurable where a value is not above zero.
    """
    name = "endurance"
    if charge.value <= 0.0 < min(load, capacity, condition.value):
        return not_measurable(name, "nothing may be left in the battery")
    if min(load, capacity, charge.value, condition.value) <= 0.0:
        return not_measurable(name, "load, capacity, charge and condition must all be above zero")
    kept = (capacity, charge, temperature, condition, battery)
    life, shortest = battery_life(load, *kept), battery_life(load + more, *kept)
    taken = [Assumption.LEAD_ACID] if battery is None else []
    return measured(name, life.value, shortest.low, life.high, [*taken, f"at {load:.1f} A"])
