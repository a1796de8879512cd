"""Dates as people write them."""

from __future__ import annotations

from datetime import datetime

import pytest

from analyzer.trends.dates import date_named

NOW = datetime(2026, 3, 1, 14, 5)


@pytest.mark.parametrize(
    ("text", "moment", "timed"),
    [
        ("2026-03-29", datetime(2026, 3, 29), False),
        (" 2026-03-29T16:04 ", datetime(2026, 3, 29, 16, 4), True),
        ("2026-03-29 16:04:30", datetime(2026, 3, 29, 16, 4, 30), True),
        ("2026-03-29T16:04+02:00", datetime(2026, 3, 29, 16, 4), True),
        ("20260329", datetime(2026, 3, 29), False),
        ("29 Mar 2026", datetime(2026, 3, 29), False),
        ("29th March 2026", datetime(2026, 3, 29), False),
        ("March 29, 2026", datetime(2026, 3, 29), False),
        ("mar 3 2026 4:05 pm", datetime(2026, 3, 3, 16, 5), True),
        ("29-Mar-2026 08:00", datetime(2026, 3, 29, 8), True),
        ("3.4.2026", datetime(2026, 4, 3), False),
        ("29/03/2026", datetime(2026, 3, 29), False),
        ("03/29/2026", datetime(2026, 3, 29), False),
        ("2026/3/9", datetime(2026, 3, 9), False),
        ("5/5/2026 12:30 AM", datetime(2026, 5, 5, 0, 30), True),
        ("today", datetime(2026, 3, 1), False),
        ("yesterday", datetime(2026, 2, 28), False),
        ("Feb 28", datetime(2026, 2, 28), False),
        ("28 February", datetime(2026, 2, 28), False),
        ("1 March 14:30", datetime(2026, 3, 1, 14, 30), True),
        ("March 2", datetime(2025, 3, 2), False),
        ("Aug 30", datetime(2025, 8, 30), False),
        ("August 30th", datetime(2025, 8, 30), False),
        ("Feb 29", datetime(2024, 2, 29), False),
        ("1 March", datetime(2026, 3, 1), False),
        ("13/12/2026", datetime(2026, 12, 13), False),
        ("12/13/2026", datetime(2026, 12, 13), False),
        ("12/12/2026", datetime(2026, 12, 12), False),
        ("12.5.2026", datetime(2026, 5, 12), False),
        ("3 Mar 2026 12:00 am", datetime(2026, 3, 3, 0), True),
        ("3 Mar 2026 12:00 pm", datetime(2026, 3, 3, 12), True),
        ("3 Mar 2026 1:00 am", datetime(2026, 3, 3, 1), True),
        ("3 Mar 2026 11:59:59 PM", datetime(2026, 3, 3, 23, 59, 59), True),
        ("3 Mar 2026 23:59:59", datetime(2026, 3, 3, 23, 59, 59), True),
        ("3 Mar 2026, 0:00", datetime(2026, 3, 3), True),
        ("today 0:05", datetime(2026, 3, 1, 0, 5), True),
        ("yesterday 23:00", datetime(2026, 2, 28, 23), True),
        ("1st dec 2025", datetime(2025, 12, 1), False),
    ],
)
def test_a_date_is_read_as_people_write_it(text: str, moment: datetime, timed: bool) -> None:
    assert date_named(text, NOW) == (moment, timed)


def test_a_file_knows_no_today() -> None:
    with pytest.raises(ValueError, match="'yesterday' is not a date"):
        date_named("yesterday")


def test_a_date_that_may_be_two_is_asked_for_again() -> None:
    with pytest.raises(ValueError, match=r"may be 3 Apr or 4 Mar; write it as 2026-MM-DD"):
        date_named("03/04/2026")


@pytest.mark.parametrize(
    "text",
    [
        "", "soon", "31 Feb 2026", "2026-13-01", "29 Ma 2026", "1/2", "29 Mar 2026 25:00", "3 Mar 2026 13:00 pm",
        "0/5/2026", "5/0/2026", "0/0/2026", "0.5.2026", "3 Mar 2026 0:30 am", "29 Mar 2026 24:00", "29 Mar 2026 10:60",
        "29 Mar 2026 10:30:60", "13/13/2026", "31/4/2026", "4/31/2026", "29 Feb 2025", "0 Mar 2026", "10:30",
    ],
)  # fmt: skip
def test_what_is_no_date_is_said_to_be_none(text: str) -> None:
    with pytest.raises(ValueError, match="is not a date or time such as"):
        date_named(text)
