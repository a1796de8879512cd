"""Ways to a page that several tests begin with, walked once by clicks and by their address from then on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

_LAST: dict[str, str] = {}


def last_flight(address: str, visit: Callable[..., Any], tail: str, query: str = "", **look: Any) -> Any:
    """The page of an aircraft's last flight, two clicks from the fleet."""
    aircraft = f"{address}/aircraft/{tail}"
    if aircraft in _LAST:
        page = visit(f"{_LAST[aircraft]}{query}", **look)
    else:
        page = visit(aircraft, **look)
        page.get_by_role("link", name="Last flight").first.click()
        page.wait_for_url("**/flight/*")
        _LAST[aircraft] = page.url
        if query:
            page.goto(f"{page.url}{query}")
    page.wait_for_selector("#flight-story li")
    return page
