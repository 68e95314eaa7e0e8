"""A server of PostgreSQL for tests: started in a folder, stopped, killed, started again.

It listens at a socket in its folder and nowhere else. Debian's package is found where it lies.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from signal import SIGKILL
from tempfile import mkdtemp
from time import sleep

TRIES = 20
OWNER = "postgres"
"""Who runs it where tests are run as root, which it refuses."""


def postgres_programs() -> Path | None:
    """The folder of its programs; None where it is not installed."""
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if places:
        return places[-1].parent
    found = shutil.which("initdb")
    return Path(found).parent if found else None


class PostgresServer:
    """A server in a folder of its own.

    Parameters
    ----------
    programs : Path
    folder : Path
        Short, for the name of a socket may have a hundred letters.
    """

    def __init__(self, programs: Path, folder: Path) -> None:
        self._programs, self._folder = programs, folder
        self._owner = OWNER if os.geteuid() == 0 else None
        if self._owner:
            shutil.chown(folder, self._owner)
        self._do("initdb", "-A", "trust", "-U", OWNER, "-E", "UTF8", "--locale=C.UTF-8", "-N")
        settings = f"listen_addresses = ''\nunix_socket_directories = '{folder}'\n"
        with self._data.joinpath("postgresql.conf").open("a") as file:
            file.write(f"{settings}max_connections = 200\n")

    @property
    def _data(self) -> Path:
        return self._folder / "data"

    def address(self, database: str = OWNER) -> str:
        """Of one of its databases."""
        return f"postgresql://{OWNER}@/{database}?host={self._folder}"

    def new_database(self, name: str) -> str:
        """The address of a new one."""
        self._run("createdb", "-h", str(self._folder), "-U", OWNER, name)
        return self.address(name)

    def start(self) -> None:
        """Start it; after it was killed, what is left of it may be in the way for a moment."""
        for _ in range(TRIES):
            with suppress(subprocess.CalledProcessError):
                self._do("pg_ctl", "-l", str(self._folder / "log"), "-w", "-t", "60", "start")
                return
            sleep(1.0)
        raise RuntimeError(self._folder.joinpath("log").read_text())

    def begin_to_start(self) -> None:
        """Start it, and do not wait until it takes anything."""
        self._do("pg_ctl", "-l", str(self._folder / "log"), "-W", "start")

    def stop(self) -> None:
        """Stop it as if the power were cut: what stands in its log is what is left."""
        self._do("pg_ctl", "-m", "immediate", "-w", "stop")

    def kill(self) -> None:
        """End all of it at once, wherever it is."""
        with suppress(OSError, ValueError):
            number = int(self._data.joinpath("postmaster.pid").read_text().split()[0])
            os.kill(number, SIGKILL)

    def holds(self, text: bytes) -> bool:
        """True where it stands in a file of a table or an index."""
        files = self._data.joinpath("base").rglob("*")
        return any(text in path.read_bytes() for path in files if path.is_file())

    def _do(self, program: str, *arguments: str) -> None:
        self._run(program, "-D", str(self._data), *arguments)

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [self._programs / program, *arguments],
            check=True,
            cwd=self._folder,
            user=self._owner,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )


@contextmanager
def postgres_server(programs: Path) -> Iterator[PostgresServer]:
    """One that is started, and gone with its folder afterwards."""
    folder = Path(mkdtemp(prefix="pg-"))
    try:
        server = PostgresServer(programs, folder)
        server.start()
        yield server
        with suppress(subprocess.CalledProcessError):
            server.stop()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
