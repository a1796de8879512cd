"""What the commands that show pages share: their arguments, and serving until interrupted."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.commands.logs import READ, usage

if TYPE_CHECKING:
    from analyzer.records.place import Place
    from dashboards.serving import Served

PORT = 8060
MISSING = "The pages need {missing}, which is not installed. In this project's checkout: pip install '.[dashboard]'"


def add_server_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments that say where the pages are served."""
    parser.add_argument(
        "--port", type=int, default=PORT, help=f"port to listen on (default {PORT}; 0 takes a free one)"
    )
    parser.add_argument(
        "--host", default="127.0.0.1", help="address to listen on; by default only this machine reaches the pages"
    )
    parser.add_argument(
        "--name",
        action="append",
        default=[],
        metavar="NAME",
        help="a name under which others reach this machine; the pages answer under no other than these, the loopback "
        "names and --host",
    )
    parser.add_argument("--certificate", metavar="FILE.pem", help="serve encrypted, with this certificate")
    parser.add_argument("--key", metavar="FILE.pem", help="the certificate's key, where it stands in a file of its own")
    parser.add_argument(
        "--proxy",
        action="store_true",
        help="a reverse proxy on this machine encrypts, hands the Host on and names the client in X-Forwarded-For",
    )
    parser.add_argument(
        "--prefix",
        default="",
        metavar="/PREFIX",
        help="the pages lie below this address of the reverse proxy, which may hand it on or take it off",
    )
    parser.add_argument(
        "--without-accounts", action="store_true", help="let everybody who reaches --host in, without signing in"
    )
    parser.add_argument("--open", action="store_true", help="open the pages in a browser")


class ServerUsageError(ValueError):
    """What was asked of the server cannot be; the message says what to give instead."""


def server_asked(arguments: argparse.Namespace) -> Served:
    """How the pages are to be served.

    Raises
    ------
    ServerUsageError
        When the arguments do not go together, or the libraries of the pages are not installed.
    """
    if not 0 <= arguments.port <= 65535:
        raise ServerUsageError(f"--port must be a number from 0 to 65535, not {arguments.port}")
    if arguments.key and not arguments.certificate:
        raise ServerUsageError("--key needs the --certificate that it belongs to")
    try:
        from dashboards.below import PrefixError, prefix_of
        from dashboards.serving import Served
    except ModuleNotFoundError as missing:
        raise ServerUsageError(MISSING.format(missing=missing.name)) from missing
    try:
        prefix = prefix_of(arguments.prefix)
    except PrefixError as problem:
        raise ServerUsageError(str(problem)) from problem
    return Served(
        arguments.host, arguments.port, tuple(arguments.name), _path(arguments.certificate), _path(arguments.key),
        arguments.without_accounts, arguments.proxy, arguments.open, prefix,
    )  # fmt: skip


def show(asked: Served, records: Place) -> int:
    """Serve the pages over some records until interrupted; the exit status."""
    from analyzer.records.problems import AccountError
    from dashboards.serving import CannotServeError, serve
    from dashboards.tls import CertificateError

    try:
        serve(records, asked, say)
    except (CannotServeError, CertificateError, AccountError) as problem:
        return usage(str(problem))
    except OSError as problem:
        reason = problem.strerror or problem
        return usage(f"{asked.host} port {asked.port} cannot be listened on ({reason}); try another --port")
    return READ


def _path(given: str | None) -> Path | None:
    return Path(given) if given else None


def say(words: str) -> None:
    """Say something on standard error, where it disturbs no output."""
    sys.stderr.write(words + "\n")
    sys.stderr.flush()
