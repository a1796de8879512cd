"""What ``taper digest --send`` does: tell each recipient what is new to them."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.commands.logs import READ, REFUSED, usage
from analyzer.commands.records import fleet_for, open_named, over_tails, tell_stale, unusable
from analyzer.phrases import counted

if TYPE_CHECKING:
    from analyzer.records.store import Store
    from analyzer.service.recipients import Recipient
    from analyzer.service.send_news import Sending


def add_sending_arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of sending."""
    parser.add_argument(
        "--send", action="store_true", help="send what is worth a message and was not sent before, in place of a digest"
    )
    parser.add_argument("--dry-run", action="store_true", help="with --send: show what would be sent, and send nothing")
    parser.add_argument(
        "--recipients", metavar="FILE", help="with --send: who gets it, a line each (else from TAPER_MESSAGES)"
    )
    parser.add_argument("--link", metavar="URL", help="with --send: where the pages are, for a link to each aircraft")


def fault_of(arguments: argparse.Namespace) -> str | None:
    """What does not go together; None where all does."""
    if not arguments.send:
        given = next((name for name in ("dry_run", "recipients", "link") if getattr(arguments, name)), None)
        return f"--{given.replace('_', '-')} goes with --send" if given else None
    if given := next((name for name in ("since", "until", "json", "html") if getattr(arguments, name)), None):
        return f"--send sends what was not sent before; it does not go with --{given}"
    if arguments.link and not arguments.link.startswith(("https://", "http://")):
        return "--link must be the address of the pages, such as https://club.example"
    return None


def run_sending(arguments: argparse.Namespace) -> int:
    """Send, or show what would be sent; the exit status."""
    from analyzer.aircraft import FleetFileError
    from analyzer.records.problems import RecordsError
    from analyzer.service.delivery import LibraryMissingError
    from analyzer.service.recipients import RecipientsError, recipients_of

    try:
        with open_named(arguments) as store:
            file = Path(arguments.recipients) if arguments.recipients else None
            recipients = recipients_of(file, os.environ, store.folder)
            return _send(arguments, store, recipients)
    except (RecipientsError, FleetFileError, LibraryMissingError) as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)


def _send(arguments: argparse.Namespace, store: Store, recipients: Sequence[Recipient]) -> int:
    from analyzer.reports.news_words import message_of
    from analyzer.service.news import gather_news
    from analyzer.service.send_news import news_for, send_news

    fleet = fleet_for(arguments, store)
    tell_stale(store, fleet)
    news = gather_news(store, datetime.now(), fleet, over_tails)
    written = partial(message_of, link=arguments.link.rstrip("/") if arguments.link else None)
    if arguments.dry_run:
        for to in recipients:
            new = news_for(store, to, news)
            sys.stdout.write(f"To {to.name}: {written(new).title if new else 'nothing new'}\n")
            sys.stdout.write(f"\n{written(new).text}\n" if new else "")
        sys.stderr.write("Nothing was sent.\n")
        return READ
    done = send_news(store, news, recipients, written)
    for one in done:
        sys.stderr.write(_told(one))
    return REFUSED if any(one.failed for one in done) else READ


def _told(one: Sending) -> str:
    to = one.recipient
    if one.failed is not None:
        return (
            f"taper: {to.name}: {counted(len(one.news), 'thing')} could not be sent by {to.way}: {one.failed}. Nothing "
            f"is noted as told, so that the next call sends it again; see to the line '{to.name}' of the recipients, "
            "or to its server.\n"
        )
    if not one.news:
        return f"{to.name}: nothing new.\n"
    return f"{to.name}: {counted(len(one.news), 'thing')} sent.\n"
