"""Ways to a page that several tests begin with."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from tests.dashboards.unseen import unseen


@cache
def address_of_last_flight(address: str, tail: str) -> str:
    """Where the page of an aircraft leads to its last flight."""
    return address + unseen(address, f"/aircraft/{tail}").link("Last flight")


def last_flight(address: str, visit: Callable[..., Any], tail: str, query: str = "", **look: Any) -> Any:
    """The page of an aircraft's last flight."""
    page = visit(f"{address_of_last_flight(address, tail)}{query}", **look)
    page.wait_for_selector("#flight-story li")
    return page
