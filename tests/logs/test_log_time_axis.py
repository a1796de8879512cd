"""Clocks that stand still, jump, run back, are set late, or lack a part of the date."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import polars as pl
import pytest

from analyzer.logs import moments
from analyzer.logs.log import RefusedError
from analyzer.logs.read import NO_CLOCK

START = datetime(2026, 3, 4, 9, 0, 0)


def log_of(read, stamps: list[str], header: str = "Timestamp", name: str = "flight.csv", above: str = ""):
    rows = [f"{stamp};{12 + i % 7 / 10};{i}" for i, stamp in enumerate(stamps)]
    return read(above + "\n".join([f"{header};Volts;Amps", *rows]) + "\n", name)


def iso(seconds: float) -> str:
    return (START + timedelta(seconds=seconds)).isoformat()


def times(log) -> list[float]:
    return [round(t, 3) for t in log.table["time_s"].to_list()]


def flown(read, stamps: list[str], begun: int | None = None, header: str = "Timestamp", insert=None):
    """A recharge at steady rpm, one row a stamp; a recording that begins with the engine stopped at row ``begun``."""
    dice = np.random.default_rng(11)
    rows = []
    for i, stamp in enumerate(stamps):
        at = i if begun is None or i < begun else i - begun - 40
        volts, amps = (14.1, 3.0 + 25.0 * 0.99**at) if at >= 0 else (12.4, -5.0)
        noise = dice.normal(0.0, 1.0, 3)
        rpm = 2300 + 5 * noise[2] if at >= 0 else 0
        rows.append(f"{stamp};{volts + 0.01 * noise[0]:.2f};{amps + 0.1 * noise[1]:.1f};{rpm:.0f}")
    if insert:
        rows.insert(*insert)
    return read("\n".join([f"{header};Volts;Amps;RPM", *rows]) + "\n")


@pytest.mark.parametrize(("gap", "broken"), [(300, False), (590, False), (660, True), (1800, True), (7200, True)])
def test_a_gap_is_real_time_and_one_of_over_ten_minutes_a_break(read, gap: int, broken: bool):
    log = flown(read, [iso(i + (gap if i >= 100 else 0)) for i in range(200)], begun=100)
    assert times(log)[99:102] == [99.0, 100.0 + gap, 101.0 + gap]
    assert log.breaks == ((100,) if broken else ())
    assert log.break_kinds == (("gap",) if broken else ())
    assert log.warnings == ()


def test_a_gap_in_a_steady_cruise_is_a_gap_for_nothing_tells_that_it_was_none(read):
    log = flown(read, [iso(i + (3600 if i >= 500 else 0)) for i in range(600)])
    assert (log.breaks, log.break_kinds) == ((500,), ("gap",))
    assert times(log)[500] == 4100.0


@pytest.mark.parametrize(("rpm", "knots", "run_on"), [(2300, 110, True), (0, 0, False)])
def test_a_clock_that_is_put_forward_by_days_in_a_steady_cruise_was_set(read, rpm: int, knots: int, run_on: bool):
    dice = np.random.default_rng(5)
    rows = []
    for i in range(300):
        noise = dice.normal(0.0, 1.0, 4)
        stamp = iso(i + (14 * 86400 if i >= 150 else 0))
        speeds = f"{rpm + (5 * noise[0] if rpm else 0):.0f};{knots + (noise[1] if knots else 0):.0f}"
        rows.append(f"{stamp};{14.0 + 0.02 * noise[2]:.2f};{12.0 + 0.3 * noise[3]:.1f};{speeds}")
    log = read("\n".join(["Timestamp;Volts;Amps;RPM;IAS", *rows]) + "\n")
    assert log.break_kinds == (() if run_on else ("gap",))
    assert times(log)[150] == (150.0 if run_on else 150.0 + 14 * 86400)
    assert any("put forward in flight" in w for w in log.warnings) is run_on


def test_rows_ten_minutes_apart_throughout_are_no_breaks(read):
    log = log_of(read, [iso(900 * i + (i % 3)) for i in range(40)])
    assert log.breaks == ()


@pytest.mark.parametrize("set_by", [-3600, -7211, -90, 3600, 5025])
def test_a_clock_set_while_the_readings_run_on_is_no_break(read, set_by: int):
    log = flown(read, [iso(i + (set_by if i >= 60 else 0)) for i in range(200)])
    assert times(log) == [float(i) for i in range(200)]
    assert (log.breaks, log.break_kinds) == ((), ())
    assert log.table["clock"][199] == START + timedelta(seconds=199 + set_by)
    assert log.table["clock"][0] == START + timedelta(seconds=set_by), "earlier rows are counted back"
    assert any("readings run on" in w and "row 62" in w for w in log.warnings)


def test_elapsed_time_is_never_set_forward(read):
    log = flown(read, [str(i + (3600 if i >= 60 else 0)) for i in range(200)], header="Elapsed (s)")
    assert times(log)[60] == 3660.0
    assert (log.breaks, log.break_kinds) == ((60,), ("gap",))


@pytest.mark.parametrize("back", [90, 3600, 86400, 300 * 86400])
def test_a_clock_that_goes_back_with_a_break_in_the_readings_begins_a_new_recording(read, back: int):
    log = flown(read, [iso(i - (back if i >= 100 else 0)) for i in range(200)], begun=100)
    assert times(log) == [float(i) for i in range(200)]
    assert (log.breaks, log.break_kinds) == ((100,), ("clock back",))
    assert log.table["clock"][100] == START + timedelta(seconds=100 - back)
    assert log.clock.start == START.isoformat()


@pytest.mark.parametrize("days", [76, 200, 400])
def test_two_downloads_in_one_file_are_two_recordings(read, days: int):
    log = flown(read, [iso(i + (days * 86400 if i >= 100 else 0)) for i in range(200)], begun=100)
    assert (log.breaks, log.break_kinds) == ((100,), ("gap",))
    assert log.clock.start == START.isoformat()
    assert log.table["clock"][100] == START + timedelta(seconds=100 + days * 86400)
    later = flown(read, [iso(i + (days * 86400 if i < 100 else 0)) for i in range(200)], begun=100)
    assert (later.breaks, later.break_kinds) == ((100,), ("clock back",))


@pytest.mark.parametrize(
    "line",
    [
        *[
            "POWER ON",
            "*** Recorder started, software 3.2 ***",
            "# power-up, self test passed",
            "Timestamp;Volts;Amps;RPM",
        ],
        *["REBOOT;;;", "Neustart der Aufzeichnung", f"{iso(100)};RESTART;;"],
    ],
)
def test_what_a_recorder_writes_when_it_starts_is_a_boot(read, line: str):
    log = flown(read, [iso(i + (20 if i >= 100 else 0)) for i in range(200)], begun=100, insert=(100, line))
    assert log.rows == 200
    assert (log.breaks, log.break_kinds) == ((100,), ("boot",))
    assert any("row 102" in w for w in log.warnings)


@pytest.mark.parametrize("line", ["# pilot's mark", "Waypoint passed", "# volts at the bus"])
def test_other_words_among_the_readings_are_no_boot(read, line: str):
    log = flown(read, [iso(i) for i in range(200)], insert=(100, line))
    assert (log.rows, log.breaks) == (200, ())


@pytest.mark.parametrize("header", ["Elapsed (s)", None])
def test_a_log_without_a_clock_says_so(read, header: str | None):
    rows = [f"{12 + i % 7 / 10};{i % 5}" for i in range(60)]
    rows = [f"{i};{row}" for i, row in enumerate(rows)] if header else rows
    log = read("\n".join([";".join(filter(None, [header, "Volts", "Amps"])), *rows]) + "\n")
    assert log.clock.start is None
    assert log.table["clock"].null_count() == 60
    assert len([w for w in log.warnings if "the log has no clock that tells date or time of day" in w]) == 1


def test_a_clock_put_back_a_little_costs_no_row_and_no_order(read):
    log = log_of(read, [iso(i if i < 100 else i - 8) for i in range(200)])
    assert times(log) == [float(i) for i in range(200)]
    assert log.breaks == ()
    assert any("goes back" in w and "row 102" in w for w in log.warnings)


def test_a_clock_that_jumps_back_far_begins_a_new_recording(read):
    log = flown(read, [iso(i if i < 100 else i - 3600) for i in range(200)], begun=100)
    assert times(log) == [float(i) for i in range(200)]
    assert log.breaks == (100,)
    assert log.table["clock"][100] == START + timedelta(seconds=100 - 3600)


def test_elapsed_time_that_begins_anew_begins_a_new_recording(read):
    log = log_of(read, [str(i % 30) for i in range(90)], "Elapsed (s)")
    assert times(log) == [float(i) for i in range(90)]
    assert log.breaks == (30, 60)


def test_rows_out_of_order_are_put_in_their_place(read):
    order = list(range(50))
    order[20], order[21] = 21, 20
    log = log_of(read, [iso(2 * i) for i in order])
    assert times(log) == [2.0 * i for i in range(50)]
    assert log.table["ammeter_current"].to_list()[19:23] == [19.0, 21.0, 20.0, 22.0]
    assert any("out of order" in w and "row 23" in w for w in log.warnings)


def test_a_frozen_clock_is_counted_on(read):
    log = log_of(read, [iso(i if i < 50 or i >= 150 else 50) for i in range(200)])
    assert times(log) == [float(i) for i in range(200)]
    assert log.rows == 200
    assert any("stands still" in w for w in log.warnings)


def test_a_frozen_clock_that_goes_on_where_it_stopped_never_runs_back(read):
    log = log_of(read, [iso(i if i < 50 else 50 if i < 150 else i - 100) for i in range(200)])
    assert times(log) == pytest.approx([float(i) for i in range(200)], abs=1.0)


@pytest.mark.parametrize("rate", [2, 4, 5, 10])
def test_rows_under_one_whole_second_are_spread_within_it(read, rate: int):
    log = log_of(read, [iso((i + 1) // rate) for i in range(40 * rate)])
    wanted = np.arange(40 * rate) / rate
    assert np.abs(log.table["time_s"].to_numpy() - wanted).max() < 1 / rate
    assert log.clock.step_s == pytest.approx(1 / rate)
    assert log.rows_dropped == 0


def test_stamps_of_a_jittering_recorder_stay_within_their_second(read):
    seconds = [i if i % 10 != 5 else i - 1 for i in range(100)]  # the sixth of ten comes a little early
    log = log_of(read, [iso(s) for s in seconds])
    assert np.abs(log.table["time_s"].to_numpy() - np.arange(100)).max() <= 1.0
    assert log.rows == 100


def test_exact_duplicates_go_but_samples_of_one_second_stay(read):
    rows = [f"{iso(i // 2)};12.4;3" for i in range(60)]  # two samples a second, all alike
    log = read("Timestamp;Volts;Amps\n" + "\n".join(rows) + "\n")
    assert (log.rows, log.rows_dropped) == (60, 0)
    rows = [f"{iso(i)};12.4;{i}" for i in range(60)]
    rows.insert(30, rows[29])
    log = read("Timestamp;Volts;Amps\n" + "\n".join(rows) + "\n")
    assert (log.rows, log.rows_dropped) == (60, 1)
    assert any("row 32" in w and "duplicate" in w for w in log.warnings)


@pytest.mark.parametrize("unset", ["2000-01-01T00:00:{:02d}", "1980-01-06T00:00:{:02d}", "", "0000-00-00T00:00:{:02d}"])
def test_a_clock_set_late_is_counted_back(read, unset: str):
    log = log_of(read, [unset.format(i) if i < 40 else iso(i) for i in range(120)])
    assert times(log) == [float(i) for i in range(120)]
    assert log.clock.start == "2026-03-04T09:00:00"
    assert log.table["clock"][10] == START + timedelta(seconds=10)
    assert any("clock" in w for w in log.warnings)
    assert log.breaks == ()


def test_a_date_that_was_never_set_is_counted_back_though_nothing_else_tells_that_the_log_runs_on(read):
    stamps = [f"2000-01-01T00:00:{i:02d}" if i < 40 else iso(i) for i in range(120)]
    rows = [f"{stamp};{12.4 if i < 40 else 14.0}" for i, stamp in enumerate(stamps)]
    log = read("Timestamp;Volts\n" + "\n".join(rows) + "\n")
    assert times(log) == [float(i) for i in range(120)]
    assert log.clock.start == "2026-03-04T09:00:00"
    assert log.breaks == ()


def test_a_time_of_day_that_counts_from_power_up_until_it_is_set(read):
    early = [f"00:00:{i:02d}" for i in range(30)]
    log = log_of(read, [*early, *(f"14:35:{i:02d}" for i in range(60))], "Time")
    assert times(log) == [float(i) for i in range(90)]


def test_midnight_without_a_date_runs_on(read):
    start = datetime(2026, 3, 4, 23, 59, 40)
    log = log_of(read, [(start + timedelta(seconds=i)).strftime("%H:%M:%S") for i in range(60)], "Time")
    assert times(log) == [float(i) for i in range(60)]
    assert log.clock.start is None
    assert log.table["clock"].null_count() == 60
    assert log.breaks == ()


def test_a_time_of_day_that_falls_back_by_hours_is_another_day(read):
    stamps = [f"16:26:{i:02d}" for i in range(40)] + [f"12:32:{i:02d}" for i in range(40)]
    log = flown(read, stamps, begun=40, header="Time")
    assert times(log) == [float(i) for i in range(80)]
    assert log.breaks == (40,)


def test_a_boot_flag_and_a_session_number_mark_breaks(read):
    rows = [f"{iso(i)};12.{i % 9};{int(i in (0, 50))}" for i in range(100)]
    assert read("Timestamp;Volts;Boot\n" + "\n".join(rows) + "\n").breaks == (50,)
    rows = [f"{iso(i)};12.{i % 9};{7 + i // 40}" for i in range(100)]
    assert read("Timestamp;Volts;Session\n" + "\n".join(rows) + "\n").breaks == (40, 80)


@pytest.mark.parametrize(
    ("stamp", "start"),
    [
        ("23/05/2026 09:00:{:02d}", "2026-05-23T09:00:00"),
        ("05/23/2026 09:00:{:02d}", "2026-05-23T09:00:00"),
        ("5/23/26 9:00:{:02d} AM", "2026-05-23T09:00:00"),
        ("23.5.2026 9:00:{:02d}", "2026-05-23T09:00:00"),
        ("03.04.2026 09:00:{:02d}", "2026-04-03T09:00:00"),  # a point stands after the day
        ("20260523T0900{:02d}Z", "2026-05-23T09:00:00"),
        ("23-May-2026 09:00:{:02d}", "2026-05-23T09:00:00"),
        ("23 mai 2026 09:00:{:02d}", "2026-05-23T09:00:00"),
        ("May 23, 2026 09:00:{:02d}", "2026-05-23T09:00:00"),
        ("2026/05/23 09:00:{:02d}.500", "2026-05-23T09:00:00.500000"),
        ("2026-05-23 09:00:{:02d},500", "2026-05-23T09:00:00.500000"),
    ],
)
def test_ways_of_writing_a_date(read, stamp: str, start: str):
    log = log_of(read, [stamp.format(i) for i in range(40)])
    assert log.clock.start == start
    assert times(log) == [float(i) for i in range(40)]
    assert log.warnings == ()


def test_a_day_that_moves_at_midnight_decides_the_order(read):
    stamps = [f"0{3 + (i >= 20)}/04/2026 {'23:59' if i < 20 else '00:00'}:{(i + 40) % 60:02d}" for i in range(40)]
    log = log_of(read, stamps)
    assert log.clock.start == "2026-04-03T23:59:40"
    assert times(log) == [float(i) for i in range(40)]
    assert log.warnings == ()


def test_a_date_in_the_file_name_decides_the_order(read):
    log = log_of(read, [f"03/04/2026 09:00:{i:02d}" for i in range(40)], name="log_20260304.csv")
    assert log.clock.start == "2026-03-04T09:00:00"
    assert log.warnings == ()


def test_when_nothing_decides_the_order_the_log_says_so(read):
    log = log_of(read, [f"03/04/2026 09:00:{i:02d}" for i in range(40)])
    assert any("day first" in w for w in log.warnings)


def test_a_date_above_the_header_dates_a_time_of_day(read):
    log = log_of(read, [f"09:00:{i:02d}" for i in range(40)], "Time", above="Date: 2026-03-04\n\n")
    assert log.clock.start == "2026-03-04T09:00:00"


def test_hours_and_minutes_that_stand_for_many_rows_are_a_time_of_day(read):
    log = log_of(read, [f"09:{i // 60:02d}" for i in range(300)], "Time")
    assert times(log) == [float(i) for i in range(300)]


def test_a_clock_no_row_of_which_can_be_read_gives_an_assumed_step(read):
    log = log_of(read, ["99:99:99"] * 30, "Time")
    assert times(log) == [float(i) for i in range(30)]
    assert any("assumed" in w for w in log.warnings)


def test_a_clock_that_never_moves_is_counted_and_said_so(read):
    log = log_of(read, [iso(0)] * 60)
    assert times(log) == [float(i) for i in range(60)]
    assert [w for w in log.warnings if "one and the same time" in w] == list(log.warnings)
    assert len(log.warnings) == 1


def shuffled(rows: int) -> list[int]:
    return np.random.default_rng(3).permutation(rows).tolist()


NEWEST_FIRST = list(range(399, -1, -1))


def of_day(second: float) -> str:
    return iso(second)[11:]


def elapsed(second: float) -> str:
    return str(int(second))


@pytest.mark.parametrize(
    ("order", "header", "write"),
    [
        *[(shuffled(400), "Timestamp", iso), (NEWEST_FIRST, "Timestamp", iso)],
        *[(NEWEST_FIRST, "Time", of_day), (NEWEST_FIRST, "Elapsed (s)", elapsed)],
    ],
    ids=["shuffled dated", "newest first dated", "newest first time of day", "newest first elapsed"],
)
def test_rows_in_no_order_of_time_are_put_in_order_with_one_warning(read, order, header, write):
    log = log_of(read, [write(2 * i) for i in order], header)
    assert times(log) == [2.0 * i for i in range(400)]
    # the readings went with their stamps: the row that was written first is now where its clock puts it
    assert log.table["ammeter_current"].to_list() == [float(order.index(i)) for i in range(400)]
    assert log.breaks == ()
    assert log.clock.start == (START.isoformat() if write is iso else None)
    assert [w for w in log.warnings if "not in the order of time" in w] == [
        w for w in log.warnings if "clock" in w and w != NO_CLOCK
    ]


def test_a_shuffled_rows_unreadable_clock_leaves_it_behind_the_row_that_it_followed(read):
    stamps = [iso(i) for i in shuffled(100)]
    stamps[50] = ""
    log = log_of(read, stamps)
    assert log.rows == 100
    amps = log.table["ammeter_current"].to_list()
    assert amps.index(50.0) == amps.index(49.0) + 1
    assert np.diff(log.table["time_s"].to_numpy()).min() > 0.0


@pytest.mark.parametrize(("header", "write"), [("Time", of_day), ("Elapsed (s)", elapsed)])
def test_a_time_without_date_that_goes_back_at_many_steps_is_no_clock(read, header, write):
    log = log_of(read, [write(2 * i) for i in shuffled(400)], header)
    assert times(log) == [float(i) for i in range(400)]
    assert log.table["ammeter_current"].to_list() == [float(i) for i in range(400)], "rows stay where they were"
    assert log.clock.columns == ()
    assert log.clock.start is None
    assert header in log.unused
    assert any(repr(header) in w and "goes back in" in w for w in log.warnings)


def test_dated_stamps_at_random_never_put_rows_in_another_order(read):
    seconds = np.random.default_rng(5).integers(0, 5000, 400).tolist()
    log = log_of(read, [iso(s) for s in seconds])
    assert log.table["ammeter_current"].to_list() == [float(i) for i in range(400)]
    assert any("goes back in" in w for w in log.warnings)


def test_elapsed_time_may_begin_anew_often_and_stay_the_clock(read):
    log = log_of(read, [str(i % 12) for i in range(120)], "Elapsed (s)")
    assert log.clock.columns == ("Elapsed (s)",)
    assert log.breaks == tuple(range(12, 120, 12))


@pytest.mark.parametrize("header", ["Timestamp", "Elapsed (s)"])
def test_a_header_that_stands_once_more_while_the_clock_runs_on_parts_no_recording(read, header: str):
    def stamps(pause: int) -> list[str]:
        seconds = [i + (pause if i >= 100 else 0) for i in range(200)]
        return [iso(s) for s in seconds] if header == "Timestamp" else [str(s) for s in seconds]

    again = (100, f"{header};Volts;Amps;RPM")
    log = flown(read, stamps(0), header=header, insert=again)
    assert (log.breaks, log.rows, log.rows_dropped) == ((), 200, 1)
    assert any("header is repeated" in warning for warning in log.warnings)
    assert flown(read, stamps(90), header=header, insert=again, begun=100).breaks == (100,)


def test_without_a_clock_the_readings_tell_whether_a_header_once_more_parts_recordings(read):
    def rows(begun: int | None) -> tuple[int, ...]:
        return flown(read, ["x"] * 200, header="Note", insert=(100, "Note;Volts;Amps;RPM"), begun=begun).breaks

    assert rows(None) == ()
    assert rows(100) == (100,)


def test_rows_a_moment_late_are_put_in_their_place_though_one_of_them_was_written_twice(read):
    order = [*range(40), 41, 40, *range(42, 80), 80, 81, 80, *range(82, 120), 121, 120, *range(122, 150), 151, 150]
    order += [*range(152, 190), 191, 190, *range(192, 240)]
    log = flown(read, [iso(i) for i in order])
    assert times(log)[-1] == pytest.approx(239.0, abs=1.0)
    assert log.breaks == ()
    assert all(step > 0 for step in np.diff(times(log)))


def two_clocks(read, columns: dict[str, str]):
    """A log whose first clock is when it was sent, whose second is when it was recorded, and a count of seconds."""
    rows = [f"{iso(86400 + 2 * i)};{iso(i)};{0.5 * i};{14.1 + 0.01 * (i % 3)};{12 + i % 7}" for i in range(60)]
    return read("\n".join(["Sent time;Recorded time;Mark;Volts;Amps", *rows]) + "\n", **columns)


@pytest.mark.parametrize(
    ("columns", "named", "start", "step"),
    [
        ({}, "Sent time", START + timedelta(days=1), 2.0),
        ({"clock_time": "Recorded time"}, "Recorded time", START, 1.0),
        ({"clock_elapsed": "Mark"}, "Mark", None, 0.5),
    ],
)
def test_a_clock_can_be_named_by_hand(read, columns, named, start, step):
    log = two_clocks(read, columns)
    assert log.clock.columns == (named,)
    assert log.clock.start == (start and start.isoformat())
    assert log.clock.step_s == step
    assert times(log)[:3] == [0.0, step, 2 * step]
    assert [column.role for column in log.columns] == ["bus_voltage", "ammeter_current"]


def test_date_and_time_named_by_hand_make_one_clock_and_its_header_still_says_its_zone(read):
    rows = [f"2026-03-0{1 + (i > 29)};{(START + timedelta(seconds=i)).time()};2026-05-05;14.1;{i}" for i in range(40)]
    head = "D1;T1 UTC;Service date;Volts;Amps"
    log = read("\n".join([head, *rows[:30]]) + "\n", clock_date="D1", clock_time="T1 UTC")
    assert (log.clock.start, log.clock.utc_offset) == ("2026-03-01T09:00:00", "+00:00")
    assert log.clock.columns == ("D1", "T1 UTC")


def test_what_holds_no_time_is_refused_as_a_clock_with_what_it_holds(read):
    with pytest.raises(RefusedError, match=r"No clock .*'Note' holds 'a', 'b'.*clock_elapsed"):
        read("Note;Volts;Amps\n" + "".join(f"{'ab'[i % 2]};14.1;{i}\n" for i in range(30)), clock_time="Note")


@pytest.mark.parametrize(
    "named", [{"clock_time": "Time"}, {"clock_date": "Date"}, {"clock_date": "Date", "clock_time": "Time"}]
)
def test_the_date_of_a_named_time_and_the_time_of_a_named_date_go_with_it(read, named):
    rows = [f"{iso(86400 + i)},2026-03-04,{(START + timedelta(seconds=i)).time()},14.1,{i}" for i in range(30)]
    text = "\n".join(["Timestamp,Date,Time,Volts,Amps", *rows]) + "\n"
    assert read(text).clock.columns == ("Timestamp",)
    log = read(text, **named)
    assert (log.clock.columns, log.clock.start) == (("Date", "Time"), START.isoformat())


def test_a_channel_named_as_the_clock_is_refused_and_not_lost(read):
    rows = "".join(f"2026-03-04T09:00:{i:02d};{14.1 + i % 7 / 100:.2f};{i}\n" for i in range(60))
    with pytest.raises(RefusedError, match="named for the clock"):
        read("Timestamp;Volts;Amps\n" + rows, clock_time="Volts")


def test_moments_read_some_at_a_time_are_those_of_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    texts = ["2026-03-01 09:00:00", "2026-03-01 09:00:01.5", None, "2026-03-01 9:00 am", "", "no time"] * 4
    column = pl.Series([*texts, "2026-03-02 00:00:00"])
    whole, _ = moments.stamps(column, "ymd")
    assert np.isfinite(whole).sum() == 13
    assert whole[-1] - whole[0] == 15 * 3600.0
    monkeypatch.setattr(moments, "TOGETHER", 4)
    pieces, _ = moments.stamps(column, "ymd")
    np.testing.assert_array_equal(pieces, whole)
    assert moments.stamps(column.clear(), "ymd")[0].size == 0
