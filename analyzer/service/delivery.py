"""Handing one message to one address, through a library that knows e-mail, webhooks and many more.

Nothing that the library says is handed on, for it may hold a part of the address: from it one of a few reasons is told
in words of our own.
"""

from __future__ import annotations

import logging
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

_REASONS = (
    (re.compile(r"\b53[45]\b|authenticat|credentials", re.IGNORECASE), "its server did not accept user and password"),
    (re.compile(r"certificate|\bssl\b", re.IGNORECASE), "its certificate is not trusted, or it does not encrypt so"),
    (re.compile(r"refused", re.IGNORECASE), "nothing answers there: the connection was refused"),
    (re.compile(r"timed out|timeout", re.IGNORECASE), "its server did not answer in time"),
    (re.compile(r"not known|getaddrinfo|resolv|nodename", re.IGNORECASE), "no server of that name is known"),
    (re.compile(r"unreachable|no route", re.IGNORECASE), "its server cannot be reached from here"),
)
_ANSWERED = re.compile(r"\berror=([1-5]\d\d)\b")
#: Loggers that may say a part of an address.
HEARD = ("apprise", "urllib3", "requests")
UNTOLD = "the reason is not told"
NO_ADDRESS = "the address is none that messages can be sent to"


@dataclass(frozen=True, slots=True)
class Message:
    """A message: title and text, plain."""

    title: str
    text: str


class LibraryMissingError(RuntimeError):
    """The library that sends is not installed; the message says how to install it."""


def deliver(address: str, message: Message) -> str | None:
    """Send a message to an address; why that failed, and None where it did not.

    Raises
    ------
    LibraryMissingError
        When the library that sends is not installed.
    """
    with warnings.catch_warnings(action="ignore"), _listening() as said:
        try:
            import apprise
        except ModuleNotFoundError:
            raise LibraryMissingError(
                "Sending needs a library that is not installed. In this project's checkout: pip install '.[messages]'"
            ) from None
        try:
            asset = apprise.AppriseAsset(
                app_id="taper", app_desc="taper", app_url="", image_url_mask="", image_url_logo="", async_mode=False
            )
            to = apprise.Apprise(asset=asset)
            if not to.add(address):
                return NO_ADDRESS
            for one in to:
                one.notify_format = apprise.NotifyFormat.TEXT
            sent = to.notify(body=message.text, title=message.title, body_format=apprise.NotifyFormat.TEXT)
        except Exception as problem:  # whatever a library may raise: its text may hold the address
            return f"{UNTOLD} ({type(problem).__name__})"
    return None if sent else _reason("\n".join(said))


def _reason(said: str) -> str:
    """One of our own reasons that fits what the library said."""
    if answered := _ANSWERED.search(said):
        return f"its server answered {answered[1]}"
    return next((words for pattern, words in _REASONS if pattern.search(said)), UNTOLD)


class _Listener(logging.Handler):
    """Keeps what is said, and shows it to nobody."""

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self.said: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.said.append(record.getMessage())


@contextmanager
def _listening() -> Iterator[list[str]]:
    """Hear what the libraries say that send, and keep it from every log."""
    listener, before = _Listener(), []
    for logger in map(logging.getLogger, HEARD):
        before.append((logger, logger.level, logger.propagate, logger.handlers[:]))
        logger.setLevel(logging.DEBUG)
        logger.propagate, logger.handlers = False, [listener]
    try:
        yield listener.said
    finally:
        for logger, level, propagate, handlers in before:
            logger.setLevel(level)
            logger.propagate, logger.handlers = propagate, handlers
