"""Serving the pages until interrupted."""

from __future__ import annotations

import ipaddress
import logging
import signal
import socket
import threading
import time
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from ssl import SSLContext
from types import FrameType

from dash import Dash

from analyzer.aircraft import FleetFileError
from analyzer.endable import EndedError
from analyzer.records.accounts import Accounts, Door, kept_accounts
from analyzer.records.place import Place
from analyzer.records.problems import RecordsError
from dashboards.app import IMPORTS_KEY, SEARCHES_KEY, SHEETS_KEY, SOURCE_KEY, STAGING_KEY, make_app
from dashboards.connections import MOST, Admits, Server, make_server
from dashboards.guarding import Names
from dashboards.kept import Kept
from dashboards.memory import keep_memory_together
from dashboards.signing_in import may_bring_in
from dashboards.tls import Front, certificate_context

#: How often it is looked whether the records, the fleet file or the corrections were changed beside the pages [s].
LOOKS_EVERY_S = 5.0
NO_ACCOUNTS = (
    "{how} lets others reach these records, so they must sign in, and there is no account yet. Add one with: "
    "taper user add NAME --role manager. Or serve to this machine only, without it."
)


@dataclass(frozen=True, slots=True)
class Served:
    """How the pages are served."""

    host: str
    port: int
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None
    without_accounts: bool = False
    proxy: bool = False  # one on this machine encrypts, and says who asks
    opens: bool = False
    prefix: str = ""  # where browsers find the pages, without a slash at its end


class CannotServeError(Exception):
    """The pages are not served so; the text says why and what to do."""


def serve(records: Place, asked: Served, says: Callable[[str], None]) -> None:
    """Serve the pages over some records; returns after an interrupt or a request to end.

    Raises
    ------
    OSError
        When the address cannot be listened on.
    CannotServeError
        When others could reach the pages and nobody would have to sign in.
    CertificateError, AccountError
        When the certificate or the accounts cannot be used.
    """
    beyond = asked.proxy or not _is_loopback(asked.host)
    needed = beyond and not asked.without_accounts
    accounts = kept_accounts(records.folder)
    _demand_a_lock(accounts, asked, needed)
    context = certificate_context(asked.certificate, asked.key) if asked.certificate else None
    listener = _listen(asked.host, asked.port)
    keep_memory_together()
    kept = Kept(records)
    app = make_app(kept, Names.of(asked.host, asked.names), accounts=needed, prefix=asked.prefix)
    threading.Thread(target=_ahead, args=(kept,), daemon=True).start()
    server, front = _server_of(app, listener, context, partial(_admits, Door(records.folder), needed), asked)
    address = _address(asked, listener)
    for sentence in _told_first(asked, address, accounts, beyond=beyond, needed=needed):
        says(sentence)
    if asked.opens:
        opening = threading.Timer(0.5, webbrowser.open, [address])
        opening.daemon = True
        opening.start()
    try:
        _run_until_stopped(server)
    finally:
        if front is not None:
            front.close()
        for key in (IMPORTS_KEY, STAGING_KEY, SHEETS_KEY, SEARCHES_KEY, SOURCE_KEY):
            app.server.config[key].close()
        server.close()
        says("Stopped.")


def _demand_a_lock(accounts: Accounts | None, asked: Served, needed: bool) -> None:
    """Refuse to serve others without accounts, where these are ``needed``; and behind a proxy all but this machine."""
    if asked.proxy and not _is_loopback(asked.host):
        raise CannotServeError("With --proxy the pages are served to this machine alone: leave --host out.")
    if needed and not (accounts and accounts.users):
        raise CannotServeError(NO_ACCOUNTS.format(how="--proxy" if asked.proxy else f"--host {asked.host}"))


def _server_of(
    app: Dash, listener: socket.socket, context: SSLContext | None, admits: Admits, asked: Served
) -> tuple[Server, Front | None]:
    """What answers, and what encrypts before it where there is a certificate; that one is started."""
    if context is None:
        return make_server(app.server, listener, admits, proxy=asked.proxy, prefix=asked.prefix), None
    inner = _listen("127.0.0.1", 0)
    front = Front(listener, context, inner.getsockname(), MOST)
    server = make_server(front.known(app.server), inner, admits, prefix=asked.prefix)
    front.start()
    return server, front


def _told_first(asked: Served, address: str, accounts: Accounts | None, *, beyond: bool, needed: bool) -> Iterator[str]:
    """What whoever serves is told: warnings, the address, and who lacks one-time codes."""
    yield from _warnings(asked, beyond)
    reached = "The proxy reaches the pages at" if asked.proxy else "The pages are at"
    yield f"{reached} {address}   (Ctrl-C stops)"
    if needed and (bare := _managers_without_codes(accounts)):
        yield (
            f"Managers need one-time codes here; without them these may what an editor may: {', '.join(bare)}. "
            "Codes are given with: taper user codes NAME"
        )


def _run_until_stopped(server: Server) -> None:
    """Answer requests until an interrupt or a request to end."""
    for name in ("waitress.queue", "waitress"):  # that requests wait, or clients go, is no news
        logging.getLogger(name).setLevel(logging.ERROR)
    signal.signal(signal.SIGTERM, _interrupt)
    with suppress(KeyboardInterrupt):
        server.run()
    logging.getLogger("waitress").setLevel(logging.CRITICAL)  # what is cut off by stopping is no news either


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def _admits(door: Door, needed: bool, headers: dict[str, str]) -> bool:
    return may_bring_in(door, needed, headers.get("COOKIE", ""))


def _managers_without_codes(accounts: Accounts | None) -> list[str]:
    return [user.name for user in accounts.users if user.role == "manager" and not user.secret] if accounts else []


def _warnings(asked: Served, beyond: bool) -> list[str]:
    """What whoever serves beyond this machine should know."""
    told = []
    if beyond and asked.without_accounts:
        told.append("Warning: whoever reaches this address can read and change the records, for nobody signs in.")
    if beyond and asked.certificate is None and not asked.proxy:
        told.append(
            "Warning: what is sent, passwords too, can be read on the way. Give --certificate and --key, or let a "
            "reverse proxy on this machine encrypt, and serve to it alone with --proxy."
        )
    return told


def _address(asked: Served, listener: socket.socket) -> str:
    shown = "127.0.0.1" if asked.host in ("0.0.0.0", "::") else asked.host
    if asked.names and not asked.proxy:
        shown = asked.names[0]
    scheme = "https" if asked.certificate else "http"
    return f"{scheme}://{f'[{shown}]' if ':' in shown else shown}:{listener.getsockname()[1]}{asked.prefix}/"


def _ahead(kept: Kept) -> None:
    """Work ahead as long as pages are served; what is wrong with the records each page says by itself."""
    while True:
        with suppress(RecordsError, FleetFileError, EndedError):
            kept.work_ahead()
        time.sleep(LOOKS_EVERY_S)


def _listen(host: str, port: int) -> socket.socket:
    """A socket that listens, made first so that a port in use is said before any work is done."""
    family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    listener = socket.socket(family, kind, protocol)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(address)
        listener.listen(64)
    except OSError:
        listener.close()
        raise
    return listener


def _interrupt(_signal: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt
