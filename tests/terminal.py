"""A program in a terminal of its own, for tests and benchmarks: spawn it, press keys, wait for what it paints.

Standard library only, so that it runs before anything is installed. Not a terminal emulator: `painted` is everything
that was written, in the order of writing, without the control sequences.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import pty
import re
import resource
import select
import signal
import struct
import subprocess
import termios
import time
from collections.abc import Mapping, Sequence

CONTROL = re.compile(rb"\x1b\[[0-9;:?<=>]*[ -/]*[@-~]|\x1b[PX^_\]].*?(?:\x1b\\|\x07)|\x1b[ -/]*[0-~]", re.DOTALL)


class Terminal:
    """A process with a pseudo-terminal of `rows` by `columns` as its standard input, output and error."""

    def __init__(
        self,
        command: Sequence[str],
        rows: int = 24,
        columns: int = 80,
        env: Mapping[str, str] | None = None,
        cwd: str | os.PathLike[str] | None = None,
    ) -> None:
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self._bytes = b""
        self.usage: resource.struct_rusage | None = None
        self.started = time.perf_counter()
        self.process = subprocess.Popen(
            command,
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            # Its controlling terminal, so that ctrl-C and hanging up reach it as they do a person's program.
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
            cwd=cwd,
            env={**os.environ, "TERM": "xterm-256color", **(env or {})},
        )
        os.close(slave)

    @property
    def painted(self) -> str:
        return CONTROL.sub(b"", self._bytes).decode("utf-8", "replace")

    @property
    def sent(self) -> str:
        """Everything that the program sent, what steers the terminal included."""
        return self._bytes.decode("utf-8", "replace")

    def press(self, keys: str) -> float:
        """Type, as a keyboard sends it. The moment, by `time.perf_counter`."""
        moment = time.perf_counter()
        os.write(self._master, keys.encode())
        return moment

    def wait_for(self, text: str, seconds: float, after: int = 0) -> float:
        """The moment at which `text` had been painted, past the first `after` characters of `painted`.

        Raises TimeoutError, with what was painted, when it has not come in that many seconds or no longer can."""
        end = time.perf_counter() + seconds
        while text not in self.painted[after:]:
            if not self._read(end):
                raise TimeoutError(f"no {text!r} after {seconds} s; painted: {self.painted[-2000:]!r}")
        return time.perf_counter()

    def quiet(self, still: float, seconds: float = 10.0) -> None:
        """Return when nothing was painted for `still` seconds, or after `seconds`."""
        end = time.perf_counter() + seconds
        while time.perf_counter() < end and self._read(time.perf_counter() + still):
            pass

    def ended(self, seconds: float) -> int:
        """The exit code, once the program has ended; `usage` then holds what it took. Raises TimeoutError."""
        end = time.perf_counter() + seconds
        while self._read(end):
            pass
        while self.process.returncode is None:
            pid, status, usage = os.wait4(self.process.pid, os.WNOHANG)
            if pid:
                self.process.returncode = os.waitstatus_to_exitcode(status)
                self.usage = usage
            elif time.perf_counter() > end:
                raise TimeoutError(f"still running after {seconds} s; painted: {self.painted[-2000:]!r}")
            else:
                time.sleep(0.002)
        return self.process.returncode

    def close(self) -> None:
        """End the program and all that it started, whatever their state."""
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        os.close(self._master)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _read(self, end: float) -> bool:
        """Take in what comes next, until `end`. False when nothing came or nothing can come any more."""
        ready, _, _ = select.select([self._master], [], [], max(end - time.perf_counter(), 0.0))
        if not ready:
            return False
        try:
            new = os.read(self._master, 65536)
        except OSError:  # Linux says EIO when the other end is closed
            return False
        self._bytes += new
        return bool(new)
