"""A ceiling on the width of an interval: a value known no better than that is not a measurement."""

from __future__ import annotations

from analyzer.limits import Limits, limit_value
from analyzer.measures.measure import Measure, not_measurable

#: Measures that a flight may leave open, with the half width that says too little unless the value is large.
CEILINGS = {
    "recharge_peak_current": "widest_peak_current",
    "recharge_time_constant": "widest_time_constant",
    "recharge_settling_time": "widest_settling_time",
    "recharge_returned": "widest_returned",
    "maintenance_current": "widest_maintenance",
    "regulation_slope": "widest_slope",
}

#: Those of which a lower bound is still worth knowing where the interval is too wide.
_BOUNDED = ("recharge_time_constant",)


def narrow_enough(measure: Measure, limits: Limits) -> Measure:
    """Give the measure, or the reason why its interval says too little.

    Too wide is a half width above both the measure's own ceiling and the share ``widest_share`` of its value.
    """
    ceiling = CEILINGS.get(measure.name)
    if ceiling is None or measure.value is None or measure.low is None or measure.high is None:
        return measure
    half = 0.5 * (measure.high - measure.low)
    if not half > max(limits[ceiling], limit_value("widest_share") * abs(measure.value)):
        return measure
    because = f"it may be anything from {measure.low:.1f} to {measure.high:.1f} {measure.unit}"
    return not_measurable(measure.name, because, at_least=measure.low if measure.name in _BOUNDED else None)
