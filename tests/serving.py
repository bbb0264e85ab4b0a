"""The real server over the test database: gunicorn's own processes, asked over HTTP."""

from __future__ import annotations

import http.client
import json
import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import connection

from tests.waiting import PATIENCE_S, until

ROOT = Path(__file__).resolve().parent.parent


def database_url() -> str:
    """Write the address of the database that the tests use."""
    stored = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{stored['NAME']}"
    who = f"{stored['USER']}:{stored['PASSWORD']}" if stored["PASSWORD"] else stored["USER"]
    return f"postgres://{who}@{stored['HOST']}:{stored['PORT'] or 5432}/{stored['NAME']}"


@contextmanager
def served(folder: Path, workers: int = 2, threads: int = 8, *more: str) -> Iterator[int]:
    """Serve the test database with gunicorn and yield the port; the log is kept in a folder."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", "recycling.wsgi", "--bind", f"127.0.0.1:{port}"]
    command += ["--workers", str(workers), "--threads", str(threads), "--no-control-socket", *more]
    settings = {"DATABASE_URL": database_url(), "SERVE_UNHASHED_STATIC": "1"}
    with (folder / "server.log").open("w") as log:
        server = subprocess.Popen(
            command, cwd=ROOT, env=os.environ | settings, stdout=log, stderr=subprocess.STDOUT
        )
        try:
            _wait(port, server, folder / "server.log")
            yield port
        finally:
            server.terminate()
            try:
                server.wait(15)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def _wait(port: int, server: subprocess.Popen, log: Path) -> None:
    def answers() -> bool:
        assert server.poll() is None, f"the server did not start: {log.read_text()[-2000:]}"
        with suppress(OSError), socket.create_connection(("127.0.0.1", port), PATIENCE_S):
            return True
        return False

    until(answers, "the server to answer", pause_s=0.1)


@dataclass
class Answer:
    """What the server said."""

    status: int
    body: bytes

    def json(self) -> Any:
        """Read the body."""
        return json.loads(self.body)

    @property
    def codes(self) -> set[str]:
        """Name what was wrong."""
        return {error["code"] for error in self.json()["errors"]}


class Caller:
    """One client with a connection of its own."""

    def __init__(self, port: int, key: str):
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
        self.headers = {"Authorization": f"Bearer {key}"}

    def get(self, path: str) -> Answer:
        """Ask for something."""
        return self._ask("GET", path, None, {})

    def post(self, path: str, body: Any, key: str) -> Answer:
        """Have something done, under a key."""
        more = {"Content-Type": "application/json", "Idempotency-Key": key}
        return self._ask("POST", path, json.dumps(body), more)

    def _ask(self, method: str, path: str, body: str | None, more: dict[str, str]) -> Answer:
        self.connection.request(method, f"/api/v1{path}", body, self.headers | more)
        response = self.connection.getresponse()
        return Answer(response.status, response.read())
