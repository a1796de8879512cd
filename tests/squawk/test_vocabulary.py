"""Reports in plain words: what they mean, what they deny, and what nobody can understand."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.squawk.document import ReportError, report_of, symptoms_text
from analyzer.squawk.known import SYMPTOMS, SYMPTOMS_FILE, load_symptoms
from analyzer.squawk.vocabulary import VOCABULARY_FILE, load_vocabulary, understand

REPORTS = {
    "ALT light flickered in the pattern": ["charging_light"],
    "LOW VOLT light came on at idle": ["charging_light"],
    "generator lamp lit after takeoff": ["charging_light"],
    "alternator light did not go out": ["charging_light"],
    "alternater warning lite flikered": ["charging_light"],
    "AMP meter showing discharge in cruise": ["ammeter_discharge"],
    "not charging": ["ammeter_discharge"],
    "ammeter left of zero on downwind": ["ammeter_discharge"],
    "ammeter pegged to the right": ["ammeter_high"],
    "amps stay high long after start": ["ammeter_high"],
    "ALT CB popped twice": ["breaker_opened"],
    "field breaker tripped": ["breaker_opened"],
    "slow crank, five tries": ["slow_crank"],
    "starter barely turned over": ["slow_crank"],
    "hard to start when cold": ["slow_crank"],
    "BAT dead, needed a jump start": ["dead_battery"],
    "battery would not hold a charge": ["dead_battery"],
    "would not crank": ["dead_battery"],
    "whine in the headset": ["noise_or_pulsing"],
    "ammeter needle wags": ["noise_or_pulsing"],
    "landing lights pulsing at night": ["noise_or_pulsing"],
    "VOLTS reading high": ["voltage_high"],
    "overvoltage in climb": ["voltage_high"],
    "battery hot and smells": ["battery_heat"],
    "volt gauge jumps around": ["gauge_jumps"],
    "AMP gage stuck": ["gauge_jumps"],
    "slow crank, then voltage high in cruise": ["slow_crank", "voltage_high"],
    "ALT light on; ammeter showing discharge": ["charging_light", "ammeter_discharge"],
    "amps won't come down, still 25 in cruise": ["ammeter_high"],
    "volt gauge needle flicks to zero every few minutes": ["gauge_jumps"],
    "lost the alternator over the ridge": ["charging_light"],
    "starter just clicks": ["dead_battery"],
    "displays rebooted on start": ["slow_crank"],
    "lights dim at idle": ["charging_light"],
}
DENIALS = {
    "light did NOT come on": [],
    "no charging light, volts normal": [],
    "ALT light never came on but slow crank": ["slow_crank"],
    "didn’t see the alternator light flicker": [],
    "no noise in the radio": [],
}
WELL = {"no issues with charging, radio noise only": ["noise_or_pulsing"], "no problems with the alternator": []}


@pytest.mark.parametrize(("words", "symptoms"), [*REPORTS.items(), *DENIALS.items(), *WELL.items()])
def test_a_report_means_what_a_pilot_means_by_it(words: str, symptoms: list[str]) -> None:
    assert [match.symptom for match in understand(words).matches] == symptoms


@pytest.mark.parametrize("words", DENIALS)
def test_what_a_report_denies_is_given_back_as_denied(words: str) -> None:
    assert understand(words).denied


def test_the_words_that_told_are_shown_as_they_were_written() -> None:
    (match,) = understand("ALT light flickered in the pattern").matches
    assert "light flickered" in match.matched


def test_words_that_mean_nothing_here_are_given_back() -> None:
    understood = understand("ALT light flickered near the gumball")
    assert understood.not_understood == ("near", "gumball")


@pytest.mark.parametrize("words", ["low voltage light at high rpm", "ALT light on at low power"])
def test_a_condition_is_no_symptom(words: str) -> None:
    assert [match.symptom for match in understand(words).matches] == ["charging_light"]


@pytest.mark.parametrize(
    ("wrong", "right"), [("flikered", "flickered"), ("battry", "battery"), ("breakerr", "breaker")]
)
def test_one_wrong_letter_in_a_long_word_is_forgiven(wrong: str, right: str) -> None:
    words = {"flickered": "light {}", "battery": "{} dead", "breaker": "{} popped"}[right]
    given, meant = understand(words.format(wrong)), understand(words.format(right))
    assert [match.symptom for match in given.matches] == [match.symptom for match in meant.matches] != []


def test_circumstances_are_given_back_by_themselves() -> None:
    understood = understand("ALT light flickered in the pattern at low rpm")
    assert understood.circumstances == ("in the pattern", "low rpm")
    assert understood.not_understood == ()


def test_a_real_word_one_letter_away_is_not_taken_for_another() -> None:
    assert understand("light was not changing").matches == ()


@pytest.mark.parametrize(
    "words",
    [
        "",
        "   \n\t ",
        "🔥✈️🔋",
        "'; DROP TABLE flights; --",
        "<script>alert(1)</script>",
        "../../etc/passwd\x00\x1b[31m",
        "(a+)+$" * 50,
        "\u202elight\u202c",
        "0" * 10_000,
        "qwertz " * 1_400,
    ],
)
def test_odd_input_means_nothing_and_is_refused_with_what_can_be_picked(words: str) -> None:
    with pytest.raises(ReportError) as refused:
        report_of(words)
    assert all(name in str(refused.value) for name in SYMPTOMS)


def test_a_report_of_ten_thousand_characters_is_understood_and_its_unknown_words_are_not_all_listed() -> None:
    filler = " ".join(f"word{number}x" for number in range(1200))
    understood = understand(f"ALT light flickered. {filler}")
    assert [match.symptom for match in understood.matches] == ["charging_light"]
    assert 0 < len(understood.not_understood) < 100


@given(st.text(max_size=300))
def test_any_text_is_understood_or_given_back_and_never_fails(words: str) -> None:
    understood = understand(words)
    for match in understood.matches:
        assert match.symptom in SYMPTOMS
        assert match.matched
        assert all(
            word in words.lower().replace("’", "'") or word == "minus" for word in " ".join(match.matched).split()
        )


@given(st.permutations(["ALT light flickered", "slow crank", "volts reading high", "battery hot"]))
def test_parts_of_a_report_do_not_change_each_other(parts: list[str]) -> None:
    alone = [match.symptom for part in parts for match in understand(part).matches]
    assert [match.symptom for match in understand("; ".join(parts)).matches] == alone


def test_a_pick_adds_to_the_words_and_an_unknown_pick_is_refused() -> None:
    report = report_of("slow crank", ["voltage_high", "slow_crank"])
    assert report.symptoms == ("slow_crank", "voltage_high")
    with pytest.raises(ReportError, match="is no symptom"):
        report_of("slow crank", ["bad_smell"])


def test_only_denials_are_refused_with_what_was_denied() -> None:
    with pytest.raises(ReportError, match=r"did not happen \(light come on\)"):
        report_of("light did not come on")


def test_every_phrase_means_its_symptom_by_itself() -> None:
    document = tomllib.loads(VOCABULARY_FILE.read_text("utf-8"))
    first = {notion: variants[0].replace("*", "") for notion, variants in document["words"].items()}
    for symptom, phrase in load_vocabulary().phrases:
        words = " ".join(first[notion] for notion in phrase)
        assert symptom in [match.symptom for match in understand(words).matches], (symptom, words)


def test_the_files_name_the_same_symptoms_and_every_notion_of_a_phrase() -> None:
    vocabulary = tomllib.loads(VOCABULARY_FILE.read_text("utf-8"))
    assert tuple(vocabulary["symptoms"]) == SYMPTOMS == tuple(tomllib.loads(SYMPTOMS_FILE.read_text("utf-8")))
    used = {notion for phrases in vocabulary["symptoms"].values() for phrase in phrases for notion in phrase.split()}
    assert used - vocabulary["words"].keys() == set()


def test_each_symptom_says_what_to_measure_in_both_systems_and_where_the_value_is_from() -> None:
    for symptom in load_symptoms().values():
        assert symptom.innocent
        assert symptom.check
        for one in symptom.measure_first:
            assert set(one.expected) == {14, 28}
            assert all(words.strip() for words in (*one.expected.values(), one.tells, one.source))


def test_the_list_of_symptoms_names_each_with_its_words() -> None:
    listed = symptoms_text()
    assert all(name in listed and load_symptoms()[name].title in listed for name in SYMPTOMS)
