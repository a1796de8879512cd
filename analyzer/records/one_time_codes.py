"""One-time codes: a second proof beside the password, six digits that change every 30 s (RFC 6238, by ``pyotp``)."""

from __future__ import annotations

import hashlib
import json
import logging
import threading
import time
from pathlib import Path
from typing import Any

from analyzer.records.durable import write_whole
from analyzer.records.problems import AccountError
from analyzer.small_files import read_bytes

USED_CODES_FILE = "used_codes.json"

#: How long one code is shown [s] (RFC 6238, section 4.1: the default step).
STEP_S = 30
#: Steps before and after the present one whose codes count too, for clocks that differ (RFC 6238, section 5.2).
NEARBY = 1
#: Steps for which a used code is remembered, should a clock be set back: a day (common practice).
KEPT_STEPS = 86_400 // STEP_S


def new_secret() -> str:
    """What the server and somebody's authenticator share: 160 random bits in base 32 (RFC 4226, section 4)."""
    return str(_pyotp().random_base32())


def address_of(secret: str, name: str) -> str:
    """Give the address from which an authenticator takes over an account's secret."""
    return str(_pyotp().TOTP(secret).provisioning_uri(name=name, issuer_name="taper"))


def check_library() -> None:
    """Make sure that codes can be checked at all.

    Raises
    ------
    AccountError
        When the library for it is missing.
    """
    _pyotp()


class UsedCodes:
    """Which codes were used: each counts once, and none that is older than one that counted.

    They stand in a file of the records' folder, by the hash of an account's name and secret and by the number of their
    step, so that none counts again after a restart, and none of one secret against another.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / USED_CODES_FILE
        self._lock = threading.Lock()
        self._used: set[tuple[str, int]] = set()

    def takes(self, name: str, secret: str, code: str) -> bool:
        """Whether a code is right for an account just now; it counts no more then."""
        told = "".join(code.split())
        now = int(time.time()) // STEP_S
        codes = _pyotp().TOTP(secret, interval=STEP_S)
        key = hashlib.sha256(f"{name}\0{secret}".encode()).hexdigest()
        with self._lock:
            self._used |= self._kept()
            used = {step for whose, step in self._used if whose == key}
            # steps that lie ahead were used by a clock that was set back since: they bar themselves and no others
            after = max((step for step in used if step <= now), default=-1)
            for step in range(max(now - NEARBY, after + 1), now + NEARBY + 1):
                if step not in used and told.isascii() and codes.verify(told, for_time=step * STEP_S):
                    self._note(key, step, now)
                    return True
        return False

    def _kept(self) -> set[tuple[str, int]]:
        try:
            return {(str(key), int(step)) for key, step in json.loads(read_bytes(self._path))}
        except FileNotFoundError:
            return set()
        except (OSError, ValueError, TypeError) as problem:
            logging.getLogger(__name__).warning("%s cannot be read (%s)", self._path, problem)
            return set()

    def _note(self, key: str, step: int, now: int) -> None:
        """Keep a step, and those that a clock may come back to; what cannot be written counts until a restart."""
        self._used = {(whose, one) for whose, one in self._used if one >= now - KEPT_STEPS} | {(key, step)}
        try:
            write_whole(self._path, json.dumps(sorted(self._used)).encode())
        except OSError as problem:
            logging.getLogger(__name__).warning("%s cannot be written (%s)", self._path, problem.strerror)


def _pyotp() -> Any:
    try:
        import pyotp
    except ModuleNotFoundError as missing:
        raise AccountError(
            f"One-time codes need {missing.name}, which is not installed. In this project's checkout: "
            "pip install '.[dashboard]'"
        ) from missing
    return pyotp
