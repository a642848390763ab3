"""A real PostgreSQL in a temporary folder, reached by a socket alone. It runs as a user without rights, as it must."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Self

BINARIES = "/usr/lib/postgresql"
USER = "nobody"


def binary(name: str) -> str | None:
    """Where a program of PostgreSQL is: on the path, or in the folder of Debian's package."""
    found = shutil.which(name)
    if found is None:
        versions = sorted(Path(BINARIES).glob(f"*/bin/{name}"), key=lambda path: int(path.parts[-3]))
        found = str(versions[-1]) if versions else None
    return found


def available() -> bool:
    return binary("initdb") is not None and binary("postgres") is not None


class Server:
    """Started by `with`; the folder is gone afterwards."""

    def __init__(self, **settings: str) -> None:
        self._settings = {
            "listen_addresses": "",
            "shared_buffers": "32MB",
            "max_connections": "150",
            "log_min_messages": "fatal",
            **settings,
        }
        # The path of a socket must stay under 108 characters.
        self.folder = Path(tempfile.mkdtemp(prefix="dpg-", dir="/tmp" if Path("/tmp").is_dir() else None))
        self._process: subprocess.Popen[bytes] | None = None

    def address(self, database: str = "postgres") -> str:
        return f"postgresql://diag@/{database}?host={self.folder}"

    def __enter__(self) -> Self:
        try:
            if os.geteuid() == 0:
                shutil.chown(self.folder, USER)
            data = self.folder / "data"
            made = self._run("initdb", "-D", str(data), "-U", "diag", "-A", "trust", "-N", "-E", "UTF8", "--locale=C")
            if made.wait() != 0:
                raise RuntimeError("initdb failed")
            self.start()
        except BaseException:
            self.__exit__(None, None, None)
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop(signal.SIGINT)
        shutil.rmtree(self.folder, ignore_errors=True)

    def start(self) -> None:
        """Returns when it takes connections."""
        options = [word for name, value in self._settings.items() for word in ("-c", f"{name}={value}")]
        data = str(self.folder / "data")
        self._process = self._run("postgres", "-D", data, "-k", str(self.folder), *options)
        end = time.monotonic() + 60
        while time.monotonic() < end:
            if self._process.poll() is not None:
                raise RuntimeError("postgres ended by itself")
            if self._takes_connections():
                return
            time.sleep(0.05)
        raise RuntimeError("postgres does not take connections")

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """SIGINT ends what goes on and stops; SIGQUIT is a crash: nothing is written out, and it recovers on start."""
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait()
            self._process = None

    def _takes_connections(self) -> bool:
        import psycopg

        try:
            psycopg.connect(self.address(), connect_timeout=2).close()
        except psycopg.OperationalError:
            return False
        return True

    def _run(self, name: str, *args: str) -> subprocess.Popen[bytes]:
        program = binary(name)
        if program is None:
            raise RuntimeError(f"{name} is not there: install PostgreSQL (Debian's package is called postgresql)")
        words = [program, *args]
        if os.geteuid() == 0:
            words = ["setpriv", f"--reuid={USER}", "--clear-groups", *words]
        # Debian's program refuses a folder that its user may not look into.
        return subprocess.Popen(
            words, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd="/"
        )


def main() -> int:
    """Whether it starts, in one line."""
    import psycopg

    try:
        with Server() as server, psycopg.connect(server.address()) as db:
            print("PostgreSQL", db.info.server_version // 10000)
    except (RuntimeError, OSError, psycopg.Error) as error:
        print(f"PostgreSQL does not start: {error}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
