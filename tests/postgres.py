"""A PostgreSQL server for the tests: the one of GUIDE_TEST_POSTGRES_URL, else a throw-away cluster on loopback."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg

LIBRARY = Path("/usr/lib/postgresql")
_GUARD = """
import shutil, signal, subprocess, sys
signal.signal(signal.SIGINT, signal.SIG_IGN)
sys.stdin.read()
subprocess.run(sys.argv[2:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
shutil.rmtree(sys.argv[1], ignore_errors=True)
"""
"""Stops the server when whoever started it is gone, even if it was killed: then our end of the pipe closes."""


class NoServer(Exception):
    """There is no PostgreSQL to test on; the text is the reason that a skipped test shows."""


@contextmanager
def server() -> Iterator[str]:
    """Address of a server whose databases may be made and dropped; durability settings are the server's own."""
    given = os.environ.get("GUIDE_TEST_POSTGRES_URL")
    if given:
        yield given
        return
    programs = _programs()
    home = Path(tempfile.mkdtemp(prefix="guide-pg-"))
    try:
        with _cluster(programs, home) as port:
            yield f"postgresql://postgres@127.0.0.1:{port}/postgres"
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _programs() -> Path:
    found = sorted(LIBRARY.glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    if not found:
        raise NoServer(f"no PostgreSQL: GUIDE_TEST_POSTGRES_URL is not set and {LIBRARY} holds no server")
    if os.geteuid() == 0 and not shutil.which("runuser"):
        raise NoServer("no PostgreSQL: the server refuses to run as root and there is no runuser")
    return found[-1].parent


@contextmanager
def _cluster(programs: Path, home: Path) -> Iterator[int]:
    data, port = home / "data", free_port()
    if os.geteuid() == 0:
        shutil.chown(home, "postgres", "postgres")
    options = f"-c listen_addresses=127.0.0.1 -p {port} -c unix_socket_directories={home}"
    options += " -c shared_buffers=32MB -c max_connections=200 -c autovacuum_naptime=10s"
    try:
        _run(programs / "initdb", "-D", data, "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8", "-N")
        _run(programs / "pg_ctl", "-D", data, "-l", home / "log", "-w", "-t", "30", "-o", options, "start")
    except subprocess.CalledProcessError as problem:
        raise NoServer(f"no PostgreSQL: {problem.stderr.decode(errors='replace').strip()[-200:]}") from None
    stop = [*_as_server(), str(programs / "pg_ctl"), "-D", str(data), "-m", "immediate", "-w", "stop"]
    with subprocess.Popen([sys.executable, "-c", _GUARD, str(home), *stop], stdin=subprocess.PIPE, cwd="/") as guard:
        try:
            yield port
        finally:
            assert guard.stdin is not None
            guard.stdin.close()


def _run(*words: str | Path) -> None:
    # pg_ctl leaves the server running with our pipes: its output goes to files
    command = [*_as_server(), *map(str, words)]
    with tempfile.TemporaryFile() as errors:
        done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=errors, cwd="/")
        if done.returncode:
            errors.seek(0)
            raise subprocess.CalledProcessError(done.returncode, str(words[0]), stderr=errors.read())


def _as_server() -> list[str]:
    """The server refuses to run as root."""
    return ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []


def free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


def new_database(url: str, name: str, *, template: str | None = None) -> str:
    """Address of a new empty database of that server (or of a copy of ``template``)."""
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f'drop database if exists "{name}" with (force)')
        connection.execute(f'create database "{name}"' + (f' template "{template}"' if template else ""))
    return f"{url.rsplit('/', 1)[0]}/{name}"


def drop_database(url: str, name: str) -> None:
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f'drop database if exists "{name}" with (force)')
