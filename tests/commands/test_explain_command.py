"""``taper explain`` as its users call it."""

from __future__ import annotations

import json

import pytest

from analyzer.cli import main


def test_without_a_name_every_name_is_listed(capsys):
    assert main(["explain"]) == 0
    said = capsys.readouterr().out
    for name in ("resting_voltage", "slow_recharge", "alternator_offline", "projection", "peukert", "trend_soon"):
        assert name in said


def test_a_name_is_explained_with_its_parts(capsys):
    assert main(["explain", "regulated_voltage", "Slow recharge"]) == 0
    said = capsys.readouterr().out
    assert "Rows of the log" in said
    assert "Innocent explanations" in said
    assert "See also: interval_of_a_median" in said


def test_a_name_that_is_not_known_is_answered_with_close_ones(capsys):
    assert main(["explain", "regulated_volts"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "regulated_voltage" in said.err
    assert main(["explain", "xyzzy"]) == 2
    assert "lists every name" in capsys.readouterr().err


@pytest.mark.parametrize("names", [[], ["endurance"]])
def test_as_a_document_it_is_one_json_object(names, capsys):
    assert main(["explain", "--json", *names]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["contract"] == 1
    topics = document["topics"] if names else [t for s in document["sections"] for t in s["topics"]]
    assert "endurance" in {topic["name"] for topic in topics}
