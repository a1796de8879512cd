"""What the page Import says of files before they are kept, and what a person does with them there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from analyzer.logs import find_logs, read_log
from dashboards.staging import DAY_OR_MONTH
from tests.dashboards.command_words import speaks_plainly
from tests.dashboards.unseen import unseen

Visit = Callable[..., Any]
SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"


def a_log(date: str, minutes: int = 15) -> str:
    """A flight whose date is written in numbers, of no aircraft."""
    rest = [f"{date},10:00:{s:02d},12.6,0.0,0" for s in range(30)]
    run = [f"{date},10:{1 + s // 60:02d}:{s % 60:02d},14.{s % 2},3.0,2300" for s in range(60 * minutes)]
    return "Date,Time,Volts,Amps,RPM\n" + "\n".join(rest + run) + "\n"


def bring(page: Any, *files: Path) -> None:
    """Choose files on the page, and wait until each is read."""
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Choose files").click()
    chooser.value.set_files(list(files))


def test_a_date_that_can_be_read_in_two_ways_is_told_by_the_words_that_the_page_looks_for(tmp_path: Path) -> None:
    (tmp_path / "open.csv").write_text(a_log("05/03/2026"), "utf-8")
    (source,) = find_logs([tmp_path / "open.csv"])
    assert any(words.startswith(DAY_OR_MONTH) for words in read_log(source).warnings)


def test_copies_are_named_before_anything_is_imported_and_files_are_taken_out(
    changeable_once: str, visit: Visit, tmp_path: Path
) -> None:
    saved = (SAMPLES / "N012LF_2026-05-09.csv").read_bytes()
    (tmp_path / "saved.csv").write_bytes(saved)
    (tmp_path / "short.csv").write_bytes(b"".join(saved.splitlines(keepends=True)[:-30]))  # the same flight cut short
    (tmp_path / "one.csv").write_text(a_log("2026-10-03"), "utf-8")
    (tmp_path / "two.csv").write_text(a_log("2026-10-03"), "utf-8")
    (tmp_path / "other.csv").write_text(a_log("2026-10-04"), "utf-8")
    page = visit(f"{changeable_once}/bring-in")
    bring(page, *(tmp_path / f"{name}.csv" for name in ("saved", "short", "one", "two", "other")))
    page.get_by_text("5 logs: 5 read, 0 refused. 2 copies of what is already here will be skipped.").wait_for()

    def line(name: str) -> Any:
        return page.locator("#bring-list tbody tr", has=page.locator("th", has_text=name))

    assert "already imported" in line("saved.csv").inner_text()
    link = line("saved.csv").get_by_role("link", name="N012LF, 2026-05-09")
    assert link.get_attribute("href").startswith("/flight/")
    assert "same flight as in N012LF_2026-05-09.csv" in line("short.csv").inner_text()
    assert "same file as one.csv" in line("two.csv").inner_text()
    assert "2026-10-03, 10:" in line("one.csv").inner_text()
    page.get_by_label("Remove short.csv from the list").click()
    line("short.csv").wait_for(state="detached")
    page.get_by_label("Remove other.csv from the list").click()
    line("other.csv").wait_for(state="detached")
    page.get_by_label("2 logs have no tail number. Whose?").fill("no tail !")
    page.get_by_role("button", name="Use this tail number").click()
    page.locator("#bring-given").get_by_text("tail").wait_for()
    page.get_by_label("2 logs have no tail number. Whose?").fill("n0copy")
    page.get_by_role("button", name="Use this tail number").click()
    line("one.csv").get_by_text("N0COPY").wait_for()
    page.get_by_role("button", name="Import 1 log").click()
    page.get_by_text("1 new log with 1 flight imported; 2 imported before.").wait_for()
    flight = page.locator("#bring-kept").get_by_role("link", name="N0COPY, 2026-10-03").get_attribute("href")
    assert unseen(changeable_once, flight).all("H1")[0].words.startswith("N0COPY, 2026-10-03")


def test_where_day_or_month_may_come_first_a_person_picks(changeable_once: str, visit: Visit, tmp_path: Path) -> None:
    (tmp_path / "open.csv").write_text(a_log("05/03/2026"), "utf-8")
    page = visit(f"{changeable_once}/bring-in")
    bring(page, tmp_path / "open.csv")
    page.get_by_text("day or month first?").wait_for()
    page.get_by_label("Details of open.csv").click()
    page.locator("#bring-closer").get_by_label("Tail number").fill("n0day")
    page.locator("#bring-list tr", has_text="N0DAY").wait_for()
    page.get_by_role("button", name="2026-05-03").click()
    page.locator("#bring-list").get_by_text("2026-05-03").wait_for()
    page.get_by_role("button", name="2026-03-05").click()
    page.locator("#bring-list").get_by_text("2026-03-05").wait_for()
    page.get_by_role("button", name="2026-05-03").click()
    page.locator("#bring-list").get_by_text("2026-05-03").wait_for()
    page.get_by_role("button", name="Import 1 log").click()
    flight = page.get_by_role("link", name="N0DAY, 2026-05-03")
    flight.wait_for(timeout=120_000)  # ms; other tests share the processors
    brought = unseen(changeable_once, flight.get_attribute("href"))
    assert brought.all("H1")[0].words.startswith("N0DAY, 2026-05-03")
    assert "2026-05-03 open.csv" in brought.part("flight-recording").words


def test_answers_slower_than_the_page_asks_are_awaited(changeable_once: str, visit: Visit, tmp_path: Path) -> None:
    (tmp_path / "slow.csv").write_text(a_log("2026-05-13"), "utf-8")
    page = visit(f"{changeable_once}/bring-in")
    page.evaluate(
        """() => {
            const ask = window.fetch;
            const late = answer => new Promise(done => setTimeout(() => done(answer), 1500));
            window.fetch = (...question) => ask(...question).then(late);
        }"""
    )
    bring(page, tmp_path / "slow.csv")
    page.get_by_label("Details of slow.csv").click()
    page.locator("#bring-closer").get_by_label("Tail number").fill("n0slow")
    page.locator("#bring-list tr", has_text="N0SLOW").wait_for()
    page.get_by_role("button", name="Import 1 log").click()
    page.get_by_role("link", name="N0SLOW, 2026-05-13").wait_for()


def test_what_cannot_be_read_is_refused_and_a_clock_is_picked_from_the_columns_that_were_read(
    pages: str, visit: Visit, tmp_path: Path
) -> None:
    (tmp_path / "photo.png").write_bytes(b"\x89PNG")
    speeds = "".join(f"2026-05-01,10:00:{s:02d},{90 + s}\n" for s in range(60))
    (tmp_path / "speeds.csv").write_text(f"Date,Time,Speed\n{speeds}", "utf-8")
    lines = a_log("2026-05-03").splitlines()
    sent = ["Timestamp," + lines[0]]
    sent += [f"2026-06-01 10:{at // 60:02}:{at % 60:02},{line}" for at, line in enumerate(lines[1:])]
    (tmp_path / "sent.csv").write_text("\n".join(sent) + "\n", "utf-8")
    page = visit(f"{pages}/bring-in")
    bring(page, *(tmp_path / name for name in ("photo.png", "speeds.csv", "sent.csv")))
    page.get_by_text("photo.png is neither a CSV file nor a zip archive").wait_for()
    visit.faults[:] = [fault for fault in visit.faults if "400" not in fault]  # type: ignore[attr-defined]
    page.get_by_text("on the page Import, under Details").first.wait_for()
    speaks_plainly(page)
    page.get_by_label("Details of sent.csv").click()
    page.locator("#bring-closer").get_by_text("Clock").first.wait_for()
    assert "2026-06-01" in page.locator("#bring-list").text_content()
    page.locator("#bring-role").click()
    page.get_by_role("option", name="clock: the time, or date and time").click()
    page.locator("#bring-header").fill("Time")
    page.get_by_role("option", name="Time", exact=True).click()
    page.get_by_role("button", name="Re-read file").click()
    page.locator("#bring-list").get_by_text("2026-05-03").wait_for()
