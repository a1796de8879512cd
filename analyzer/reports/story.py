"""A flight's electrical story: what the meters did and why, in sentences that an instructor can teach from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.decay import Decay
from analyzer.flights.flight import Flight, Phase
from analyzer.flights.recharge import Recharge
from analyzer.limits import limit_value
from analyzer.measures.cranking import attempts, start_unseen
from analyzer.measures.measure import Measure, taken_words
from analyzer.phrases import duration, fixed
from analyzer.reports.wording import FINDING_LABELS
from analyzer.review import FlightReview
from analyzer.series import Floats, Mask

#: What tells of the alternator where no voltage does, by the ammeter's kind.
_AMMETER_TELLS = {
    "alternator": "An alternator ammeter reads zero until the alternator gives output.",
    "battery": "A battery ammeter shows discharge until the alternator comes on line, then charge or about zero.",
}
_CARRIED = "the alternator carried the load"
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
    deepest_s: float | None = None  # the moment that the sentence is about, where it is about one

    def settled_s(self, step_s: float) -> float:
        """When the meters show it best: soon after it began, clear of the change itself, before it ends."""
        if self.deepest_s is not None:
            return self.deepest_s
        clear = limit_value("moment_half") + 2.0 * step_s
        lasts = self.to_s - self.from_s
        return self.from_s + (clear if lasts < clear else min(0.5 * lasts, limit_value("moment_soon") + clear))


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
            "Resting voltage, start and charge drawn before it were not recorded.",
        )
        return
    until = float(flight.trace.time[flight.first_crank])
    volts = _typical(flight.trace.bus_voltage, _rows(flight, flight.from_s, until))
    if not flight.voltmeter.tells:
        says = f"No usable bus voltage: {flight.voltmeter.because}."
        why = "Only the ammeter shows what carries the load and what the battery takes."
        yield Sentence(flight.from_s, flight.from_s, says, why)
        return
    if volts is None:
        return
    says = f"Power on, engine stopped: bus {volts:.1f} V"
    charge = review.measures["resting_charge"]
    if charge.value is not None:
        says += f", about {charge.value:.0f} % charge{taken_words(charge)}"
    drawn = _typical(flight.trace.battery_current, _rows(flight, flight.from_s, until))
    if drawn is not None and drawn < 0.0:
        says += f"; {-drawn:.1f} A drawn for {duration(until - flight.from_s)}"
    why = "With the engine stopped the voltmeter reads the battery."
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
        why = "The starter draws hundreds of amperes through the battery's resistance, so the bus dips."
        if step > 0.25:
            why += f" One reading every {step:g} s can miss the lowest point: the true dip was at least this deep."
        says = f"{opening}: bus down to {low:.1f} V for {lasting}."
        deepest = float(time[np.nanargmin(np.where(rows, flight.trace.bus_voltage, np.nan))])
        yield Sentence(float(time[first]), float(time[end - 1]), says, why, deepest_s=deepest)
    if not cranks or unseen:
        at = float(time[flight.run.start])
        why = f"With one reading every {step:g} s the dip fell between two rows."
        yield Sentence(at, at, "Engine started; no reading while cranking.", why)


def _taking_the_bus(review: FlightReview) -> Iterator[Sentence]:
    flight = review.flight
    if not flight.bus_told:
        return
    if flight.alternator_on_row is None:
        yield Sentence(
            float(flight.trace.time[flight.run.start]),
            flight.stop_s,
            "The alternator never came on line: the battery carried the load.",
            "With the engine running the bus stayed at battery voltage or below."
            if flight.voltmeter.tells
            else _AMMETER_TELLS[flight.ammeter.kind],
        )
        return
    if flight.begins_running and flight.alternator_on_row == 0:
        return
    at = float(flight.trace.time[flight.alternator_on_row])
    volts = _typical(flight.trace.bus_voltage, _rows(flight, at, at + 60.0))
    waited = at - float(flight.trace.time[flight.run.start])
    after = f" {duration(waited)} after engine start" if waited > 2.0 * flight.trace.step_s else ""
    says = f"Alternator on line{after}" + (f", at {volts:.1f} V." if volts is not None else ".")
    why = "The source with the higher voltage feeds the bus: now the alternator."
    yield Sentence(at, at, says, why if flight.voltmeter.tells else _AMMETER_TELLS[flight.ammeter.kind])


def _recharge(review: FlightReview) -> Iterator[Sentence]:
    flight, found = review.flight, review.flight.recharge
    if found is None:
        return
    if found.decay is None:
        says = f"Recharge not measurable: {found.because}."
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
        says = "Charging current still falling when the engine stopped"
        says += f"; at that rate settled after {settling.value:.0f} min."
        yield Sentence(found.on_s, flight.stop_s, says, "A deeply discharged battery recharges slowly.")
        return
    unwell = "slow_recharge" in names
    judged = "" if unwell else ": normal"
    level = found.decay.level if flight.ammeter.kind == "battery" else None
    if level is not None:
        says = (
            f"Charging current {peak.value + level:.0f} A at first, settled at {fixed(level)} A within "
            f"{settling.value:.0f} min{judged}."
        )
    else:
        says = (
            f"Charging current {peak.value:.0f} A at first, dropped below 1 A within {settling.value:.0f} min{judged}."
        )
    why = "At constant voltage the charging current tapers as the battery fills."
    if found.limit_a is not None:
        why += f" At first the alternator was at its limit, near {found.limit_a:.0f} A."
    yield Sentence(found.on_s, found.settled_s, says, why)


def _from_the_middle(found: Recharge, decay: Decay, constant: Measure) -> Sentence:
    says = (
        f"As the log begins, charging current is {decay.amplitude:.0f} A above its settled level, time constant "
        f"{constant.value:.1f} min ({constant.low:.1f} to {constant.high:.1f})."
    )
    why = "The taper shows from any point on; how high it began is not recorded."
    return Sentence(found.on_s, found.settled_s, says, why)


def _load_steps(review: FlightReview) -> Iterator[Sentence]:
    found = review.flight.recharge
    if found is None or found.decay is None or review.flight.ammeter.kind != "alternator":
        return
    for at, size in found.decay.steps:
        what = "came on" if size > 0.0 else "went off"
        during = " while recharging" if found.origin_s + at < found.settled_s else ""
        says = f"{abs(size):.0f} A of load {what}{during}."
        why = "An alternator ammeter shows load and charge together; a lasting step is load."
        yield Sentence(found.origin_s + at, found.origin_s + at, says, why)


def _slow_engine(review: FlightReview) -> Iterator[Sentence]:
    flight = review.flight
    phases = [phase for phase in _phases(flight, "low_rpm") if phase.to_s - phase.from_s > 5.0 * flight.trace.step_s]
    lows = [_lowest(flight.trace.bus_voltage, _rows(flight, phase.from_s, phase.to_s)) for phase in phases]
    told = [(phase, low) for phase, low in zip(phases, lows, strict=True) if low is not None]
    why = "At low rpm many alternators cannot carry the load: not a fault on its own."
    if len(told) > TOLD_ONE_BY_ONE:
        lowest = min(low for _, low in told)
        says = f"{len(told)} times at low rpm the bus sagged, to {lowest:.1f} V at the lowest."
        yield Sentence(told[0][0].from_s, told[-1][0].to_s, says, why)
        return
    for phase, low in told:
        lasting = duration(phase.to_s - phase.from_s)
        yield Sentence(phase.from_s, phase.to_s, f"Low rpm for {lasting}: bus sagged to {low:.1f} V.", why)


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
        ends = " Then the alternator came back." if back else " It did not come back in this flight."
        says = f"Without the alternator for {lasting}: the battery carried the load{giving}{down}.{ends}"
        why = "The bus falls at once to battery voltage, then sags as the battery empties."
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
    says = "Recharge done. " if over else ""
    says += f"For {duration(lasting)} "
    says += f"the regulator held {held.value:.1f} V" if held.value is not None else _CARRIED
    load = review.measures["bus_load"]
    if load.value is not None:
        says += f" at {load.value:.0f} A load"
    maintenance = review.measures["maintenance_current"]
    if maintenance.value is not None:
        says += f", {fixed(maintenance.value, 1)} A into the battery"
    why = "The regulator adjusts the alternator field to hold the set voltage."
    if held.value is None:
        why = "No voltmeter shows the voltage."
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
    says = f"Engine stopped: bus settled to {volts:.1f} V."
    charged = (
        flight.alternator_online[max(0, flight.run.stop - flight.trace.rows_in(60.0)) : flight.run.stop].mean() > 0.5
    )
    why = "Freshly charged, a battery reads high for hours: not yet its resting voltage."
    if not charged:
        why = "After a discharge a battery recovers for hours: not yet its resting voltage."
    yield Sentence(flight.stop_s, flight.to_s, says, why)
