"""Chances and shares that records give, against distributions of a reference library and sums by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analyzer.limits import limit_value
from analyzer.trends.repairs import _factors
from analyzer.trends.risk import NOTHING, EventRecord, Exposure, chance_of_an_event, together


@pytest.mark.parametrize("events", [0, 2, 7])
def test_no_event_is_as_likely_as_a_gamma_mixture_of_poissons_has_it(events: int) -> None:
    record = EventRecord(Exposure(events, 100.0), NOTHING)
    told = chance_of_an_event(record, 50.0, 0.0)
    # rates by Jeffreys' prior for a Poisson rate: gamma(events + 1/2), mixed with which a count is negative binomial
    none = stats.nbinom.pmf(0, events + 0.5, 100.0 / 150.0)
    assert told.value == pytest.approx(1.0 - none)
    ends = stats.chi2.ppf([0.025, 0.975], 2.0 * events + 1.0) / 2.0 / 100.0 * 50.0
    assert (told.low, told.high) == pytest.approx(tuple(1.0 - np.exp(-ends)))


def test_hours_in_both_states_count_each_with_its_own_rate() -> None:
    both = together(
        [EventRecord(Exposure(1, 60.0), Exposure(0, 5.0)), EventRecord(Exposure(1, 40.0), Exposure(3, 5.0))]
    )
    assert (both.calm, both.warned, both.events) == (Exposure(2, 100.0), Exposure(3, 10.0), 5)
    stays = stats.nbinom.pmf(0, 2.5, 100.0 / 120.0) * stats.nbinom.pmf(0, 3.5, 10.0 / 14.0)
    assert chance_of_an_event(both, 20.0, 4.0).value == pytest.approx(1.0 - stays)


def test_four_repairs_of_one_part_shift_its_share_as_much_as_four_in_all_with_the_judged_ones() -> None:
    charged, loose = frozenset({"a"}), frozenset({"b"})
    judged = limit_value("repairs_judgement")
    factors = _factors({charged: 30.0, loose: 10.0}, {charged: 0, loose: 4})
    # a Dirichlet's mean: (judged * share + counted) / (judged + all that were counted)
    assert factors[loose] == pytest.approx((judged * 0.25 + 4.0) / (judged + 4.0) / 0.25)
    assert factors[charged] == pytest.approx(judged / (judged + 4.0))
    assert 0.75 * factors[charged] + 0.25 * factors[loose] == pytest.approx(1.0), "shares still make a whole"
