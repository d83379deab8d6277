"""PostgreSQL servers that tests start themselves, on loopback, in a folder of their own, and end again.

The server's programs must be installed (Debian: `postgresql`); where they are not, a test that needs them fails.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg

OWNER = "owner_login"


def programs() -> Path:
    """The folder of the server's programs. Raises AssertionError where there is none."""
    named = os.environ.get("POSTGRES_BIN")
    found = [Path(named)] if named else sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    on_path = shutil.which("postgres")
    found += [Path(on_path).parent] if on_path else []
    for place in found:
        if (place / "postgres").exists():
            return place
    raise AssertionError("these tests need the PostgreSQL server (Debian: apt-get install postgresql)")


def free_port() -> int:
    """A port nobody listens at just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _as_user() -> dict[str, object]:
    """The server refuses to run as root: the user Debian made for it, then."""
    if os.geteuid() != 0:
        return {}
    user = pwd.getpwnam("postgres")
    return {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}


class Server:
    """One server: its data in `data`, at 127.0.0.1:`port`. Made, started, killed and ended by the test."""

    def __init__(self, place: Path, name: str = "server") -> None:
        self.bin, self.place, self.name = programs(), place, name
        self.data, self.port = place / name, free_port()
        self.process: subprocess.Popen[bytes] | None = None

    def run(self, program: str, *arguments: str, **environment: str) -> str:
        """Run one of the server's programs and return what it says."""
        done = subprocess.run(
            [str(self.bin / program), *arguments],
            capture_output=True,
            text=True,
            cwd=self.place,
            env={"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8"} | environment,
            **_as_user(),  # type: ignore[call-overload]
        )
        assert done.returncode == 0, (program, done.stdout, done.stderr)
        return str(done.stdout)

    def make(self, **settings: str) -> Server:
        """Make its data, with these settings."""
        self.run("initdb", "-D", str(self.data), "-U", OWNER, "-A", "trust", "-E", "UTF8", "--no-sync", "--no-locale")
        self.set(listen_addresses="127.0.0.1", unix_socket_directories="", max_connections="60", **settings)
        return self

    def set(self, **settings: str) -> None:
        """Write settings, the last of a name counts."""
        with (self.data / "postgresql.conf").open("a") as file:
            file.writelines(f"{name} = '{value}'\n" for name, value in settings.items())

    def start(self, *, wait: bool = True) -> Server:
        """Start it and wait until it answers."""
        self.set(port=str(self.port))
        log = (self.place / f"{self.name}.log").open("ab")
        self.process = subprocess.Popen(
            [str(self.bin / "postgres"), "-D", str(self.data)],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            cwd=self.place,
            start_new_session=True,
            env={"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8"},
            **_as_user(),  # type: ignore[call-overload]
        )
        log.close()
        if wait:
            self.answers()
        return self

    def answers(self, seconds: float = 60) -> None:
        """Wait until it takes connections."""
        until = time.monotonic() + seconds
        while True:
            try:
                psycopg.connect(self.conninfo(), connect_timeout=3).close()
                return
            except psycopg.OperationalError as error:
                ended = self.process is None or self.process.poll() is not None
                assert not ended and time.monotonic() < until, f"{error}\n{self.log()}"
                time.sleep(0.05)

    def log(self) -> str:
        """What the server wrote, its end."""
        path = self.place / f"{self.name}.log"
        return path.read_text(errors="replace")[-3000:] if path.exists() else ""

    def conninfo(self, database: str = "postgres", user: str = OWNER) -> str:
        """How libpq reaches it."""
        return f"host=127.0.0.1 port={self.port} dbname={database} user={user}"

    def address(self, database: str, branch: str = "", user: str = OWNER, more: str = "") -> str:
        """How a person names a branch in one of its databases."""
        query = "&".join(filter(None, (f"branch={branch}" if branch else "", more)))
        return f"postgresql://{user}@127.0.0.1:{self.port}/{database}{'?' + query if query else ''}"

    def execute(self, statement: str, database: str = "postgres", user: str = OWNER) -> list[tuple[object, ...]]:
        """Run one statement and return its rows."""
        with psycopg.connect(self.conninfo(database, user), autocommit=True) as link:
            done = link.execute(statement.encode())
            return done.fetchall() if done.description else []

    def kill(self) -> None:
        """kill -9 of the whole server: postmaster and every process it started."""
        assert self.process is not None
        os.killpg(self.process.pid, signal.SIGKILL)
        for child in _children(self.process.pid):
            with contextlib.suppress(ProcessLookupError):
                os.kill(child, signal.SIGKILL)
        self.process.wait(30)

    def stop(self) -> None:
        """End it at once; its data are thrown away anyhow."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGQUIT)
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                self.kill()


def _children(parent: int) -> list[int]:
    """Processes started by `parent` (each backend leads a session of its own)."""
    found = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError, IndexError, ValueError):
            if int(status.read_text().rpartition(")")[2].split()[1]) == parent:
                found.append(int(status.parent.name))
    return found


def owned_by_the_server(folder: Path) -> Path:
    """Let the server's user own the folder."""
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
    return folder


@contextlib.contextmanager
def place() -> Iterator[Path]:
    """A folder for servers, in memory where there is such a place, that their user may use."""
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(prefix="postgres-", dir=memory if os.access(memory, os.W_OK) else None))
    try:
        yield owned_by_the_server(folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def server(**settings: str) -> Iterator[Server]:
    """A running server with nothing in it."""
    with place() as folder:
        one = Server(folder)
        try:
            yield one.make(**settings).start()
        finally:
            one.stop()
