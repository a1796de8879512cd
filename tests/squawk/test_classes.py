"""Classes of words and what belongs to whom: numbers in words, named lamps, other systems, how far a "not" reaches."""

from __future__ import annotations

import pytest

from analyzer.squawk.tokens import parts_of
from analyzer.squawk.understanding import understand
from analyzer.squawk.vocabulary import concepts_in, in_rows


def symptoms(words: str) -> list[str]:
    return [match.symptom for match in understand(words).matches]


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ("fifteen", "15"),
        ("twenty eight", "28"),
        ("twenty-eight", "28"),
        ("fifteen point four", "15.4"),
        ("twelve and a half", "12.5"),
        ("thirty", "30"),
    ],
)
def test_numbers_in_words_are_numbers(words: str, number: str) -> None:
    (part,) = parts_of(f"volts {words}")
    assert [(token.written, token.word) for token in part] == [("volts", "volts"), (words, number)]


def test_a_one_by_itself_is_no_number() -> None:
    assert [token.word for token in parts_of("one alternator")[0]] == ["one", "alternator"]


def test_ways_of_writing_are_every_row_that_is_meant() -> None:
    assert set(in_rows("on|at the? stop")) == {
        ("on", "the", "stop"),
        ("on", "stop"),
        ("at", "the", "stop"),
        ("at", "stop"),
    }


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("discharge warning light came on", ["charging_light"]),
        ("battery discharge light on", ["charging_light"]),
        ("ammeter shows discharge", ["ammeter_discharge"]),
        ("overvoltage warning light flashed", ["voltage_high"]),
        ("battery hot light on", ["battery_heat"]),
        ("low volts in red", ["charging_light"]),
        ("fuel gauge left reads full", []),
    ],
)  # fmt: skip
def test_a_name_is_one_thing_and_its_words_no_readings(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("torch battery flat", []),
        ("tug battery dead", []),
        ("discharged fire bottle replaced", []),
        ("fire extinguisher gauge in red, discharged, replace", []),
        ("hydraulic accumulator discharged", []),
        ("the accumulator was empty before start", ["dead_battery"]),
        ("breaker for the flap motor tripped", ["breaker_opened"]),
        ("flap motor tripped", []),
        ("chip light on", []),
        ("red light on", ["charging_light"]),
        ("belt tension too high", []),
        ("bus tension too high", ["voltage_high"]),
        ("handheld radio battery low, alt light on", ["charging_light"]),
    ],
)
def test_what_is_said_of_something_else_is_no_report(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("3.1 volts across the battery terminals", ["dead_battery"]),
        ("12.6 volts across the battery terminals", []),
        ("battery temperature 49 C", []),
        ("battery temperature 50 C", ["battery_heat"]),
        ("battery temperature 122 F", ["battery_heat"]),
        ("battery temperature 121 F", []),
        ("loadmeter at 80 percent", ["ammeter_high"]),
        ("loadmeter at 79 percent", []),
        ("bus volts 30 plus", ["voltage_high"]),
        ("ammeter showed 20 out", ["ammeter_discharge"]),
        ("volts 15.5 and lights pulsing", ["voltage_high", "noise_or_pulsing"]),
        ("volts pulsing around 15.5", ["noise_or_pulsing"]),
    ],
)
def test_readings_by_their_unit_and_where_they_were_taken(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alternator would not reset after light came on", ["charging_light"]),
        ("amps charge won't go under 20", ["ammeter_high"]),
        ("large charge on the ammeter that never went away", ["ammeter_high"]),
        ("large charge on the ammeter that went away", []),
        ("no alternator noise heard", []),
        ("replaced 5A field fuse, blew again", ["breaker_opened"]),
        ("the needle of the ammeter, when the lights are on, trembles", ["gauge_jumps"]),
    ],
)
def test_how_far_a_denial_reaches_and_what_a_comma_carries_over(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


#: A complaint of each symptom.
COMPLAINTS = {
    "alternator light flickers": "charging_light",
    "ammeter shows discharge": "ammeter_discharge",
    "not charging": "ammeter_discharge",
    "ammeter pegged to the right": "ammeter_high",
    "alternator breaker popped": "breaker_opened",
    "slow crank": "slow_crank",
    "battery flat again": "dead_battery",
    "alternator noise in the headset": "noise_or_pulsing",
    "voltage 15.8": "voltage_high",
    "battery hot": "battery_heat",
    "volt gauge jumps around": "gauge_jumps",
}
#: What is said behind a complaint that leaves it as it is: a search without a find, when it began, and another reading.
LEAVES_IT = [
    ", fault not found",
    ", cause not found",
    ", nothing found in wiring",
    ", none found",
    ", no fault found last time",
    ", not confirmed",
    ", could not be reproduced, nff",
    ", cnd on ground run",
    ", no repeat on the way home",
    ", has not recurred",
    " since new battery",
    " since new regulator fitted",
    " since replaced battery",
    " checked belt",
    ", now charging 20 amps",
]


@pytest.mark.parametrize("said", LEAVES_IT)
@pytest.mark.parametrize("complaint", COMPLAINTS)
def test_no_failed_search_and_no_beginning_takes_a_complaint_back(complaint: str, said: str) -> None:
    assert COMPLAINTS[complaint] in symptoms(complaint + said)


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("battery dead every week since new master relay", ["dead_battery"]),
        ("slow crank since new starter fitted", ["slow_crank"]),
        ("charging light on, not confirmed by ammeter", ["charging_light"]),
        ("charging light on, now charging", ["charging_light"]),
        ("nothing heard when start button pressed", ["dead_battery"]),
        ("checked for cause of alternator light, none found", ["charging_light"]),
        ("checked for alternator noise, none heard", []),
        ("not charging this morning, now charging", []),
        ("slow crank last week, since replaced", []),
        ("charge light gone since new regulator", []),
        ("alternator light checked, works", []),
    ],
)
def test_what_takes_a_complaint_back(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("volts never above 12.5", ["charging_light"]),
        ("bus never got above 12.6", ["charging_light"]),
        ("never saw the volts go over about 25.4", ["charging_light"]),
        ("couldn't get more than 12.4 volts in cruise", ["charging_light"]),
        ("battery never above 11.8 before start", ["dead_battery"]),
        ("voltage would not go below 15.5", ["voltage_high"]),
        ("volts never below 15.8", ["voltage_high"]),
        ("bus voltage never below 31", ["voltage_high"]),
        ("volts never above 14.2", []),
        ("volts did not exceed 15.6", []),
        ("volts never below 12.5", []),
        ("volts never below 13.8", []),
        ("volts no longer below 12.5", []),
        ("light did not come on with volts below 12.5", []),
    ],
)
def test_a_limit_that_was_kept_is_read_as_its_number(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("alternator dead, zero amps out", ["ammeter_discharge"]),
        ("alternator not working, ammeter reads 0", ["ammeter_discharge"]),
        ("alt inop, ALT light on, 0 amps out", ["charging_light", "ammeter_discharge"]),
        ("alternator went off line, ammeter reads 0", ["charging_light", "ammeter_discharge"]),
        ("alternator dead", ["charging_light"]),
        ("ammeter at zero before start", []),
        ("no lights when master was turned on", ["dead_battery"]),
        ("nothing abnormal when master switched on", []),
        ("ammeter three divisions right after an hour, usually in the middle", ["ammeter_high"]),
        ("ammeter normally right of zero, now left of zero", ["ammeter_discharge"]),
        ("right ammeter reads 14, normally 13", []),
        ("hsi slow to spin up", []),
        ("ai slow, starter slow to spin up", ["slow_crank"]),
    ],
)
def test_states_of_an_alternator_a_master_and_a_needle(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize("words", ["volts never above 12.5", "alternator dead, zero amps out"])
def test_words_that_were_understood_are_not_given_back(words: str) -> None:
    assert understand(words).not_understood == ()


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("ammeter stuck on neg side", ["ammeter_discharge"]),
        ("ammeter stuck", ["gauge_jumps"]),
        ("ammeter wouldn't come off the discharge side", ["ammeter_discharge"]),
        ("ammeter needle at the - side", ["ammeter_discharge"]),
        ("amp gauge drops to zero then back, intermittent", ["gauge_jumps"]),
        ("amp gauge drops to zero", ["ammeter_discharge"]),
        ("charge/discharge gauge erratic", ["gauge_jumps"]),
        ("-8 A steady", ["ammeter_discharge"]),
        ("-1.4 A steady", []),
        ("ammeter 45, norm 20", ["ammeter_high"]),
        ("ammeter 45, norm 30", []),
        ("reads 30 on the ammeter, 5 is normal", ["ammeter_high"]),
        ("buzz in headset quits when ALT switched off", ["noise_or_pulsing"]),
        ("alternator quits when hot", ["charging_light"]),
        ("breaker 3 out", ["breaker_opened"]),
        ("finally fired on the 8th go", ["slow_crank"]),
        ("voltage alarm, 15.3", ["voltage_high"]),
        ("whine. both headsets.", ["noise_or_pulsing"]),
        ("alternator light pulses", ["charging_light"]),
        ("panel light pulses", ["noise_or_pulsing"]),
    ],
)
def test_where_a_needle_stands_what_it_leaves_and_on_which_side_of_a_when(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("engine turns heavy at the start", ["slow_crank"]),
        ("landing light on", []),
        ("ammeter shows a drain", ["ammeter_discharge"]),
        ("cb keeps popping on the pitot heat", ["breaker_opened"]),
        ("stops at compression then goes", ["slow_crank"]),
        ("stopped on compression after shutdown", []),
    ],
)
def test_what_a_longer_way_of_writing_leaves_of_its_words(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("Looked at the ammeter after an hour. Still plus 20.", ["ammeter_high"]),
        ("Ammeter: plus 30. After an hour: plus 28.", ["ammeter_high"]),
        ("Ammeter okay on taxi. Well left of zero in cruise.", ["ammeter_discharge"]),
        ("Ammeter ok on taxi. Erratic in cruise.", ["gauge_jumps"]),
        ("Ammeter ok on taxi. Vacuum high in cruise.", []),
        ("Oil temp high. Stayed high all flight.", []),
    ],
)
def test_what_a_gauge_did_next_is_said_of_the_gauge_named_before(words: str, wanted: list[str]) -> None:
    assert symptoms(words) == wanted


def test_where_the_longest_way_tells_nothing_its_words_keep_their_shorter_meanings() -> None:
    """In "engine turns heavy" a turning that is heavy counts again; a landing light stays one thing."""
    assert symptoms("engine turns heavy at the start") == ["slow_crank"]
    assert symptoms("landing light on") == []
    whole = {(one.name, one.first, one.end) for one in concepts_in(("landing", "light", "flickers"), shorter=True)}
    assert ("other_light", 0, 2) in whole
    assert not any(name == "one_light" for name, _, _ in whole)


def test_a_word_that_turns_another_has_no_meaning_within_it() -> None:
    """What is "putting out" is not out."""
    read = concepts_in(("alternator", "putting", "out"), shorter=True)
    assert not any(one.name == "out" for one in read)


def test_a_phrase_on_both_sides_of_a_when_hides_no_shorter_one_behind_it() -> None:
    """In "voltmeter works when you tap it" the tap tells."""
    assert symptoms("voltmeter works when you tap it") == ["gauge_jumps"]
