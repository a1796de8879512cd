"""The lesson as a handout: a page of questions that gives no answer away, and a page of answers that are true."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from analyzer.aircraft import read_fleet
from analyzer.cli import main
from analyzer.logs import Log, find_logs, read_log
from analyzer.measures.battery_life import UNKNOWN_BATTERY
from analyzer.reports.handout import MOST_STEPS, lesson_steps, quit_in_lesson
from analyzer.reports.sheets.handout_sheet import handout_sheet
from analyzer.reports.sheets.pdf import pdf
from analyzer.review import FlightReview, review_log
from analyzer.simulator import simulate
from analyzer.simulator.electrical import BATTERY, COASTING, LIMITED, REGULATED, STARTER
from analyzer.simulator.scenarios import FAULTY, HEALTHY
from tests.flown import judged
from tests.paper import packed, page_texts, pages

SAMPLES = Path(__file__).resolve().parents[3] / "sample_logs"
FILES = sorted(file.name for file in SAMPLES.glob("*.csv"))
TODAY = datetime(2026, 11, 1)


def reviewed(name: str) -> FlightReview:
    (source,) = find_logs([SAMPLES / name])
    log = read_log(source)
    assert isinstance(log, Log)
    return review_log(log, read_fleet(SAMPLES / "fleet.toml").of(log.tail)).flights[0]


@pytest.mark.long(keep=7)
@pytest.mark.parametrize("name", FILES)
def test_questions_take_one_page_without_answers_and_answers_the_next(name: str) -> None:
    review = reviewed(name)
    sheet = handout_sheet("N012LF", review, UNKNOWN_BATTERY, TODAY)
    steps = lesson_steps(review)
    assert 1 <= len(steps) <= MOST_STEPS
    made = pdf(sheet, "letter")
    assert pages(made) == 2
    asked, answers = map(packed, page_texts(made))
    for number, step in enumerate(steps, 1):
        for page in (asked, answers):
            assert f"{number}." in page
            assert packed(step.setting) in page
        for question in (*step.readings, step.why):
            assert packed(question.asks) in asked
            assert packed(question.answer) in answers
            assert packed(question.answer) not in asked
    said = quit_in_lesson(review, steps, UNKNOWN_BATTERY, TODAY)
    assert ("Whatifthealternatorquit" in asked) is (said is not None)


#: Which answers are right by what feeds the bus in truth.
RIGHT = {
    BATTERY: ("from the battery to the loads",),
    STARTER: ("from the battery to the starter",),
    REGULATED: ("from the alternator to the loads",),
    COASTING: ("from the alternator to the loads", "from the battery to the loads"),
    LIMITED: ("from the alternator",),
}


@pytest.mark.parametrize("kind", ["alternator", "battery"])
@pytest.mark.parametrize("name", ["healthy", "touch_and_goes", "alternator_lost", "output_fading", "repeated_trips"])
def test_the_answers_are_true(name: str, kind: str) -> None:
    flown = simulate((HEALTHY | FAULTY)[name](741, 28 if kind == "battery" else 14, kind))
    course = flown.course
    steps = lesson_steps(judged(flown))
    assert len({one.feeder for one in steps}) >= 3
    for step in steps:
        row = int(np.argmin(np.abs(course.time_s - step.at_s - flown.log_begins_s)))
        way = step.why.answer.split(".")[0].removeprefix("Current flows ")
        assert way.startswith(RIGHT[int(course.fed_by[row])]), step
        low, says = course.bus_v[row] < (26.0 if kind == "battery" else 13.0), step.readings[1].answer
        near = abs(course.bus_v[row] - (26.0 if kind == "battery" else 13.0)) < 0.3
        assert near or says.startswith("on" if low else "off")


def test_the_command_writes_it_and_leaves_what_is_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    records, target = str(tmp_path / "records"), tmp_path / "lesson.pdf"
    log = str(SAMPLES / "N012LF_2026-05-09.csv")
    assert main(["add", log, "--fleet", str(SAMPLES / "fleet.toml"), "--records", records]) == 0
    call = ["flight", "N012LF", "--handout", str(target), "--records", records]
    assert main(call) == 0
    assert pages(target.read_bytes()) == 2
    capsys.readouterr()
    assert main(call) == 2
    said = capsys.readouterr()
    assert "exists already and is left as it is" in said.err
    assert said.out == ""
