"""When a limit is reached, on made wear whose end is known: in time, surely, and none too late."""

from __future__ import annotations

import numpy as np
import pytest
from made_series import made_series
from made_wear import OTHER_SMOOTH, Asked, asked, bent, even, feeding_itself, in_fits, quickening
from scipy.stats import multivariate_normal

from analyzer.corrections import Corrections, put_in_effect
from analyzer.limits import limit_value
from analyzer.trends.courses import LIVES, NODES, net
from analyzer.trends.detection import Alarm, Stretch
from analyzer.trends.followed_tail import _of_the_wear, _reach
from analyzer.trends.tracked_series import BY_MEASURE, Series
from analyzer.trends.wear import Reach, Unsure, _Seen, _weighed, reach_of


def over_truth(questions: list[Asked]) -> np.ndarray:
    """The stated times over the true ones, of those that are told."""
    return np.array([stated / one.left_h for one in questions if (stated := one.reach.stated()) is not None])


def numbered(questions: list[Asked]) -> float:
    return over_truth(questions).size / len(questions)


def within(questions: list[Asked], share: float) -> float:
    return float((np.abs(over_truth(questions) - 1.0) <= share).mean())


def held(questions: list[Asked]) -> float:
    return float(np.mean([one.reach.within(0.05) <= one.left_h <= one.reach.within(0.95) for one in questions]))


def late(questions: list[Asked]) -> float:
    return float((over_truth(questions) > 1.25).mean())


@pytest.fixture(scope="module")
def of_even() -> list[Asked]:
    return asked(even, 0.7, 120, 21)


@pytest.fixture(scope="module")
def of_quickening() -> list[Asked]:
    return asked(quickening, 0.7, 120, 22)


def test_even_wear_comes_to_its_limit_when_said_or_later(of_even):
    assert within(of_even, 0.2) >= 0.6
    assert late(of_even) <= 0.02


def test_wear_that_quickens_is_not_said_to_last_as_if_it_were_even(of_quickening):
    assert within(of_quickening, 0.35) >= 0.75
    assert late(of_quickening) <= 0.08
    # A line through all flights says half as long again.
    assert np.median(over_truth(of_quickening)) < 1.05


def test_steady_and_smoothly_quickening_wear_is_foretold_and_rather_early_than_late(of_even, of_quickening):
    both = [*of_even, *of_quickening]
    assert within(both, 0.2) >= 0.58
    assert within(both, 0.35) >= 0.75
    assert late(both) <= 0.05
    assert held(both) >= 0.92
    assert numbered(both) >= 0.75


def test_half_way_the_time_is_told_within_a_third():
    questions = [*asked(even, 0.5, 80, 31), *asked(quickening, 0.5, 80, 32)]
    assert within(questions, 0.35) >= 0.65
    assert late(questions) <= 0.05
    assert held(questions) >= 0.92


def test_wear_that_bent_is_followed_at_its_new_pace():
    questions = asked(bent, 0.85, 100, 23)
    assert within(questions, 0.2) >= 0.55
    assert late(questions) <= 0.05
    assert held(questions) >= 0.9
    assert numbered(questions) >= 0.75


def test_wear_by_formulas_of_other_kinds_lies_in_its_interval():
    smooth = [one for kind in OTHER_SMOOTH if kind is not in_fits for one in asked(kind, 0.7, 40, 25)]
    assert held(smooth) >= 0.9
    assert within(smooth, 0.35) >= 0.6
    assert held(asked(in_fits, 0.7, 60, 26)) >= 0.7  # each step is luck, which the flights so far do not tell


def test_less_scatter_tells_the_time_better():
    clear, dim = (asked(feeding_itself, 0.7, 40, 27, (noise,)) for noise in (0.02, 0.15))
    assert within(clear, 0.2) > within(dim, 0.2)
    widths = [np.median([one.reach.within(0.9) / one.reach.within(0.1) for one in some]) for some in (clear, dim)]
    assert widths[0] < widths[1]


def test_the_one_number_is_chosen_by_what_being_late_costs():
    # Even chances of soon and of late: near either is as likely, and late costs.
    hours = np.linspace(0.0, 200.0, 2001)
    chance = np.clip((hours - 48.0) / 4.0, 0.0, 1.0) * 0.5 + np.clip((hours - 146.0) / 8.0, 0.0, 1.0) * 0.5
    assert 41.0 <= Reach(hours, chance, 200.0).stated() <= 60.0
    assert Reach(hours, np.clip((hours - 96.0) / 8.0, 0.0, 1.0), 200.0).stated() == pytest.approx(100.0, rel=0.2)


def drawn(spread: float, flown: float, little_worn: float = 0.0) -> tuple[np.ndarray, Reach]:
    """Times about 100 h whose logarithms spread so, and what is known of a limit that comes at any of them alike."""
    truth = 100.0 * np.exp(spread * np.random.default_rng(6).normal(size=4001))
    hours = np.linspace(0.0, 1000.0, 8001)
    return truth, Reach(hours, (truth[:, None] <= hours).mean(axis=0), flown, little_worn)


@pytest.mark.parametrize(
    ("flown", "near", "cost", "little_worn"),
    [(1500.0, 0.5, 1.3, 0.0), (15.0, 0.0, 0.8, 0.0), (1500.0, 0.5, 2.0, 1.0), (1500.0, 0.5, 1.65, 0.5)],
    ids=["late", "early", "little worn", "perhaps little worn"],
)
def test_the_one_number_earns_most_by_drawn_truths(flown, near, cost, little_worn):
    """A right time earns so much only within a fifth, else within 0.35; later than 1.25 or 1.5 times costs."""
    truth, reach = drawn(0.42, flown, little_worn)
    stated = reach.stated()
    tried = np.append(np.arange(30.0, 150.0, 0.5), stated)[:, None]
    off, late = np.abs(tried / truth - 1.0), 1.0 * (tried > 1.25 * truth) + (tried > 1.5 * truth)
    earned, other = (
        (worth * (off <= 0.2) + (1.0 - worth) * (off <= 0.35) - charge * late).mean(axis=1)
        for worth, charge in ((near, cost), (0.5 - near, cost))
    )
    assert earned[-1] >= earned.max() - 0.001
    assert other[-1] < other.max() - 0.001, "else the share decides nothing here"


def test_no_number_is_told_where_the_best_is_worth_too_little():
    """Of 1 for one that is surely right: by the drawn truths the best is worth 0.18 and 0.16 at these spreads."""
    worths = []
    for spread, told in ((0.47, True), (0.49, False)):
        truth, reach = drawn(spread, 1500.0)
        tried = np.arange(30.0, 150.0, 0.25)[:, None]
        off, late = np.abs(tried / truth - 1.0), 1.0 * (tried > 1.25 * truth) + (tried > 1.5 * truth)
        worths.append(float((0.5 * (off <= 0.2) + 0.5 * (off <= 0.35) - 1.3 * late).mean(axis=1).max()))
        assert (reach.stated() is not None) == told
        assert reach.told, "the interval is"
    assert worths[0] > limit_value("projection_least_worth") > worths[1]
    assert worths == pytest.approx([0.18, 0.16], abs=0.003)


def test_one_number_is_told_of_what_is_at_hand_however_unsure():
    truth, _ = drawn(0.6, 1500.0)
    hours = np.linspace(0.0, 1000.0, 80001)
    for late_end, told in ((19.5, True), (20.5, False)):
        scaled = truth * late_end / np.quantile(truth, 0.95)
        reach = Reach(hours, (np.sort(scaled).searchsorted(hours) / truth.size), 1500.0)
        assert reach.within(0.95) == pytest.approx(late_end, rel=0.01)
        assert (reach.stated() is not None) == told
        assert reach.stated(late_end - 19.5) is not None, "what was flown since counts"


def test_how_much_of_the_way_is_worn_is_told_from_the_flights():
    """A line from 10 V to 8 V seen up to a share of it: a fifth is little, a half is not."""
    hours = np.arange(0.0, 100.0, 0.5)
    ripple = np.tile([0.004, -0.004], hours.size // 2)
    for share, low, high in ((0.2, 0.95, 1.0), (0.5, 0.0, 0.05)):
        reach = reach_of(hours, 10.0 - 2.0 * share * hours / hours[-1] + ripple, np.full(hours.size, 0.01), 8.0)
        assert low <= reach.little_worn <= high


@pytest.mark.parametrize(("flown", "limit"), [(1500.0, "projection_late_cost"), (6.0, "projection_late_cost_early")])
def test_what_being_late_costs_goes_by_how_much_of_the_life_is_flown(flown, limit):
    hours = np.linspace(0.0, 200.0, 2001)
    cost = Reach(hours, hours / 200.0, flown)._by_age("projection_late_cost", "projection_late_cost_early")
    assert cost == pytest.approx(limit_value(limit), abs=0.02)


def test_what_a_season_may_have_done_is_left_open():
    """A slow wave of the air whose effect is not known may be the wear, or hide it: the interval spans both."""
    hours = np.linspace(0.0, 100.0, 80)
    rng = np.random.default_rng(4)
    wave = hours / 100.0 - 0.5
    values = 10.0 - 0.01 * hours + rng.normal(0.0, 0.02, hours.size)
    spread = np.full(hours.size, 0.02)
    widths = []
    for doubt in (1e-6, 0.2, 0.5):
        reach = reach_of(hours, values, spread, 8.0, Unsure(wave[:, None], np.array([doubt])))
        widths.append(reach.within(0.9) / reach.within(0.1))
    assert widths[0] < widths[1] < widths[2]
    known = reach_of(hours, values, spread, 8.0)
    assert widths[0] == pytest.approx(known.within(0.9) / known.within(0.1), rel=1e-3)


@pytest.mark.parametrize("measure", ["regulated_voltage", "recharge_time_constant"])
def test_known_weather_is_taken_out_of_the_wear(measure):
    """A season whose effect is known moves no forecast, be the measure worked as it is or in logarithms."""
    rng = np.random.default_rng(8)
    hours = np.arange(60) * 1.5
    season = 12.0 * np.sin(hours / 28.0)
    limit, worn = (14.5, 14.0 + 0.004 * hours) if measure == "regulated_voltage" else (6.0, np.log(2.5 + 0.025 * hours))
    values = worn + rng.normal(0.0, 0.01, hours.size)

    def median_h(value, effect):
        told = Series(
            kind=BY_MEASURE[measure], flight=np.arange(60), hours=hours, value=value, variance=np.full(60, 1e-4),
            half=np.full(60, 0.02), covariates=season[:, None], prior_mean=np.array([effect]),
            prior_sd=np.array([1e-7]), of_the_air=np.array([True]), innocent_move=np.full(60, 0.07),
        )  # fmt: skip
        return _reach(told, limit).within(0.5)

    clear = median_h(values, 0.0)
    assert median_h(values - 0.02 * season, -0.02) == pytest.approx(clear, rel=1e-3)
    assert median_h(values - 0.02 * season, 0.0) != pytest.approx(clear, rel=0.1), "else the season moves nothing here"


def test_effects_integrated_out_weigh_as_a_normal_with_their_covariance():
    """The weights are those of a normal whose covariance holds the effects' share: scipy's density as the referee."""
    rng = np.random.default_rng(9)
    flown, columns = NODES, rng.normal(size=(NODES.size, 2))  # flights at the nodes, so that nothing is shared out
    left, noise, sd = 2.0 - flown + rng.normal(0.0, 0.1, flown.size), np.full(flown.size, 0.1), np.array([0.3, 0.05])
    seen = _Seen(flown, left, Unsure(columns, sd))
    weight, _ = _weighed(seen, noise, np.zeros(net().share.shape))
    first = float(np.median(left[: flown.size // 5]))
    doubt = limit_value("wear_course_doubt") * first
    room_sd = limit_value("wear_room_doubt") * first + 0.1
    own = np.diag(noise**2 + flown.size * doubt**2) + (columns * sd**2) @ columns.T
    pairs = [(0, 10), (20, 60), (200, 120), (500, 190)]
    dense = []
    for course, life in pairs:
        grown = net().courses[course].grown
        way = 1.0 - grown(flown) / grown(LIVES[life])
        dense.append(multivariate_normal(first * way, own + room_sd**2 * np.outer(way, way)).logpdf(left))
    np.testing.assert_allclose(np.diff([weight[pair] for pair in pairs]), np.diff(dense), rtol=1e-6)


@pytest.mark.parametrize(
    ("began", "first"),
    [(None, 0), (0, 0), (190, 0), (250, 100), (350, 200)],
    ids=["a line", "all", "half", "late", "just"],
)
def test_a_limit_is_foretold_by_all_flights_since_the_wear_began_and_as_many_before(
    began: int | None, first: int
) -> None:
    """How it quickens shows over all of them; what lay still for years before it began tells nothing of that."""
    series = made_series("cranking_voltage", [70], 450).upto(400)
    drift = None if began is None else Alarm("drift", 409, 10 + began, -0.5, -0.6, -0.4)
    told = _of_the_wear(Stretch(10, 410, series, np.zeros(400), drift))
    assert (told.n, told.hours[0]) == (400 - first, series.hours[first])


def line(per_hour: float, at_start: float = 10.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    hours = np.arange(0.0, 100.0, 1.5)
    values = at_start + per_hour * hours + np.tile([0.004, -0.004], 34)[: hours.size]
    return hours, values, np.full(hours.size, 0.01)


def test_a_plain_line_is_followed_to_its_end():
    hours, values, spread = line(-0.01)
    reach = reach_of(hours, values, spread, 8.0)  # 200 h from the first flight
    assert reach.within(0.5) == pytest.approx(200.0 - hours[-1], rel=0.05)
    assert reach.within(0.02) < 200.0 - hours[-1] < reach.within(0.98)


def test_what_does_not_move_reaches_nothing():
    hours, values, spread = line(0.0)
    assert reach_of(hours, values, spread, 8.0).within(0.98) == np.inf


def test_rising_is_told_as_falling_is_and_volts_scale_with_the_system():
    hours, values, spread = line(-0.01)
    said = reach_of(hours, values, spread, 8.0)
    for told in (reach_of(hours, -values, spread, -8.0), reach_of(hours, 2.0 * values, 2.0 * spread, 16.0)):
        np.testing.assert_allclose(told.chance, said.chance, atol=0.02)


def test_an_interval_that_tells_nothing_is_none():
    hours = np.linspace(0.0, 400.0, 2001)
    narrow, wide = (Reach(hours, np.clip((hours - 10.0) / (end - 10.0), 0.0, 1.0), 200.0) for end in (60.0, 390.0))
    assert narrow.told
    assert not wide.told
    assert not Reach(hours, 0.9 * narrow.chance, 200.0).told, "its late end is not known"


def test_an_interval_that_ends_soon_is_told_however_wide():
    """Just before the limit both ends are small: 0.7 to 7.4 h are ten times apart, and both mean now."""
    hours = np.linspace(0.0, 400.0, 40001)
    soon, beyond = (Reach(hours, np.clip((hours - 0.2) / (end - 0.2), 0.0, 1.0), 200.0) for end in (50.0, 56.0))
    assert soon.within(0.95) > 10.0 * soon.within(0.05)
    assert soon.told
    assert beyond.within(0.95) > 50.0
    assert not beyond.told
    assert not Reach(hours, 0.9 * soon.chance, 200.0).told, "its late end is not known"


def test_wear_is_not_left_untold_just_before_its_limit():
    for share, seed in ((0.95, 61), (0.98, 62)):
        questions = [*asked(even, share, 40, seed), *asked(quickening, share, 40, seed + 2)]
        assert np.mean([one.reach.told for one in questions]) >= 0.95


def test_the_chance_only_grows():
    for one in asked(bent, 0.5, 5, 24):
        assert (np.diff(one.reach.chance) >= 0.0).all()
        assert one.reach.chance[-1] <= 1.0 + 1e-9
        assert one.reach.within(0.1) <= one.reach.within(0.5) <= one.reach.within(0.9)


def test_values_that_resemble_the_last_ones_tell_less_than_their_number():
    hours = np.linspace(0.0, 150.0, 200)
    ratios = []
    for seed in range(15):
        rng = np.random.default_rng(seed)
        alike = np.zeros(hours.size)
        for place in range(1, hours.size):
            alike[place] = 0.7 * alike[place - 1] + rng.normal(0.0, 0.4)
        spread = np.full(hours.size, alike.std())
        wide, narrow = (
            reach_of(hours, 10.0 - 0.02 * hours + left, spread, 6.9) for left in (alike, rng.permutation(alike))
        )
        ratios.append((wide.within(0.9) - wide.within(0.1)) / (narrow.within(0.9) - narrow.within(0.1)))
    assert np.median(ratios) > 1.5


@pytest.fixture
def corrected():
    yield lambda limits: put_in_effect(Corrections(limits={name: (one, one) for name, one in limits.items()}))
    put_in_effect(Corrections())


def test_another_belief_in_a_kind_of_wear_counts_from_then_on(corrected):
    hours, values = np.arange(40.0), 14.0 - 0.004 * np.arange(40.0) + 0.004 * np.sin(np.arange(40.0))
    usual = reach_of(hours, values, np.full(40, 0.02), 13.5)
    corrected({"wear_bent": 0.001})
    assert reach_of(hours, values, np.full(40, 0.02), 13.5).within(0.05) > 1.1 * usual.within(0.05)
    corrected({})
    assert (reach_of(hours, values, np.full(40, 0.02), 13.5).chance == usual.chance).all()
