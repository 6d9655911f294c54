"""A PostgreSQL server of one's own, to be stopped, frozen and started again while the shared one is left alone."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path

from sqlalchemy import URL

from alloyref.cli.demo import free_port


class NoServerProgram(Exception):
    """PostgreSQL's server is not installed here, or nobody may run it."""


def programs() -> Path:
    """The folder of initdb and pg_ctl; `NoServerProgram` if there is none."""
    found = [str(one) for one in Path("/usr/lib/postgresql").glob("*/bin")]
    search = os.pathsep.join([*sorted(found, reverse=True), os.environ.get("PATH", "")])
    if (initdb := shutil.which("initdb", path=search)) is None:
        raise NoServerProgram("PostgreSQL's initdb is not installed here")
    return Path(initdb).parent


def account() -> str | None:
    """Who runs the server: root may not, so another does; None for oneself."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        with suppress(KeyError):
            return pwd.getpwnam(name).pw_name
    raise NoServerProgram("root may not run PostgreSQL, and there is no other account for it")


class Cluster:
    """One server with its data in a temporary folder."""

    def __init__(self) -> None:
        self._programs, self._account = programs(), account()
        self.port = free_port()
        self.folder = Path(tempfile.mkdtemp(prefix="alloyref-postgres-"))
        self.give(self.folder)
        self._data = self.folder / "data"
        self._run("initdb", "--no-sync", "-A", "trust", "-U", "postgres", "-E", "UTF8", "-D", str(self._data))
        self.start()

    def give(self, folder: Path) -> None:
        """Let the server's account have a folder."""
        if self._account is not None:
            shutil.chown(folder, self._account)

    def _run(self, program: str, *arguments: str) -> None:
        command = [str(self._programs / program), *arguments]
        log = self.folder / "commands.log"
        with log.open("ab") as output:
            done = subprocess.run(
                command, user=self._account, stdout=output, stderr=output, cwd=self.folder, timeout=60, check=False
            )
        assert done.returncode == 0, log.read_text(encoding="utf-8")[-1000:]

    def start(self) -> None:
        """Start it and wait until it answers."""
        options = f"-c listen_addresses=127.0.0.1 -p {self.port} -c unix_socket_directories=''"
        log = str(self.folder / "server.log")
        self._run("pg_ctl", "start", "-w", "-D", str(self._data), "-o", options, "-l", log)

    def stop(self, mode: str) -> None:
        """Stop it: `fast` ends every connection in good order, `immediate` is a crash."""
        self._run("pg_ctl", "stop", "-w", "-D", str(self._data), "-m", mode)

    def freeze(self, thaw: bool = False) -> None:
        """Let every process of it stand still, or go on."""
        first = int((self._data / "postmaster.pid").read_text(encoding="utf-8").splitlines()[0])
        children = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(first)], capture_output=True, check=True, text=True
        )
        for pid in (first, *map(int, children.stdout.split())):
            os.kill(pid, signal.SIGCONT if thaw else signal.SIGSTOP)

    def end(self) -> None:
        """Leave nothing behind."""
        if (self._data / "postmaster.pid").exists():
            self.stop("immediate")
        shutil.rmtree(self.folder)

    @property
    def address(self) -> URL:
        """Its only database."""
        return URL.create(
            "postgresql+psycopg", username="postgres", host="127.0.0.1", port=self.port, database="postgres"
        )
