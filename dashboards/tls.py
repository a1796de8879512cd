"""Encryption in front of the server: connections are decrypted here and handed on within this process.

The server behind listens on a loopback port that answers only to connections made here; whose they are it is told by
the port that they come from, so that nothing in a request can pretend to be somebody else's address.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
import threading
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

HANDSHAKE_S = 10.0
CHUNK = 65_536
WsgiApp = Callable[[dict[str, Any], Any], Iterable[bytes]]


class CertificateError(Exception):
    """The certificate or its key cannot be used; the text says why."""


def certificate_context(certificate: Path, key: Path | None) -> ssl.SSLContext:
    """What encrypts, with a certificate and its key from files.

    Raises
    ------
    CertificateError
        When they cannot be used.
    """
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(certificate, key, password=_no_password)
    except (OSError, ssl.SSLError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or problem
        raise CertificateError(
            f"The certificate {certificate} cannot be used with the key {key or certificate} ({reason}). Give the "
            "chain as a PEM file with --certificate, and its key without a password with --key."
        ) from problem
    return context


def _no_password() -> str:
    raise ValueError("the key is locked with a password")


class Front:
    """Takes encrypted connections on a socket and hands them to a server on another."""

    def __init__(self, listener: socket.socket, context: ssl.SSLContext, behind: tuple[str, int], most: int) -> None:
        self._listener, self._context, self._behind, self._most = listener, context, behind, most
        self._clients: dict[int, str] = {}  # port of a connection to the server behind -> address of its client
        self._open: dict[asyncio.StreamWriter, str] = {}
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, name="encrypting", daemon=True)

    def start(self) -> None:
        """Begin to take connections."""
        self._thread.start()

    def close(self) -> None:
        """Take no more connections and end those that there are."""
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(2)

    def known(self, app: WsgiApp) -> WsgiApp:
        """An app that answers only to what comes through here, and knows whose it is."""

        def answered(environ: dict[str, Any], start: Any) -> Iterable[bytes]:
            client = self._clients.get(int(environ.get("REMOTE_PORT") or 0))
            if client is None:
                start("403 Forbidden", [("Content-Type", "text/plain")])
                return [b"These pages are reached by their encrypted address only.\n"]
            environ["REMOTE_ADDR"], environ["wsgi.url_scheme"] = client, "https"
            return app(environ, start)

        return answered

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.set_exception_handler(lambda _loop, _told: None)  # a client that breaks off is no news
        with contextlib.suppress(RuntimeError):
            self._loop.run_until_complete(self._serve())

    async def _serve(self) -> None:
        server = await asyncio.start_server(
            self._hand_on, sock=self._listener, ssl=self._context, ssl_handshake_timeout=HANDSHAKE_S, backlog=512
        )
        async with server:
            await server.serve_forever()

    async def _hand_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._open[writer] = str(writer.get_extra_info("peername")[0])
        if len(self._open) > self._most:
            self._close_one()
        inner: asyncio.StreamWriter | None = None
        try:
            answers, inner = await asyncio.open_connection(*self._behind)
            port = inner.get_extra_info("sockname")[1]
            self._clients[port] = self._open[writer]
            try:
                there = asyncio.ensure_future(_copy(reader, inner))
                await _copy(answers, writer)  # the server behind ends what has lasted too long
                there.cancel()
            finally:
                self._clients.pop(port, None)
        except (OSError, KeyError, ssl.SSLError):
            pass
        finally:
            self._open.pop(writer, None)
            for one in (writer, inner):
                if one is not None:
                    one.close()

    def _close_one(self) -> None:
        """Close the oldest connection of the client that has most."""
        client, _ = Counter(self._open.values()).most_common(1)[0]
        oldest = next(writer for writer, whose in self._open.items() if whose == client)
        self._open.pop(oldest)
        oldest.transport.abort()


async def _copy(source: asyncio.StreamReader, to: asyncio.StreamWriter) -> None:
    """Hand on what comes until it ends."""
    with contextlib.suppress(OSError, ssl.SSLError):
        while data := await source.read(CHUNK):
            to.write(data)
            await to.drain()
        if to.can_write_eof():
            to.write_eof()
