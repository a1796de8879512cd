"""Accounts: who may sign in to the pages, with which role; sessions and links that only read.

They stand in ``accounts.json`` beside the database, readable by its owner alone: names, roles, hashes of passwords
(Argon2id, by ``argon2-cffi`` with its defaults, those of RFC 9106's second recommendation), links, and the key that
signs sessions. A session is a signed text; it ends with time, by signing out, and when the password is changed or the
account removed. An account may ask for a one-time code beside the password; where others can reach the pages, a manager
without one may there no more than an editor.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from analyzer.records.changes import note
from analyzer.records.durable import write_whole
from analyzer.records.one_time_codes import UsedCodes, check_library, new_secret
from analyzer.records.passwords import LONGEST, check_password
from analyzer.records.people import Person, Role
from analyzer.records.problems import AccountError
from analyzer.records.sign_ins import FAILED, NOBODY_KNOWN, OPENED, SIGNED_IN, SIGNED_OUT, WAITS, SignIns
from analyzer.records.store import Store, sentences
from analyzer.small_files import read_bytes

ACCOUNTS_FILE = "accounts.json"
MOST_BYTES = 10_000_000
#: A session ends after this time [s].
SESSION_S = 12 * 3600
LONGEST_LINK_DAYS = 366
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._@-]{0,63}")
#: After so many wrong passwords the next try must wait, each time twice as long up to the longest time [s]: for one
#: account, and for one address, which a whole club may share.
FIRST_WAIT_S = 2.0
FREE_OF_NAME, LONGEST_OF_NAME_S = 5, 900.0
FREE_OF_ADDRESS, LONGEST_OF_ADDRESS_S = 30, 60.0
#: Names and addresses whose tries are remembered.
REMEMBERED = 10_000


class WaitError(AccountError):
    """Too many wrong passwords; the text says how long to wait."""


@dataclass(frozen=True, slots=True)
class User:
    """Somebody who may sign in."""

    name: str
    role: str
    password: str  # its hash
    made_at: str
    #: Counts changes of the password or the codes, from any number on; another one ends the sessions before it.
    changes: int = 0
    secret: str = ""  # of its one-time codes; empty where it has none


@dataclass(frozen=True, slots=True)
class Link:
    """A link that only reads."""

    id: str
    note: str
    made_at: str
    expires: float  # seconds since 1970


@dataclass(frozen=True, slots=True)
class Accounts:
    """All that the file holds."""

    key: str
    users: tuple[User, ...] = ()
    links: tuple[Link, ...] = ()
    signed_out: dict[str, float] = field(default_factory=dict)  # session -> when it would have ended anyway

    def user(self, name: str) -> User | None:
        """The account of a name, in whatever case it is written."""
        return next((one for one in self.users if one.name.lower() == name.lower()), None)


Make = Callable[[Accounts], tuple[Accounts, Any, Any]]  # the accounts then, and what stood there before and after


def kept_accounts(folder: Path) -> Accounts | None:
    """Give the accounts of a folder of records; None where there are none.

    Raises
    ------
    AccountError
        When their file is damaged.
    """
    path = folder / ACCOUNTS_FILE
    try:
        told = json.loads(read_bytes(path, MOST_BYTES))
        users, links = tuple(User(**one) for one in told["users"]), tuple(Link(**one) for one in told["links"])
        if not all(one.role.upper() in Role.__members__ for one in users) or len(told["key"]) < 32:
            raise ValueError("a role or the key is none")
        return Accounts(told["key"], users, links, dict(told["signed_out"]))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
        raise AccountError(
            f"The accounts in {path} cannot be read ({problem}); nobody can sign in. Take the file from a backup, or "
            "move it away and add the accounts again: taper user add NAME --role manager."
        ) from problem


def _change(store: Store, what: str, about: str, role: Role, make: Make) -> None:
    """Change the accounts, one program at a time, and note what stood there before and after."""
    if role > Role.READER:
        store.allow(role)
    with sentences(store.folder), store.writing() as connection:
        accounts = kept_accounts(store.folder) or Accounts(secrets.token_hex(32))
        made, before, after = make(accounts)
        if what:
            note(connection, store.person, what, about, before=before, after=after)
        data = json.dumps(asdict(made), indent=1).encode()
        old = os.umask(0o077)
        try:
            write_whole(store.folder / ACCOUNTS_FILE, data)
        finally:
            os.umask(old)


def _told(user: User | None) -> dict[str, Any] | None:
    if user is None:
        return None
    return {"name": user.name, "role": user.role, **({"one-time codes": True} if user.secret else {})}


def add_user(store: Store, name: str, role: str, password: str) -> None:
    """Add an account.

    Raises
    ------
    AccountError
        When name or role will not do, or there is one of that name.
    PasswordError
        When the password will not do.
    """
    if not _NAME.fullmatch(name):
        raise AccountError(f"{name!r} cannot be an account: letters, digits, and . _ @ - between them, 64 at most.")
    _check_role(role)
    check_password(name, password)
    first = secrets.randbits(62)  # so that no session of an account of that name that was removed is one of this
    user = User(name, role, _hashed(password), datetime.now(UTC).isoformat(timespec="seconds"), first)

    def make(accounts: Accounts) -> tuple[Accounts, Any, Any]:
        if accounts.user(name):
            raise AccountError(f"There already is an account {name}; change it with: taper user password {name}")
        return replace(accounts, users=(*accounts.users, user)), None, _told(user)

    _change(store, "account added", name, Role.MANAGER, make)


def remove_user(store: Store, name: str) -> None:
    """Remove an account, or a link by its number; its sessions end at once.

    Raises
    ------
    AccountError
        When there is none.
    """

    def make(accounts: Accounts) -> tuple[Accounts, Any, Any]:
        user = accounts.user(name)
        link = next((one for one in accounts.links if one.id == name), None)
        if link is not None:
            return (
                replace(accounts, links=tuple(one for one in accounts.links if one is not link)),
                _of_link(link),
                None,
            )
        users = tuple(one for one in accounts.users if one is not user)
        return replace(accounts, users=users), _told(_found(user, name)), None

    _change(store, "account removed", name, Role.MANAGER, make)


def change_password(store: Store, name: str, password: str) -> None:
    """Give an account another password; its sessions end at once. Everybody may change their own.

    Raises
    ------
    AccountError
        When there is no such account.
    PasswordError
        When the password will not do.
    """
    if store.person.name.lower() != name.lower():
        store.allow(Role.MANAGER)
    check_password(name, password)
    hashed = _hashed(password)

    def make(accounts: Accounts) -> tuple[Accounts, Any, Any]:
        user = _found(accounts.user(name), name)
        changed = replace(user, password=hashed, changes=user.changes + 1)
        users = tuple(changed if one is user else one for one in accounts.users)
        return replace(accounts, users=users), _told(user), _told(changed)

    _change(store, "password changed", name, Role.READER, make)


def ask_for_codes(store: Store, name: str, *, wanted: bool = True) -> str:
    """Let an account be asked for a one-time code from now on, or no more; its sessions end at once.

    Gives the secret for its authenticator, which takes the place of an earlier one; nothing where none is ``wanted``.

    Raises
    ------
    AccountError
        When there is no such account.
    """
    secret = new_secret() if wanted else ""

    def make(accounts: Accounts) -> tuple[Accounts, Any, Any]:
        user = _found(accounts.user(name), name)
        changed = replace(user, secret=secret, changes=user.changes + 1)
        users = tuple(changed if one is user else one for one in accounts.users)
        return replace(accounts, users=users), _told(user), _told(changed)

    _change(store, "one-time codes changed", name, Role.MANAGER, make)
    return secret


def change_role(store: Store, name: str, role: str) -> None:
    """Give an account another role, which counts from its next request.

    Raises
    ------
    AccountError
        When there is no such account or role.
    """
    _check_role(role)

    def make(accounts: Accounts) -> tuple[Accounts, Any, Any]:
        user = _found(accounts.user(name), name)
        changed = replace(user, role=role)
        users = tuple(changed if one is user else one for one in accounts.users)
        return replace(accounts, users=users), _told(user), _told(changed)

    _change(store, "role changed", name, Role.MANAGER, make)


def add_link(store: Store, days: int, words: str = "") -> str:
    """Make a link that only reads and expires; gives the text by which it is opened, which is kept nowhere.

    Raises
    ------
    AccountError
        When the days will not do.
    """
    if not 1 <= days <= LONGEST_LINK_DAYS:
        raise AccountError(f"A link is good for 1 to {LONGEST_LINK_DAYS} days, not {days}.")
    now = datetime.now(UTC)
    link = Link(
        secrets.token_hex(4), words[:200], now.isoformat(timespec="seconds"), (now + timedelta(days=days)).timestamp()
    )
    signed: list[str] = []

    def make(accounts: Accounts) -> tuple[Accounts, Any, Any]:
        current = tuple(one for one in accounts.links if one.expires > time.time())
        signed.append(_signer(accounts, "link").dumps({"link": link.id}))
        return replace(accounts, links=(*current, link)), None, _of_link(link)

    _change(store, "link added", link.id, Role.MANAGER, make)
    return signed[0]


def _of_link(link: Link) -> dict[str, Any]:
    return {"link": link.id, "note": link.note, "expires": datetime.fromtimestamp(link.expires, UTC).isoformat()}


def _found(user: User | None, name: str) -> User:
    if user is None:
        raise AccountError(f"There is no account {name}; list them with: taper user list")
    return user


def _check_role(role: str) -> None:
    if role.upper() not in Role.__members__ or role != role.lower():
        raise AccountError(f"{role!r} is no role; one of: {', '.join(one.word for one in Role)}.")


def _hasher() -> Any:
    try:
        from argon2 import PasswordHasher
    except ModuleNotFoundError as missing:
        raise AccountError(
            f"Accounts need {missing.name}, which is not installed. In this project's checkout: "
            "pip install '.[dashboard]'"
        ) from missing
    return PasswordHasher()


def _hashed(password: str) -> str:
    return str(_hasher().hash(password))


def _signer(accounts: Accounts, what: str) -> Any:
    from itsdangerous import URLSafeSerializer

    return URLSafeSerializer(accounts.key, salt=f"taper {what}", signer_kwargs={"digest_method": hashlib.sha256})


class Door:
    """Lets people in: signs sessions, checks them, and makes whoever guesses wait.

    Parameters
    ----------
    folder : of the records
    codes_of_managers : whether a manager may more than an editor only with one-time codes
    """

    def __init__(self, folder: Path, *, codes_of_managers: bool = False) -> None:
        self._folder = folder
        self._codes_of_managers = codes_of_managers
        self._used = UsedCodes(folder)
        self._lock = threading.Lock()
        self._read: tuple[tuple[int, int, int], Accounts | None] | None = None
        self._tries: dict[str, tuple[int, float]] = {}  # name or address -> wrong passwords, and until when to wait
        self._hashing = threading.Semaphore(2)  # each check takes 64 MB
        self._noted = SignIns(folder)

    def accounts(self) -> Accounts | None:
        """The accounts as they are now.

        Raises
        ------
        AccountError
            When their file is damaged.
        """
        try:
            found = (self._folder / ACCOUNTS_FILE).stat()
        except FileNotFoundError:
            return None
        mark = (found.st_mtime_ns, found.st_size, found.st_ino)
        with self._lock:
            if self._read is None or self._read[0] != mark:
                self._read = mark, kept_accounts(self._folder)
            return self._read[1]

    def sign_in(self, name: str, password: str, address: str, code: str = "") -> str:
        """Give a session to who knows the password of an account, and its one-time code where it has any.

        Raises
        ------
        AccountError
            When they do not.
        WaitError
            When they must wait before the next try.
        """
        user = self._proven(name, password, address, code)
        self._noted.note(SIGNED_IN, user.name, address)
        return self.session_of(user.name)

    def confirm_password(self, name: str, password: str, address: str) -> None:
        """Make sure that who is signed in to an account knows its password.

        Raises
        ------
        AccountError, WaitError
            As ``sign_in`` does.
        """
        self._proven(name, password, address, None)

    def session_of(self, name: str) -> str:
        """A new session of an account."""
        accounts = self.accounts()
        user = accounts.user(name) if accounts else None
        if accounts is None or user is None:
            raise AccountError(f"There is no account {name}.")
        return self._session(accounts, {"user": user.name, "changes": user.changes}, time.time() + SESSION_S)

    def _proven(self, name: str, password: str, address: str, code: str | None) -> User:
        """The account of a name and a password, and of a one-time code unless that was asked for before."""
        accounts = self.accounts()
        if code is not None and accounts and any(one.secret for one in accounts.users):
            check_library()  # whoever it is, and before the password: what cannot be checked later tells of neither
        keys = (f"name {name.lower()[:64]}", f"address {address}")
        user = accounts.user(name) if accounts else None
        known = user.name if user else NOBODY_KNOWN
        with self._hashing:
            try:
                self._check_wait(keys)
            except WaitError:
                self._noted.note(WAITS, known, address)
                raise
            right = _verified(user.password if user else None, password[:LONGEST])
            if right and user is not None and user.secret and code is not None:
                right = self._used.takes(user.name, user.secret, code)
            self._count(keys, right)
        if user is None or not right:
            self._noted.note(FAILED, known, address)
            raise AccountError("Name or password is wrong, or the one-time code if the account asks for one.")
        return user

    def open_link(self, text: str, address: str) -> tuple[str, float]:
        """Give a session that only reads to who has a link, and when it ends.

        Raises
        ------
        AccountError
            When the link is none, has expired or was removed.
        """
        accounts = self.accounts()
        told = _loaded(accounts, "link", text)
        link = next((one for one in accounts.links if one.id == told.get("link")), None) if accounts and told else None
        if accounts is None or link is None or link.expires < time.time():
            raise AccountError("This link has expired or was removed; ask for another.")
        ends = min(link.expires, time.time() + SESSION_S)
        self._noted.note(OPENED, f"link {link.id}", address)
        return self._session(accounts, {"link": link.id}, ends), ends

    def _session(self, accounts: Accounts, whose: dict[str, Any], ends: float) -> str:
        return str(_signer(accounts, "session").dumps({**whose, "id": secrets.token_hex(16), "ends": ends}))

    def person(self, session: str | None) -> Person | None:
        """Whose session it is; None where it is none, has ended, or its account is gone or changed."""
        accounts = self.accounts()
        told = _loaded(accounts, "session", session or "")
        if accounts is None or told is None or not isinstance(told.get("ends"), float) or told["ends"] < time.time():
            return None
        if told.get("id") in accounts.signed_out:
            return None
        if "link" in told:
            link = next((one for one in accounts.links if one.id == told["link"]), None)
            good = link is not None and link.expires > time.time()
            return Person(f"link {told['link']}", Role.READER, "link") if good else None
        user = accounts.user(str(told.get("user")))
        if user is None or user.changes != told.get("changes"):
            return None
        role = Role[user.role.upper()]
        if self._codes_of_managers and not user.secret:
            role = min(role, Role.EDITOR)
        return Person(user.name, role, "pages")

    def sign_out(self, store: Store, session: str, address: str) -> None:
        """End a session, so that whoever has a copy of it cannot use it either."""
        told = _loaded(self.accounts(), "session", session)
        if told is None:
            return

        def make(accounts: Accounts) -> tuple[Accounts, Any, Any]:
            now = time.time()
            still = {one: ends for one, ends in accounts.signed_out.items() if ends > now}
            return replace(accounts, signed_out={**still, str(told["id"]): float(told["ends"])}), None, None

        _change(store, "", "", Role.READER, make)
        self._noted.note(SIGNED_OUT, str(told.get("user") or f"link {told.get('link')}"), address)

    def _check_wait(self, keys: tuple[str, ...]) -> None:
        now = time.monotonic()
        with self._lock:
            wait = max((self._tries.get(key, (0, 0.0))[1] for key in keys), default=0.0) - now
        if wait > 0.0:
            raise WaitError(f"Too many wrong passwords; try again in {max(1, round(wait))} s.")

    def _count(self, keys: tuple[str, ...], right: bool) -> None:
        now = time.monotonic()
        with self._lock:
            for key in keys:
                wrong = 0 if right else self._tries.pop(key, (0, 0.0))[0] + 1
                if right:
                    self._tries.pop(key, None)
                    continue
                named = key.startswith("name ")
                over = wrong - (FREE_OF_NAME if named else FREE_OF_ADDRESS)
                longest = LONGEST_OF_NAME_S if named else LONGEST_OF_ADDRESS_S
                wait = 0.0 if over < 0 else min(FIRST_WAIT_S * 2.0 ** min(over, 20), longest)
                self._tries[key] = (wrong, now + wait)
            while len(self._tries) > REMEMBERED:
                del self._tries[next(iter(self._tries))]


def _verified(hashed: str | None, password: str) -> bool:
    """Whether a password is right; where there is no account it takes as long and is not."""
    from argon2.exceptions import InvalidHashError, VerificationError

    try:
        return bool(_hasher().verify(hashed or _nobodys(), password)) and hashed is not None
    except (VerificationError, InvalidHashError):
        return False


@cache
def _nobodys() -> str:
    return _hashed(secrets.token_hex(16))


def _loaded(accounts: Accounts | None, what: str, text: str) -> dict[str, Any] | None:
    if accounts is None or not text or len(text) > 2000:
        return None
    from itsdangerous import BadData

    with suppress(BadData, UnicodeError):
        told = _signer(accounts, what).loads(text)
        return told if isinstance(told, dict) else None
    return None
