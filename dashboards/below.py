"""Pages below a prefix of a reverse proxy: their addresses are made whole at one place, as they are sent.

Pages name their addresses from ``/`` on, wherever they are served: what comes in is freed from the prefix by the server
(``SCRIPT_NAME``), what goes out gets it here.
"""

from __future__ import annotations

import re

from flask import Flask, Response, request

#: Letters that need no encoding in an address.
PREFIX = re.compile(r"(/[A-Za-z0-9_~-][A-Za-z0-9._~-]*)+")
#: Properties of components that hold addresses. In JSON a quote within words is escaped, so nothing else looks so.
_SLASH = rb"(?:/|\\u002[fF])"
_ADDRESSES = re.compile(rb'"(?:href|action|pathname)":\s*"(?=%b(?!%b))' % (_SLASH, _SLASH))


class PrefixError(Exception):
    """What was given is no prefix; the text says why."""


def prefix_of(given: str) -> str:
    """A prefix without a slash at its end; nothing for the top.

    Raises
    ------
    PrefixError
        When it is none.
    """
    prefix = given.rstrip("/")
    if prefix and not PREFIX.fullmatch(prefix):
        raise PrefixError(f"--prefix must be an address such as /taper, of letters, digits and . _ ~ -, not {given!r}")
    return prefix


def whole(address: str) -> str:
    """An address of these pages as browsers reach it."""
    return f"{request.script_root}{address}"


def freed(address: str | None) -> str | None:
    """An address that a browser shows, without the prefix."""
    prefix = request.script_root
    if address is None or not prefix or not f"{address}/".startswith(f"{prefix}/"):
        return address
    return address.removeprefix(prefix) or "/"


def make_addresses_whole(server: Flask) -> None:
    """Give the prefix to every address that the pages' answers name."""

    @server.after_request
    def made_whole(answer: Response) -> Response:
        if request.script_root and answer.mimetype == "application/json" and not answer.direct_passthrough:
            start = request.script_root.encode("ascii")
            answer.set_data(_ADDRESSES.sub(rb"\g<0>" + start, answer.get_data()))
        return answer
