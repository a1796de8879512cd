"""A flight's electrical story: what the meters did and why, in sentences that an instructor can teach from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.decay import Decay
from analyzer.flights.flight import Flight, Phase
from analyzer.flights.recharge import Recharge
from analyzer.measures.cranking import attempts, start_unseen
from analyzer.measures.measure import Measure, taken_words
from analyzer.phrases import duration
from analyzer.reports.wording import FINDING_LABELS
from analyzer.review import FlightReview
from analyzer.series import Floats, Mask

#: What tells of the alternator where no voltage does, by the ammeter's kind.
_AMMETER_TELLS = {
    "alternator": "An alternator's ammeter stands at zero until the alternator gives; then it shows its output.",
    "battery": "A battery's ammeter shows a discharge until the alternator gives, and then charge or about nothing.",
}
_CARRIED = "the alternator carried the bus"
#: More stretches of the same kind than this are told in one sentence.
TOLD_ONE_BY_ONE = 3


@dataclass(frozen=True, slots=True)
class Sentence:
    """One moment of the story. Times are seconds from the log's first row."""

    from_s: float
    to_s: float
    says: str
    why: str = ""  # what makes the meters do that; empty where the finding's own causes tell
    finding: str | None = None  # the finding that this moment belongs to
    severity: str | None = None  # of that finding


def story(review: FlightReview) -> list[Sentence]:
    """The story of one flight in the order in which it happened."""
    told = [
        *_before_start(review),
        *_cranking(review),
        *_taking_the_bus(review),
        *_recharge(review),
        *_load_steps(review),
        *_slow_engine(review),
        *_without_alternator(review),
        *_holding(review),
        *_findings(review),
        *_shutdown(review),
    ]
    return sorted(told, key=lambda sentence: sentence.from_s)


def _rows(flight: Flight, from_s: float, to_s: float) -> Mask:
    """Rows of a stretch, its end left out."""
    return np.asarray((flight.trace.time >= from_s) & (flight.trace.time < to_s), dtype=np.bool_)


def _typical(channel: Floats | None, rows: Mask) -> float | None:
    if channel is None or not np.isfinite(channel[rows]).any():
        return None
    return float(np.nanmedian(channel[rows]))


def _lowest(channel: Floats, rows: Mask) -> float | None:
    return float(np.nanmin(channel[rows])) if np.isfinite(channel[rows]).any() else None


def _phases(flight: Flight, name: str) -> list[Phase]:
    return [phase for phase in flight.phases if phase.name == name]


def _before_start(review: FlightReview) -> Iterator[Sentence]:
    flight = review.flight
    if flight.begins_running:
        yield Sentence(
            flight.from_s,
            flight.from_s,
            "The log begins with the engine already running.",
            "Rest, start and what was drawn from the battery before were not recorded, so nothing can be said of them.",
        )
        return
    until = float(flight.trace.time[flight.first_crank])
    volts = _typical(flight.trace.bus_voltage, _rows(flight, flight.from_s, until))
    if not flight.voltmeter.tells:
        says = f"No voltage can be told in this flight, because {flight.voltmeter.because}."
        why = "What carries the bus, and what the battery takes, is read from the ammeter alone."
        yield Sentence(flight.from_s, flight.from_s, says, why)
        return
    if volts is None:
        return
    says = f"Power on, engine stopped: the bus stood at {volts:.1f} V"
    charge = review.measures["resting_charge"]
    if charge.value is not None:
        says += f", which is about {charge.value:.0f} % charge{taken_words(charge.note)}"
    drawn = _typical(flight.trace.battery_current, _rows(flight, flight.from_s, until))
    if drawn is not None and drawn < 0.0:
        says += f"; the battery gave {-drawn:.1f} A for {duration(until - flight.from_s)}"
    why = "With the engine stopped the battery alone feeds the bus, so the voltmeter reads the battery."
    yield Sentence(flight.from_s, until, says + ".", why)


def _cranking(review: FlightReview) -> Iterator[Sentence]:
    flight = review.flight
    if flight.begins_running or not flight.voltmeter.tells:
        return
    cranks = attempts(flight)
    unseen = start_unseen(flight) is not None
    time, step = flight.trace.time, flight.trace.step_s
    for place, (first, end) in enumerate(cranks, 1):
        rows = np.zeros(time.size, dtype=np.bool_)
        rows[first:end] = flight.crank[first:end]
        low = _lowest(flight.trace.bus_voltage, rows)
        if low is None:
            continue
        last = place == len(cranks) and not unseen
        opening = "Engine started" if last else f"Attempt {place} did not start the engine"
        lasting = duration(float(time[end - 1] - time[first]) + step)
        why = "The starter draws hundreds of amperes; what the battery loses over its own resistance the bus lacks."
        if step > 0.25:
            why += (
                f" A reading every {step:g} s can miss the very lowest point, so the true dip was at least this deep."
            )
        yield Sentence(
            float(time[first]), float(time[end - 1]), f"{opening}: the bus fell to {low:.1f} V for {lasting}.", why
        )
    if not cranks or unseen:
        at = float(time[flight.run.start])
        why = f"With a reading every {step:g} s the dip fell between two rows or was too short to be told."
        yield Sentence(at, at, "Engine started; no reading shows the bus while cranking.", why)


def _taking_the_bus(review: FlightReview) -> Iterator[Sentence]:
    flight = review.flight
    if not flight.bus_told:
        return
    if flight.alternator_on_row is None:
        yield Sentence(
            float(flight.trace.time[flight.run.start]),
            flight.stop_s,
            "The alternator never took the bus: the battery carried every load.",
            "The bus stayed at or below what a battery holds, with the engine turning."
            if flight.voltmeter.tells
            else _AMMETER_TELLS[flight.ammeter.kind],
        )
        return
    if flight.begins_running and flight.alternator_on_row == 0:
        return
    at = float(flight.trace.time[flight.alternator_on_row])
    volts = _typical(flight.trace.bus_voltage, _rows(flight, at, at + 60.0))
    waited = at - float(flight.trace.time[flight.run.start])
    after = f", {duration(waited)} after the engine ran" if waited > 2.0 * flight.trace.step_s else ""
    says = f"The alternator took the bus{after}" + (f", at {volts:.1f} V." if volts is not None else ".")
    why = "The higher source feeds the bus: above the battery's own voltage, the alternator carries it."
    yield Sentence(at, at, says, why if flight.voltmeter.tells else _AMMETER_TELLS[flight.ammeter.kind])


def _recharge(review: FlightReview) -> Iterator[Sentence]:
    flight, found = review.flight, review.flight.recharge
    if found is None:
        return
    if found.decay is None:
        says = f"How the battery took its charge back cannot be told, because {found.because}."
        yield Sentence(found.on_s, found.settled_s, says)
        return
    peak, settling = review.measures["recharge_peak_current"], review.measures["recharge_settling_time"]
    constant = review.measures["recharge_time_constant"]
    if not found.start_recorded:
        if constant.value is not None:
            yield _from_the_middle(found, found.decay, constant)
        return
    if peak.value is None or settling.value is None:
        return
    names = {finding.name for finding in review.findings}
    if "recharge_never_settles" in names:
        return  # its own sentence tells how the current went on
    if found.on_s + 60.0 * settling.value > flight.stop_s:
        says = "Charging current was still falling when the engine stopped"
        says += f"; at that rate it would have settled after {settling.value:.0f} min."
        yield Sentence(found.on_s, flight.stop_s, says, "A deeply discharged battery takes its charge back slowly.")
        return
    unwell = "slow_recharge" in names
    judged = "" if unwell else ", as it should"
    level = found.decay.level if flight.ammeter.kind == "battery" else None
    if level is not None:
        says = (
            f"Charging current fell from {peak.value + level:.0f} A to within 1 A of its settled {level:.0f} A "
            f"in {settling.value:.0f} min{judged}."
        )
    else:
        says = (
            f"The charging share of the alternator's current was {peak.value:.0f} A at first and had gone to "
            f"within 1 A of nothing in {settling.value:.0f} min{judged}."
        )
    why = "At a held voltage a battery takes less and less as it fills: the current tapers nearly exponentially."
    if found.limit_a is not None:
        why += f" At first the alternator, at its limit, held the current flat near {found.limit_a:.0f} A."
    yield Sentence(found.on_s, found.settled_s, says, why)


def _from_the_middle(found: Recharge, decay: Decay, constant: Measure) -> Sentence:
    says = (
        f"As the log begins {decay.amplitude:.0f} A more flow than will settle, falling with a time constant of "
        f"{constant.value:.1f} min ({constant.low:.1f} to {constant.high:.1f} min)."
    )
    why = "A decay looks alike wherever one begins to watch it; how high it began is not recorded."
    return Sentence(found.on_s, found.settled_s, says, why)


def _load_steps(review: FlightReview) -> Iterator[Sentence]:
    found = review.flight.recharge
    if found is None or found.decay is None or review.flight.ammeter.kind != "alternator":
        return
    for at, size in found.decay.steps:
        what = "came on" if size > 0.0 else "went off"
        during = " while the battery was still recharging" if found.origin_s + at < found.settled_s else ""
        says = f"A load of {abs(size):.0f} A {what}{during}."
        why = "An alternator ammeter shows load and charge together; a step that lasts is a load, not the battery."
        yield Sentence(found.origin_s + at, found.origin_s + at, says, why)


def _slow_engine(review: FlightReview) -> Iterator[Sentence]:
    flight = review.flight
    phases = [phase for phase in _phases(flight, "low_rpm") if phase.to_s - phase.from_s > 5.0 * flight.trace.step_s]
    lows = [_lowest(flight.trace.bus_voltage, _rows(flight, phase.from_s, phase.to_s)) for phase in phases]
    told = [(phase, low) for phase, low in zip(phases, lows, strict=True) if low is not None]
    why = "Too slow an engine turns the alternator below the speed at which it can carry the bus. No fault in itself."
    if len(told) > TOLD_ONE_BY_ONE:
        lowest = min(low for _, low in told)
        says = f"{len(told)} times the engine turned slowly and the bus sagged, to {lowest:.1f} V at the lowest."
        yield Sentence(told[0][0].from_s, told[-1][0].to_s, says, why)
        return
    for phase, low in told:
        lasting = duration(phase.to_s - phase.from_s)
        yield Sentence(phase.from_s, phase.to_s, f"Engine slow for {lasting}: the bus sagged to {low:.1f} V.", why)


def _without_alternator(review: FlightReview) -> Iterator[Sentence]:
    flight = review.flight
    if flight.alternator_on_row is None:
        return  # told where it should have taken the bus
    for phase in _phases(flight, "alternator_offline"):
        rows = _rows(flight, phase.from_s, phase.to_s)
        low = _lowest(flight.trace.bus_voltage, rows)
        if low is None and flight.voltmeter.tells:
            continue
        drawn = _typical(flight.trace.battery_current, rows)
        giving = f", giving {-drawn:.0f} A" if drawn is not None and drawn < -0.5 else ""
        lasting = duration(phase.to_s - phase.from_s)
        down = f", down to {low:.1f} V" if low is not None else ""
        back = phase.to_s < flight.stop_s - 2.0 * flight.trace.step_s
        ends = " Then the alternator took the bus again." if back else " It did not come back in this flight."
        says = f"Without the alternator for {lasting} the battery carried the bus{giving}{down}.{ends}"
        why = "A battery falls at once to its own voltage, then sags on as it empties; the current tells how fast."
        yield Sentence(phase.from_s, phase.to_s, says, why)


def _holding(review: FlightReview) -> Iterator[Sentence]:
    steady = _phases(review.flight, "steady")
    held = review.measures["regulated_voltage"]
    flight = review.flight
    if not steady or (held.value is None and flight.voltmeter.tells):
        return
    lasting = float(flight.trace.seconds[flight.regulated].sum())
    found = flight.recharge
    over = found is None or found.settled_s < flight.stop_s
    over &= all(finding.name != "recharge_never_settles" for finding in review.findings)
    says = "Recharge over. " if over else ""
    says += f"For {duration(lasting)} in all "
    says += f"the regulator held the bus at {held.value:.1f} V" if held.value is not None else _CARRIED
    load = review.measures["bus_load"]
    if load.value is not None:
        says += f" under a load of {load.value:.0f} A"
    maintenance = review.measures["maintenance_current"]
    if maintenance.value is not None:
        says += f", {maintenance.value:.1f} A going into the battery"
    why = "The regulator weakens or strengthens the alternator's field so that the bus stays where it is set."
    if held.value is None:
        why = "At what voltage the regulator held it no meter tells."
    yield Sentence(steady[0].from_s, steady[-1].to_s, says + ".", why)


def _findings(review: FlightReview) -> Iterator[Sentence]:
    for finding in review.findings:
        says = f"{FINDING_LABELS[finding.name]}. {finding.says}"
        yield Sentence(finding.from_s, finding.to_s, says, "", finding.name, finding.severity)


def _shutdown(review: FlightReview) -> Iterator[Sentence]:
    flight = review.flight
    if flight.run.stop >= flight.trace.time.size:
        return
    rows = _rows(flight, flight.stop_s + flight.trace.step_s, flight.to_s + flight.trace.step_s)
    volts = _typical(flight.trace.bus_voltage, rows)
    if volts is None:
        return
    says = f"Engine stopped: the bus settled to {volts:.1f} V."
    charged = (
        flight.alternator_online[max(0, flight.run.stop - flight.trace.rows_in(60.0)) : flight.run.stop].mean() > 0.5
    )
    why = "Freshly charged, a battery stands above its rest for hours; this is not yet its resting voltage."
    if not charged:
        why = "A battery that has just given current recovers for hours; this is not yet its resting voltage."
    yield Sentence(flight.stop_s, flight.to_s, says, why)
