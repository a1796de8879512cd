"""A PostgreSQL server of the tests' own: in a folder of its own, reached by a socket in it, gone at the end."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

from analyzer.records.place import SERVER_FILE

#: Where distributions put the server's programs, beside the paths where commands are looked for.
PLACES = ("/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin", "/opt/homebrew/opt/postgresql*/bin")
#: The server refuses to run as root; Debian's package makes this account for it.
ACCOUNT = "postgres"
NAME = "club"
_numbers = count(1)


def programs() -> Path | None:
    """The folder of the newest server's programs, None where none is installed."""
    found = [path for place in PLACES for path in Path("/").glob(f"{place[1:]}/initdb")]
    if found:
        return max(found, key=lambda path: [int(one) for one in path.parts if one.isdigit()]).parent
    there = shutil.which("initdb")
    return Path(there).parent if there else None


class Server:
    """A server that runs; ``stop`` and ``start`` it as a test needs."""

    def __init__(self, bin_: Path, folder: Path) -> None:
        self._bin, self.folder = bin_, folder
        self._as = ["runuser", "-u", ACCOUNT, "--"] if os.geteuid() == 0 else []
        if self._as:
            shutil.chown(folder, ACCOUNT)
        # In an order of letters as a language has it, which is not the one that the records rest on.
        natural = ("--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en-US")
        self._run("initdb", "-D", folder / "data", "-U", NAME, "-A", "trust", "-E", "UTF8", "-k", "--no-sync", *natural)
        (folder / "data" / "postgresql.auto.conf").write_text(
            f"listen_addresses = ''\nunix_socket_directories = '{folder}'\nfsync = off\nmax_connections = 60\n"
        )
        self.start()

    def _run(self, program: str, *words: object) -> None:
        asked = [*self._as, str(self._bin / program), *map(str, words)]
        subprocess.run(asked, cwd=self.folder, check=True, timeout=120, stdout=subprocess.DEVNULL)

    def start(self) -> None:
        """Start it, and wait until it answers."""
        self._run("pg_ctl", "-D", self.folder / "data", "-w", "-t", 60, "-l", self.folder / "log", "start")

    def kill(self) -> None:
        """End it at once and without tidying up, as a failing machine would."""
        self._run("pg_ctl", "-D", self.folder / "data", "-w", "-m", "immediate", "stop")

    def sql(self, statement: str, database: str = "postgres") -> list[tuple[object, ...]]:
        """Do something past the program, by hand; gives what it answers."""
        import psycopg

        with psycopg.connect(host=str(self.folder), user=NAME, dbname=database, autocommit=True) as connection:
            answer = connection.execute(statement.encode())
            return answer.fetchall() if answer.description else []

    def address(self, database: str) -> str:
        """The address of a database of it."""
        return f"postgresql://{NAME}@/{database}?host={self.folder}"

    def new(self, like: str = "template0") -> str:
        """Make a database, empty or as another one is; gives its name."""
        name = f"club{next(_numbers)}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE {like}")
        return name

    def copy(self, folder: Path, to: Path) -> None:
        """Make records on this server as others on it are: their database and their folder."""
        told = json.loads((folder / SERVER_FILE).read_text())
        name = self.new(told["address"].rpartition("@/")[2].partition("?")[0])
        shutil.copytree(folder, to)
        (to / SERVER_FILE).write_text(json.dumps(told | {"address": self.address(name)}))


@contextmanager
def running() -> Iterator[Server | str]:
    """A server; or, as a text, why there is none."""
    bin_ = programs()
    if bin_ is None:
        yield "no PostgreSQL server is installed, so records on one are not tried (apt-get install postgresql)"
        return
    folder = Path(tempfile.mkdtemp(prefix="taper-server-", dir="/tmp"))  # a socket's path must be short
    folder.chmod(0o755)
    server = None
    try:
        try:
            server = Server(bin_, folder)
        except (OSError, LookupError, subprocess.SubprocessError) as problem:
            yield f"the PostgreSQL server in {bin_} cannot be started here: {problem}"
            return
        yield server
    finally:
        if server is not None:
            with suppress(subprocess.SubprocessError):  # a test may have left it stopped
                server.kill()
        shutil.rmtree(folder, ignore_errors=True)
