"""Cuts the power of a casebook and looks whether everything that was told as recorded is there afterwards.

    python tests/record/power_cut.py --times 1000

A program that records entries is watched by strace. Its writes are then done again up to a random moment, and of what
was not synchronised by then each sector of 512 bytes is there or lost by lot. What comes out is opened as after any
power cut: the chains must verify, and every entry told before the cut must be there. A file that was synchronised once
is taken to stand in its folder. The same with a looser setting of SQLite must lose entries, or nothing was tried.
"""

from __future__ import annotations

import argparse
import ast
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from record.entries import ending, lock, note, unlock  # noqa: E402

from diag.record.casebook import Casebook, CasebookError  # noqa: E402
from diag.record.verify.verifying import verify  # noqa: E402

SECTOR = 512
CALLS = "openat,pwrite64,write,ftruncate,fsync,fdatasync,unlink,close"
TOLD = b"told "
_CALL = re.compile(r"^(\w+)\((.*)\) += (-?\d+)")
_TEXT = re.compile(r'"(?:[^"\\]|\\.)*"')


def play(path: Path, setting: str, entries: int) -> None:
    """The program that is watched: cases with locks and ends, and each entry told once it is recorded."""
    with Casebook(path) as book:
        book.engine._db.execute(f"PRAGMA synchronous = {setting}")  # type: ignore[attr-defined]
        count = 0
        while count < entries:
            case = book.begin(iter([f"case-{count}"]), "mixer", [note(0, f"first of {count}")])
            steps = (note(1, "a bang " * 20), lock(2), note(3, "dark"), unlock(4), ending(5))
            for seq, entry in enumerate(steps, 1):
                book.append(case, entry, after=seq)
                count += 1
                sys.stdout.buffer.write(TOLD + f"{case} {seq + 1}\n".encode())
                sys.stdout.buffer.flush()


@dataclass
class Disk:
    """Files as they are on the disk for certain, and what was written since."""

    whole: dict[str, bytearray] = field(default_factory=dict)
    """What is there whatever happens; a file that was never synchronised is not."""
    since: dict[str, list[tuple[int, bytes | None]]] = field(default_factory=dict)
    """Writes, each with its place; None for a cut to that length."""

    def write(self, path: str, place: int, data: bytes | None) -> None:
        self.since.setdefault(path, []).append((place, data))

    def sync(self, path: str) -> None:
        content = self.whole.setdefault(path, bytearray())
        for place, data in self.since.pop(path, []):
            _put(content, place, data)

    def remove(self, path: str) -> None:
        self.whole.pop(path, None)
        self.since.pop(path, None)

    def cut(self, rng: random.Random) -> dict[str, bytes]:
        """What is there after a cut now."""
        kept = rng.choice((0.0, 0.1, 0.5, 0.9, 1.0))
        found = {path: bytearray(content) for path, content in self.whole.items()}
        for path, writes in self.since.items():
            content = found.setdefault(path, bytearray())
            for place, data in writes:
                if data is None:
                    if rng.random() < kept:
                        _put(content, place, None)
                    continue
                for start in range(0, len(data), SECTOR):
                    if rng.random() < kept:
                        _put(content, place + start, data[start : start + SECTOR])
        return {path: bytes(content) for path, content in found.items()}


def _put(content: bytearray, place: int, data: bytes | None) -> None:
    if data is None:
        del content[place:]
        content.extend(bytes(place - len(content)))
        return
    content.extend(bytes(max(place - len(content), 0)))
    content[place : place + len(data)] = data


Call = tuple[str, str, int, bytes | None]
"""What was done (`told`, `write`, `sync`, `remove`), to which file, where, and with what."""


def watched(folder: Path, setting: str, entries: int) -> list[Call]:
    """What the program did to its files, in order."""
    trace, path = folder / "trace", folder / "book.sqlite3"
    program = [sys.executable, str(Path(__file__).resolve()), "--play", str(path), "--setting", setting]
    strace = ["strace", "-xx", "-s", "1000000", "-e", f"trace={CALLS}", "-o", str(trace)]
    subprocess.run([*strace, *program, "--entries", str(entries)], check=True, stdout=subprocess.DEVNULL, cwd=ROOT)
    with trace.open(encoding="ascii") as lines:
        return list(_calls(lines, path.name))


def _calls(lines: Iterable[str], book: str) -> Iterator[Call]:
    files: dict[int, str] = {}
    for line in lines:
        match = _CALL.match(line)
        if match is None or int(match[3]) < 0:
            continue
        name, given, result = match[1], match[2], int(match[3])
        texts = [ast.literal_eval("b" + text) for text in _TEXT.findall(given)]
        number = int(given.split(",")[0]) if given[0].isdigit() else -1
        match name:
            case "openat":
                files[result] = Path(texts[0].decode()).name
            case "close":
                files.pop(number, None)
            case "write" if number == 1 and texts[0].startswith(TOLD):
                yield "told", texts[0].decode()[len(TOLD) :].strip(), 0, None
            case "unlink" if Path(texts[0].decode()).name.startswith(book):
                yield "remove", Path(texts[0].decode()).name, 0, None
            case "pwrite64" | "ftruncate" | "fsync" | "fdatasync" if files.get(number, "").startswith(book):
                file = files[number]
                if name == "pwrite64":
                    yield "write", file, int(given.rsplit(",", 1)[1]), texts[0]
                elif name == "ftruncate":
                    yield "write", file, int(given.split(",")[1]), None
                else:
                    yield "sync", file, 0, None


def cut(calls: list[Call], times: int, rng: random.Random, folder: Path) -> Counter[str]:
    """So many cuts after the first entry was told: how many lost an entry, and how many left a file that is damaged."""
    first = next(n for n, call in enumerate(calls) if call[0] == "told")
    counts = Counter(cuts=times, lost=0, damaged=0)
    moments = sorted(rng.randrange(first + 1, len(calls) + 1) for _ in range(times))
    disk, told, at = Disk(), list[str](), 0
    for moment in moments:
        for what, name, place, data in calls[at:moment]:
            match what:
                case "told":
                    told.append(name)
                case "write":
                    disk.write(name, place, data)
                case "sync":
                    disk.sync(name)
                case "remove":
                    disk.remove(name)
        at = moment
        here = folder / "cut"
        here.mkdir()
        for name, content in disk.cut(rng).items():
            if not name.endswith("-shm"):  # the memory that programs share is gone with the power
                (here / name).write_bytes(content)
        counts[_after(here / "book.sqlite3", told)] += 1
        shutil.rmtree(here)
    return counts


def _after(path: Path, told: list[str]) -> str:
    """`whole`, `lost` or `damaged`."""
    try:
        with Casebook(path, create=False) as book:
            if book.engine.run("PRAGMA integrity_check") != [("ok",)] or verify(book.engine).faults:
                return "damaged"
            there = {head.name: head.seq for head in book.all_cases()}
    except CasebookError:
        return "damaged"
    for name, seq in (one.split(" ") for one in told):
        if there.get(name, 0) < int(seq):
            return "lost"
    return "whole"


def run(times: int, entries: int, seed: int) -> Iterator[str]:
    """The cuts as the program is, then the controls; a line for each. AssertionError where it is not as it must be."""
    for setting in ("FULL", "NORMAL", "OFF"):
        with tempfile.TemporaryDirectory() as text:
            folder = Path(text)
            calls = watched(folder, setting, entries)
            counts = cut(calls, times, random.Random(seed), folder)
        told = sum(call[0] == "told" for call in calls)
        what = "as the program is" if setting == "FULL" else f"control, synchronous {setting}"
        yield (
            f"{times} power cuts over {told} entries, {what}: {counts['lost']} lost entries that were told as recorded,"
            f" {counts['damaged']} left a damaged file"
        )
        assert (counts["lost"] + counts["damaged"] == 0) is (setting == "FULL"), setting


def main() -> None:
    parser = argparse.ArgumentParser(description="Cut the power of a casebook and look whether anything is lost.")
    parser.add_argument("--times", type=int, default=1000)
    parser.add_argument("--entries", type=int, default=200)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--play", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--setting", default="FULL", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.play:
        play(asked.play, asked.setting, asked.entries)
        return
    for text in run(asked.times, asked.entries, asked.seed):
        print(text, flush=True)


if __name__ == "__main__":
    main()
