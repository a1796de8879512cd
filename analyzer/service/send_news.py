"""Telling each recipient what is new to them: each thing once, noted as told only after it was sent."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from analyzer.records.store import Store
from analyzer.records.told import keep_told, telling_alone, told_to
from analyzer.service.delivery import Message, deliver
from analyzer.service.news import News
from analyzer.service.recipients import Recipient


@dataclass(frozen=True, slots=True)
class Sending:
    """What one recipient is told, and why it could not be sent."""

    recipient: Recipient
    news: tuple[News, ...]  # none where all was told before
    failed: str | None = None


def news_for(store: Store, recipient: Recipient, news: Iterable[News]) -> tuple[News, ...]:
    """Give what a recipient was not told before."""
    told = told_to(store, recipient.name)
    return tuple(one for one in news if one.key not in told and not told.intersection(one.covered_by))


def send_news(
    store: Store,
    news: Sequence[News],
    recipients: Sequence[Recipient],
    written: Callable[[Sequence[News]], Message],
) -> list[Sending]:
    """Send to each recipient what is new to them, in one message; what was sent is told, and what failed is not.

    Should the note fail after a message was sent, it is sent once more the next time: rather twice than never.

    Parameters
    ----------
    written : makes a message of some news

    Raises
    ------
    RecordsError
        When who asks may not, another program is sending, or what was told cannot be noted.
    LibraryMissingError
        When the library that sends is not installed.
    """
    done = []
    with telling_alone(store):
        for recipient in recipients:
            new = news_for(store, recipient, news)
            failed = deliver(recipient.address, written(new)) if new else None
            if new and failed is None:
                keep_told(store, recipient.name, [(one.tail, one.key) for one in new])
            done.append(Sending(recipient, new, failed))
    return done
