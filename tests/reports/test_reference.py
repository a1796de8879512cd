"""The reference says something true of everything that the analysis can say."""

from __future__ import annotations

import re
import tomllib

import pytest

from analyzer.findings.finding import OF_ONE_FLIGHT
from analyzer.flights.flight import PHASES
from analyzer.limits import load_limits
from analyzer.measures.battery_facts import CHARGE_OF_VOLTAGE, REFERENCE_TEMPERATURE, VOLTAGE_TEMPERATURE
from analyzer.measures.measure import MEASURES
from analyzer.reports import reference as module
from analyzer.reports.reference import (
    PROSE_FILE,
    SYMPTOMS_FILE,
    all_topics,
    filled,
    find_topics,
    limit_words,
    load_prose,
    near_names,
    reference,
)
from analyzer.reports.wording import FINDING_LABELS, MEASURE_LABELS, TREND_FINDING_LABELS
from analyzer.trends.tracked_series import COVARIATES, TRACKED

BY_ANCHOR = {topic["anchor"]: topic for topic in all_topics()}
LIMITS = [topic for topic in all_topics() if topic["kind"] == "limit"]
PROSE = tomllib.loads(PROSE_FILE.read_text("utf-8"))


def titles(topic: dict) -> set[str]:
    return {part["title"] for part in topic["parts"]}


@pytest.mark.parametrize("name", MEASURES)
def test_a_measure_says_how_it_comes_about_and_when_it_does_not(name):
    assert titles(BY_ANCHOR[name]) >= {
        "What it is", "Rows of the log", "How it is worked out", "Formula", "What its interval contains",
        "Not measurable when", "What to think of it",
    }  # fmt: skip
    assert BY_ANCHOR[name]["unit"] == MEASURES[name]


@pytest.mark.parametrize("name", OF_ONE_FLIGHT)
def test_a_finding_says_when_it_is_raised_what_is_innocent_and_what_to_check(name):
    assert titles(BY_ANCHOR[name]) >= {
        "What it is", "When it is raised", "Severity", "Innocent explanations", "What to think of it",
        "Likely causes, before the flight's own signs are weighed", "What to check on the ground",
    }  # fmt: skip


@pytest.mark.parametrize("name", TREND_FINDING_LABELS)
def test_a_finding_over_many_flights_says_what_moves_and_what_is_innocent(name):
    assert titles(BY_ANCHOR[name]) >= {
        "What it is", "Over many flights", "Innocent explanations", "What to think of it",
        "Likely causes, before the flight's own signs are weighed", "What to check on the ground",
    }  # fmt: skip


def test_every_symptom_is_explained():
    if not SYMPTOMS_FILE.exists():
        pytest.skip("no symptoms are known to this version")
    for name, entry in tomllib.loads(SYMPTOMS_FILE.read_text("utf-8")).items():
        told = titles(BY_ANCHOR[name])
        assert told >= {"What the recording must hold", "Innocent explanations", "What to measure first"}, name
        assert BY_ANCHOR[name]["title"] == entry["title"]
        assert "Likely causes, before the flight's own signs are weighed" in told, name


def test_a_symptom_says_what_to_measure_what_to_expect_and_where_from(tmp_path, monkeypatch):
    text = """
        [slow_crank]
        title = "Engine cranks slowly"
        needs = "bus voltage while the starter turns"
        findings = ["weak_cranking"]
        causes_of = "weak_cranking"
        innocent = ["Cold oil."]
        check = ["Feel the heavy cables for warmth."]
        [[slow_crank.measure_first]]
        what = "Voltage at the posts while cranking"
        at_14 = "9 V or more"
        at_28 = "18 V or more"
        tells = "Less is the battery."
        source = "common practice"
        """
    (tmp_path / "symptoms.toml").write_text(text, "utf-8")
    monkeypatch.setattr(module, "SYMPTOMS_FILE", tmp_path / "symptoms.toml")
    (topic,) = module._symptoms()
    parts = {part["title"]: part["lines"] for part in topic["parts"]}
    assert parts["What to measure first"] == [
        "Voltage at the posts while cranking: 9 V or more (in a 28 V system 18 V or more). Less is the battery. "
        "Source: common practice."
    ]
    assert parts["What to check on the ground"][0] == "Feel the heavy cables for warmth."
    assert topic["see"] == ["weak_cranking", "cause_weights"]


@pytest.mark.parametrize("name", PHASES)
def test_a_phase_says_what_it_is(name):
    (topic,) = [topic for topic in all_topics() if topic["kind"] == "phase" and topic["name"] == name]
    assert titles(topic) == {"What it is"}


@pytest.mark.parametrize("kind", TRACKED, ids=lambda kind: kind.measure)
def test_a_measure_that_is_followed_names_every_limit_of_its_trend(kind):
    wanted = {kind.scatter, kind.innocent_move, kind.limit_up, kind.limit_down} - {None}
    wanted |= {name for effect in kind.effects for name in (effect.prior_mean, effect.prior_sd)}
    assert wanted <= set(BY_ANCHOR[kind.measure]["limits"])
    assert "As a trend over many flights" in titles(BY_ANCHOR[kind.measure])


@pytest.mark.parametrize("name", load_limits())
def test_a_limit_gives_its_value_unit_meaning_and_source(name):
    (topic,) = [topic for topic in LIMITS if topic["name"] == name]
    limit = load_limits()[name]
    assert (topic["at_14"], topic["at_28"], topic["unit"]) == (limit.at_14, limit.at_28, limit.unit)
    assert topic["group"]
    assert topic["title"] == limit.meaning.rstrip("."), "plain words, not its name"
    assert [part["lines"][0] for part in topic["parts"]] == [limit_words(name), limit.source]


def test_the_prose_speaks_of_nothing_that_is_not_there():
    assert PROSE["measures"].keys() <= MEASURES.keys()
    assert PROSE["findings"].keys() <= set(OF_ONE_FLIGHT)
    assert PROSE["trend_findings"].keys() == TREND_FINDING_LABELS.keys()
    assert PROSE["phases"].keys() == set(PHASES)
    assert PROSE["covariates"].keys() == COVARIATES.keys()
    known = {"what", "rows", "worked_out", "formula", "interval", "not_measurable", "rule", "severity", "innocent",
             "think", "source", "see", "title"}  # fmt: skip
    for table in ("measures", "findings", "trend_findings", "phases", "trends", "formulas"):
        for name, entry in PROSE[table].items():
            assert entry.keys() <= known, name


def test_every_formula_has_a_source():
    assert all(entry["source"] and entry["formula"] for entry in PROSE["formulas"].values())


def test_every_limit_that_the_prose_names_exists_and_a_share_is_a_share():
    named = re.findall(r"\{(\w+)(%?)\}", PROSE_FILE.read_text("utf-8").split("\n\n", 1)[1])
    assert len(named) > 150
    for name, share in named:
        assert name in load_limits(), name
        assert not share or load_limits()[name].unit in ("1", "1/degC"), name
    with pytest.raises(KeyError):
        filled("below {no_such_limit}")


@pytest.mark.parametrize(
    ("tables", "parts", "folders"),
    [
        (("measures",), ("rows", "worked_out", "formula", "interval", "not_measurable"), ("flights", "measures")),
        (("findings",), ("rule", "severity", "innocent"), ("flights", "measures", "findings")),
        (("phases",), ("what",), ("flights",)),
        (("trends",), ("what", "worked_out"), ("trends", "records", "service")),
        (("moments",), ("what", "worked_out"), ("measures", "reports")),
    ],
    ids=lambda value: value[0] if value and value[0] in PROSE else "",
)
def test_a_limit_that_the_prose_names_is_one_that_the_code_of_that_stage_works_by(tables, parts, folders):
    root = PROSE_FILE.parents[1]
    code = "".join(file.read_text("utf-8") for folder in folders for file in (root / folder).rglob("*.py"))
    overruled = ("battery_capacity",)  # read through the aircraft's profile
    for table in tables:
        for name, entry in PROSE[table].items():
            texts = [entry[part] for part in parts if part in entry]
            for limit in re.findall(r"\{(\w+)%?\}", str(texts)):
                assert f'"{limit}"' in code or limit in overruled, f"{name} names {limit}"


def test_anchors_are_unique_and_every_link_leads_somewhere():
    anchors = [topic["anchor"] for topic in all_topics()]
    assert len(anchors) == len(set(anchors))
    for topic in all_topics():
        assert set(topic["see"]) <= set(anchors), topic["name"]
        assert all(BY_ANCHOR[anchor]["kind"] == "limit" for anchor in topic["limits"]), topic["name"]
        assert all(re.fullmatch(r"\w+", name) for name in (topic["anchor"], *topic["see"]))


def test_a_limit_that_shares_its_name_with_a_finding_is_linked_by_an_anchor_of_its_own():
    assert "limit_overvoltage" in BY_ANCHOR["overvoltage"]["limits"]
    assert "overvoltage" in BY_ANCHOR["limit_overvoltage"]["see"]
    assert BY_ANCHOR["limit_overvoltage"]["kind"] == "limit"


def test_no_number_of_a_formula_differs_from_the_one_worked_with():
    table, temperature = PROSE["formulas"]["charge_of_voltage"]["formula"]
    points = re.findall(r"(\d+\.\d+) V (\d+) %", table)
    assert [(float(volts), float(charge)) for volts, charge in points] == list(CHARGE_OF_VOLTAGE)
    assert f"{VOLTAGE_TEMPERATURE:g} (T - {REFERENCE_TEMPERATURE:g} °C)" in temperature


def test_values_are_written_with_unit_and_for_both_systems():
    assert limit_words("regulated_low") == "13.4 V (26.8 V at 28 V)"
    assert limit_words("never_settles_after") == "30 min"
    assert limit_words("crank_missed_share", share=True) == "40 %"
    assert "13.4 V" in str(BY_ANCHOR["regulator_low"]["parts"])


def test_a_name_a_title_and_an_anchor_are_understood_and_others_get_close_matches():
    for asked in ("slow_recharge", "Slow recharge", "SLOW-RECHARGE"):
        assert [topic["anchor"] for topic in find_topics(asked)] == ["slow_recharge"]
    assert {topic["kind"] for topic in find_topics("overvoltage")} == {"finding", "limit"}
    assert find_topics("phase_alternator_offline")[0]["kind"] == "phase"
    for label in (*MEASURE_LABELS.values(), *FINDING_LABELS.values(), *TREND_FINDING_LABELS.values()):
        assert find_topics(label), label
    assert find_topics("slow recharg") == []
    assert near_names("slow recharg")[0] == "slow_recharge"
    assert near_names("xyzzy") == []


def test_what_a_topic_points_to_is_a_topic():
    pointed = {anchor for topic in all_topics() for anchor in (*topic["see"], *topic["limits"])}
    assert pointed
    assert pointed <= BY_ANCHOR.keys()


def test_the_structure_holds_plain_text_only():
    def texts(value):
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            for inner in value.values():
                yield from texts(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from texts(inner)

    assert load_prose()
    assert not [text for text in texts(reference()) if "{" in text or "\n" in text or not text.isprintable()]
