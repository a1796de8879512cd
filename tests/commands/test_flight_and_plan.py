"""``taper flight`` and ``taper plan`` as their users call them, and words that are nearly right."""

from __future__ import annotations

import json
import re
import subprocess
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from analyzer.cli import COMMANDS, build_parser, main
from analyzer.commands.completion import bash_script, fish_script, options_of
from analyzer.measures.battery_life import BatteryKnown, CapacityTest
from analyzer.measures.measure import MEASURES
from analyzer.records.changing import add_entries, dispose
from analyzer.records.flight_again import battery_known, flight_named, judging_of, reviewed_again
from analyzer.records.kept import fleet_kept, kept_logs
from analyzer.records.store import open_records
from analyzer.records.verdicts import Disposed
from analyzer.simulator import simulate
from analyzer.simulator.healthy import healthy
from analyzer.simulator.system_faults import FieldOpen
from analyzer.simulator.writers import COMMA, write_csv
from analyzer.trends.entries import make_entry

NOW = datetime(2026, 11, 1)
SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("kept") / "records"
    logs = [str(path) for path in sorted(SAMPLES.glob("N0[39]*.csv"))]
    assert main(["add", *logs, "--fleet", str(SAMPLES / "fleet.toml"), "--records", str(folder)]) == 0
    return str(folder)


def told(capsys: pytest.CaptureFixture[str], *call: str, status: int = 0) -> str:
    capsys.readouterr()
    assert main(list(call)) == status
    out = capsys.readouterr()
    return out.err if status else out.out


def test_the_last_flight_is_told_with_its_story(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "flight", "n037lf", "--records", records)
    assert text.startswith("N037LF  2026-05-03 11:05")
    assert "WARNING: Alternator off line" in text
    assert "First check:" in text
    story = text[text.index("What the meters did") :]
    assert re.search(r"11:0\d:\d\d +Power on", story)
    assert re.search(r"11:41:\d\d +WARNING: ", story)
    assert text.count("airworthy") == 1


@pytest.mark.parametrize("day", ["2026-04-26", "26 Apr 2026", "April 26, 2026", "26.4.2026", "2026-04-26 13:30"])
def test_a_flight_is_found_by_its_day_however_it_is_written(
    day: str, records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(capsys, "flight", "N037LF", day, "--records", records).startswith("N037LF  2026-04-26 13:20")


def test_a_day_without_a_flight_names_the_nearest_and_an_unknown_tail_is_said(
    records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    said = told(capsys, "flight", "N037LF", "2026-04-25", "--records", records, status=2)
    assert "2026-04-26" in said
    assert "no flight of N099ZZ is kept" in told(capsys, "flight", "N099ZZ", "--records", records, status=2)
    assert "is not a date" in told(capsys, "flight", "N037LF", "soon", "--records", records, status=2)


def test_the_kept_flight_is_the_one_that_review_gives(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    kept = json.loads(told(capsys, "flight", "N037LF", "2026-04-26", "--json", "--records", records))
    log = str(SAMPLES / "N037LF_2026-04-26.csv")
    plain = json.loads(told(capsys, "review", log, "--fleet", str(SAMPLES / "fleet.toml"), "--json"))
    (again,), (flight,) = kept["log"]["flights"], plain["logs"][0]["flights"]
    assert again["measures"] == flight["measures"]
    assert list(again["measures"]) == list(MEASURES)
    assert [one["says"] for one in kept["story"]]


def test_a_plan_is_the_flights_endurance_and_less_by_night(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    plan = json.loads(told(capsys, "plan", "N037LF", "2026-04-26", "--json", "--records", records))
    kept = json.loads(told(capsys, "flight", "N037LF", "2026-04-26", "--json", "--records", records))
    endurance = kept["log"]["flights"][0]["measures"]["endurance"]
    flown, night = plan["cases"][0], plan["cases"][1]
    assert {key: flown[key] for key in ("value", "low", "high")} == pytest.approx(
        {key: endurance[key] for key in ("value", "low", "high")}, rel=1e-3
    )
    assert flown["plan_on"] == flown["low"]
    assert night["load"] > flown["load"]
    assert night["plan_on"] < flown["plan_on"]
    shed = json.loads(
        told(capsys, "plan", "N037LF", "2026-04-26", "--shed", "displays", "--json", "--records", records)
    )
    assert shed["cases"][1]["load"] == pytest.approx(flown["load"] - 2.5)
    tested = json.loads(
        told(capsys, "plan", "N037LF", "2026-04-26", "--condition", "60", "--json", "--records", records)
    )
    assert tested["cases"][0]["high"] < flown["high"]
    text = told(capsys, "plan", "N037LF", "2026-04-26", "--records", records)
    assert f"plan on {flown['low']:.0f} min" in text
    assert "never for stretching a flight" in " ".join(text.split())


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--shed", "strobe"], "did you mean 'strobes'?"),
        (["--condition", "150"], "1 to 100, not 150"),
    ],
)
def test_what_cannot_be_planned_is_said(
    more: list[str], said: str, records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert said in told(capsys, "plan", "N037LF", *more, "--records", records, status=2)


def test_wear_that_was_mended_no_longer_counts_and_wear_that_was_accepted_does(records: str) -> None:
    with open_records(Path(records)) as store:
        kept = flight_named(store, "N091LF", None)
        held = next(one for one in kept_logs(store, "N091LF") if one.id == kept.log_id)
        fleet = fleet_kept(store)
        log = reviewed_again(store, held, fleet, judging_of(store, held, fleet))
        assert kept.start is not None
        at = kept.start.isoformat()
        names = [finding.name for one in log.flights for finding in one.findings]
        assert battery_known(store, "N091LF", log, NOW).worn
        for verdict, worn in ((Disposed.ACCEPTED, True), (Disposed.CONFIRMED, True), (Disposed.FIXED, False)):
            for name in names:
                dispose(store, "N091LF", name, at, verdict, "a mechanic", "")
            assert battery_known(store, "N091LF", log, NOW).worn is worn, verdict
        for name in names:
            dispose(store, "N091LF", name, at, Disposed.CONFIRMED, "a mechanic", "")
        assert battery_known(store, "N091LF", log, NOW).worn
        add_entries(store, [make_entry("N091LF", "2026-08-10", "battery_replaced", "new battery")])
        assert not battery_known(store, "N091LF", log, NOW).worn, "what was found of the old battery"
        assert battery_known(store, "N091LF", log, NOW).tested is None


def test_a_capacity_test_clears_earlier_wear_and_a_new_battery_clears_the_test(tmp_path: Path) -> None:
    logs = [str(path) for path in sorted(SAMPLES.glob("N091*.csv"))]
    assert main(["add", *logs, "--fleet", str(SAMPLES / "fleet.toml"), "--records", str(tmp_path / "r")]) == 0
    with open_records(tmp_path / "r") as store:
        kept = flight_named(store, "N091LF", None)
        held = next(one for one in kept_logs(store, "N091LF") if one.id == kept.log_id)
        fleet = fleet_kept(store)
        log = reviewed_again(store, held, fleet, judging_of(store, held, fleet))
        assert battery_known(store, "N091LF", log, NOW).worn
        assert kept.start is not None
        for days, capacity in ((-30, 99.0), (1, 84.0)):
            when = (kept.start + timedelta(days=days)).isoformat()
            add_entries(store, [make_entry("N091LF", when, "battery_serviced", "capacity test", capacity)])
        known = battery_known(store, "N091LF", log, NOW)
        tested = kept.start + timedelta(days=1)
        assert known == BatteryKnown(worn=False, tested=CapacityTest(tested, 84.0), since=tested)
        later = kept.start + timedelta(days=500)
        assert battery_known(store, "N091LF", log, later).worn, "a test that no longer counts clears no wear"
        before = battery_known(store, "N091LF", log, kept.start)
        tested = kept.start - timedelta(days=30)
        assert before == BatteryKnown(worn=True, tested=CapacityTest(tested, 99.0), since=tested)
        when = (kept.start + timedelta(days=2)).isoformat()
        add_entries(store, [make_entry("N091LF", when, "battery_replaced", "new battery")])
        assert battery_known(store, "N091LF", log, NOW) == BatteryKnown(since=kept.start + timedelta(days=2))
        assert battery_known(store, "N091LF", log, kept.start).worn, "a battery that lies ahead clears nothing"


def test_a_capacity_test_is_entered_listed_and_planned_on(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    today = f"{datetime.now():%Y-%m-%d}"
    entry = ["entry", "N037LF", today, "capacity test", "--kind", "battery_serviced", "--capacity"]
    assert "1 to 150" in told(capsys, *entry, "0.8", "--records", records, status=2)
    told(capsys, *entry, "80", "--records", records)
    listed = told(capsys, "entry", "--list", "N037LF", "--records", records)
    assert "(capacity 80 % of rated)" in listed
    number = listed.split()[0]
    told(capsys, "entry", "N037LF", today, "capacity test, in the shop", "--kind", "battery_serviced",
         "--edit", number, "--records", records)  # fmt: skip
    assert "in the shop  (capacity 80 % of rated)" in told(capsys, "entry", "--list", "N037LF", "--records", records)
    ahead = ["entry", "N037LF", "2199-01-01", "test", "--kind", "battery_serviced", "--capacity", "95"]
    assert "lies ahead" in told(capsys, *ahead, "--records", records, status=3)
    text = " ".join(told(capsys, "plan", "N037LF", "2026-04-26", "--records", records).split())
    assert "80 % of rated. 76 to 84 % of rated capacity is assumed today." in text


def test_a_moment_among_several_flights_of_a_day_has_to_be_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (SAMPLES / "N037LF_2026-04-26.csv").read_text("utf-8")
    later = text.replace("T14:", "T17:").replace("T13:", "T16:")
    (tmp_path / "N037LF_a.csv").write_text(text, "utf-8")
    (tmp_path / "N037LF_b.csv").write_text(later, "utf-8")
    records = str(tmp_path / "records")
    assert main(["add", str(tmp_path / "N037LF_a.csv"), str(tmp_path / "N037LF_b.csv"), "--records", records]) == 0
    assert "name the time as well: 13:20, 16:20" in told(
        capsys, "flight", "N037LF", "2026-04-26", "--records", records, status=2
    )
    assert told(capsys, "flight", "N037LF", "2026-04-26 16:40", "--records", records).startswith(
        "N037LF  2026-04-26 16:20"
    )


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (["revew", "a.csv"], "there is no command 'revew'; did you mean 'review'?"),
        (["qqqq"], "taper --help lists all"),
        (["fleet", "--sicne", "2026-05-01"], "'fleet' has no option '--sicne'; did you mean '--since'?"),
        (["review", "a.csv", "--breif"], "did you mean '--brief'?"),
    ],
)
def test_what_is_nearly_right_names_the_right_one(
    call: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(call)
    assert ended.value.code == 2
    assert said in capsys.readouterr().err


def test_the_shells_scripts_know_every_command_and_option() -> None:
    options = options_of(build_parser())
    assert options.keys() == COMMANDS.keys()
    assert {"--json", "--full", "--fleet", "--brief"} <= set(options["review"])
    script = bash_script(options)
    checked = subprocess.run(["bash", "-n"], input=script.encode(), check=False, capture_output=True)
    assert checked.returncode == 0, checked.stderr
    asked = script + '\nCOMP_WORDS=(taper plan --ni); COMP_CWORD=2; _taper; echo "${COMPREPLY[@]}"'
    done = subprocess.run(["bash", "-c", asked], check=True, capture_output=True)
    assert done.stdout.decode().strip() == "--night"
    first = script + '\nCOMP_WORDS=(taper re); COMP_CWORD=1; _taper; echo "${COMPREPLY[@]}"'
    done = subprocess.run(["bash", "-c", first], check=True, capture_output=True)
    assert set(done.stdout.decode().split()) == {name for name in COMMANDS if name.startswith("re")}
    fish = fish_script(options, COMMANDS)
    assert all(f"-a {name} " in fish for name in COMMANDS)


def test_a_lesson_tells_where_the_power_goes_at_each_step(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    text = " ".join(told(capsys, "flight", "N037LF", "2026-04-26", "--lesson", "--records", records).split())
    kept = json.loads(told(capsys, "flight", "N037LF", "2026-04-26", "--json", "--records", records))
    assert text.count("Instruments: voltmeter") == len(kept["story"])
    assert "so it feeds the bus and puts about" in text
    held = next(one["flow"] for one in kept["story"] if one["says"].startswith("Recharge done"))
    assert held["feeder"] == "alternator"
    assert held["load"]["amps"]["value"] == pytest.approx(
        held["alternator"]["amps"]["value"] - held["battery"]["amps"]["value"], abs=0.11
    )
    assert "Instruments" not in told(capsys, "flight", "N037LF", "2026-04-26", "--records", records)


def test_a_plan_says_what_a_stretch_on_battery_alone_showed_of_the_capacity(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scenario = healthy(1, 14, "battery")
    write_csv(simulate(scenario.with_fault(FieldOpen(from_s=scenario.times.cruise_s))), tmp_path / "lost.csv", COMMA)
    kept = str(tmp_path / "records")
    assert main(["add", str(tmp_path / "lost.csv"), "--tail", "N0LOST", "--records", kept]) == 0
    answer = json.loads(told(capsys, "plan", "N0LOST", "--json", "--records", kept))
    shown = answer["capacity_shown"]
    assert 4.0 < shown["at_least"] < 10.0
    assert 30.0 < shown["minutes"] < 60.0
    assert (shown["value"], shown["low"], shown["high"]) == (None, None, None)
    text = " ".join(told(capsys, "plan", "N0LOST", "--records", kept).split())
    assert answer["basis"]["capacity_shown"] in text
    assert f"shows at least {shown['at_least']:.1f} Ah at the one-hour rate" in text


def test_a_number_that_the_plan_held_already_is_not_given(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    """As on the page, whose fields are filled in with them: the interval stays that of what the flight shows."""
    plain = json.loads(told(capsys, "plan", "N037LF", "--json", "--records", records))
    held = f"{plain['load']:.1f}"
    usual = ",".join(("position_lights", "strobes", "panel_lights"))
    asked = ("plan", "N037LF", "--load", held, "--night", usual, "--json", "--records", records)
    same = json.loads(told(capsys, *asked))
    assert same["basis"] == plain["basis"]
    for one, its in zip(same["cases"], plain["cases"], strict=True):  # a battery's test ages while this is asked
        assert one["low"] == pytest.approx(its["low"], rel=1e-6)
    other = told(capsys, "plan", "N037LF", "--load", str(float(held) + 0.1), "--json", "--records", records)
    assert f"load {float(held) + 0.1:g} A" in json.loads(other)["basis"]["given"]


def test_a_plan_says_nothing_of_a_requirement_on_an_assumed_capacity(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_csv(simulate(healthy(1, 14, "battery")), tmp_path / "flown.csv", COMMA)
    kept = str(tmp_path / "records")
    assert main(["add", str(tmp_path / "flown.csv"), "--tail", "N0NONE", "--records", kept]) == 0
    asked = ("plan", "N0NONE", "--load", "5", "--charge", "100", "--records", kept)
    text = " ".join(told(capsys, *asked).split())
    assert "Not enough is known to say whether 30 min are met: the rated capacity is assumed;" in text
    form = json.loads(told(capsys, *asked, "--json"))["load_analysis"]
    assert form["met"] is None
    given = json.loads(told(capsys, *asked, "--capacity", "40", "--json"))["load_analysis"]
    assert given["met"] is True
    assert given["likely"] > given["minutes"] > 30.0


def test_a_flight_that_ran_the_battery_down_counts_in_every_plan_until_a_test(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scenario = healthy(3, 14, "battery")
    spent = replace(scenario, battery=replace(scenario.battery, capacity_ah=28.0, health=0.25))
    lost = spent.with_fault(FieldOpen(from_s=scenario.times.cruise_s + 300.0))
    begun = datetime(2026, 5, 3, 10, 0)
    (tmp_path / "fleet.toml").write_text("[aircraft.N0LOST]\nbattery_capacity = 28\n", "utf-8")
    kept = str(tmp_path / "records")
    for name, one, begins in (("lost", lost, begun), ("later", scenario, begun + timedelta(days=9))):
        write_csv(simulate(replace(one, begins=begins)), tmp_path / f"{name}.csv", COMMA)
        log = [str(tmp_path / f"{name}.csv"), "--tail", "N0LOST", "--fleet", str(tmp_path / "fleet.toml")]
        assert main(["add", *log, "--records", kept]) == 0
    asked = ("plan", "N0LOST", "--json", "--records", kept)
    of_last = json.loads(told(capsys, *asked))
    day = f"{begun:%Y-%m-%d}"
    of_lost = json.loads(told(capsys, *asked[:2], day, *asked[2:]))
    for answer in (of_last, of_lost):
        assert "in the flight of 2026-05-03 showed less" in answer["basis"]["condition"]
    tested = f"{begun + timedelta(days=2):%Y-%m-%d}"
    entry = ["entry", "N0LOST", tested, "capacity test", "--kind", "battery_serviced", "--capacity", "95"]
    told(capsys, *entry, "--records", kept)
    for more in ((), (day,)):
        told_since = json.loads(told(capsys, *asked[:2], *more, *asked[2:]))["basis"]
        assert "showed less" not in told_since["condition"], more


def test_the_alternator_is_taken_to_quit_at_the_minute_asked_for(
    records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ("flight", "N037LF", "2026-04-26", "--records", records, "--quit-at")
    text = told(capsys, *asked, "25", "--night", "strobes", "--master-off", "10")
    assert "If the alternator quit at 13:45:0" in text
    assert "master off for 10 min of the way" in text
    assert text.startswith("N037LF  2026-04-26 13:20")
    assert "What the meters did" not in text, "the answer alone"
    full = told(capsys, *asked, "25", "--full")
    assert full.index("If the alternator quit") < full.index("Flight 1") < full.index("What the meters did")
    said = json.loads(told(capsys, *asked, "25", "--night", "none", "--json"))["alternator_quits"]
    assert said["at_s"] == pytest.approx(1500.0, abs=3.0)
    assert [one["words"] for one in said["cases"]] == ["At this load"]
    assert f"plan on {said['cases'][0]['lasts']['low']:.0f} min" in text
    assert "is not in it" in told(capsys, *asked, "900", status=2)
    assert "is no load of the list; did you mean 'strobes'" in told(capsys, *asked, "9", "--shed", "strobe", status=2)
    assert "not -1" in told(capsys, *asked, "9", "--master-off=-1", status=2)


def test_two_kept_flights_are_held_against_each_other(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    call = ("compare", "N037LF@2026-04-26", "n037lf", "--records", records)
    text = told(capsys, *call)
    assert text.startswith("N037LF 2026-04-26 13:20  beside  N037LF 2026-05-03 11:05")
    document = json.loads(told(capsys, *call, "--json"))
    differs = [one["name"] for one in document["measures"] if one["differs"]]
    assert "offline_time" in differs
    assert " ".join(text.split()).count("; differs") == len(differs)
    assert "no flight of N099ZZ is kept" in told(capsys, "compare", "N099ZZ", "N037LF", "--records", records, status=2)


def test_after_a_jump_start_charge_is_told_and_no_go(records: str, capsys: pytest.CaptureFixture[str]) -> None:
    call = ("flight", "N037LF", "2026-04-26", "--records", records, "--jump-start")
    text = " ".join(told(capsys, *call).split())
    back = json.loads(told(capsys, *call, "--json"))["charge_back"]
    assert f"At least {int(10.0 * back['amp_hours']) / 10.0:.1f} Ah was back" in text
    assert "This does not clear the aircraft for its next flight." in text
    assert "What the meters did" not in text, "the answer alone"
    assert "What the meters did" in told(capsys, *call, "--full")


@pytest.mark.parametrize(
    "call",
    [
        ["flight", "N37LF"], ["plan", "N37LF"], ["compare", "N37LF", "N037LF"], ["alarms", "N37LF"], ["loads", "N37LF"],
        ["trend", "N37LF"], ["waiting", "N37LF"], ["due", "N37LF"], ["peers", "N37LF"],
        ["squawk", "N37LF", "low voltage light"],
        ["export", "tables", "--tail", "N37LF"], ["dispose", "N37LF", "--list"],
    ],
    ids=lambda call: call[0],
)  # fmt: skip
def test_a_tail_that_is_nearly_right_is_answered_with_the_nearest(
    call: list[str], records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "did you mean N037LF?" in told(capsys, *call, "--records", records, status=2)


@pytest.mark.parametrize(("given", "near"), [("fixd", "; did you mean fixed? "), ("sorted", ". ")])
def test_an_outcome_that_is_none_is_answered_with_all_and_the_nearest(
    given: str, near: str, records: str, capsys: pytest.CaptureFixture[str]
) -> None:
    call = ["dispose", "N037LF", "slow_recharge", "2026-04-26", given, "--records", records]
    said = told(capsys, *call, status=2)
    assert f"'{given}' is not an outcome{near}Outcomes: confirmed, not found on inspection, accepted, fixed" in said
