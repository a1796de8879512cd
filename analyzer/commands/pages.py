"""What the commands that show pages share: their arguments, and serving until interrupted."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from analyzer.commands.logs import READ, usage

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
    parser.add_argument("--open", action="store_true", help="open the pages in a browser")


def show(arguments: argparse.Namespace, records: Path) -> int:
    """Serve the pages over some records until interrupted; the exit status."""
    if not 0 <= arguments.port <= 65535:
        return usage(f"--port must be a number from 0 to 65535, not {arguments.port}")
    try:
        from dashboards.serving import serve
    except ModuleNotFoundError as missing:
        return usage(MISSING.format(missing=missing.name))
    try:
        serve(records, host=arguments.host, port=arguments.port, opens=arguments.open, says=say)
    except OSError as problem:
        reason = problem.strerror or problem
        return usage(f"{arguments.host} port {arguments.port} cannot be listened on ({reason}); try another --port")
    return READ


def say(words: str) -> None:
    """Say something on standard error, where it disturbs no output."""
    sys.stderr.write(words + "\n")
    sys.stderr.flush()
