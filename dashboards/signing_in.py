"""Signing in: who asks is known before anything is answered, where accounts are kept or asked for."""

from __future__ import annotations

import time
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie
from urllib.parse import quote

from flask import Flask, Response, g, jsonify, redirect, request

from analyzer.records.accounts import SESSION_S, Door, WaitError, change_password
from analyzer.records.passwords import strength
from analyzer.records.people import NOBODY, Person, Role, at_the_machine
from analyzer.records.problems import AccountError, RecordsError
from analyzer.records.store import Store
from analyzer.reports.plainly import plainly
from dashboards.below import whole
from dashboards.guarding import SCHEME, SCRIPTS_OF_ALL, allow_scripts, sorry
from dashboards.sign_in_forms import password_form, sign_in_form

COOKIE = "taper_session"
SIGN_IN, SIGN_OUT, OPEN, PASSWORD = "/sign-in", "/sign-out", "/open", "/password"
STRENGTH = f"{PASSWORD}/strength"
#: What holds no data of anybody and the page to sign in needs.
PUBLIC = (SIGN_IN, SIGN_OUT, OPEN)
LONGEST_FIELD = 300
NOT_SIGNED_IN = "You are not signed in, or your session has ended; sign in again."


def add_door(server: Flask, door: Door, store: Callable[[], Store], *, needed: bool) -> None:
    """Let nobody in who is not signed in, where there are accounts or they are ``needed``."""
    _add_guard(server, door, needed)
    _add_sign_in(server, door, store)
    _add_own_password(server, door, store)


def _add_guard(server: Flask, door: Door, needed: bool) -> None:
    """Ask before each request who is there."""

    @server.before_request
    def who() -> Response | None:
        try:
            g.person = _person(door, needed)
        except AccountError as problem:
            return sorry(plainly(problem), 503)
        if g.person is not None or request.path in PUBLIC or request.path.startswith(SCRIPTS_OF_ALL):
            return None
        if request.method == "GET" and request.accept_mimetypes.accept_html and not request.path.startswith("/_dash"):
            return _away(f"{SIGN_IN}?next={quote(request.full_path.rstrip('?'))}")
        return sorry(NOT_SIGNED_IN, 401)


def _add_sign_in(server: Flask, door: Door, store: Callable[[], Store]) -> None:
    """Sign in and out, by name and password or by a link to read."""

    @server.get(SIGN_IN)
    def ask_name() -> Response:
        return _page("", 200)

    @server.post(SIGN_IN)
    def sign_in() -> Response:
        name, password, code = (request.form.get(field, "") for field in ("name", "password", "code"))
        if max(len(name), len(password), len(code)) > LONGEST_FIELD:
            return _page("Name or password is wrong.", 401)
        try:
            session = door.sign_in(name, password, request.remote_addr or "", code)
        except WaitError as problem:
            return _page(plainly(problem), 429)
        except AccountError as problem:
            return _page(plainly(problem), 401)
        return _with_session(_away(_next()), session, SESSION_S)

    @server.post(SIGN_OUT)
    def sign_out() -> Response:
        if session := request.cookies.get(COOKIE):
            try:
                door.sign_out(store(), session, request.remote_addr or "")
            except RecordsError as problem:
                return sorry(plainly(problem), 503)
        answer = _away(SIGN_IN)
        answer.delete_cookie(COOKIE, path=whole("/"), httponly=True, samesite="Lax", secure=request.is_secure)
        return answer

    @server.get(OPEN)
    def open_link() -> Response:
        try:
            session, ends = door.open_link(request.args.get("key", ""), request.remote_addr or "")
        except AccountError as problem:
            return sorry(plainly(problem), 403)
        return _with_session(_away("/"), session, max(1, int(ends - time.time())))


def _add_own_password(server: Flask, door: Door, store: Callable[[], Store]) -> None:
    """Let people change their own password, and say how soon the new one is guessed."""

    @server.get(PASSWORD)
    def ask_password() -> Response:
        return _password_page("", 200) if _own_account(door) else _away("/")

    @server.post(PASSWORD)
    def change_own() -> Response:
        name = _own_account(door)
        if name is None:
            return sorry(NOT_SIGNED_IN, 401)
        old, new, again = (request.form.get(field, "")[:LONGEST_FIELD] for field in ("password", "new", "again"))
        if new != again:
            return _password_page("The two new passwords are not the same.", 400)
        try:
            door.confirm_password(name, old, request.remote_addr or "")
            change_password(store().asked_by(person_here()), name, new)
            session = door.session_of(name)
        except WaitError as problem:
            return _password_page(plainly(problem), 429)
        except RecordsError as problem:
            return _password_page(plainly(problem), 400)
        return _with_session(_away("/"), session, SESSION_S)

    @server.post(STRENGTH)
    def tell_strength() -> Response:
        name = _own_account(door)
        if name is None:
            return sorry(NOT_SIGNED_IN, 401)
        found = strength(name, request.form.get("new", "")[:LONGEST_FIELD])
        return jsonify({"grade": found.grade, "words": found.words, "why": found.why})


def person_here() -> Person:
    """Who asks for what is being answered; nobody where that is not known yet."""
    found: Person = g.get("person") or NOBODY
    return found


def writes_here() -> bool:
    """Whether who asks may change the records, so that forms to do so are shown; whether they may is decided there."""
    return person_here().role >= Role.EDITOR


def _person(door: Door, needed: bool) -> Person | None:
    accounts = door.accounts()
    if not needed and (accounts is None or not accounts.users):
        told = at_the_machine()
        return Person(told.name, Role.MANAGER, "pages")
    return door.person(request.cookies.get(COOKIE))


def may_bring_in(door: Door, needed: bool, cookies: str) -> bool:
    """Whether who sends a file, by the cookies that came with it, may bring any in."""
    try:
        accounts = door.accounts()
        if not needed and (accounts is None or not accounts.users):
            return True
        found = SimpleCookie(cookies).get(COOKIE)
        person = door.person(found.value) if found else None
    except (AccountError, CookieError):
        return False
    return person is not None and person.role >= Role.EDITOR


def _next() -> str:
    """Where to go after signing in: an address of these pages, never one of others."""
    asked = request.args.get("next", "/")
    inside = asked.startswith("/") and not asked.startswith(("//", "/\\")) and asked.isprintable()
    return asked if inside and not asked.startswith(PUBLIC) else "/"


def _own_account(door: Door) -> str | None:
    """The account that who asks is signed in to; None for a link that reads, and where nobody signs in."""
    accounts = door.accounts()
    user = accounts.user(person_here().name) if accounts and COOKIE in request.cookies else None
    return user.name if user else None


def _page(says: str, status: int) -> Response:
    allow_scripts(SCHEME)
    return Response(sign_in_form(says, SIGN_IN, _next()), status, mimetype="text/html")


def _password_page(says: str, status: int) -> Response:
    allow_scripts(SCHEME)
    return Response(password_form(says, PASSWORD, person_here().name), status, mimetype="text/html")


def _away(to: str) -> Response:
    answer = redirect(whole(to), 303)
    assert isinstance(answer, Response)
    return answer


def _with_session(answer: Response, session: str, seconds: int) -> Response:
    answer.set_cookie(
        COOKIE, session, max_age=seconds, httponly=True, samesite="Lax", secure=request.is_secure, path=whole("/")
    )
    return answer
