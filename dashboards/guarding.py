"""What is asked of the pages is checked before it is answered, and what is answered tells browsers what not to do.

A page of another site can neither read what these pages show nor change what is kept: the Host must be a name of this
server (so that no foreign name can be led to this address), and whatever changes something must come from these pages.
"""

from __future__ import annotations

import base64
import hashlib
import ipaddress
import json
import logging
import socket
from collections.abc import Iterable
from dataclasses import dataclass
from typing import cast
from urllib.parse import unquote_to_bytes, urlsplit

from dash import Dash
from dash.exceptions import DependencyException
from flask import Response, g, request
from markupsafe import escape
from werkzeug.exceptions import HTTPException

from dashboards.callback_bodies import MAX_BODY_BYTES, MalformedError, check_body

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
ANY = frozenset({"0.0.0.0", "::", ""})
CALLBACKS = "/_dash-update-component"
#: Addresses of what holds no data of anybody, and may be kept by the browser.
SCRIPTS_OF_ALL = ("/_dash-component-suites/", "/assets/", "/_favicon.ico")
_SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
#: Longest address that is answered [letters]; a report in words is a few hundred.
LONGEST_ADDRESS = 8_000
FAULT = "Something unexpected went wrong in the server. The window where it was started shows what."
_PORTS = {"http": 80, "https": 443}
_ALLOWED = "scripts_allowed"
#: Pages draw with styles of their own elements; nothing is fetched from elsewhere, no script stands in words.
_POLICY = (
    "default-src 'none'; script-src 'self'{hashes}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
    "font-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
#: Sheets and sentences hold no script at all.
_POLICY_WITHOUT_SCRIPTS = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
#: Light or dark, set before anything of a page is drawn.
SCHEME = """
document.documentElement.setAttribute("data-mantine-color-scheme",
  (localStorage.getItem("mantine-color-scheme-value") || "auto").replace("auto",
    matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light"));
"""
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}
#: With a certificate: a year of no unencrypted visit.
STRICT_TRANSPORT = "max-age=31536000"


@dataclass(frozen=True, slots=True)
class Names:
    """The names under which this server answers, in small letters."""

    known: frozenset[str]
    any_address: bool = False  # whether it listens on every address, so that each literal one may be its own

    @classmethod
    def of(cls, host: str, more: Iterable[str] = ()) -> Names:
        """Those of an address that is listened on, with names that were given."""
        given = {name.lower().rstrip(".") for name in more}
        if host in ANY:
            return cls(LOOPBACK | given | {socket.gethostname().lower()}, any_address=True)
        return cls(LOOPBACK | given | {host.lower()})

    def hold(self, host: str) -> bool:
        """Whether a Host header names this server."""
        name = _name_of(host)
        if name is None:
            return False
        return name in self.known or (self.any_address and _is_address(name))


LOOPBACK_ONLY = Names(LOOPBACK)


def _name_of(host: str) -> str | None:
    """The name in a Host header without its port; None when it is none."""
    try:
        parts = urlsplit(f"//{host}")
        name = parts.hostname
        _ = parts.port  # raises where it is none
    except ValueError:
        return None
    if not name or parts.username is not None or parts.path or parts.query or parts.fragment:
        return None
    return name.rstrip(".")


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def add_guard(app: Dash, names: Names) -> None:
    """Check every request of an app before anything else looks at it, and mark every answer."""
    server = app.server

    @server.before_request
    def guard() -> Response | None:
        because, status = _refused(app, names)
        return sorry(because, status) if because else None

    @server.after_request
    def mark(answer: Response) -> Response:
        return _marked(answer)

    @server.errorhandler(HTTPException)
    def told(problem: HTTPException) -> Response:
        if problem.code is not None and problem.code < 400 and problem.response is not None:
            return cast(Response, problem.response)
        return sorry(problem.description or problem.name, problem.code or 500)

    @server.errorhandler(DependencyException)
    def no_script(_problem: DependencyException) -> Response:
        return sorry("There is no such script.", 404)

    @server.errorhandler(Exception)
    def fault(_problem: Exception) -> Response:
        logging.getLogger(__name__).exception("A request could not be answered")
        return sorry(FAULT, 500)


def sorry(says: str, status: int) -> Response:
    """An answer that is one sentence: as a page to a person, as JSON to a script."""
    if request.accept_mimetypes.accept_html and request.method in _SAFE_METHODS:
        words = f"<!DOCTYPE html><html lang=en><title>taper</title><p>{escape(says)}</p>"
        return Response(words, status, mimetype="text/html")
    return Response(json.dumps({"because": says}), status, mimetype="application/json")


def _refused(app: Dash, names: Names) -> tuple[str, int]:
    """Why a request is not answered, and the status; nothing where it is."""
    if not names.hold(request.host):
        return (
            "These pages do not answer under this name. Open them at the address that the server printed, or ask "
            "whoever runs it to allow this name.",
            421,
        )
    address = request.full_path
    if len(address) > LONGEST_ADDRESS or any(letter < 32 or letter == 127 for letter in unquote_to_bytes(address)):
        return "The address is too long or holds characters that no address of these pages holds.", 400
    if because := _from_elsewhere():
        return because, 403
    if request.path == CALLBACKS and request.method == "POST":
        return _refused_callback(app)
    return "", 0


def _from_elsewhere() -> str:
    """Why a request is not these pages' own, where it is not."""
    site = request.headers.get("Sec-Fetch-Site")
    if request.method in _SAFE_METHODS:
        embedded = site in ("cross-site", "same-site") and request.headers.get("Sec-Fetch-Mode") != "navigate"
        return "Pages of other sites cannot read from these." if embedded else ""
    if site not in (None, "same-origin"):
        return "Only these pages themselves can change something here, not a page of another site."
    origin = request.headers.get("Origin")
    if origin is not None and not _own_origin(origin, request.host, request.scheme):
        return "Only these pages themselves can change something here, not a page of another site."
    return ""


def _own_origin(origin: str, host: str, scheme: str) -> bool:
    """Whether an origin is this server's; where that is encrypted, no page that was not, which anybody can write."""
    if scheme == "https" and not origin.startswith("https:"):
        return False
    try:
        from_, to = urlsplit(origin), urlsplit(f"//{host}")
        usual = _PORTS[from_.scheme]
        return (from_.hostname, from_.port or usual) == (to.hostname, to.port or usual)
    except (KeyError, ValueError):
        return False


def _refused_callback(app: Dash) -> tuple[str, int]:
    if request.mimetype != "application/json":
        return "Only JSON from these pages is taken here.", 415
    if (request.content_length or 0) > MAX_BODY_BYTES:
        return f"What is sent here is no larger than {MAX_BODY_BYTES / 1e6:.0f} MB.", 413
    try:
        check_body(request.get_data(cache=True), app.callback_map)
    except MalformedError as problem:
        return f"What was sent cannot be understood: {problem}.", 400
    return "", 0


def _marked(answer: Response) -> Response:
    for name, value in HEADERS.items():
        answer.headers.setdefault(name, value)
    if request.is_secure:
        answer.headers.setdefault("Strict-Transport-Security", STRICT_TRANSPORT)
    if answer.mimetype == "text/html":
        answer.headers.setdefault("Content-Security-Policy", _policy())
    if not request.path.startswith(SCRIPTS_OF_ALL):
        answer.headers["Cache-Control"] = "no-store"
    return answer


def _policy() -> str:
    """What an HTML answer may do: run the scripts that were allowed for it, by their hashes, and no others."""
    allowed: list[str] | None = g.get(_ALLOWED)
    if allowed is None:
        return _POLICY_WITHOUT_SCRIPTS
    return _POLICY.format(hashes="".join(f" {one}" for one in allowed))


def allow_scripts(*own: str, hashes: Iterable[str] = ()) -> None:
    """Let the page that is being answered run some scripts that stand in it, or whose hashes are known."""
    g.setdefault(_ALLOWED, [*hashes, *(_hash(script) for script in own)])


def _hash(script: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'"
