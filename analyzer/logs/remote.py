"""Logs that lie elsewhere: a URL of an object store or a server becomes sources, read by the client of its protocol.

fsspec brings the clients together; which of them are installed is the operator's choice, and their credentials are the
clients' own (environment, configuration files): none pass through here.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, unquote_plus

from msgspec import Struct

from analyzer.logs.bounds import MAX_LOG_BYTES
from analyzer.logs.log import Refusal, RefusedError

if TYPE_CHECKING:
    from fsspec import AbstractFileSystem

#: A scheme of two letters or more, so no drive.
_URL = re.compile(r"([A-Za-z][A-Za-z0-9+.\-]+)://")
#: Lie on this machine, or in one process alone: no other would read the same.
_NOT_ELSEWHERE = ("file", "local", "memory")
#: Before the place stands who opens it: a name or token, or a name and a password, which may hold any letter.
_WHO = re.compile(r"[^/?#]*@|[^@]*:.*@", re.DOTALL)
#: Protocols whose keys may hold a question mark. Any other's addresses may end in a query, which may open them.
_WITHOUT_QUERY = ("s3", "s3a", "gs", "gcs")
#: An address, or the query of one, within a client's words.
_URL_IN_WORDS = re.compile(_URL.pattern + r"""[^\s'"<>]+""")
_QUERY_IN_WORDS = re.compile(r"""\?[^\s'"<>]+""")
#: Parts of a query that are shorter open nothing [characters].
_MIN_SECRET = 6
#: Answers of a server by which there is nothing (RFC 9110, sections 15.5.5 and 15.5.11).
_NOT_THERE = (404, 410)
#: Longest part of a client's own words in a sentence [characters].
_MAX_REASON = 160


def is_url(text: str) -> bool:
    """Whether this names something elsewhere and no path of this machine."""
    return _URL.match(text) is not None


def name_of(url: str) -> str:
    """How a URL is called in what is said and kept: without who opens it, or a query, which may be as good."""
    scheme, _, rest = _without_query(url).partition("://")
    if _WHO.match(url.partition("://")[2]):
        rest = _without_query(f"{scheme}://{url.rpartition('@')[2]}").partition("://")[2]
    return f"{scheme}://{rest}"


def _without_query(url: str) -> str:
    return url if url.partition("://")[0].lower() in _WITHOUT_QUERY else url.partition("?")[0]


class Remote(Struct, frozen=True):
    """One thing found behind a URL."""

    url: str
    name: str  # how it is called in what is said and kept
    bytes: int  # the most that is read, where it is not told
    mark: str  # changes when it does; empty where that is not told


NOTHING = Remote("", "", 0, "")


def found_behind(url: str) -> list[Remote] | Refusal:
    """Give the file behind a URL, or every file below it in the order of their names; or why there is none."""
    scheme, _, rest = url.partition("://")
    if scheme.lower() in _NOT_ELSEWHERE or "::" in url:
        return Refusal(name_of(url), "This is no address of another place; give a path of this machine as it is.")
    if _WHO.match(rest):
        because = "The address holds a name or password, which would be seen and kept; put it where the client looks"
        return Refusal(name_of(url), f"{because} (its environment or configuration file), and let it be changed.")
    try:
        place, path = _opened(url)
        info = place.info(path)
        if info.get("type") != "directory":
            return [_remote(url, name_of(url), info)]
        found = place.find(path, detail=True)
        below = {name: _url_below(url, path, name) for name in sorted(found)}
        return [_remote(one, _without_query(one), found[name]) for name, one in below.items()]
    except RefusedError as refused:
        return Refusal(name_of(url), str(refused))
    except Exception as problem:  # each client has its own
        if _says_nothing_is_there(problem):
            return Refusal(name_of(url), f"There is nothing at {name_of(url)}; check the spelling of the address.")
        because = f"The address cannot be looked up ({_told(problem, url)})"
        return Refusal(name_of(url), f"{because}; check it, your rights, and that its server can be reached.")


def _url_below(url: str, path: str, name: str) -> str:
    """The URL of a file that a client names, found below a URL that it goes by as ``path``.

    Clients leave out the protocol, and some the server: both are those that were asked.
    """
    if is_url(name):
        return name
    asked, stripped = _without_query(url), path.strip("/")
    own = name.strip("/")
    if not stripped or own.startswith(stripped + "/"):
        below = f"{asked.rstrip('/')}/{own[len(stripped) :].lstrip('/')}"
    else:
        scheme, _, rest = asked.partition("://")
        below = f"{scheme}://{rest.partition('/')[0]}/{own}"
    return below + url[len(asked) :]


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


def fetch_fault(problem: Exception, url: str) -> str:
    """The sentence for a log that could not be fetched."""
    because = f"The log cannot be fetched ({_told(problem, url)})"
    return f"{because}; check that it is still there and may be read, and try again."


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
        raise RefusedError(f"No client that reads {scheme}:// is installed ({_told(problem, url)}).") from problem
    except ValueError as problem:
        if "not known" not in str(problem):
            raise
        raise RefusedError(f"Nothing is known that reads {scheme}://; check the spelling of the address.") from problem
    return place, str(path)


def _remote(url: str, name: str, info: dict[str, Any]) -> Remote:
    changed = info.get("ETag") or info.get("etag") or info.get("mtime") or info.get("LastModified") or ""
    size = info.get("size")
    return Remote(url, name, MAX_LOG_BYTES if size is None else int(size), f"{size} {changed}" if changed else "")


def _says_nothing_is_there(problem: Exception) -> bool:
    """Whether a fault means that there is nothing; some clients say so of every answer, and of a server that is down.

    What they had been told is the fault's cause.
    """
    cause = problem.__cause__
    if not isinstance(problem, FileNotFoundError):
        return False
    if (status := _status(cause)) is not None:
        return status in _NOT_THERE
    return cause is None or isinstance(cause, FileNotFoundError | LookupError)


def _status(problem: BaseException | None) -> int | None:
    """What a server answered, by its number; None where none is told."""
    status, answer = getattr(problem, "status", None), getattr(problem, "response", None)
    if status is None and isinstance(answer, dict):
        status = answer.get("ResponseMetadata", {}).get("HTTPStatusCode")
    return status if isinstance(status, int) else None


def _told(problem: Exception, url: str) -> str:
    """A client's own words of what was wrong with a URL, short, and with nothing in them that opens it."""
    cause = problem.__cause__ if isinstance(problem, FileNotFoundError) else None
    at_fault = problem if cause is None else cause
    if (status := _status(at_fault)) is not None:
        return f"its server answers {status}"
    told = " ".join(str(at_fault).split()) or type(at_fault).__name__
    told = told.replace(url, name_of(url))
    told = _URL_IN_WORDS.sub(lambda one: name_of(one[0]), told)
    told = _QUERY_IN_WORDS.sub("", told)
    for secret in _secrets(url):
        told = told.replace(secret, "...")
    told = "".join(letter if letter.isprintable() else "?" for letter in told)
    return told if len(told) <= _MAX_REASON else told[:_MAX_REASON] + " ..."


def _secrets(url: str) -> list[str]:
    """What stands in a URL's query, as it is and as servers read it; the longest first."""
    query = url[len(_without_query(url)) + 1 :]
    parts = [query, *query.split("&"), *(part.partition("=")[2] for part in query.split("&"))]
    read = {form for part in parts for form in (part, unquote(part), unquote_plus(part))}
    return sorted((one for one in read if len(one) >= _MIN_SECRET), key=len, reverse=True)


def path_of(one: Remote) -> Path:
    """What stands where a source of this machine has its path."""
    return Path(one.name.partition("://")[2])
