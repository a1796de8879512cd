"""Where the records are: named, set in the environment, or a folder of the user's own.

Records are a folder. Its tables lie in a file in it, or in a database of a PostgreSQL server; the folder says in which.
"""

from __future__ import annotations

import json
import os
import re
import sys
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qsl, quote, urlsplit

from analyzer.records.problems import RecordsError
from analyzer.small_files import read_bytes

VARIABLE = "TAPER_RECORDS"
#: What is known of each aircraft beforehand, kept with the records.
FLEET = "fleet.toml"
#: Folders of the logs' own bytes and of their readings.
ORIGINALS, TRACES = "originals", "traces"
#: Says in a folder which server's database holds its tables.
SERVER_FILE = "database.json"
MOST_BYTES = 100_000
SCHEMES = ("postgresql", "postgres")
#: What names the folder in an address.
FILES = "files"
EXAMPLE = "postgresql://club@db.example/taper?files=/srv/taper"
#: Where a password belongs, since every account of a machine sees command lines.
PASSWORD_BELONGS = "PGPASSWORD, ~/.pgpass or a service file"
NO_ADDRESS = (
    f"The address of the records is not one of a PostgreSQL server's database; it reads like {EXAMPLE}, with no "
    "password, and with signs such as # / @ in names written as %23 %2F %40."
)
#: A scheme of two letters or more, so no drive: an address spelled otherwise, whose password is to name no folder.
_LIKE_AN_ADDRESS = re.compile(r"[A-Za-z][A-Za-z0-9+.\-]+:/")
_USER, _HOSTS, _NAME = re.compile(r"[^:@/]*"), re.compile(r"[\w.\-%,\[\]:]*"), re.compile(r"/?[^@/?#]*")
_PORTS = re.compile(r"(\[[^\]]*\]|[^:\[\]]*)(:\d*)?")


@dataclass(frozen=True, slots=True)
class Place:
    """Where records are: their folder, and the server's address without password where it is not in the folder."""

    folder: Path
    server: str | None = None

    def __str__(self) -> str:
        return f"{self.server}, files in {self.folder}" if self.server else str(self.folder)


def records_place(named: str | None = None) -> Place:
    """Give the place of the records: ``named``, else ``TAPER_RECORDS``, else the user's data folder.

    Raises
    ------
    RecordsError
        When a server's address cannot be used.
    """
    told = named or os.environ.get(VARIABLE)
    if told and told.partition("://")[0] in SCHEMES and "://" in told:
        return _on_server(told)
    if told and _LIKE_AN_ADDRESS.match(told):
        raise RecordsError(NO_ADDRESS)
    return place_of(Path(told).expanduser() if told else _data_folder() / "taper")


def records_folder(named: str | None = None) -> Path:
    """Give the folder of the records that are meant.

    Raises
    ------
    RecordsError
        When a server's address cannot be used.
    """
    return records_place(named).folder


def place_of(folder: Path) -> Place:
    """Give the place of the records of a folder, by the server that it names or without one.

    Raises
    ------
    RecordsError
        When what the folder says of its server is damaged.
    """
    return Place(folder, told.address if (told := server_of(folder)) else None)


@dataclass(frozen=True, slots=True)
class Belongs:
    """The server that holds a folder's tables, and what stands in both, so that neither is taken for another's."""

    address: str
    key: str


def server_of(folder: Path) -> Belongs | None:
    """Give the server that holds a folder's tables, None where they lie in the folder or nowhere yet.

    Raises
    ------
    RecordsError
        When its file is damaged.
    """
    path = folder / SERVER_FILE
    try:
        told = json.loads(read_bytes(path, MOST_BYTES))
        return Belongs(_address(told["address"])[0], str(told["key"]))
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError, KeyError, TypeError, RecordsError) as problem:
        raise RecordsError(
            f"{path}, which says where the tables of these records are, cannot be read. Take it from a backup of the "
            f"folder, or name the records by the server's address, as in {EXAMPLE}"
        ) from problem


def _on_server(told: str) -> Place:
    address, folder = _address(told)
    if not folder:
        raise RecordsError(
            "Records on a server keep recordings and readings in a folder, which every machine that uses them must "
            f"reach; name it in the address: {address}{'&' if '?' in address else '?'}{FILES}=FOLDER"
        )
    return Place(Path(folder).expanduser(), address)


def _address(told: str) -> tuple[str, str]:
    """An address without its folder, and the folder; it is refused where it holds a password, and never repeated then.

    Raises
    ------
    RecordsError
        When it is no address, or holds a password.
    """
    try:
        parts = urlsplit(told)
    except ValueError:
        raise RecordsError(NO_ADDRESS) from None  # its words repeat what was written
    user, at, hosts = parts.netloc.rpartition("@")
    asked = dict(parse_qsl(parts.query, keep_blank_values=True))
    if ":" in user or any("password" in name.lower() for name in asked):
        raise RecordsError(
            "The address of the records holds a password, which every account of this machine could read. Leave it "
            f"out and put it into {PASSWORD_BELONGS}; then let it be changed, for it was shown."
        )
    ports = all(_PORTS.fullmatch(one) for one in hosts.split(","))
    names = _USER.fullmatch(user) and _HOSTS.fullmatch(hosts) and ports and _NAME.fullmatch(parts.path)
    if parts.scheme not in SCHEMES or parts.fragment or not names:
        raise RecordsError(NO_ADDRESS)
    folder = asked.pop(FILES, "")
    query = "&".join(f"{name}={quote(value, safe='/,.-_')}" for name, value in asked.items())
    return f"{SCHEMES[0]}://{user}{at}{hosts}{parts.path}{'?' if query else ''}{query}", folder


def _data_folder() -> Path:
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
