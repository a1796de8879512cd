"""Logs that lie elsewhere: a URL of an object store or a server becomes sources, read by the client of its protocol.

fsspec brings the clients together; which of them are installed is the operator's choice, and their credentials are the
clients' own (environment, configuration files): none pass through here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer.logs.log import Refusal, RefusedError

if TYPE_CHECKING:
    from fsspec import AbstractFileSystem

#: A scheme of two letters or more, so no drive.
_URL = re.compile(r"([A-Za-z][A-Za-z0-9+.\-]+)://")
#: Lie on this machine, or in one process alone: no other would read the same.
_NOT_ELSEWHERE = ("file", "local", "memory")
_PASSWORD = re.compile(r"[^/@]*:[^/@]*@")
#: Protocols whose addresses may end in a query, which may hold what opens them.
_WITH_QUERY = ("http", "https")
#: Longest part of a client's own words in a sentence [characters].
_MAX_REASON = 160


def is_url(text: str) -> bool:
    """Whether this names something elsewhere and no path of this machine."""
    return _URL.match(text) is not None


def name_of(url: str) -> str:
    """How a URL is called in what is said and kept: without a password, or a query, which may be as good as one."""
    scheme, _, rest = url.partition("://")
    rest = _PASSWORD.sub("", rest, count=1)
    return f"{scheme}://{rest.partition('?')[0] if scheme.lower() in _WITH_QUERY else rest}"


@dataclass(frozen=True, slots=True)
class Remote:
    """One thing found behind a URL."""

    url: str
    bytes: int  # 0 where it is not told
    mark: str  # changes when it does; empty where that is not told


NOTHING = Remote("", 0, "")


def found_behind(url: str) -> list[Remote] | Refusal:
    """Give the file behind a URL, or every file below it in the order of their names; or why there is none."""
    scheme, _, rest = url.partition("://")
    if scheme.lower() in _NOT_ELSEWHERE or "::" in url:
        return Refusal(name_of(url), "This is no address of another place; give a path of this machine as it is.")
    if _PASSWORD.match(rest):
        because = "The address holds a password, which would be seen and kept; put it where the protocol's client looks"
        return Refusal(name_of(url), f"{because} (its environment or configuration file), and let it be changed.")
    try:
        place, path = _opened(url)
        info = place.info(path)
        if info.get("type") != "directory":
            return [_remote(url, info)]
        found = place.find(path, detail=True)
        return [_remote(place.unstrip_protocol(name), found[name]) for name in sorted(found)]
    except FileNotFoundError:
        return Refusal(name_of(url), f"There is nothing at {name_of(url)}; check the spelling of the address.")
    except RefusedError as refused:
        return Refusal(name_of(url), str(refused))
    except Exception as problem:  # each client has its own
        return Refusal(name_of(url), f"The address cannot be looked up ({_told(problem)}); check it, and your rights.")


def open_remote(url: str) -> Any:
    """Open what is behind a URL for reading bytes.

    Raises
    ------
    RefusedError
        If no client of its protocol is installed.
    Exception
        Whatever the client raises.
    """
    place, path = _opened(url)
    return place.open(path, "rb")


def fetch_fault(problem: Exception) -> str:
    """The sentence for a log that could not be fetched."""
    return f"The log cannot be fetched ({_told(problem)}); check that it is still there and may be read, and try again."


def _opened(url: str) -> tuple[AbstractFileSystem, str]:
    """The client of a URL's protocol, and the path that it goes by."""
    scheme = url.partition("://")[0]
    try:
        from fsspec.core import url_to_fs
    except ModuleNotFoundError as problem:
        raise RefusedError(
            "Reading from an address needs a library that is not installed. In this project's checkout: "
            "pip install '.[cluster]'"
        ) from problem
    try:
        place, path = url_to_fs(url)
    except ImportError as problem:
        raise RefusedError(f"No client that reads {scheme}:// is installed ({_told(problem)}).") from problem
    except ValueError as problem:
        if "not known" not in str(problem):
            raise
        raise RefusedError(f"Nothing is known that reads {scheme}://; check the spelling of the address.") from problem
    return place, str(path)


def _remote(url: str, info: dict[str, Any]) -> Remote:
    changed = info.get("ETag") or info.get("etag") or info.get("mtime") or info.get("LastModified") or ""
    size = int(info.get("size") or 0)
    return Remote(url, size, f"{size} {changed}" if changed else "")


def _told(problem: Exception) -> str:
    told = " ".join(str(problem).split()) or type(problem).__name__
    told = "".join(letter if letter.isprintable() else "?" for letter in told)
    return told if len(told) <= _MAX_REASON else told[:_MAX_REASON] + " ..."


def path_of(url: str) -> Path:
    """What stands where a source of this machine has its path."""
    return Path(name_of(url).partition("://")[2])
