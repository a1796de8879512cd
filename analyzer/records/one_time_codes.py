"""One-time codes: a second proof beside the password, six digits that change every 30 s (RFC 6238, by ``pyotp``)."""

from __future__ import annotations

import threading
import time
from typing import Any

from analyzer.records.problems import AccountError

#: How long one code is shown [s] (RFC 6238, section 4.1: the default step).
STEP_S = 30
#: Steps before and after the present one whose codes count too, for clocks that differ (RFC 6238, section 5.2).
NEARBY = 1


def new_secret() -> str:
    """What the server and somebody's authenticator share: 160 random bits in base 32 (RFC 4226, section 4)."""
    return str(_pyotp().random_base32())


def address_of(secret: str, name: str) -> str:
    """Give the address from which an authenticator takes over an account's secret."""
    return str(_pyotp().TOTP(secret).provisioning_uri(name=name, issuer_name="taper"))


class UsedCodes:
    """Which codes were used: each counts once, and none that is older than one that counted."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._latest: dict[str, int] = {}  # account -> step of the latest code that counted

    def takes(self, name: str, secret: str, code: str) -> bool:
        """Whether a code is right for an account just now; it counts no more then."""
        told = "".join(code.split())
        now = int(time.time()) // STEP_S
        codes = _pyotp().TOTP(secret, interval=STEP_S)
        with self._lock:
            after = self._latest.get(name, -1)
            for step in range(max(now - NEARBY, after + 1), now + NEARBY + 1):
                if told.isascii() and codes.verify(told, for_time=step * STEP_S):
                    self._latest[name] = step
                    return True
        return False


def _pyotp() -> Any:
    try:
        import pyotp
    except ModuleNotFoundError as missing:
        raise AccountError(
            f"One-time codes need {missing.name}, which is not installed. In this project's checkout: "
            "pip install '.[dashboard]'"
        ) from missing
    return pyotp
