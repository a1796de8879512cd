"""Serving the pages until interrupted."""

from __future__ import annotations

import logging
import signal
import socket
import threading
import time
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import FrameType

from waitress.server import create_server

from analyzer.aircraft import FleetFileError
from analyzer.records.problems import RecordsError
from dashboards.app import SEARCHES_KEY, STAGING_KEY, make_app
from dashboards.kept import Kept

#: Requests answered at the same time.
THREADS = 6
#: How often it is looked whether the records, the fleet file or the corrections were changed beside the pages [s].
LOOKS_EVERY_S = 5.0


def serve(records: Path, *, host: str, port: int, opens: bool, says: Callable[[str], None]) -> None:
    """Serve the pages over the records of a folder; returns after an interrupt or a request to end.

    Raises
    ------
    OSError
        When the address cannot be listened on.
    """
    listener = _listen(host, port)
    kept = Kept(records)
    app = make_app(kept)
    threading.Thread(target=_ahead, args=(kept,), daemon=True).start()
    server = create_server(app.server, sockets=[listener], threads=THREADS, ident=None)
    shown = "127.0.0.1" if host in ("0.0.0.0", "::") else host
    address = f"http://{f'[{shown}]' if ':' in shown else shown}:{listener.getsockname()[1]}/"
    says(f"The pages are at {address}   (Ctrl-C stops)")
    if opens:
        threading.Timer(0.5, webbrowser.open, [address]).start()
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)  # that requests wait for a moment is no news
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        server.close()
        app.server.config[STAGING_KEY].close()
        app.server.config[SEARCHES_KEY].close()
        says("Stopped.")


def _ahead(kept: Kept) -> None:
    """Work ahead as long as pages are served; what is wrong with the records each page says by itself."""
    while True:
        with suppress(RecordsError, FleetFileError):
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
