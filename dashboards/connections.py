"""The server's connections: how many, for how long, and how much they may send.

Waitress reads requests in one thread for all connections and gives each to another thread once it is whole, so that a
slow client holds none. What it lacks is here: a time in which a request must be whole, however it drips in; bounds that
differ by address; when there are too many connections, one that waits is closed for one that comes; and a client whose
request is refused before it was sent whole still gets the answer (RFC 9112, section 9.6: closed in stages, since
closing at once while it sends would reset the connection and lose what was said).
"""

from __future__ import annotations

import copy
import select
import socket
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.server import TcpWSGIServer

from analyzer.logs.bounds import MAX_UPLOAD_BYTES
from dashboards.callback_bodies import MAX_BODY_BYTES

UPLOADS = "/bring-in/file"
#: Requests answered at the same time: some more than may wait for work in the background (``background.Once``). A
#: thread that waits takes some 50 kB.
THREADS = 100
#: Connections at the same time, and those of one client; twenty people with all that their browsers open.
MOST, MOST_OF_ONE = 800, 400
#: A request's head must be whole after this time, a body besides at this speed at least [s, bytes/s].
HEAD_S, SLOWEST_BODY = 15.0, 50_000
#: A connection without a request is closed after this time, and one whose client takes no answer [s].
IDLE_S, UNTAKEN_S = 60.0, 60.0
#: What a client still sends after its last answer is read and thrown away for this time [s].
PARTING_S = 10.0
MOST_HEAD_BYTES = 32_768
LOOKING_S = 1

Admits = Callable[[dict[str, str]], bool]


class Parser(HTTPRequestParser):
    """A request, whose body may be large only where files are taken and from who may send some."""

    def parse_header(self, header_plus: bytes) -> None:
        """Read the head; then it is known how much may follow."""
        super().parse_header(header_plus)
        if (self.chunked and "CONTENT_LENGTH" in self.headers) or "TRANSFER_ENCODING" in self.headers:
            raise ParsingError("A request has one length (RFC 9112, section 6.1).")  # another might be read as two
        bounds: Bounds = self.adj  # type: ignore[has-type]
        if not (self.path.endswith(UPLOADS) and self.command == "POST" and bounds.admits(self.headers)):
            self.adj = bounds.of_others


class Bounds(Adjustments):
    """Waitress's settings, once for files that are brought in and once for all other requests."""

    def __init__(self, admits: Admits, **settings: Any) -> None:
        super().__init__(max_request_body_size=MAX_UPLOAD_BYTES + 1, **settings)
        self.admits = admits
        self.of_others = copy.copy(self)
        self.of_others.max_request_body_size = MAX_BODY_BYTES + 1


class Channel(HTTPChannel):
    """One connection."""

    parser_class = Parser
    server: Server

    def __init__(self, *told: Any, **named: Any) -> None:
        self.waits_since = time.monotonic()  # for a request, or for the rest of one
        self.parted_at: float | None = None  # when the last answer had been sent
        super().__init__(*told, **named)

    def received(self, data: bytes) -> bool:
        """Take what has come; the time of a request begins with its first byte."""
        if self.request is None:
            self.waits_since = time.monotonic()
        return bool(super().received(data))

    def readable(self) -> bool:
        """Whether to read; after the last answer, to throw away."""
        return self.parted_at is not None or bool(super().readable())

    def writable(self) -> bool:
        """Whether to write, or to close."""
        return bool(self.will_close if self.parted_at is not None else super().writable())

    def handle_read(self) -> None:
        """Read what was sent, or throw away what still comes after the last answer."""
        if self.parted_at is None:
            super().handle_read()
        else:
            self.recv(self.adj.recv_bytes)  # closes when the client has

    def handle_write(self) -> None:
        """Send; after the last answer only this side is closed, and the client's when it is done or its time is up."""
        if self.will_close or not self.close_when_flushed:
            super().handle_write()
            return
        self._flush_exception(self._flush_some)
        if self.total_outbufs_len or self.will_close:
            return
        self.close_when_flushed: bool = False
        self.parted_at = time.monotonic()
        try:
            self.socket.shutdown(socket.SHUT_WR)
        except OSError:  # the client is gone
            self.handle_close()

    def too_late(self, now: float) -> bool:
        """Whether it has kept this server waiting for too long."""
        if self.parted_at is not None:
            return bool(now - self.parted_at > PARTING_S)
        if self.requests:
            return False
        if self.total_outbufs_len:
            return bool(time.time() - self.last_activity > UNTAKEN_S)
        request = self.request
        waited = now - self.waits_since
        if request is None or (not request.headers_finished and not request.header_plus):
            return waited > IDLE_S
        if not request.headers_finished:
            return waited > HEAD_S
        return bool(waited > HEAD_S + request.body_bytes_received / SLOWEST_BODY)


class Server(TcpWSGIServer):
    """Waitress's server with bounds on connections."""

    channel_class = Channel
    active_channels: dict[int, Channel]
    most, most_of_one = MOST, MOST_OF_ONE

    def handle_accept(self) -> None:
        """Take a connection; where there are too many, one that waits is closed for it."""
        super().handle_accept()
        of_one = Counter(channel.addr[0] for channel in self.active_channels.values())
        if not of_one:
            return
        client, count = of_one.most_common(1)[0]
        if count > self.most_of_one or of_one.total() > self.most:
            self._close_one_of(client)

    def _close_one_of(self, client: str) -> None:
        """Close that connection of a client which has waited longest; the newest where all are being answered."""
        own = [channel for channel in self.active_channels.values() if channel.addr[0] == client]
        waiting = [channel for channel in own if not channel.requests]
        chosen = min(waiting, key=lambda one: one.waits_since) if waiting else max(own, key=lambda one: one.waits_since)
        chosen.handle_close()

    def maintenance(self, now: float) -> None:
        """Close what has kept this server waiting for too long."""
        moment = time.monotonic()
        for channel in list(self.active_channels.values()):
            if channel.too_late(moment):
                channel.will_close = True


def make_server(app: Any, listener: socket.socket, admits: Admits, *, proxy: bool = False, prefix: str = "") -> Server:
    """A server of a WSGI app on a socket that listens already; ``proxy`` where one on this machine says who asks.

    Addresses may begin with ``prefix``, which the app is told apart.
    """
    told_by = {"trusted_proxy": "127.0.0.1", "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"}}
    bounds = Bounds(
        admits,
        sockets=[listener],
        threads=THREADS,
        ident=None,
        backlog=512,
        connection_limit=8 * MOST,  # never reached: ours are
        cleanup_interval=LOOKING_S,
        max_request_header_size=MOST_HEAD_BYTES,
        asyncore_use_poll=True,
        expose_tracebacks=False,
        clear_untrusted_proxy_headers=True,
        url_prefix=prefix,
        **(told_by if proxy else {}),
    )
    told = (listener.family, listener.type, listener.proto, listener.getsockname())
    server = Server(app, _sock=listener, adj=bounds, sockinfo=told, bind_socket=False)
    server.most = min(MOST, _most_files() - 100)
    server.most_of_one = min(MOST_OF_ONE, server.most // 2)
    return server


def _most_files() -> int:
    """How many files and connections this process may hold open, after asking for as many as it may ask for."""
    if not hasattr(select, "poll"):
        return 500  # what select can wait for
    import resource

    wanted = 2 * MOST
    now, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    if now < wanted:
        with suppress(ValueError, OSError):
            raised = wanted if most == resource.RLIM_INFINITY else min(wanted, most)
            resource.setrlimit(resource.RLIMIT_NOFILE, (max(now, raised), most))
    return max(resource.getrlimit(resource.RLIMIT_NOFILE)[0], 200)
