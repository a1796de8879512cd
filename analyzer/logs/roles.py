"""Which column plays which role, judged by header, unit and readings together.

Confidence is a sum of evidence, cut off at 0.99: 0.6 for a header whose words name the role's quantity
(0.5 when only the unit does), up to 0.15 for words that say where it is measured, 0.15 for a unit of that
quantity, 0.1 for readings that such a quantity can have; less 0.25 for each word that nobody explains
and 0.3 for readings that it cannot have. Below 0.4 a column is left alone. A column named by the user
has confidence 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from analyzer.corrections import rests_on_corrections
from analyzer.logs.log import ROLE_UNITS
from analyzer.logs.remembered import HEADS, remembered
from analyzer.logs.units import QUANTITY_OF_UNIT, UNITS
from analyzer.logs.words import ATTACHED, Meaning, RoleRule, meaning, unit_of, vocabulary
from analyzer.phrases import figures
from analyzer.series import middle, percentile, percentiles

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST = 0.4
CURRENTS = frozenset({"battery_current", "alternator_current", "alternator_current_2"})
#: Without one of these a log tells nothing of the electrical system.
ELECTRICAL = frozenset({"bus_voltage", "bus_voltage_2", "ammeter_current", *CURRENTS})
SPEEDS = frozenset({"engine_speed", "airspeed", "ground_speed"})
#: A second one of its kind, and the first: where no first is recorded, the second is the only one.
FIRST_OF = {"bus_voltage_2": "bus_voltage", "engine_speed_2": "engine_speed"}
#: What the name of a group says of every column in it.
GROUP_TELLS = frozenset({"foreign", "second", "backup"})
NAMED, BY_UNIT, PLACE, UNIT_AGREES, READINGS = 0.6, 0.5, 0.15, 0.15, 0.1
UNEXPLAINED, IMPLAUSIBLE, DEAD, BY_READINGS = 0.25, 0.3, 0.4, 0.35

#: Volts of a bus, resting to charging, 14 V or 28 V; and how far they move at least when something happens.
#: Common practice; used only where no header names a voltage.
BUS_V = (9.0, 33.0)
#: Share of a log's readings [%] that a bus must keep where a bus can be; the rest may be a runaway regulator.
MOST_V_PERCENT = 70
BUS_MOVES_V = 0.4

#: A current that stays within this of its middle [A] while the bus moves by so many volts is none [V].
#: Ours: between resting, cranking and charging every battery and alternator carries amperes.
STILL_A, STILL_WHILE_V = 0.1, 1.0
#: Words of current that have another meaning.
DOUBTFUL_CURRENT = frozenset({"current", "load", "i", "intensity"})
#: Roles of a second one, which nothing but zeros or blanks shows not to be fitted.
MUST_READ = frozenset({"bus_voltage_2", "backup_voltage"})
#: Share of a log's readings [%] beyond what its role can read that makes a column another thing; less are faults.
IMPOSSIBLE_PERCENT = 25

#: Outside air temperature that stays at or below this, within a degree or two, is an open probe [degC].
#: Common practice: no flight begins and ends there.
OPEN_PROBE_DEGC = -40.0
OPEN_PROBE_SPREAD_DEGC = 2.0

#: What readings of a role look like in its own unit: a range that holds nearly all of them.
#: Common practice for light aircraft; it only orders candidates and finds a missing unit.
PLAUSIBLE: dict[str, tuple[float, float]] = {
    "voltage": (5.0, 36.0),
    "current": (-400.0, 400.0),
    "rotation": (0.0, 9000.0),
    "pressure": (-10.0, 200.0),
    "temperature": (-60.0, 60.0),
    "speed": (-5.0, 600.0),
    "altitude": (-2000.0, 60000.0),
    "share": (0.0, 150.0),
}
#: Units that a quantity's readings may be in when neither header nor cells say so, likeliest first.
UNSAID: dict[str, tuple[str, ...]] = {
    "voltage": ("V", "mV"),
    "current": ("A", "mA"),
    "rotation": ("rpm",),
    "pressure": ("psi", "kPa"),
    "temperature": ("degC", "degF", "K"),
    "speed": ("kt",),
    "altitude": ("ft",),
    "share": ("%",),
}
#: An engine that turns by itself passes this; what moves and stays below it is a share of full speed [rpm].
#: Common practice: starters turn piston engines at some 100 to 200 rpm, and they idle at 500 and more.
SLOWEST_RPM = 150.0


class Candidate(Struct, frozen=True):
    """A column that could play a role."""

    role: str
    index: int
    score: float
    unit: str | None  # the file's own, None when nothing says
    reasons: tuple[str, ...]
    mapped: bool = False
    doubtful: bool = False  # the header holds a word that nobody explains
    by_readings: bool = False  # the header alone would not do: the readings must be those of a bus
    words: tuple[str, ...] = ()  # of the header, without numbers
    by_letter: bool = False  # a current that no word names, only the letter of its unit


class Assigned(Struct, frozen=True):
    """A column that plays a role, with its readings in the role's unit."""

    candidate: Candidate
    values: NDArray[np.float64]  # NaN where missing
    converted_from: str | None
    dead: bool
    not_fitted: bool = False
    impossible: bool = False  # no such quantity reads like this

    @property
    def confidence(self) -> float:
        """How sure, 0 to 1."""
        return 1.0 if self.candidate.mapped else round(min(0.99, max(0.05, self.candidate.score)), 2)


def column_unit(name: str, unit_cell: str, cell_unit: str | None) -> str | None:
    """The unit that the header names apart, else the units row, else a word of the header, else the cells."""
    said = meaning(name)
    apart = None if said.bare else said.unit
    return apart or (unit_of(unit_cell) if unit_cell else None) or said.unit or cell_unit


@rests_on_corrections
@remembered(HEADS)
def candidates(
    names: tuple[str, ...], units: tuple[str, ...], groups: tuple[str, ...], cell_units: tuple[str | None, ...]
) -> tuple[Candidate, ...]:
    """Every role that every header could play."""
    found = []
    for index, name in enumerate(names):
        if name:
            unit = column_unit(name, units[index], cell_units[index])
            fits = _roles_of(name, groups[index], unit)
            doubtful = bool(meaning(name).unexplained)
            words = tuple(word for word in meaning(name).words if not word[0].isdigit())
            found += [
                Candidate(
                    role, index, score, unit, why, doubtful=doubtful, words=words, by_letter=_by_letter(role, words)
                )
                for role, score, why in fits
            ]
            said = _with_group(groups[index], name) if groups[index] else meaning(name)
            if not any(role.startswith("bus_voltage") for role, _, _ in fits) and _may_be_bus(said, unit):
                why = ("only its unit and readings tell" if unit else "the header names the place, the readings tell",)
                found.append(Candidate("bus_voltage", index, BY_READINGS, unit, why, by_readings=True))
    return tuple(found)


def _by_letter(role: str, words: tuple[str, ...]) -> bool:
    """Whether a column is a current by the letter of its unit alone."""
    if vocabulary().roles[role].quantity != "current":
        return False
    said = meaning(" ".join(word for word in words if len(word) > 1))
    return "current" not in said.quantities


def _may_be_bus(said: Meaning, unit: str | None) -> bool:
    """Whether readings may decide that a column is the bus: its unit is volts, or it is called "BAT"."""
    if said.concepts & {"foreign", "sensor", "second", "backup", "temperature", "current"}:
        return False
    if unit is not None:
        return QUANTITY_OF_UNIT.get(unit) == "voltage"
    known = not set(said.unexplained) - {"v" + ATTACHED}  # "BattV": the readings tell whether these are volts
    return not said.quantities and known and bool(said.concepts & {"battery", "bus"})


def _reads_like_a_bus(volts: NDArray[np.float64]) -> bool:
    """Whether readings are those of a 14 V or 28 V bus that is switched, cranked or charged in the log."""
    if len(volts) < 2:
        return False
    low, middle, high = percentiles(volts, (5, 50, 95))
    return bool(BUS_V[0] <= middle <= BUS_V[1] and high <= BUS_V[1] and high - low >= BUS_MOVES_V)


@rests_on_corrections
@remembered(8192)
def _roles_of(name: str, group: str, unit: str | None) -> tuple[tuple[str, float, tuple[str, ...]], ...]:
    """Roles that a header could play, with score and reasons."""
    found = []
    for role, rule in vocabulary().roles.items():
        fit = _fit(rule, meaning(name), unit)
        if group and (fit is None or GROUP_TELLS & _of_group(group).concepts):
            fit = _fit(rule, _with_group(group, name), unit)
        if fit and fit[0] >= LEAST - READINGS:
            found.append((role, *fit))
    return tuple(found)


@rests_on_corrections
@remembered(1024)
def _of_group(group: str) -> Meaning:
    """What the name of a group says; its number counts only beside what it numbers ("Engine 2", not "Page 2")."""
    said = meaning(group)
    numbered = any(character.isdigit() for character in group)
    if numbered and not said.concepts - {"second", "first", "neutral"}:
        return replace(said, concepts=frozenset())
    return said


def _with_group(group: str, name: str) -> Meaning:
    """A header read together with the group it stands in; unknown words of the group do not count."""
    own, above = meaning(name), _of_group(group)
    return replace(own, concepts=own.concepts | above.concepts, quantities=own.quantities or above.quantities)


def _fit(rule: RoleRule, said: Meaning, unit: str | None) -> tuple[float, tuple[str, ...]] | None:
    """How well a header fits a role, and why; None when it cannot."""
    concepts, quantities = said.concepts, said.quantities
    unit_quantity = None if unit is None else QUANTITY_OF_UNIT.get(unit, "other")
    if "alt" in said.words and unit_quantity in ("current", "voltage"):
        concepts, quantities = concepts | {"alternator"}, quantities - {"altitude"}
    others = (concepts | quantities) & rule.rejects
    if others or unit_quantity not in (None, rule.quantity):
        return None
    if rule.needs and not concepts & rule.needs:
        return None
    if not rule.also <= concepts:
        return None
    if rule.quantity in quantities:
        score, reasons = NAMED, [f"the header says {rule.quantity}"]
    elif unit_quantity == rule.quantity and (
        rule.needs or rule.prefers.keys() & concepts or rule.quantity in ("voltage", "rotation")
    ):
        score, reasons = BY_UNIT, [f"its unit is one of {rule.quantity}"]
    else:
        return None
    places = [p for p in rule.prefers if p in concepts]
    if places:
        score += min(PLACE, max(rule.prefers[p] for p in places) + min(0.0, min(rule.prefers[p] for p in places)))
        reasons.append("and " + ", ".join(places))
    if unit_quantity == rule.quantity:
        score += UNIT_AGREES
        reasons.append(f"unit {unit}")
    if said.unexplained:
        score -= UNEXPLAINED * len(said.unexplained)
        reasons.append("unexplained: " + ", ".join(word.removesuffix(ATTACHED) for word in said.unexplained))
    return score, tuple(reasons)


def assign(found: Sequence[Candidate], readings: Mapping[int, NDArray[np.float64]]) -> list[Assigned]:
    """Give each role to its best candidate, and each column at most one role."""
    judged = [_judge(candidate, readings[candidate.index]) for candidate in found if candidate.index in readings]
    judged = [one for one in judged if one.candidate.mapped or not one.impossible]
    still = [not one.candidate.mapped and _still_current(one) for one in judged]
    if any(still) and any(map(_bus_moves, judged)):
        judged = [one for one, stands in zip(judged, still, strict=True) if not stands]
    taken: dict[str, Assigned] = {}
    columns: set[int] = set()
    for one in sorted(judged, key=_rank):
        candidate = one.candidate
        if candidate.role in MUST_READ and one.dead and not candidate.mapped:
            continue
        if candidate.role in taken or candidate.index in columns:
            continue
        if candidate.by_readings and not _reads_like_a_bus(one.values[np.isfinite(one.values)]):
            continue
        if candidate.score < LEAST and not (candidate.mapped or one.dead):
            continue
        if candidate.role == "ammeter_current" and candidate.doubtful and CURRENTS & taken.keys():
            continue  # amperes of something unknown beside an ammeter are no second ammeter
        taken[candidate.role] = one
        columns.add(candidate.index)
    _second_engine(taken, columns, judged)
    for later, role in FIRST_OF.items():
        _only_one(taken, later, role)
    return [taken[role] for role in ROLE_UNITS if role in taken]


def _rank(one: Assigned) -> tuple[bool, bool, float, int]:
    """Columns that the user named, then those named by a word, then by score, then by place."""
    candidate = one.candidate
    return not candidate.mapped, candidate.by_letter, -candidate.score, candidate.index


def _bus_moves(one: Assigned) -> bool:
    """Whether a column of volts moves as a bus does that is cranked and charged."""
    if vocabulary().roles[one.candidate.role].quantity != "voltage" or one.candidate.role == "backup_voltage":
        return False
    some = one.values[np.isfinite(one.values)]
    return len(some) > 1 and bool(np.subtract(*percentiles(some, (98, 2))) >= STILL_WHILE_V)


def _still_current(one: Assigned) -> bool:
    """Whether a current hardly moves where the bus does, as a barometer's setting does and no current.

    An ammeter that a word names as such may read exactly zero throughout: it is off. Where it moves at all, all its
    readings tell, since a coarse meter rests on zero for most of a flight.
    """
    candidate = one.candidate
    if vocabulary().roles[candidate.role].quantity != "current":
        return False
    some = one.values[np.isfinite(one.values)]
    if len(some) < 2:
        return False
    named = _surely_current(candidate.words)
    low, high = percentiles(some, (0, 100) if named else (2, 98))
    if high - low > 2 * STILL_A:
        return False
    off = low == high == 0.0
    return candidate.by_letter or not off


def _surely_current(words: tuple[str, ...]) -> bool:
    """Whether a word means amperes and nothing else: "current" may be today's, "load" a weight."""
    known = vocabulary().concepts
    return any("current" in known.get((w,), ()) for w in words if len(w) > 1 and w not in DOUBTFUL_CURRENT)


def _second_engine(taken: dict[str, Assigned], columns: set[int], judged: Sequence[Assigned]) -> None:
    """Take a second column of engine speed, called like the first but for a number, for a second engine."""
    first = taken.get("engine_speed")
    if first is None or "engine_speed_2" in taken:
        return
    for one in judged:
        candidate = one.candidate
        alike = candidate.role == "engine_speed" and candidate.words == first.candidate.words
        if alike and candidate.index not in columns and candidate.score >= LEAST and not _same(one, first):
            reasons = (*candidate.reasons, "another column is called the same and reads otherwise")
            taken["engine_speed_2"] = replace(one, candidate=replace(candidate, role="engine_speed_2", reasons=reasons))
            return


def _same(one: Assigned, other: Assigned) -> bool:
    """Whether two columns hold the same readings."""
    return np.array_equal(one.values, other.values, equal_nan=True)


def _only_one(taken: dict[str, Assigned], later: str, role: str) -> None:
    """Let a second one be the only one where the first is not recorded, or dead.

    A second engine that the user named stays one: the first may be the one that is not recorded.
    """
    first, second = taken.get(role), taken.get(later)
    if second is None or (second.candidate.mapped and later == "engine_speed_2"):
        return
    if first and (second.dead or not first.dead or first.candidate.mapped):
        return
    del taken[later]
    kind = role.replace("_", " ")
    reasons = (
        *second.candidate.reasons,
        f"no other {kind} shows anything" if first else f"no other {kind} is recorded",
    )
    weaker = replace(second.candidate, role=role, score=second.candidate.score - 0.2, reasons=reasons)
    taken[role] = replace(second, candidate=weaker)


def _judge(candidate: Candidate, raw: NDArray[np.float64]) -> Assigned:
    """A candidate with its readings converted and weighed; what weighs them is told the lowest and the highest."""
    quantity = vocabulary().roles[candidate.role].quantity
    unit = candidate.unit or _unit_by_readings(quantity, raw)
    rule = UNITS[unit]
    values = raw if (rule.factor, rule.offset) == (1.0, 0.0) else raw * rule.factor + rule.offset
    finite = np.isfinite(values)
    some = values if finite.all() else values[finite]
    low, high = (some.min(), some.max()) if len(some) else (np.nan, np.nan)
    reasons = list(candidate.reasons)
    not_fitted = candidate.role == "outside_air_temperature" and _open_probe(some, low, high)
    if not_fitted:
        reasons.append(f"it stays at {figures(middle(some))} degC, so no probe is fitted; readings left blank")
        values, some = np.full(len(values), np.nan), some[:0]
    dead = _dead(candidate.role, some, low, high)
    impossible = not dead and _impossible(quantity, some, low, high)
    score = candidate.score
    if not len(some):
        score -= DEAD
        reasons.append("it holds no reading")
    else:
        reasons.append(f"readings {figures(low)} to {figures(high)} {ROLE_UNITS[candidate.role]}")
        if dead:
            score -= DEAD if quantity == "voltage" else READINGS
        else:
            moves = quantity != "voltage" or len(some) < 2 or bool(high > low)
            score += READINGS * moves if _plausible(quantity, some, low, high) else -IMPLAUSIBLE
    if quantity == "rotation" and len(some) and not _turns(some, low, high):
        score -= DEAD
    if candidate.unit is None and unit != ROLE_UNITS[candidate.role]:
        reasons.append(f"no unit is given; the readings can only be {unit}")
    converted = None if unit == ROLE_UNITS[candidate.role] else unit
    return Assigned(
        replace(candidate, score=score, reasons=tuple(reasons)), values, converted, dead, not_fitted, impossible
    )


def _open_probe(values: NDArray[np.float64], low: float, high: float) -> bool:
    """Whether a temperature channel shows what it shows without a probe."""
    if len(values) < 10 or high - low > OPEN_PROBE_SPREAD_DEGC:
        return False
    return middle(values) <= OPEN_PROBE_DEGC


def _impossible(quantity: str, values: NDArray[np.float64], low: float, high: float) -> bool:
    """Whether too many readings for faults lie beyond what the quantity can read: a height is no current.

    A voltage is never too low for a bus: its voltmeter may be off.
    """
    lowest, highest = PLAUSIBLE[quantity]
    if lowest <= low and high <= highest:
        return False
    if quantity == "voltage":
        return bool(percentile(values, MOST_V_PERCENT) > highest)
    return bool(
        percentile(values, 100 - IMPOSSIBLE_PERCENT) > highest or percentile(values, IMPOSSIBLE_PERCENT) < lowest
    )


def _plausible(quantity: str, values: NDArray[np.float64], low: float, high: float) -> bool:
    """Whether nearly all readings lie where readings of the quantity lie.

    Volts may be 0 with power off, and a regulator that runs away may hold a bus higher than any should be.
    """
    lowest, highest = PLAUSIBLE[quantity]
    if len(values) > 50 and not lowest <= low <= high <= highest:
        low, high = percentiles(values, (2, MOST_V_PERCENT if quantity == "voltage" else 98))
    return bool((high >= lowest if quantity == "voltage" else low >= lowest) and high <= highest)


def _turns(rpm: NDArray[np.float64], low: float, high: float) -> bool:
    """Whether readings can be an engine's speed, no counter of hours and no percentage: at rest, or with a spread."""
    at_rest = high < 5 and low <= 0 and bool((rpm == np.round(rpm)).all())  # hours count in fractions
    return at_rest or bool(high - low > 5 and high > SLOWEST_RPM)


def _dead(role: str, values: NDArray[np.float64], low: float, high: float) -> bool:
    """Whether a channel never shows anything: one value throughout, or volts that are never volts.

    A bus may hold one voltage throughout a log, if it is one that a bus can have.
    """
    if not len(values):
        return True
    if vocabulary().roles[role].quantity == "voltage":
        still = len(values) > 20 and high == low and not BUS_V[0] <= high <= BUS_V[1]
        return bool(high < 3.0 or (low < 3.0 and percentile(values, 98) < 3.0) or still)
    return bool(high == low)


def _unit_by_readings(quantity: str, raw: NDArray[np.float64]) -> str:
    """The role's own unit, unless the readings cannot be in it and can be in another one."""
    some = raw[np.isfinite(raw)]
    choices = UNSAID[quantity]
    if not len(some):
        return choices[0]
    low, high = PLAUSIBLE[quantity]
    if max(some.max(), -some.min()) <= high:
        return choices[0]
    middle = percentile(np.abs(some), MOST_V_PERCENT if quantity == "voltage" else 95)
    for unit in choices:
        value = middle * UNITS[unit].factor + UNITS[unit].offset
        if value <= high and (quantity != "voltage" or unit == choices[0] or value >= low):
            return unit
    return choices[0]
