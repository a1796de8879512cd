"""A small reverse proxy as the README asks for: it answers below a prefix alone and names who asks."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

#: Headers of one connection, which no proxy hands on.
_OWN = ("connection", "keep-alive", "transfer-encoding", "x-forwarded-for", "x-forwarded-proto")


class SmallProxy(ThreadingHTTPServer):
    """Hands requests below a prefix to a server; notes what was asked for beside it."""

    daemon_threads = True

    def __init__(self, behind: str, prefix: str, *, strips: bool) -> None:
        super().__init__(("127.0.0.1", 0), _Asked)
        self.behind, self.prefix, self.strips = urlsplit(behind), prefix, strips
        self.beside: list[str] = []


class _Asked(BaseHTTPRequestHandler):
    server: SmallProxy
    protocol_version = "HTTP/1.1"

    def _hand_on(self) -> None:
        proxy, path = self.server, self.path
        body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
        if not f"{path}/".startswith((f"{proxy.prefix}/", f"{proxy.prefix}?")):
            proxy.beside.append(path)
            self.send_error(404)
            return
        if proxy.strips:
            path = path.removeprefix(proxy.prefix) or "/"
        headers = {name: value for name, value in self.headers.items() if name.lower() not in _OWN}
        headers |= {"X-Forwarded-For": self.client_address[0], "X-Forwarded-Proto": "http", "Connection": "close"}
        to = http.client.HTTPConnection(proxy.behind.hostname or "", proxy.behind.port, timeout=60)
        to.request(self.command, path, body or None, headers)
        answer = to.getresponse()
        data = answer.read()
        self.send_response_only(answer.status)
        for name, value in answer.getheaders():
            if name.lower() not in (*_OWN, "content-length"):
                self.send_header(name, value)
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        self.wfile.write(b"" if self.command == "HEAD" else data)
        to.close()

    do_GET = do_POST = do_HEAD = _hand_on  # noqa: N815 - the library's spelling

    def log_message(self, *_told: object) -> None:
        """Say nothing."""


@contextmanager
def proxied(behind: str, prefix: str, *, strips: bool = False) -> Iterator[tuple[str, list[str]]]:
    """The address below which a server is reached through a proxy, and what was asked for beside it."""
    with SmallProxy(behind, prefix, strips=strips) as proxy:
        threading.Thread(target=proxy.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{proxy.server_port}{prefix}", proxy.beside
        proxy.shutdown()
