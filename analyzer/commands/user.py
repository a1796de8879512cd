"""``taper user``: accounts for the pages, and links that only read."""

from __future__ import annotations

import argparse
import getpass
import sys
from datetime import UTC, datetime

from analyzer.commands.logs import READ, usage
from analyzer.commands.records import add_records_argument, open_named, unusable
from analyzer.phrases import counted

EPILOG = """\
  taper user add jdoe --role editor        asks for the password, or reads it from standard input
  taper user list
  taper user role jdoe --role manager
  taper user password jdoe                 ends the sessions of jdoe
  taper user codes jdoe                    asks jdoe for a one-time code too, from an authenticator; --off ends that
  taper user remove jdoe
  taper user link --days 14                a link that only reads

A reader looks, an editor also adds logs, entries and dispositions, a manager may everything. Once there is an account
the pages ask everybody to sign in. Where others can reach the pages, a manager needs one-time codes: without them the
account may there what an editor may."""
DOES = ("add", "list", "role", "password", "codes", "remove", "link")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of the subcommand."""
    parser.add_argument("does", choices=DOES, metavar="WHAT", help=", ".join(DOES))
    parser.add_argument("name", nargs="?", metavar="NAME", help="of the account, or the number of a link to remove")
    parser.add_argument("--role", metavar="ROLE", help="reader, editor or manager")
    parser.add_argument("--off", action="store_true", help="ask for no one-time codes any more")
    parser.add_argument("--days", type=int, default=14, metavar="DAYS", help="how long a link is good (default 14)")
    parser.add_argument("--note", default="", metavar="WORDS", help="for whom a link is")
    add_records_argument(parser)


def run(arguments: argparse.Namespace) -> int:
    """Make, list, change or remove accounts and links; the exit status."""
    from analyzer.records.problems import AccountError, RecordsError

    needs_name = arguments.does not in ("list", "link")
    if needs_name and not arguments.name:
        return usage(f"say whose account: taper user {arguments.does} NAME")
    if arguments.does in ("add", "role") and not arguments.role:
        return usage("say with --role what they may: reader, editor or manager")
    try:
        return _run(arguments)
    except AccountError as problem:
        return usage(str(problem))
    except RecordsError as problem:
        return unusable(problem)


def _run(arguments: argparse.Namespace) -> int:
    from analyzer.records import accounts

    name = arguments.name or ""
    with open_named(arguments, create=arguments.does == "add") as store:
        if arguments.does == "list":
            _list(accounts.kept_accounts(store.folder))
        elif arguments.does == "add":
            accounts.add_user(store, name, arguments.role, _password(name))
            sys.stderr.write(f"{name} may sign in as {arguments.role}.\n")
        elif arguments.does == "role":
            accounts.change_role(store, name, arguments.role)
            sys.stderr.write(f"{name} is now {arguments.role}.\n")
        elif arguments.does == "password":
            accounts.change_password(store, name, _password(name))
            sys.stderr.write(f"{name} has a new password; whoever was signed in as {name} is signed out.\n")
        elif arguments.does == "codes":
            _codes(accounts.ask_for_codes(store, name, wanted=not arguments.off), name)
        elif arguments.does == "remove":
            accounts.remove_user(store, name)
            sys.stderr.write(f"{name} is removed and can no longer sign in.\n")
        else:
            text = accounts.add_link(store, arguments.days, arguments.note)
            sys.stdout.write(f"/open?key={text}\n")
            good = counted(arguments.days, "day")
            sys.stderr.write(f"Put the pages' address before it. Good for {good}; it is shown once.\n")
    return READ


def _codes(secret: str, name: str) -> None:
    from analyzer.records.one_time_codes import address_of

    if not secret:
        sys.stderr.write(f"{name} is asked for no one-time code any more.\n")
        return
    sys.stdout.write(f"{secret}\n{address_of(secret, name)}\n")
    sys.stderr.write(
        f"{name} types the first line into an authenticator (six digits, a new code every 30 s), or opens the second "
        f"there. It is shown once. Whoever was signed in as {name} is signed out.\n"
    )


def _list(kept: object) -> None:
    from analyzer.records.accounts import Accounts

    if not isinstance(kept, Accounts):
        sys.stderr.write("There are no accounts; add one with: taper user add NAME --role manager\n")
        return
    for user in kept.users:
        sys.stdout.write(
            f"{user.name:<24}  {user.role:<8}  since {user.made_at[:10]}{'  one-time codes' if user.secret else ''}\n"
        )
    for link in kept.links:
        until = datetime.fromtimestamp(link.expires, UTC)
        sys.stdout.write(f"link {link.id:<19}  {'reader':<8}  until {until:%Y-%m-%d %H:%M} UTC  {link.note}\n")


def _password(name: str) -> str:
    """The password: asked for twice on a terminal, else the first line of standard input."""
    from analyzer.records.problems import AccountError

    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    first = getpass.getpass(f"Password for {name}: ")
    if getpass.getpass("The same again: ") != first:
        raise AccountError("The two were not the same; nothing was changed.")
    return first
