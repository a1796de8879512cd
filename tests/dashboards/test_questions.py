"""Each user's questions over the demo's season, walked in a real browser; mere words are read as they are sent."""

from __future__ import annotations

import json
import re
import shutil
import time
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.browser import hindrances, served, turned, until
from tests.dashboards.asking import open_page, sheet
from tests.dashboards.command_words import COMMAND_WORDS, speaks_plainly
from tests.dashboards.unseen import Unseen, shown_in_reference, unseen
from tests.dashboards.walking import last_flight
from tests.paper import first_page_size, page_texts, pdf_words

Visit = Callable[..., Any]
SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
WIDE, TALL = (1280, 800), (820, 1180)
LIGHT, DARK = "light", "dark"
Look = tuple[tuple[int, int], str]
NOT_CUT_OFF = "document.documentElement.scrollWidth <= window.innerWidth + 1"


def flight_of(visit: Visit, address: str, tail: str, day: str) -> Any:
    """Go to a tail's flight of a day through its table."""
    page = visit(f"{address}/aircraft/{tail}")
    page.wait_for_selector("#aircraft-grid .ag-row")
    page.locator("#aircraft-grid .ag-paging-page-size .ag-picker-field-wrapper").click()
    page.get_by_role("option", name="100").click()
    page.get_by_role("link", name=re.compile(f"^{day}")).first.click()
    page.wait_for_selector("#flight-chart .main-svg")
    return page


def test_owner_was_last_nights_flight_all_right(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/aircraft/N058LF")
    last = page.locator("#aircraft-grid .ag-row a").first.get_attribute("href")
    shown_by = page.locator(".verdict").get_by_role("link", name=re.compile("See the flight of"))
    assert shown_by.get_attribute("href").startswith(f"{last}?from="), "the aircraft's verdict rests on it"
    shown_by.click()
    page.wait_for_selector("#flight-chart .main-svg")
    assert urlsplit(page.url).path == last
    verdict = page.locator(".verdict").inner_text()
    assert "Caution" in verdict
    assert "Low alternator output" in verdict
    assert "First check" in verdict


def test_owner_is_my_battery_on_its_way_out(pages: str) -> None:
    cranking = unseen(pages, "/aircraft/N074LF").of_class("card", "Lowest cranking voltage")
    assert "Falling" in cranking.words
    assert "past its limit" in cranking.words or "engine hours" in cranking.words
    (chart,) = cranking.all("Graph")
    assert chart.content["props"]["figure"]["data"]


def axis_range(page: Any) -> list[str]:
    """The chart's time axis, once the chart is drawn."""
    plot = "document.querySelector('#flight-chart .js-plotly-plot')"
    until(page, f"{plot}?._fullLayout?.xaxis?.range")
    return list(page.evaluate(f"{plot}._fullLayout.xaxis.range"))


def test_instructor_shows_what_the_meters_did_and_why(pages: str, visit: Visit) -> None:
    page = flight_of(visit, pages, "N012LF", "2026-05-09")
    zooming_brings_the_readings_that_were_left_out(page)
    sentence = page.locator("#flight-story li", has_text="Without the alternator")
    assert "The bus falls at once to battery voltage" in sentence.inner_text()
    before = page.url
    sentence.get_by_role("button").click()
    until(page, f"location.search.includes('from=') && location.href !== '{before}'")
    first, last = (float(re.search(f"{end}=([0-9.]+)", page.url).group(1)) for end in ("from", "to"))
    assert last - first < 400.0
    shown = axis_range(page)
    again = visit(page.url)
    same = axis_range(again)
    assert [moment[:19] for moment in same] == [moment[:19] for moment in shown]


def zooming_brings_the_readings_that_were_left_out(page: Any) -> None:
    count = "document.querySelector('#flight-chart .js-plotly-plot')._fullData[0].x.length"
    axis_range(page)
    before = page.evaluate(count)
    page.locator("#flight-findings").get_by_role("button", name=re.compile("^Show")).click()
    until(page, f"{count} != {before}")
    inside = page.evaluate(
        "(() => { const plot = document.querySelector('#flight-chart .js-plotly-plot');"
        " const [a, b] = plot._fullLayout.xaxis.range.map((d) => Date.parse(d + 'Z'));"
        " return [Array.from(plot._fullData[0].x).filter((x) => x >= a && x <= b).length, (b - a) / 1000]; })()"
    )
    assert inside[0] >= inside[1] - 2


def test_school_which_aircraft_needs_attention_first_and_what_changed(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/")
    page.wait_for_selector("#fleet-list tbody tr")
    rows = page.locator("#fleet-list tbody tr").all_inner_texts()
    marks = ["Warning", "Caution", "Advisory", "Not known", "Nothing found"]
    order = [next(place for place, mark in enumerate(marks) if mark in row) for row in rows]
    assert len(rows) == 5
    assert order == sorted(order)
    assert "N074LF" in "".join(rows[:3])
    heights = page.evaluate("[...document.querySelectorAll('#fleet-list tbody tr')].map((row) => row.clientHeight)")
    assert max(heights) <= 60, "one line of about 48 px an aircraft"
    the_fleet_can_be_searched(page)
    page.get_by_role("link", name="90 days").click()
    page.locator("#fleet-changed a.chosen", has_text="90 days").wait_for()
    assert page.locator(".changes li").count() > 5


def the_fleet_can_be_searched(page: Any) -> None:
    page.get_by_label("Search").fill("N037")
    until(page, "document.querySelectorAll('#fleet-list tbody tr').length == 1")
    assert "N037LF" in page.locator("#fleet-list tbody tr").first.inner_text()


def test_the_fleet_is_narrowed_by_its_address(pages: str) -> None:
    narrowed, whole = (unseen(pages, path).part("fleet-list").all("Tr")[1:] for path in ("/?condition=good", "/"))
    assert 0 < len(narrowed) < len(whole) == 5
    assert all("Nothing found" in row.words for row in narrowed)


def test_school_did_the_new_regulator_work(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/aircraft/N058LF#aircraft-entries")
    card = page.locator("#aircraft-entries article", has_text="regulator replaced")
    assert "It helped" in card.locator(".badge").inner_text()
    assert "Regulated voltage went from 14.65 to 13.96 V (better)" in card.inner_text()
    assert "Regulated voltage high: found in 6 of 18 flights before, in 0 of 13 after" in card.inner_text()
    found = page.locator("#aircraft-findings article", has_text="Regulated voltage high").first.inner_text()
    assert "Raised 2026-05-16, ended 2026-06-13. Seen on 6 flights, 2026-05-02 to 2026-06-06." in found
    page.get_by_text(re.compile("measures without a clear trend")).click()
    words = page.locator(".card", has_text="Regulated voltage").first.inner_text()
    assert "13.96 V now; too few hours for a slope: 13 of 20 since its last step or maintenance" in words
    page.locator(".card .main-svg").first.wait_for(state="attached")
    stands(page, ((TALL, DARK),))
    speaks_plainly(page)
    grid_is_seen_whole(page)
    an_entry_leads_to_its_symptoms_before_and_after_it(page)


def an_entry_leads_to_its_symptoms_before_and_after_it(page: Any) -> None:
    card = page.locator("#aircraft-entries article", has_text="regulator replaced")
    card.get_by_role("link", name="Its symptoms before and after").click()
    work = page.locator("#squawk-work")
    work.wait_for()
    row = work.locator("tr", has_text="Voltage high").inner_text()
    assert "2026-06-09" in row
    before, after = re.findall(r"seen in (\d+) of (\d+) flights", row)
    assert int(before[0]) >= 6
    assert int(after[0]) == 0
    assert int(after[1]) >= 10
    since, until = re.findall(r"(?:since|until)=([0-9-]+)", page.url)
    assert f"since {since} until {until} searched." in page.locator(".looked-through").inner_text()


def test_each_entry_has_an_address_that_leads_to_its_answer(pages: str, visit: Visit) -> None:
    (row,) = (one for one in unseen(pages, "/entries").part("entries-list").all("Tr") if "N037LF" in one.words)
    page = visit(f"{pages}{row.link('not found again')}")
    card = page.locator("#aircraft-entries article.asked")
    card.wait_for()
    assert "2026-05-05" in card.inner_text()
    until(page, "document.querySelector('article.asked').getBoundingClientRect().top < 300")


def test_an_address_that_asks_for_what_cannot_be_still_gives_a_page(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/flight/1?from=nan&to=inf&night=&shed=nonsense&load=nan&capacity=-3")
    words = page.locator("main").inner_text()
    assert "This page cannot be shown" not in words
    assert page.locator("#notice").inner_text() == ""


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("/?days=%C2%B2", "N058LF"),
        ("/?days=99999999999&condition=nonsense", "N058LF"),
        ("/aircraft/N058LF?shown=nonsense&along=nonsense", "Regulated voltage"),
        ("/flight/%C2%B2", "There is no flight"),
        ("/flight/99999999999999999999", "There is no flight"),
        ("/aircraft/%3Cb%3E", "is imported"),
        ("/entries?tail=nonsense", "Maintenance log"),
    ],
)
def test_an_address_that_names_what_cannot_be_still_gives_a_page(pages: str, path: str, says: str) -> None:
    answer = open_page(pages, path)
    assert answer.status == 200
    assert list(json.loads(answer.body)["response"]) == ["_pages_content", "_pages_store"], "no notice beside it"
    words = unseen(pages, path).words
    assert "This page cannot be shown" not in words
    assert says in words


@pytest.mark.long
def test_every_column_of_the_grids_is_seen_whole_on_a_tablet(pages: str, visit: Visit) -> None:
    """Of another aircraft than the one whose repair is asked about, whose page is turned so."""
    grid_is_seen_whole(visit(f"{pages}/aircraft/N012LF", size=TALL))


def grid_is_seen_whole(page: Any) -> None:
    page.wait_for_selector(".ag-row")
    cut = "[...document.querySelectorAll('.ag-center-cols-viewport')].map((e) => e.scrollWidth - e.clientWidth)"
    until(page, f"Math.max(...{cut}) <= 1")
    page.wait_for_timeout(400)  # and it stays so
    assert max(page.evaluate(cut)) <= 1


def test_pilot_how_long_without_an_alternator_by_day_by_night_after_shedding_and_what_the_numbers_are(
    pages: str, visit: Visit
) -> None:
    page = last_flight(pages, visit, "N037LF")
    answer = page.locator("#plan-answer")
    answer.get_by_text("Night loads added").wait_for()
    assert "never for stretching a flight" in page.locator("#flight-planner").inner_text()
    minutes = [float(text.split()[0]) for text in answer.locator("tbody td:nth-child(3)").all_inner_texts()]
    assert minutes[1] < minutes[0]
    page.get_by_text("Loads for the night, and to switch off").click()
    shed = page.get_by_role("group", name="Switched off after the alternator fails; only what was on")
    shed.get_by_label(re.compile("Landing light")).check()
    shed.get_by_label(re.compile("Large displays")).check()
    answer.get_by_text("Night loads added, after shedding").wait_for()
    page.wait_for_load_state("networkidle")
    assert answer.locator("tbody tr").count() == 4
    link = answer.locator("a[href^='?load']").get_attribute("href")
    again = unseen(pages, urlsplit(page.url).path + link)
    assert "Night loads added, after shedding" in again.after("plan-answer")["plan-answer"].words
    (fold,) = (one for one in again.all("Details") if one.has("plan-shed"))
    assert fold.content["props"]["open"], "what a link asks for is not folded"
    a_number_leads_to_what_it_is(page)


def a_number_leads_to_what_it_is(page: Any) -> None:
    page.locator("#flight-measures").get_by_role("link", name="Regulated voltage").click()
    page.wait_for_url("**/reference#regulated_voltage")
    topic = page.locator("#regulated_voltage")
    topic.wait_for()
    assert "How it is worked out" in topic.inner_text()
    until(page, "document.getElementById('regulated_voltage').getBoundingClientRect().top < innerHeight")
    assert page.locator("article.topic").count() == 1, "a term at a time"
    page.get_by_label("Search").fill("sound regulator holds warm air")
    found = page.locator("#reference-found li", has_text="Highest bus voltage that a sound regulator holds")
    found.wait_for()
    assert "14.5 V" in found.inner_text()
    assert "regulated_high" not in found.inner_text(), "plain words; the name stands in the detail"
    found.get_by_role("link").click()
    detail = page.locator("#regulated_high")
    detail.wait_for()
    assert "regulated_high" in detail.inner_text()
    assert "FAA-H-8083-31" in detail.inner_text()
    page.get_by_label("Search").fill("slow recharge")
    page.locator("#reference-found").get_by_role("link", name="Slow recharge", exact=True).click()
    page.locator("#slow_recharge").wait_for()
    assert "What to check on the ground" in page.locator("#slow_recharge").inner_text()
    assert page.evaluate("document.documentElement.scrollHeight") < 6000


def test_mechanic_confirms_a_report_and_sees_the_moment_and_what_to_check_first(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/squawk")
    page.locator("#squawk-tail").click()
    page.get_by_role("option", name="N037LF").click()
    page.get_by_label("The report in words").fill("low volt light came on, strange smell in the cabin")
    understood = page.locator("#squawk-understood")
    understood.get_by_text("Charging light on or flickering").wait_for()
    assert "Not understood: “cabin”" in understood.inner_text().replace("“strange”, ", "").replace("“smell”, ", "")
    page.get_by_label("Flights since").fill("2026-04-01")
    page.get_by_label("Flights since").press("Enter")
    page.get_by_role("button", name="Search the recordings").click()
    light = page.locator("#squawk-charging-light")
    light.locator(".badge", has_text="seen in the recordings").wait_for()
    words = light.inner_text()
    assert "in 1 of 22 flights" in words
    assert "27.4 to 28.8 V (28 V system)" in page.locator("#squawk-on-the-ground").inner_text()
    light.locator(".occasion .main-svg").first.wait_for(state="attached")
    assert "words=low" in page.url
    light.locator(".occasion a").first.click()
    page.wait_for_selector("#flight-chart .main-svg")
    shown = axis_range(page)
    assert shown[0] > "2026-05-03 11:05"  # zoomed to the moment, not the whole flight
    finding = page.locator("article.finding").first.inner_text()  # when, under what, and what to check first
    assert "Alternator off line" in finding
    assert "Likely causes" in finding
    assert "Check on the ground, in this order" in finding
    assert re.search(r"\d+ %", finding)


def test_the_sheet_of_an_entry_counts_its_symptoms_on_the_paper_asked_for(pages: str) -> None:
    pytest.importorskip("typst", reason="the sheets' libraries are not installed")
    for paper, size in (("a4", (595, 842)), ("letter", (612, 792))):
        pdf = sheet(pages, f"entry/N058LF/2026-06-09.pdf?paper={paper}").body
        assert tuple(map(round, first_page_size(pdf))) == size
        words = pdf_words(pdf)
        assert "The symptom before and after" in words
        assert "Voltage high" in words


def searched(pages: str, query: str) -> Unseen:
    """What the page says of a report, once the recordings are searched."""
    over = time.monotonic() + 60.0
    while not (page := unseen(pages, f"/squawk?{query}")).part("squawk-clock").content["props"]["disabled"]:
        assert time.monotonic() < over, query
        time.sleep(0.3)
    return page.part("squawk-result")


def test_a_symptom_that_was_read_wrongly_is_taken_out_by_hand(pages: str) -> None:
    result = searched(pages, "tail=N074LF&words=battery+dead,+slow+crank&symptom=slow_crank")
    assert result.has("squawk-slow-crank")
    assert not result.has("squawk-dead-battery")


def test_what_no_recording_can_show_is_said_to_be_so(pages: str) -> None:
    query = "tail=N058LF&symptom=battery_heat"
    assert "could not have been seen" in searched(pages, query).part("squawk-battery-heat").words
    assert "Not recorded does not mean it did not happen" in unseen(pages, f"/squawk?{query}").words


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("tail=N0NONE&words=slow+crank", "No flight of N0NONE is kept."),
        ("tail=N058LF&words=blue+elephants", "match no symptom"),
        ("tail=N058LF&symptom=elephants", "match no symptom"),
        ("tail=N058LF&words=slow+crank&since=2030-01-01", "This aircraft has no flight since that day."),
    ],
)
def test_a_report_that_cannot_be_looked_up_says_why(pages: str, query: str, says: str) -> None:
    assert says in searched(pages, query).words


def test_school_reads_on_monday_what_is_new_worse_fixed_and_near(pages: str) -> None:
    page = unseen(pages, "/digest?since=2026-05-01")
    new = page.part("digest-new")
    assert "N037LF" in new.words
    assert "Alternator off line" in new.words
    assert "N058LF" in page.part("digest-fixed").words
    led = new.link("Alternator off line")
    assert led == "/reference#alternator_offline"
    assert shown_in_reference(pages, led).has("alternator_offline")


def test_the_reference_is_open_to_all(pages: str, visit: Visit) -> None:
    stands(visit(f"{pages}/reference", size=TALL), ((TALL, LIGHT),))


@pytest.mark.parametrize(
    "path",
    [
        "flight/1",
        "aircraft/N058LF",
        "entry/N058LF/2026-06-09",
        "squawk",
    ],
)
def test_each_page_has_a_sheet_to_print(pages: str, path: str) -> None:
    pytest.importorskip("typst", reason="the sheets' libraries are not installed")
    query = "?tail=N037LF&words=low+volt+light+came+on&since=2026-04-01" if path == "squawk" else ""
    text = sheet(pages, f"{path}.html{query}").text
    assert "<script" not in text
    assert "do not declare an aircraft airworthy" in text
    assert COMMAND_WORDS.findall(re.sub(r"<style.*?</style>|<svg.*?</svg>", "", text, flags=re.DOTALL)) == []
    answer = sheet(pages, f"{path}.pdf{query}")
    data = answer.body
    assert data[:5] == b"%PDF-"
    assert "attachment" in answer.headers["content-disposition"]
    first = page_texts(data)[0]
    assert all(words in first for words in ("Work done", "Signature", "Date")), "to be signed on page one"


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("flight/999999.pdf", "There is no flight"),
        ("aircraft/N0NONE.html", "No flight of N0NONE is kept"),
        ("entry/N058LF/2026-01-01.pdf", "Nothing was entered for N058LF on 2026-01-01"),
        ("entry/N058LF/someday.pdf", "someday"),
        ("squawk.pdf?tail=N058LF&words=blue+elephants", "symptom"),
        ("flight/1.docx", "A sheet is .html or .pdf."),
    ],
)
def test_a_sheet_that_cannot_be_made_says_why(pages: str, path: str, says: str) -> None:
    with pytest.raises(urllib.error.HTTPError) as told:
        urllib.request.urlopen(f"{pages}/sheet/{path}", timeout=60)
    words = told.value.read().decode()
    told.value.close()
    assert told.value.code == 404
    assert says in words


def test_logs_are_brought_in_looked_at_corrected_and_kept(changeable_once: str, visit: Visit, tmp_path: Path) -> None:
    text = (SAMPLES / "N012LF_2026-05-16.csv").read_text("utf-8")
    log = tmp_path / "new.csv"
    log.write_text(text.replace("2026-05-16", "2026-10-02"), "utf-8")
    (tmp_path / "shopping.csv").write_text("what,how many\neggs,12\n", "utf-8")
    with zipfile.ZipFile(tmp_path / "both.zip", "w") as archive:
        archive.write(tmp_path / "shopping.csv", "shopping.csv")
        archive.write(SAMPLES / "N012LF_2026-05-09.csv", "again.csv")
    page = visit(f"{changeable_once}/bring-in")
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Choose files").click()
    chooser.value.set_files([log, tmp_path / "both.zip"])
    page.get_by_text("3 logs: 2 read, 1 refused.").wait_for()
    refused = page.locator("tr", has_text="shopping.csv").inner_text()
    assert "No header row was found" in refused
    page.get_by_label("Details of new.csv").click()
    closer = page.locator("#bring-closer")
    closer.get_by_text("Columns", exact=True).wait_for()
    assert "bus voltage" in closer.inner_text()
    headers = closer.locator("tbody tr td:nth-child(2)").all_inner_texts()
    page.locator("#bring-header").click()
    page.get_by_role("option", name=headers[2], exact=True).click()
    page.get_by_role("button", name="Re-read file").click()
    closer.get_by_text("Corrected:").wait_for()
    assert page.get_by_label("this log only").is_checked()
    page.get_by_label("all logs of this aircraft").check()
    page.get_by_role("button", name="Undo corrections").click()
    closer.get_by_text("Corrected:").wait_for(state="detached")
    closer.get_by_label("Tail number").fill("n0new")
    page.locator("#bring-list tr", has_text="N0NEW").wait_for()
    page.get_by_label("Details of both.zip/again.csv").click()
    page.get_by_role("heading", name="Details: both.zip/again.csv").wait_for()
    page.get_by_role("link", name="Fleet", exact=True).first.click()
    page.get_by_role("link", name="Import", exact=True).first.click()
    page.locator("#bring-list tr", has_text="N0NEW").wait_for()
    page.get_by_role("button", name="Import 1 log").click()
    page.get_by_text("1 new log with 1 flight imported; 1 imported before.").wait_for()
    page.get_by_role("link", name="N0NEW", exact=True).click()
    page.get_by_role("heading", name="N0NEW").wait_for()


def test_an_entry_is_added_changed_undone_and_removed(changeable_once: str, visit: Visit) -> None:
    page = visit(f"{changeable_once}/entries?tail=N074LF")
    page.get_by_label("Notes").fill("new battery, capacity tested")
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Saved for N074LF.").wait_for()
    row = page.locator("#entries-list tbody tr", has_text="capacity tested")
    row.get_by_role("button", name=re.compile("^Change")).click()
    page.get_by_text("Changing the entry of").wait_for()
    page.get_by_label("Notes").fill("a second thought")
    page.get_by_role("button", name="Save").click()
    page.locator("#entries-list tbody tr", has_text="a second thought").wait_for()
    page.get_by_role("button", name="Undo").click()
    page.locator("#entries-list tbody tr", has_text="capacity tested").wait_for()
    page.locator("#entries-list").get_by_role("button", name=re.compile("^Remove")).click()
    page.get_by_text("Removed from N074LF.").wait_for()
    page.get_by_text("None so far.").wait_for()


def test_a_finding_that_somebody_settled_no_longer_counts_as_open(changeable_once: str, visit: Visit) -> None:
    page = visit(f"{changeable_once}/aircraft/N091LF")
    assert "Settled charging current rising" in page.locator(".verdict").inner_text()
    page.locator("#alarms-shown table").first.wait_for()  # what comes late moves a list that is open
    finding = page.locator("article.finding", has_text="Settled charging current rising").first
    finding.get_by_text("Record the outcome").click()
    finding.get_by_role("button", name="Save").click()
    finding.get_by_text("Choose an outcome first.").wait_for()
    finding.get_by_label("Outcome").click()
    page.get_by_role("option", name="accepted").click()
    finding.get_by_label("Who").fill("A. Mender")
    finding.get_by_role("button", name="Save").click()
    finding.get_by_text("Saved: accepted, by A. Mender.").wait_for()
    page.reload()
    page.wait_for_selector(".verdict")
    assert "Settled charging current rising" not in page.locator(".verdict").inner_text()
    assert "A. Mender" in page.locator("#aircraft-findings").inner_text()
    finding = page.locator("article.finding", has_text="Settled charging current rising").first
    finding.get_by_text("Record the outcome").click()
    finding.get_by_label("Who").fill("A. Mender")
    finding.get_by_role("button", name="Undo").click()
    finding.get_by_text("Undone: reopened, by A. Mender.").wait_for()
    again = unseen(changeable_once, "/aircraft/N091LF")
    assert "Settled charging current rising" in again.of_class("verdict").words
    history = again.part("aircraft-findings").words
    assert history.index("Accepted") < history.index("Reopened"), "what was said before stays in the history"


def test_with_nothing_kept_every_page_says_how_to_begin(tmp_path: Path) -> None:
    with served(tmp_path / "none") as address:
        for path, says in (
            ("/", "Import the CSV files"), ("/entries", "first"), ("/aircraft/N0", "No flight of N0 is imported"),
            ("/flight/1", "There is no flight"), ("/elsewhere", "There is no such page"),
        ):  # fmt: skip
            assert says in unseen(address, path).words
    assert not (tmp_path / "none").exists()


def test_damaged_records_are_said_in_words(demo: Path, tmp_path: Path) -> None:
    shutil.copytree(demo, tmp_path / "records")
    (tmp_path / "records" / "records.sqlite").write_bytes(b"no database at all" * 500)
    for file in (tmp_path / "records").glob("records.sqlite-*"):
        file.unlink()
    with served(tmp_path / "records") as address:
        words = unseen(address, "/").words
    assert "The records cannot be shown" in words
    assert "Traceback" not in words


def test_a_flight_without_its_file_is_drawn_from_its_readings_and_without_these_is_said_in_words(
    demo: Path, pages: str, tmp_path: Path
) -> None:
    shutil.copytree(demo, tmp_path / "records")
    shutil.rmtree(tmp_path / "records" / "originals")
    with served(tmp_path / "records") as address:
        page = unseen(address, "/flight/1")
        assert "worked from the kept readings" in page.part("flight-recording").words
        assert "Alternator on line" in page.part("flight-story").words
        of_file = unseen(pages, "/flight/1")
        drawn, from_file = (one.part("flight-chart").content["props"]["figure"] for one in (page, of_file))
        assert drawn == from_file
        shutil.rmtree(tmp_path / "records" / "traces")
        assert "missing or damaged" in unseen(address, "/flight/2").words  # one that is not at hand


PAGES = (
    "/", "/bring-in", "/entries", "/squawk?tail=N037LF&words=low+volt+light+came+on&since=2026-04-01", "/digest",
    "/due", "/nowhere",
)  # fmt: skip


@pytest.mark.long(keep=1)
@pytest.mark.parametrize(
    ("looks", "paths"),
    [
        (((TALL, DARK), (WIDE, LIGHT)), PAGES),
        (((TALL, DARK), (WIDE, LIGHT)), ("/aircraft/N058LF", "/flight/1", *PAGES)),
        (((TALL, LIGHT), (WIDE, DARK)), ("/aircraft/N058LF", "/flight/1", *PAGES)),
    ],
    ids=["each in one look", "each in both", "in the two others"],
)
def test_every_page_stands_at_both_sizes_in_both_schemes_and_is_open_to_all(
    pages: str, visit: Visit, looks: tuple[Look, Look], paths: tuple[str, ...]
) -> None:
    """In the ordinary run each page in one look, sizes and colours in turn.

    An aircraft's page is looked at there where its repair is asked about, a flight's in the tests of that page.
    """
    page, fetched = None, []
    for place, path in enumerate(paths):
        (size, scheme), other = looks[place % 2], looks[1 - place % 2]
        page = visit(pages + path, size=size, scheme=scheme, tab=page)  # which fails when the policy forbids something
        fetched += page.evaluate("performance.getEntriesByType('resource').map((one) => one.name)")
        stands(page, looks[place % 2 :][:1] if paths is PAGES else looks)
        turned(page, *other[0], other[1])
        until(page, NOT_CUT_OFF)  # charts are drawn anew in the size that they have then
        until(page, "document.title.startsWith('taper')")
        speaks_plainly(page)
    assert len(fetched) > 100
    assert [url for url in fetched if not url.startswith((pages, "data:", "blob:"))] == [], "nothing from elsewhere"


def stands(page: Any, looks: tuple[Look, ...]) -> None:
    """Check that an open page hinders nobody and is not cut off, turned to each of some sizes and colours."""
    for (width, height), scheme in looks:
        turned(page, width, height, scheme)
        assert hindrances(page) == [], page.url
        assert page.evaluate(NOT_CUT_OFF), page.url


def test_on_a_phone_the_pages_stand_behind_a_menu_that_opens_and_closes(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/", size=(390, 844))
    menu, links = page.get_by_role("button", name="Menu"), page.get_by_role("navigation", name="Pages")
    assert (menu.get_attribute("aria-expanded"), links.is_visible()) == ("false", False)
    assert page.locator("header.bar").bounding_box()["height"] < 70.0
    menu.focus()
    page.keyboard.press("Enter")
    links.get_by_role("link", name="Due").wait_for()
    assert hindrances(page) == []
    page.keyboard.press("Escape")
    links.wait_for(state="hidden")
    assert page.evaluate("document.activeElement.id") == "bar-menu"
    menu.click()
    links.get_by_role("link", name="Due").click()
    page.wait_for_url("**/due")
    links.wait_for(state="hidden")
    turned(page, *WIDE, LIGHT)
    assert page.get_by_role("button", name="Menu").count() == 0
    assert page.get_by_role("navigation", name="Pages").is_visible()


@pytest.mark.parametrize(
    ("typed", "leads"),
    [
        ("/import", "/bring-in"),
        ("/maintenance-log?tail=N058LF", "/entries?tail=N058LF"), ("/maintenance", "/entries"),
        ("/fleet", "/"), ("/aircraft", "/"), ("/flight", "/"),
    ],
)  # fmt: skip
def test_an_address_that_people_type_leads_to_the_page_that_it_means(pages: str, typed: str, leads: str) -> None:
    with urllib.request.urlopen(pages + typed, timeout=60) as answer:
        assert answer.url == pages + leads


def test_the_flight_s_sheet_has_the_outlook_of_its_page(pages: str) -> None:
    flight = unseen(pages, "/aircraft/N074LF").link("Last flight")
    told = [one.words for one in unseen(pages, flight).part("flight-outlook").all("Li")]
    with urllib.request.urlopen(f"{pages}/sheet{flight}.html", timeout=120) as answer:
        paper = answer.read().decode()
    assert len(told) == 2
    assert f"Outlook after this flight, by the 33 flights up to it: {'; '.join(told)}." in paper


def test_the_pages_can_be_used_by_keyboard_alone(pages: str, visit: Visit) -> None:
    page = visit(f"{pages}/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    for _ in range(6):
        page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Maintenance log"
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Maintenance log").wait_for()
