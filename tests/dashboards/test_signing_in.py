"""Beyond this machine everybody signs in; what each may is decided where the records are changed."""

from __future__ import annotations

import base64
import hashlib
import http.client
import io
import shutil
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode, urlsplit

import pytest

pytest.importorskip("dash")
pytest.importorskip("argon2")
pytest.importorskip("zxcvbn")
pytest.importorskip("pyotp")

import pyotp

from analyzer.cli import main
from analyzer.records import accounts, one_time_codes, sign_ins
from analyzer.records.accounts import (
    Door,
    WaitError,
    add_link,
    add_user,
    ask_for_codes,
    change_password,
    change_role,
    remove_user,
)
from analyzer.records.changes import kept_changes
from analyzer.records.changing import kept_entries
from analyzer.records.checking import check
from analyzer.records.one_time_codes import UsedCodes
from analyzer.records.passwords import GOOD_ENOUGH, GRADES, PasswordError, check_password, strength
from analyzer.records.people import NotAllowedError, Person, Role
from analyzer.records.problems import AccountError
from analyzer.records.store import Store, open_records
from tests.browser import ROOT, hindrances, served, turned
from tests.dashboards.asking import Answer, ask, call, entry_call, page_call
from tests.dashboards.command_words import COMMAND_WORDS, SHOWN
from tests.dashboards.test_serving import started
from tests.dashboards.unseen import answered, unseen

PASSWORD = "four unrelated words"
LONG = hashlib.shake_256(b"any").hexdigest(120) + " aé🛩 ☂ wxyz"
ROLES = ("reader", "editor", "manager")


@pytest.fixture(scope="module")
def club(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records with an account of each role."""
    folder = tmp_path_factory.mktemp("club") / "records"
    shutil.copytree(demo, folder)
    with open_records(folder) as store:
        for role in ROLES:
            add_user(store, f"a.{role}", role, PASSWORD)
    return folder


@pytest.fixture(scope="module")
def locked(club: Path) -> Iterator[str]:
    """Address of pages that ask everybody to sign in."""
    with served(club) as address:
        yield address


def sign_in(address: str, name: str, password: str = PASSWORD, where: str = "/sign-in", **headers: str) -> Answer:
    body = urlencode({"name": name, "password": password}).encode()
    return ask(address, where, "POST", body, Content_Type="application/x-www-form-urlencoded", **headers)


def session_of(answer: Answer) -> str:
    (cookie,) = answer.cookies
    return cookie.split(";")[0]


def signed_in(address: str, role: str) -> str:
    answer = sign_in(address, f"a.{role}")
    assert answer.status == 303, answer.text
    return session_of(answer)


DATA = (
    "/_dash-layout",
    "/_dash-dependencies",
    "/sheet/flight/1.html",
    "/sheet/aircraft/N012LF.pdf",
    "/changes.csv",
    "/",
)


def test_nobody_reads_or_changes_anything_without_signing_in(locked: str, club: Path) -> None:
    for path in DATA:
        answer = ask(locked, path)
        assert answer.status in (401, 303), path
        assert "N012LF" not in answer.text.replace("%2F", "/").replace("/sheet/aircraft/N012LF.pdf", "")
    assert call(locked, page_call("/")).status == 401
    assert call(locked, entry_call("N012LF", "unsigned")).status == 401
    assert ask(locked, "/bring-in/file?name=a.csv", "POST", b"a,b\n", X_Taper="bring-in").status == 401
    for cookie in (
        "taper_session=",
        "taper_session=x.y",
        "taper_session=" + "a" * 5000,
        "taper_session=eyJ1c2VyIjoiYSJ9.x",
    ):
        assert ask(locked, "/_dash-layout", Cookie=cookie).status == 401
    with open_records(club) as store:
        assert "unsigned" not in [one.entry.words for one in kept_entries(store)]


def test_a_session_is_marked_for_this_server_alone_and_scripts_never_see_it(locked: str) -> None:
    answer = sign_in(locked, "a.reader")
    assert answer.headers["location"] == "/"
    (cookie,) = answer.cookies
    assert {"HttpOnly", "SameSite=Lax", "Path=/"} <= {part.strip() for part in cookie.split(";")}
    assert "Max-Age=43200" in cookie
    assert ask(locked, "/_dash-layout", Cookie=session_of(answer)).status == 200


def test_a_session_that_was_forged_or_changed_is_none(locked: str, club: Path, tmp_path: Path) -> None:
    session = signed_in(locked, "manager")
    value = session.split("=", 1)[1]
    payload, signature = value.rsplit(".", 1)
    with open_records(tmp_path / "others", create=True) as store:
        add_user(store, "a.manager", "manager", PASSWORD)
    forged = Door(tmp_path / "others").sign_in("a.manager", PASSWORD, "")
    for wrong in (value[:-1], payload, f"{payload}.{signature[::-1]}", f"{payload[:-2]}AA.{signature}", forged):
        assert ask(locked, "/_dash-layout", Cookie=f"taper_session={wrong}").status == 401


def test_what_each_role_may(locked: str, club: Path) -> None:
    for role in ROLES:
        cookie = signed_in(locked, role)
        answer = call(locked, entry_call("N012LF", f"by {role}"), Cookie=cookie)
        assert answer.status == 200
        assert ("may not do that" in answer.text) == (role == "reader")
        brought = ask(locked, "/bring-in/file?name=a.csv", "POST", b"a,b\n", X_Taper="bring-in", Cookie=cookie)
        assert brought.status == (403 if role == "reader" else 200)
    with open_records(club) as store, store.reading() as connection:
        words = [one.entry.words for one in kept_entries(store)]
        noted = [
            (one.who, one.role, one.by) for one in kept_changes(connection) if one.what == "maintenance entry added"
        ]
    assert "by reader" not in words
    assert {"by editor", "by manager"} <= set(words)
    assert noted[:2] == [("a.manager", "manager", "pages"), ("a.editor", "editor", "pages")]


def test_forms_are_shown_to_who_may_use_them_alone(locked: str) -> None:
    for role, may in (("reader", False), ("editor", True)):
        cookie = signed_in(locked, role)
        assert unseen(locked, "/entries", Cookie=cookie).has("entries-form") is may, role
        assert unseen(locked, "/bring-in", Cookie=cookie).has("bring-drop") is may, role
        links = answered(locked, page_call("/"), Cookie=cookie)["bar-links"].links
        links += unseen(locked, "/", Cookie=cookie).links
        led = [one.content["props"]["href"] for one in links]
        assert "/digest" in led
        assert led.count("/bring-in") == may, role
        aircraft = unseen(locked, "/aircraft/N058LF", Cookie=cookie).words
        assert "Regulated voltage high" in aircraft
        assert ("Record the outcome" in aircraft) is may


def test_signing_in_and_failing_to_is_noted_without_secrets(own: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    door, path = Door(own.folder), own.folder / sign_ins.SIGN_INS_FILE
    database = (own.folder / "records.sqlite").read_bytes()
    session = door.sign_in("PAT", PASSWORD, "192.0.2.1")
    for name, password in (("pat", "a wrong password"), ("a password in the wrong field", "pat")):
        with pytest.raises(AccountError):
            door.sign_in(name, password, "192.0.2.2")
    assert (own.folder / "records.sqlite").read_bytes() == database  # nothing is worked out anew for it
    door.sign_out(own, session, "192.0.2.1")
    link = add_link(own, 3)
    door.open_link(link, "192.0.2.3")
    found = sign_ins.kept_sign_ins(own.folder, own.person)[::-1]
    assert [(one.id, one.what, one.who, one.address) for one in found][:4] == [
        (1, "signed in", "pat", "192.0.2.1"),
        (2, "wrong name or password", "pat", "192.0.2.2"),
        (3, "wrong name or password", "no such account", "192.0.2.2"),
        (4, "signed out", "pat", "192.0.2.1"),
    ]
    assert found[4].what == "link opened"
    text = path.read_text("utf-8")
    assert not any(secret in text for secret in (PASSWORD, "a wrong password", "in the wrong field", session, link))
    assert path.stat().st_mode & 0o077 == 0
    assert sign_ins.broken_line(own.folder) is None
    with pytest.raises(NotAllowedError):
        sign_ins.kept_sign_ins(own.folder, Person("pat", Role.EDITOR))


def test_a_line_of_the_sign_ins_that_was_changed_or_taken_out_is_told(own: Store) -> None:
    noted, path = sign_ins.SignIns(own.folder), own.folder / sign_ins.SIGN_INS_FILE
    for number in range(5):
        noted.note(sign_ins.SIGNED_IN, f"user{number}", "192.0.2.1")
    lines = path.read_bytes().splitlines(keepends=True)
    for spoilt, at in (
        ([*lines[:2], lines[2].replace(b"user2", b"user9"), *lines[3:]], 3),
        ([lines[0], *lines[2:]], 2),
        (lines[1:], 1),
        ([*lines[:3], lines[3][:-9]], 4),
    ):
        path.write_bytes(b"".join(spoilt))
        assert sign_ins.broken_line(own.folder) == at
        told = [one.what for one in check(own).troubles]
        assert told == [f"Line {at} of sign_ins.jsonl is not what was written."]
    path.write_bytes(b"".join(lines) + b'{"id": 6, "half')
    noted.note(sign_ins.SIGNED_OUT, "pat", "")  # what was half written is taken away
    assert sign_ins.broken_line(own.folder) is None
    assert len(sign_ins.kept_sign_ins(own.folder, own.person)) == 6


def test_an_address_of_any_length_spoils_no_line_of_the_sign_ins(own: Store) -> None:
    noted = sign_ins.SignIns(own.folder)
    for address in ("192.0.2.1", "9" * 20_000, "192.0.2.2"):
        noted.note(sign_ins.FAILED, sign_ins.NOBODY_KNOWN, address)
    assert sign_ins.broken_line(own.folder) is None
    addresses = [one.address for one in sign_ins.kept_sign_ins(own.folder, own.person)]
    assert addresses == ["192.0.2.2", "9" * sign_ins.LONGEST_ADDRESS, "192.0.2.1"]


def test_whoever_tries_again_and_again_does_not_fill_the_disk(own: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    noted, now = sign_ins.SignIns(own.folder), 1000.0
    monkeypatch.setattr(sign_ins.time, "monotonic", lambda: now)
    for _ in range(sign_ins.MOST_FAILED + 50):
        noted.note(sign_ins.FAILED, sign_ins.NOBODY_KNOWN, "192.0.2.1")
    noted.note(sign_ins.SIGNED_IN, "pat", "192.0.2.1")
    assert len(sign_ins.kept_sign_ins(own.folder, own.person)) == sign_ins.MOST_FAILED + 1
    now += sign_ins.HOUR_S + 1.0
    noted.note(sign_ins.SIGNED_IN, "pat", "192.0.2.1")
    newest = sign_ins.kept_sign_ins(own.folder, own.person)[:2]
    assert [one.what for one in newest] == ["signed in", "50 more failed tries"]


def test_sign_ins_are_shown_and_handed_over_to_managers_alone(locked: str, club: Path, tmp_path: Path) -> None:
    cookies = {role: signed_in(locked, role) for role in ROLES}
    assert [ask(locked, "/sign-ins.csv", Cookie=cookies[role]).status for role in ROLES] == [403, 403, 200]
    table = ask(locked, "/sign-ins.csv", Cookie=cookies["manager"]).text.splitlines()
    assert table[0] == "number,when (UTC),what,account,address"
    assert table[1].endswith("signed in,a.manager,127.0.0.1")
    asked = ["changes", "--sign-ins", "--records", str(club)]
    assert main([*asked, "--csv", str(tmp_path / "all.csv")]) == 0
    assert (tmp_path / "all.csv").read_text("utf-8").splitlines() == table


def test_large_files_are_taken_from_nobody_who_is_not_signed_in(locked: str) -> None:
    to = urlsplit(locked)
    with socket.create_connection((to.hostname or "", to.port or 0), timeout=20) as one:
        head = ("POST /bring-in/file?name=a.csv HTTP/1.1", f"Host: {to.netloc}", "Content-Length: 400000000", "", "")
        one.sendall("\r\n".join(head).encode())
        assert b" 413 " in one.recv(200)


def test_signing_out_ends_a_session_for_whoever_has_it(locked: str) -> None:
    cookie = signed_in(locked, "editor")
    other = signed_in(locked, "editor")
    assert ask(locked, "/_dash-layout", Cookie=cookie).status == 200
    assert ask(locked, "/sign-out", "POST", b"", Cookie=cookie, Origin="http://evil.example").status == 403
    assert ask(locked, "/_dash-layout", Cookie=cookie).status == 200
    assert ask(locked, "/sign-out", "POST", b"", Cookie=cookie).status == 303
    assert ask(locked, "/_dash-layout", Cookie=cookie).status == 401
    assert ask(locked, "/_dash-layout", Cookie=other).status == 200


def change_own(address: str, cookie: str, old: str, new: str, again: str | None = None, **headers: str) -> Answer:
    body = urlencode({"password": old, "new": new, "again": new if again is None else again}).encode()
    told = {"Content_Type": "application/x-www-form-urlencoded", "Cookie": cookie, **headers}
    return ask(address, "/password", "POST", body, **told)


def test_people_change_their_own_password_with_the_old_one(locked: str, club: Path) -> None:
    with open_records(club) as store:
        add_user(store, "b.own", "reader", PASSWORD)
    cookie, elsewhere = (session_of(sign_in(locked, "b.own")) for _ in range(2))
    assert "Password of b.own" in ask(locked, "/password", Cookie=cookie).text
    new = "other words entirely now"
    for old, wanted, again, status, said in (
        ("not the old one", new, None, 400, "Name or password is wrong"),
        (PASSWORD, new, "typed otherwise", 400, "are not the same"),
        (PASSWORD, "b.own b.own b.own", None, 400, "guessed at once"),
        (PASSWORD, "short", None, 400, "letters"),
    ):
        answer = change_own(locked, cookie, old, wanted, again)
        assert (answer.status, said in answer.text) == (status, True), answer.text
    assert change_own(locked, cookie, PASSWORD, new, Origin="http://evil.example").status == 403
    done = change_own(locked, cookie, PASSWORD, new)
    assert done.status == 303
    assert ask(locked, "/_dash-layout", Cookie=session_of(done)).status == 200
    assert ask(locked, "/_dash-layout", Cookie=elsewhere).status == 401, "other sessions end"
    assert sign_in(locked, "b.own").status == 401
    assert sign_in(locked, "b.own", new).status == 303
    assert change_own(locked, "", PASSWORD, new).status in (303, 401), "nobody's password is changed for nobody"
    assert sign_in(locked, "b.own", new).status == 303
    with open_records(club) as store, store.reading() as connection:
        last = next(one for one in kept_changes(connection) if one.what == "password changed")
        assert (last.who, last.about) == ("b.own", "b.own")


@pytest.mark.parametrize(
    ("password", "grade", "says"),
    [
        ("password1234", 1, "very common"), ("trustno1trustno1", 0, "Repeats"), ("qwertyuiop12", 1, "commonly used"),
        ("robin flies well", 0, "account's name"), ("ababababcdcdcdcd", 0, "too few different"),
    ],
)  # fmt: skip
def test_passwords_that_are_guessed_soon_are_refused_and_say_why(password: str, grade: int, says: str) -> None:
    found = strength("robin", password)
    assert (found.grade, says in found.why) == (grade, True), found
    with pytest.raises(PasswordError, match=f"{GRADES[grade]}.*{says}"):
        check_password("robin", password)


def test_short_names_stand_in_many_words_and_good_passwords_are_taken() -> None:
    for name, password in (("x", "six boxes of wax there"), ("robin", PASSWORD), ("robin", LONG)):
        assert strength(name, password).grade >= GOOD_ENOUGH
        check_password(name, password)


def test_what_is_typed_as_a_password_can_be_shown_and_a_new_one_tells_its_strength(locked: str, chromium: Any) -> None:
    page = chromium.new_page()
    page.goto(f"{locked}/sign-in?next=/password")
    field = page.get_by_label("Password", exact=True)
    assert field.get_attribute("type") == "password"
    page.get_by_label("Show what is typed").check()
    assert field.get_attribute("type") == "text"
    page.get_by_label("Show what is typed").uncheck()
    assert field.get_attribute("type") == "password"
    page.get_by_label("Name").fill("a.reader")
    field.fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Password of a.reader").wait_for()
    for typed, grade, says in (("password1234", "1", "guessed soon"), (LONG[:30], "4", "strong"), ("", "0", "nothing")):
        page.get_by_label("New password", exact=True).fill(typed)
        page.locator("#strength-words", has_text=says).wait_for()
        assert page.evaluate("document.getElementById('strength').value") == float(grade)
    page.close()
    body = urlencode({"new": "password1234"}).encode()
    told = {"Content_Type": "application/x-www-form-urlencoded"}
    assert ask(locked, "/password/strength", "POST", body, **told).status == 401


def test_a_wrong_name_and_a_wrong_password_are_told_alike_and_others_cannot_sign_one_in(locked: str) -> None:
    wrong = [sign_in(locked, name, password) for name, password in (("a.reader", "not this one here"), ("nobody", "x"))]
    assert [one.status for one in wrong] == [401, 401]
    assert wrong[0].text == wrong[1].text
    assert not any(one.cookies for one in wrong)
    assert sign_in(locked, "a.reader", Origin="http://evil.example").status == 403
    assert sign_in(locked, "x" * 5000, "y" * 5000).status == 401
    assert sign_in(locked, "a\0b", "\udcff".encode("utf-8", "surrogateescape").decode("latin-1")).status == 401
    assert signed_in(locked, "reader")  # which also lets this address try anew


@pytest.mark.parametrize(
    "asked", ["//evil.example", "/\\evil.example", "https://evil.example", "javascript:x", "/sign-out"]
)
def test_signing_in_leads_nowhere_else(locked: str, asked: str) -> None:
    answer = sign_in(locked, "a.reader", where=f"/sign-in?{urlencode({'next': asked})}")
    assert answer.headers["location"] == "/"
    inside = sign_in(locked, "a.reader", where="/sign-in?next=/flight/1%3Ffrom%3D1")
    assert inside.headers["location"] == "/flight/1?from=1"


def test_a_link_reads_until_it_expires_or_is_removed(locked: str, club: Path) -> None:
    with open_records(club) as store:
        text = add_link(store, 3, "the shop")
    answer = ask(locked, f"/open?key={text}")
    assert answer.status == 303
    cookie = session_of(answer)
    assert ask(locked, "/sheet/flight/1.html", Cookie=cookie).status == 200
    assert "may not do that" in call(locked, entry_call("N012LF", "by link"), Cookie=cookie).text
    assert ask(locked, f"/open?key={text[:-2]}").status == 403
    with open_records(club) as store:
        remove_user(store, next(one.id for one in (accounts.kept_accounts(club) or pytest.fail("none")).links))
    assert ask(locked, "/_dash-layout", Cookie=cookie).status == 401
    assert ask(locked, f"/open?key={text}").status == 403


def test_what_one_brings_in_no_other_sees(locked: str) -> None:
    editor, manager = signed_in(locked, "editor"), signed_in(locked, "manager")
    log = (ROOT / "sample_logs" / "N012LF_2026-05-09.csv").read_bytes()
    brought = ask(locked, "/bring-in/file?name=own.csv", "POST", log, X_Taper="bring-in", Cookie=editor)
    key = brought.text.split('"')[3]
    body: dict[str, Any] = {
        "output": "bring-detail.children",
        "outputs": {"id": "bring-detail", "property": "children"},
        "inputs": [
            {"id": "bring-chosen", "property": "data", "value": key},
            {"id": "bring-reread", "property": "data", "value": 0},
        ],
        "changedPropIds": ["bring-chosen.data"],
    }
    for _ in range(120):
        seen = call(locked, body, Cookie=editor).text
        if "Details: own.csv" in seen:
            break
        time.sleep(0.5)
    assert "Details: own.csv" in seen
    assert "own.csv" not in call(locked, body, Cookie=manager).text


# The accounts themselves


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Store]:
    with open_records(tmp_path / "records", create=True) as store:
        add_user(store, "pat", "editor", PASSWORD)
        yield store


def test_a_session_ends_with_its_time_its_password_and_its_account(own: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    door = Door(own.folder)
    session = door.sign_in("PAT", PASSWORD, "")
    assert door.person(session) == Person("pat", Role.EDITOR, "pages")
    now = time.time()
    monkeypatch.setattr(accounts.time, "time", lambda: now + accounts.SESSION_S + 1.0)
    assert door.person(session) is None
    monkeypatch.setattr(accounts.time, "time", lambda: now)
    assert door.person(session) is not None
    change_password(own, "pat", "other unrelated words")
    assert door.person(session) is None
    again = door.sign_in("pat", "other unrelated words", "")
    remove_user(own, "pat")
    assert door.person(again) is None
    with pytest.raises(AccountError, match="is wrong"):
        door.sign_in("pat", "other unrelated words", "")


@pytest.mark.parametrize("password", ["vier Wörter über ein Feld", "лодка под мостом", "  spaces at both ends  ", LONG])
def test_a_password_may_hold_any_letters_and_is_taken_whole(own: Store, password: str) -> None:
    add_user(own, "robin", "reader", password)
    door = Door(own.folder)
    assert door.person(door.sign_in("robin", password, "")) == Person("robin", Role.READER, "pages")
    with pytest.raises(AccountError, match="is wrong"):
        door.sign_in("robin", password[:-1], "")


#: RFC 6238, appendix B: the key of the SHA-1 examples in base 32, and (seconds since 1970, its last six digits).
EXAMPLE_KEY = base64.b32encode(b"12345678901234567890").decode()
EXAMPLES = [
    (59, "287082"),
    (1111111109, "081804"),
    (1111111111, "050471"),
    (1234567890, "005924"),
    (2000000000, "279037"),
]


@pytest.mark.parametrize(("seconds", "code"), EXAMPLES)
def test_codes_are_those_of_the_standard(
    seconds: int, code: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for off, right in ((0, True), (-30, True), (30, True), (-60, False), (60, False)):
        monkeypatch.setattr(one_time_codes.time, "time", lambda off=off: float(seconds + off))
        assert UsedCodes(tmp_path / str(off)).takes("pat", EXAMPLE_KEY, code) is right
    assert not UsedCodes(tmp_path).takes("pat", EXAMPLE_KEY, "")


def test_a_used_code_counts_no_more_after_a_restart_and_bars_no_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = 1_800_000_000
    monkeypatch.setattr(one_time_codes.time, "time", lambda: float(now))
    other = base64.b32encode(b"09876543210987654321").decode()

    def takes(seconds: int, secret: str = EXAMPLE_KEY) -> bool:
        return UsedCodes(tmp_path).takes("pat", secret, pyotp.TOTP(secret).at(seconds))

    assert takes(now)
    assert not takes(now)
    assert not takes(now - 30), "nor one that was shown before it"
    assert takes(now, other), "another secret has its own codes"
    now += 7200  # the clock runs ahead
    assert takes(now)
    ahead, now = now, now - 7170
    assert takes(now), "the clock is set back, and today's codes count again"
    now = ahead - 30
    assert takes(now)
    assert not takes(ahead), "but none that was used"
    now = ahead + 30
    assert not takes(ahead)
    assert takes(now)
    assert EXAMPLE_KEY not in (tmp_path / one_time_codes.USED_CODES_FILE).read_text("utf-8")


def test_a_file_of_used_codes_that_is_spoilt_or_cannot_be_written_shuts_nobody_out(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / one_time_codes.USED_CODES_FILE).mkdir()
    used, code = UsedCodes(tmp_path), pyotp.TOTP(EXAMPLE_KEY).now()
    assert used.takes("pat", EXAMPLE_KEY, code)
    assert not used.takes("pat", EXAMPLE_KEY, code)
    assert "cannot be read" in caplog.text
    assert "cannot be written" in caplog.text


def test_where_codes_cannot_be_checked_no_answer_tells_whether_a_password_is_right(
    own: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    ask_for_codes(own, "pat")
    monkeypatch.setitem(sys.modules, "pyotp", None)
    verified: list[str] = []
    monkeypatch.setattr(accounts, "_verified", lambda _, password: bool(verified.append(password)))
    for name, password in (("pat", PASSWORD), ("pat", "another password"), ("nobody", PASSWORD)):
        with pytest.raises(AccountError, match="One-time codes need pyotp, which is not installed"):
            Door(own.folder).sign_in(name, password, "", "000000")
    assert verified == []


def test_a_code_is_asked_for_beside_the_password_and_counts_once(own: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    door, now = Door(own.folder), 1_800_000_000.0
    monkeypatch.setattr(one_time_codes.time, "time", lambda: now)
    before = door.sign_in("pat", PASSWORD, "")
    secret = ask_for_codes(own, "pat")
    assert door.person(before) is None, "sessions from before end"
    code = pyotp.TOTP(secret).at(int(now))
    for wrong in (("pat", PASSWORD, "", ""), ("pat", "another password", "", code), ("pat", PASSWORD, "", "000000")):
        with pytest.raises(AccountError, match="one-time code"):
            door.sign_in(*wrong)
    session = door.sign_in("pat", PASSWORD, "", f"{code[:3]} {code[3:]}")
    assert door.person(session)
    with pytest.raises(AccountError, match="one-time code"):
        door.sign_in("pat", PASSWORD, "", code)
    now += 30.0
    assert door.sign_in("pat", PASSWORD, "", pyotp.TOTP(secret).at(int(now)))
    with own.reading() as connection:
        changed = [one for one in kept_changes(connection) if one.what == "one-time codes changed"]
    assert changed
    assert secret not in repr(changed)
    assert ask_for_codes(own, "pat", wanted=False) == ""
    assert door.sign_in("pat", PASSWORD, "")


def test_a_manager_without_codes_is_an_editor_where_others_can_reach_the_pages(own: Store) -> None:
    change_role(own, "pat", "manager")
    here, beyond = Door(own.folder), Door(own.folder, codes_of_managers=True)
    session = here.sign_in("pat", PASSWORD, "")
    assert [one.person(session).role for one in (here, beyond)] == [Role.MANAGER, Role.EDITOR]
    secret = ask_for_codes(own, "pat")
    session = beyond.sign_in("pat", PASSWORD, "", pyotp.TOTP(secret).now())
    assert beyond.person(session).role == Role.MANAGER
    change_role(own, "pat", "reader")
    assert beyond.person(session).role == Role.READER


def test_a_session_of_an_account_that_was_removed_is_none_of_who_is_given_its_name(own: Store) -> None:
    door = Door(own.folder)
    before = door.sign_in("pat", PASSWORD, "")
    remove_user(own, "pat")
    add_user(own, "pat", "manager", f"{PASSWORD} anew")
    assert door.person(before) is None
    assert door.person(door.sign_in("pat", f"{PASSWORD} anew", ""))


def test_a_role_that_is_taken_away_counts_no_more_in_a_session_that_goes_on(own: Store) -> None:
    door = Door(own.folder)
    session = door.sign_in("pat", PASSWORD, "")
    change_role(own, "pat", "reader")
    assert door.person(session) == Person("pat", Role.READER, "pages")


def test_who_guesses_must_wait_each_time_longer(own: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    door, now, waits = Door(own.folder), 1000.0, []
    monkeypatch.setattr(accounts.time, "monotonic", lambda: now)
    for number in range(9):
        with pytest.raises(AccountError, match="is wrong"):
            door.sign_in("pat", "a wrong one", f"192.0.2.{number}")
        with pytest.raises(AccountError) as told:
            door.sign_in("pat", PASSWORD if number >= 4 else "wrong again", "198.51.100.1")
        waits.append(isinstance(told.value, WaitError))
        now += 1.0 if number < 2 else 5000.0
    assert waits[:2] == [False, False]
    assert all(waits[4:])
    assert door.sign_in("pat", PASSWORD, "203.0.113.9")  # after the wait


def test_accounts_that_will_not_do_are_refused_by_a_sentence(own: Store) -> None:
    for name, role, password, words in (
        ("pat", "reader", PASSWORD, "already"), ("a b", "reader", PASSWORD, "cannot be an account"),
        ("", "reader", PASSWORD, "cannot be an account"), ("x", "owner", PASSWORD, "no role"),
        ("x", "reader", "short", "12 to 256"), ("x", "reader", "a" * 20, "guessed"),
        ("robin", "reader", "robin robin robin", "guessed"), ("x", "reader", "ab" * 300, "12 to 256"),
    ):  # fmt: skip
        with pytest.raises(AccountError, match=words):
            add_user(own, name, role, password)
    for days in (0, 400):
        with pytest.raises(AccountError, match="days"):
            add_link(own, days)


def test_the_file_of_accounts_holds_no_password_and_is_for_its_owner_alone(own: Store) -> None:
    path = own.folder / accounts.ACCOUNTS_FILE
    text = path.read_text("utf-8")
    assert PASSWORD not in text
    assert "$argon2id$" in text
    assert path.stat().st_mode & 0o077 == 0
    with own.reading() as connection:
        (noted,) = [one for one in kept_changes(connection) if one.what == "account added"]
    assert noted.after == {"name": "pat", "role": "editor"}


def test_damaged_accounts_let_nobody_in(own: Store) -> None:
    door = Door(own.folder)
    session = door.sign_in("pat", PASSWORD, "")
    (own.folder / accounts.ACCOUNTS_FILE).write_text("{}")
    with pytest.raises(AccountError, match="nobody can sign in"):
        door.person(session)


def test_accounts_are_made_listed_and_removed_on_the_command_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def run(*words: str, given: str = "") -> int:
        monkeypatch.setattr("sys.stdin", io.StringIO(given))
        capsys.readouterr()
        return main(["user", *words, "--records", str(tmp_path / "records")])

    assert run("add", "pat", "--role", "editor", given=PASSWORD + "\n") == 0
    assert run("add", "pat", "--role", "editor", given=PASSWORD + "\n") == 2
    assert run("add", "sam", given=PASSWORD + "\n") == 2, "an account needs a role"
    assert run("role", "pat", "--role", "manager") == 0
    assert run("password", "pat", given="short\n") == 2
    assert run("link", "--days", "2", "--note", "shop") == 0
    assert capsys.readouterr().out.startswith("/open?key=")
    assert run("codes", "pat") == 0
    secret, address = capsys.readouterr().out.splitlines()
    assert pyotp.parse_uri(address).secret == secret
    assert run("list") == 0
    told = capsys.readouterr().out
    assert "one-time codes" in told
    assert secret not in told
    assert run("codes", "pat", "--off") == 0
    assert "pat" in told and "manager" in told and "shop" in told  # noqa: PT018
    assert run("remove", "pat") == 0
    assert run("remove", "pat") == 2
    assert run("list") == 0
    assert "pat" not in capsys.readouterr().out


# Beyond this machine


def test_others_are_let_reach_the_pages_only_with_accounts_or_when_somebody_insists(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(demo, tmp_path / "records")
    where = ["--records", str(tmp_path / "records"), "--port", "0", "--host", "0.0.0.0"]
    assert main(["serve", *where]) == 2
    assert "taper user add NAME --role manager" in capsys.readouterr().err
    assert main(["serve", *where, "--proxy"]) == 2
    assert "leave --host out" in capsys.readouterr().err
    assert main(["serve", *where[:4], "--proxy"]) == 2
    assert "--proxy lets others reach these records" in capsys.readouterr().err
    assert main(["demo", "--keep", str(tmp_path / "demo"), "--host", "0.0.0.0", "--key", "x.pem"]) == 2
    assert "--key needs the --certificate" in capsys.readouterr().err
    assert not (tmp_path / "demo").exists(), "nothing is made before it is known that it can be served"
    command = [sys.executable, "-m", "analyzer", "serve", *where, "--without-accounts"]
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        told = [process.stderr.readline() for _ in range(3)]
        process.terminate()
        process.communicate(timeout=20)
    assert told[0].startswith("Warning: whoever reaches this address")
    assert told[1].startswith("Warning: what is sent, passwords too")


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A certificate for localhost, and its key beside it."""
    if not shutil.which("openssl"):
        pytest.skip("openssl, which makes a certificate, is not installed")
    folder = tmp_path_factory.mktemp("certificate")
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost",
         "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1", "-keyout", "key.pem", "-out", "certificate.pem"],
        cwd=folder, check=True, capture_output=True,
    )  # fmt: skip
    return folder / "certificate.pem"


def test_a_certificate_that_will_not_do_is_said_in_a_sentence(certificate: Path, tmp_path: Path, capsys: Any) -> None:
    for one, key in ((tmp_path / "none.pem", None), (certificate, tmp_path / "none.pem"), (certificate, certificate)):
        given = ["--certificate", str(one), *(["--key", str(key)] if key else [])]
        assert main(["serve", "--records", str(tmp_path), "--port", "0", *given]) == 2
        assert "cannot be used with the key" in capsys.readouterr().err


def test_encrypted_pages_know_their_clients_and_mark_their_cookies(club: Path, certificate: Path) -> None:
    given = ("--certificate", str(certificate), "--key", str(certificate.with_name("key.pem")))
    with started(club, *given) as (address, _process):
        assert address.startswith("https://127.0.0.1:")
        to = urlsplit(address)
        context = ssl.create_default_context(cafile=str(certificate))
        waiting = [socket.create_connection((to.hostname or "", to.port or 0)) for _ in range(110)]
        connection = http.client.HTTPSConnection(to.hostname or "", to.port, context=context, timeout=60)
        body = urlencode({"name": "a.reader", "password": PASSWORD})
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        own = {"Host": to.hostname or "", "Origin": f"http://{to.hostname}"}  # each at the port usual for its scheme
        connection.request("POST", "/sign-in", body, form | own)
        unsafe = connection.getresponse()
        unsafe.read()
        assert unsafe.status == 403, "sent by a page that anybody on the way could write"
        connection.request("POST", "/sign-in", body, form | {"Origin": f"https://{to.netloc}"})
        answer = connection.getresponse()
        answer.read()
        cookie = answer.headers["Set-Cookie"]
        assert answer.status == 303
        assert "Secure" in cookie
        assert answer.headers["Strict-Transport-Security"].startswith("max-age=")
        connection.request("GET", "/_dash-layout", headers={"Cookie": cookie.split(";")[0]})
        again = connection.getresponse()
        assert (again.status, b"bar-links" in again.read()) == (200, True)
        large = (
            connection.request("GET", "/_dash-component-suites/dash_ag_grid/async-community.js")
            or connection.getresponse()
        )
        assert len(large.read()) > 500_000
        with pytest.raises(OSError):  # noqa: PT011 - whatever the system says of plain words to an encrypted port
            ask(f"http://127.0.0.1:{to.port}", "/")
        for one in (*waiting, connection):
            one.close()


def test_a_proxy_says_who_asks_and_that_it_encrypts(club: Path) -> None:
    with started(club, "--proxy", "--name", "club.example") as (address, process):
        assert process.stderr is not None
        assert "may what an editor may: a.manager." in process.stderr.readline()
        here = f"http://127.0.0.1:{urlsplit(address).port}"
        told = {"Host": "club.example", "X_Forwarded_For": "192.0.2.7", "X_Forwarded_Proto": "https"}
        answer = sign_in(here, "a.reader", Origin="https://club.example", **told)
        assert answer.status == 303
        assert "Secure" in answer.cookies[0]
        assert ask(here, "/_dash-layout", Cookie=session_of(answer), **told).status == 200
        unsafe = sign_in(here, "a.reader", Origin="http://club.example", **told)
        assert (unsafe.status, unsafe.cookies) == (403, [])
        manager = sign_in(here, "a.manager", Origin="https://club.example", **told)
        assert ask(here, "/sign-ins.csv", Cookie=session_of(manager), **told).status == 403, "without a one-time code"


# How it looks


@pytest.mark.long(keep=1)  # it then stands dark on a phone, and what it leads to light and wide
@pytest.mark.parametrize("looks", [("dark", "light"), ("light", "dark")])
def test_the_page_to_sign_in_is_usable_by_everybody(locked: str, chromium: Any, looks: tuple[str, str]) -> None:
    sizes = {"light": (1280, 800), "dark": (390, 844)}
    width, height = sizes[looks[0]]
    context = chromium.new_context(viewport={"width": width, "height": height}, color_scheme=looks[0])
    page, faults = context.new_page(), []
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    page.goto(f"{locked}/changes")
    assert page.locator("html").get_attribute("data-mantine-color-scheme") == looks[0]
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert hindrances(page) == []
    assert COMMAND_WORDS.findall(page.evaluate(SHOWN)) == []
    page.fill("#name", "a.reader")
    page.fill("#password", PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_selector("main .page.change-log")
    page.wait_for_load_state("networkidle")
    turned(page, *sizes[looks[1]], looks[1])
    assert "a.reader, reader" in page.inner_text("header.bar")
    assert page.get_by_role("link", name="a.reader, reader").get_attribute("href") == "/password"
    assert hindrances(page) == []
    assert COMMAND_WORDS.findall(page.evaluate(SHOWN)) == []
    page.click("text=Sign out")
    page.wait_for_selector("#password")
    assert faults == []
    context.close()
