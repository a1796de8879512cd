"""The series that trends are found in: which measures, what innocent things move each, and their arrays."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from analyzer.findings.finding import FindingName
from analyzer.limits import Limits, limit_value
from analyzer.series import Z95, Floats, Mask, middle, middle_of_rows
from analyzer.trends.entries import kinds_reset
from analyzer.trends.history import History

Ints = np.ndarray[tuple[int], np.dtype[np.int64]]
Matrix = np.ndarray[tuple[int, int], np.dtype[np.float64]]


@dataclass(frozen=True, slots=True)
class Effect:
    """What an innocent thing does to a measure, as known beforehand: names of limits."""

    of: str  # a key of COVARIATES
    prior_mean: str  # change of the measure for one unit of it
    prior_sd: str  # standard deviation of that


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackedMeasure:
    """One measure that is followed over flights; limits by their names."""

    measure: str
    worse: int  # +1: rising is worse, -1: falling is, 0: both are
    finding: FindingName
    scatter: str  # limit: usual scatter from flight to flight, one standard deviation
    innocent_move: str  # limit: movement that innocent causes may leave
    effects: tuple[Effect, ...] = ()
    logarithmic: bool = False  # worked in natural logarithms, for what changes by a share
    limit_up: str | None = None  # limit that a rise comes to
    limit_down: str | None = None
    stepped: bool = False  # read in steps of the meter: a move from one to the next is no step of the aircraft
    upper_bound: bool = False  # a log may miss the lowest instant: readings far above their like say nothing
    coarse: bool = False  # the meter's resolution errs alike in every flight, so that flights do not average it out


TRACKED: tuple[TrackedMeasure, ...] = (
    TrackedMeasure(
        measure="regulated_voltage",
        worse=0,
        finding=FindingName.REGULATOR_DRIFT,
        scatter="trend_regulated_voltage_scatter",
        innocent_move="trend_regulated_voltage_moved",
        effects=(
            Effect(
                "air_flight", "trend_regulated_voltage_per_air_flight", "trend_regulated_voltage_per_air_flight_spread"
            ),
            Effect("load", "trend_regulated_voltage_per_load", "trend_regulated_voltage_per_load_spread"),
        ),
        limit_up="regulated_high",
        limit_down="regulated_low",
        stepped=True,
    ),
    TrackedMeasure(
        measure="recharge_time_constant",
        worse=1,
        finding=FindingName.RECHARGE_SLOWING,
        scatter="trend_recharge_time_constant_scatter",
        innocent_move="trend_recharge_time_constant_moved",
        effects=(
            Effect(
                "air_start",
                "trend_recharge_time_constant_per_air_start",
                "trend_recharge_time_constant_per_air_start_spread",
            ),
            Effect("volts", "trend_recharge_time_constant_per_volts", "trend_recharge_time_constant_per_volts_spread"),
        ),
        logarithmic=True,
        limit_up="slow_time_constant",
    ),
    TrackedMeasure(
        measure="recharge_settling_time",
        worse=1,
        finding=FindingName.RECHARGE_SLOWING,
        scatter="trend_recharge_settling_time_scatter",
        innocent_move="trend_recharge_settling_time_moved",
        effects=(
            Effect(
                "air_start",
                "trend_recharge_settling_time_per_air_start",
                "trend_recharge_settling_time_per_air_start_spread",
            ),
            Effect("volts", "trend_recharge_settling_time_per_volts", "trend_recharge_settling_time_per_volts_spread"),
        ),
        logarithmic=True,
    ),
    TrackedMeasure(
        measure="cranking_voltage",
        worse=-1,
        finding=FindingName.CRANKING_WEAKENING,
        scatter="trend_cranking_voltage_scatter",
        innocent_move="trend_cranking_voltage_moved",
        effects=(
            Effect("air_start", "trend_cranking_voltage_per_air_start", "trend_cranking_voltage_per_air_start_spread"),
        ),
        limit_down="crank_lowest",
        upper_bound=True,
    ),
    TrackedMeasure(
        measure="resting_voltage",
        worse=-1,
        finding=FindingName.RESTING_VOLTAGE_FALLING,
        scatter="trend_resting_voltage_scatter",
        innocent_move="trend_resting_voltage_moved",
        effects=(
            Effect("air_start", "trend_resting_voltage_per_air_start", "trend_resting_voltage_per_air_start_spread"),
        ),
        limit_down="resting_low",
        stepped=True,
    ),
    TrackedMeasure(
        measure="maintenance_current",
        worse=1,
        finding=FindingName.MAINTENANCE_CURRENT_RISING,
        scatter="trend_maintenance_current_scatter",
        innocent_move="trend_maintenance_current_moved",
        effects=(
            Effect(
                "air_flight",
                "trend_maintenance_current_per_air_flight",
                "trend_maintenance_current_per_air_flight_spread",
            ),
            Effect("volts", "trend_maintenance_current_per_volts", "trend_maintenance_current_per_volts_spread"),
            Effect("brevity", "trend_maintenance_current_per_brevity", "trend_maintenance_current_per_brevity_spread"),
        ),
        limit_up="maintenance_raised",
    ),
    TrackedMeasure(
        measure="battery_resistance",
        worse=1,
        finding=FindingName.BATTERY_RESISTANCE_RISING,
        scatter="trend_battery_resistance_scatter",
        innocent_move="trend_battery_resistance_moved",
        effects=(
            Effect(
                "air_start", "trend_battery_resistance_per_air_start", "trend_battery_resistance_per_air_start_spread"
            ),
        ),
        logarithmic=True,
    ),
    TrackedMeasure(
        measure="regulation_scatter",
        worse=1,
        finding=FindingName.REGULATION_LOOSENING,
        scatter="trend_regulation_scatter_scatter",
        innocent_move="trend_regulation_scatter_moved",
        limit_up="hunting_scatter",
        coarse=True,
    ),
    TrackedMeasure(
        measure="regulation_droop",
        worse=1,
        finding=FindingName.REGULATION_LOOSENING,
        scatter="trend_regulation_droop_scatter",
        innocent_move="trend_regulation_droop_moved",
        coarse=True,
    ),
)
BY_MEASURE = {kind.measure: kind for kind in TRACKED}


#: Covariate -> its value in each flight (n,), NaN where it is not known.
COVARIATES: dict[str, Callable[[History], Floats]] = {
    "air_start": lambda history: history.air_start,
    "air_flight": lambda history: history.air_flight,
    "load": lambda history: history.shown("bus_load")[:, 0],
    "volts": lambda history: history.shown("regulated_voltage")[:, 0],
    "brevity": lambda history: 1.0 / np.maximum([flight.hours for flight in history.flights], 0.3),
}
OF_THE_AIR = ("air_start", "air_flight")


@dataclass(frozen=True, slots=True)
class Series:
    """One measure over one tail's flights, n flights that carry it, p covariates."""

    kind: TrackedMeasure
    flight: Ints  # (n,) place of each in the tail's history, from 0
    hours: Floats  # (n,) engine hours at the flight's start [h]
    value: Floats  # (n,) in the unit of the measure, or its natural logarithm
    variance: Floats  # (n,) of one value: its interval and the usual scatter
    half: Floats  # (n,) half the interval of one value
    covariates: Matrix  # (n, p), each from its reference
    prior_mean: Floats  # (p,) effect of each covariate known beforehand
    prior_sd: Floats  # (p,)
    of_the_air: Mask  # (p,) which of them are of the air or the season
    innocent_move: Floats  # (n,) movement that innocent causes may leave, as known at each point

    @property
    def n(self) -> int:
        """Flights that carry the measure."""
        return int(self.value.size)

    def part(self, first: int, end: int) -> Series:
        """Give the points from ``first`` up to ``end``, which is left out."""
        return replace(
            self,
            flight=self.flight[first:end],
            hours=self.hours[first:end],
            value=self.value[first:end],
            variance=self.variance[first:end],
            half=self.half[first:end],
            covariates=self.covariates[first:end],
            innocent_move=self.innocent_move[first:end],
        )

    def upto(self, count: int) -> Series:
        """Give the first ``count`` points."""
        return self.part(0, count)


def series_of(history: History, kind: TrackedMeasure) -> Series:
    """Give one measure's series; nothing in a point depends on later flights."""
    limits = history.aircraft.limits(history.nominal_voltage or 14)
    shown = history.shown(kind.measure)
    carried = np.flatnonzero(shown[:, 0] > 0.0 if kind.logarithmic else np.isfinite(shown[:, 0]))
    shown = shown[carried]
    if kind.logarithmic:
        shown = np.log(np.maximum(shown, limits["trend_smallest_minutes"]))
    half = (shown[:, 2] - shown[:, 1]) / 2.0
    usual = limits[kind.scatter]
    value = shown[:, 0]
    if kind.upper_bound:
        anew = np.split(value, reset_points(history, kind, carried))
        value = np.concatenate([_capped(part, 2.0 * usual) for part in anew])
    columns, mean, spread, air = _covariates(history, kind, carried, limits)
    return Series(
        kind=kind,
        flight=carried,
        hours=history.flown[carried],
        value=value,
        variance=(half / Z95) ** 2 + usual**2,
        half=half,
        covariates=columns,
        prior_mean=mean,
        prior_sd=spread,
        of_the_air=air,
        innocent_move=limits[kind.innocent_move]
        + _of_an_unknown_season(history, kind, carried, limits)
        + (2.0 * np.maximum.accumulate(half) if kind.coarse else np.zeros(half.size)),
    )


def reset_points(history: History, kind: TrackedMeasure, flight: Ints) -> list[int]:
    """Give the points of a series, whose flights are given, that come first after an entry which starts it anew."""
    places = [history.first_from(entry.when) for entry in kinds_reset(history.entries, kind.measure)]
    return sorted({int(np.searchsorted(flight, place)) for place in places})


def _capped(values: Floats, above: float) -> Floats:
    """Draw in what lies far above the median of the latest values; the first few are judged together."""
    window = int(limit_value("trend_fewest"))
    if values.size <= window:
        return np.asarray(np.minimum(values, middle(values) + above)) if values.size else values
    lately = middle_of_rows(np.lib.stride_tricks.sliding_window_view(values, window))
    caps = np.concatenate([np.full(window - 1, lately[0]), lately]) + above
    return np.asarray(np.minimum(values, caps))


def _covariates(
    history: History, kind: TrackedMeasure, carried: Ints, limits: Limits
) -> tuple[Matrix, Floats, Floats, Mask]:
    """Each covariate from its reference, with what is known of its effect beforehand.

    The reference of the air is fixed, that of the rest the first value known, so that no point depends on a
    later one. Where the air is not recorded the season stands in for it, of unknown phase and size; where no clock
    tells that either, nothing does (see ``_of_an_unknown_season``).
    """
    columns, mean, sd, air = [], [], [], []
    for known in kind.effects:
        values = COVARIATES[known.of](history)
        effect, sd_of_it = limits[known.prior_mean], limits[known.prior_sd]
        mean.append(effect)
        sd.append(sd_of_it)
        air.append(known.of in OF_THE_AIR)
        if known.of not in OF_THE_AIR:
            columns.append(_held(values)[carried])
            continue
        unknown = ~np.isfinite(values)
        columns.append(np.where(unknown, 0.0, values - limits["trend_reference_air"])[carried])
        if unknown.any():
            turn = _year(history)
            columns += [np.nan_to_num(wave(turn) * unknown)[carried] for wave in (np.cos, np.sin)]
            mean += [0.0, 0.0]
            air += [True, True]
            sd += [(abs(effect) + sd_of_it) * limits["trend_season_swing"]] * 2
    shape = (len(carried), len(mean))
    table = np.column_stack(columns) if columns else np.zeros(shape)
    return table, np.array(mean), np.array(sd), np.array(air, dtype=np.bool_)


def _of_an_unknown_season(history: History, kind: TrackedMeasure, carried: Ints, limits: Limits) -> Floats:
    """What the season may have moved a measure by that point where neither air nor clock is recorded (n,)."""
    swing = sum(
        (abs(limits[known.prior_mean]) + limits[known.prior_sd]) * limits["trend_season_swing"]
        for known in kind.effects
        if known.of in OF_THE_AIR
    )
    unknown = np.zeros(len(history.flights), dtype=np.bool_)
    for known in kind.effects:
        if known.of in OF_THE_AIR:
            unknown |= np.isnan(COVARIATES[known.of](history))
    unknown &= ~history.clocked
    return np.maximum.accumulate(swing * unknown[carried].astype(np.float64))


def _held(values: Floats) -> Floats:
    """Values from the first one known; the latest known one stands in for each that is missing."""
    seen = np.flatnonzero(np.isfinite(values))
    if not seen.size:
        return np.zeros(values.size)
    latest = np.maximum.accumulate(np.where(np.isfinite(values), np.arange(values.size), -1))
    return np.where(latest >= 0, values[np.maximum(latest, 0)] - values[seen[0]], 0.0)


def _year(history: History) -> Floats:
    """Time of the year of each flight as an angle [rad], NaN without a clock."""
    days = [float("nan") if one.start is None else one.start.timetuple().tm_yday for one in history.flights]
    return 2.0 * np.pi * np.array(days, dtype=np.float64) / 365.25
