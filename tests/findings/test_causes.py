"""The file of causes: whole, and weighed by each observation once."""

from __future__ import annotations

import pytest

from analyzer.findings.causes import load_knowledge, weigh_causes
from analyzer.findings.finding import FindingName

KNOWLEDGE = load_knowledge()


def weights(name: str, **signs: bool) -> dict[str, float]:
    likely, _ = weigh_causes(name, signs)
    return {cause.words: cause.weight for cause in likely}


def test_every_sign_that_moves_a_cause_has_words() -> None:
    used = {sign for cause in KNOWLEDGE.causes for sign in cause.signs}
    assert used <= KNOWLEDGE.signs.keys()
    implied = {sign for pair in KNOWLEDGE.same_observation.items() for sign in (pair[0], *pair[1])}
    assert implied <= used


@pytest.mark.parametrize("name", tuple(FindingName))
def test_every_finding_has_causes_whose_weights_sum_to_one_and_checks(name: str) -> None:
    likely, check = weigh_causes(name, {})
    assert len(likely) >= 3
    assert sum(cause.weight for cause in likely) == pytest.approx(1.0)
    assert check


@pytest.mark.parametrize("name", tuple(FindingName))
@pytest.mark.parametrize(
    ("sign", "again"), [(s, a) for s, others in KNOWLEDGE.same_observation.items() for a in others]
)
def test_what_a_sign_already_says_moves_nothing_when_it_is_said_again(name: str, sign: str, again: str) -> None:
    for seen in (True, False):
        assert weights(name, **{sign: True, again: seen}) == weights(name, **{sign: True})


def test_a_loss_that_a_reset_brings_back_speaks_for_the_sensor_and_one_that_lasts_for_the_brushes() -> None:
    soon = weights("alternator_offline", repeated=True, back_soon=True)
    later = weights("alternator_offline", repeated=True, back_soon=False)
    sensor, brushes = (next(words for words in later if part in words) for part in ("Overvoltage sensor", "brushes"))
    assert soon[sensor] > soon[brushes]
    assert later[brushes] > 2.0 * later[sensor]


def test_that_nothing_rose_before_a_loss_does_not_tell_its_causes_apart() -> None:
    # a wire, a fuse, a belt and a sensor that opens by itself all leave a normal voltage before the loss
    plain, calm = weights("alternator_offline"), weights("alternator_offline", voltage_rose_before=False)
    for words, weight in plain.items():
        assert calm.get(words, weight) == pytest.approx(weight, rel=0.15)


def test_every_cause_brings_its_key_and_its_own_checks():
    known = {cause.key: cause for cause in load_knowledge().causes}
    likely, _ = weigh_causes("low_resting_voltage", {})
    assert [one.words for one in likely] == [known[one.key].words for one in likely]
    assert [one.check for one in likely] == [known[one.key].checks for one in likely]
    of_lithium, _ = weigh_causes("low_resting_voltage", {"lithium": True})
    changed = [one for one in of_lithium if known[one.key].of_lithium is not None]
    assert changed
    assert [(one.words, one.check) for one in changed] == [known[one.key].of_lithium for one in changed]
