"""Many who write at once, the race of two cases at one machine, and a database server that crashes while it records.

    python tests/record/many.py

Fifty processes write into one PostgreSQL database and ten into one SQLite file, each into a case of its own and, every
fifth time, into one that they share. Then two cases race for one machine, on both. Then the server is crashed under
twenty writers, again and again. Every entry that was told as recorded must be there once, in its place, and none that
was told as not recorded; the chains must verify.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from record.entries import begin, lock, note, opening  # noqa: E402
from record.server import Server  # noqa: E402

from diag.record.casebook import Casebook, CasebookError, Conflict, InDoubt  # noqa: E402
from diag.record.entry import Stale, Stored  # noqa: E402
from diag.record.verify.verifying import verify  # noqa: E402

Place = Path | str
SHARED = 5
"""One entry in so many goes into a shared case."""


@dataclass
class Told:
    """What one writer was told of its entries, each by its text."""

    recorded: list[tuple[str, int, str]] = field(default_factory=list)
    """Case, number and text, in the order in which it was told."""
    refused: list[str] = field(default_factory=list)
    """Said not to be recorded."""
    doubtful: list[str] = field(default_factory=list)
    """Said that nobody knows."""
    conflicts: int = 0
    looked_up: int = 0
    """Commits whose end brought an error, and that were looked for."""
    stored: int = 0
    """Those of them that were there."""


def writer(place: Place, number: int, own: str, shared: str, end: float) -> Told:
    """Writes until the end. What goes wrong is told as it was, and the next entry follows."""
    told, rng = Told(), random.Random(number)
    book = _patient(place, end)
    if book is None:
        return told
    _count_doubts(book, told)
    seqs: dict[str, int] = {}
    n = 0
    while time.time() < end:
        case = shared if rng.randrange(SHARED) == 0 else own
        n += 1
        text = f"{number}-{n}"
        try:
            if case not in seqs:
                seqs[case] = book.case(case).seq
            stored = book.append(case, note(n, text, f"Writer {number}"), after=seqs[case])
            assert isinstance(stored, Stored)
            seqs[case] = stored.seq
            told.recorded.append((case, stored.seq, text))
        except Conflict:
            told.conflicts += 1
            told.refused.append(text)
            seqs.pop(case, None)
        except InDoubt:
            told.doubtful.append(text)
            seqs.pop(case, None)
        except CasebookError:
            told.refused.append(text)
            seqs.pop(case, None)
            time.sleep(0.05)
    return told


def _patient(place: Place, end: float) -> Casebook | None:
    while time.time() < end:
        try:
            return Casebook(place)
        except CasebookError:
            time.sleep(0.1)
    return None


def _count_doubts(book: Casebook, told: Told) -> None:
    engine: Any = book.engine
    if not hasattr(engine, "_was_stored"):
        return
    ask = engine._was_stored

    def counted(stored: object) -> bool:
        told.looked_up += 1
        found: bool = ask(stored)
        told.stored += found
        return found

    engine._was_stored = counted


def racer(place: Place, case: str, point: str, rounds: int, start: float) -> tuple[int, int]:
    """Puts locks on, each time by the state number that it saw; how many were stored, and how often the machine had
    changed."""
    book, seq, stored, stale = Casebook(place), 1, 0, 0
    time.sleep(max(start - time.time(), 0))
    while stored < rounds:
        seen = book.machine_rev("mixer")
        found = book.append(case, lock(1, f"{point}{stored}", seen=seen), after=seq)
        if isinstance(found, Stale):
            stale += 1
            assert found.rev > seen
        else:
            assert found.revs == {"mixer": seen + 1}, "stored though another's entry had come in between"
            seq, stored = found.seq, stored + 1
    book.close()
    return stored, stale


def _executor(workers: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("fork"))


def many(place: Place, writers: int, seconds: float, shared: int = 5) -> str:
    """So many writers for so long; the figures in one line. AssertionError where anything is not as it was told."""
    own, shared_cases = _cases(place, writers, shared)
    end = time.time() + seconds
    with _executor(writers) as pool:
        jobs = [pool.submit(writer, place, n, own[n], shared_cases[n % shared], end) for n in range(writers)]
        told = [job.result() for job in jobs]
    counts = check(place, told)
    rate = counts["recorded"] / seconds
    return f"{writers} writers: {_line(counts)}; {rate:.0f} a second"


def race(place: Place, rounds: int) -> str:
    """Two cases put locks on at one machine, as fast as they can."""
    with Casebook(place) as book:
        cases = [begin(book) for _ in range(2)]
        before = book.machine_rev("mixer")
    start = time.time() + 1
    with _executor(2) as pool:
        jobs = [pool.submit(racer, place, case, f"q{n}-", rounds, start) for n, case in enumerate(cases)]
        found = [job.result() for job in jobs]
    with Casebook(place) as book:
        entries = book.machine_entries("mixer", before)
        assert [rev for rev, _ in entries] == list(range(before + 1, before + 2 * rounds + 1))
        assert len(book.locks("mixer")) == 2 * rounds
        assert verify(book.engine).faults == ()
    stale = sum(count for _, count in found)
    return (
        f"two cases at one machine: {2 * rounds} locks, each by the state number that was seen; {stale} times the other"
        " was first, and nothing was recorded"
    )


def crashes(server: Server, place: str, writers: int, times: int, apart: float = 3.0) -> str:
    """The server is crashed so many times under these writers."""
    own, shared = _cases(place, writers, 2)
    end = time.time() + times * (apart + 2) + 4
    with _executor(writers) as pool:
        jobs = [pool.submit(writer, place, n, own[n], shared[n % 2], end) for n in range(writers)]
        for _ in range(times):
            time.sleep(apart)
            server.stop(signal.SIGQUIT)
            server.start()
        told = [job.result() for job in jobs]
    counts = check(place, told)
    doubts = sum(t.looked_up for t in told)
    there = sum(t.stored for t in told)
    return (
        f"{times} crashes of the server under {writers} writers: {_line(counts)}; {doubts} commits ended with an error,"
        f" {there} of them were stored all the same and told so"
    )


def _cases(place: Place, writers: int, shared: int) -> tuple[list[str], list[str]]:
    with Casebook(place) as book:
        own = [book.begin(iter([f"own-{n}"]), f"m{n}", [opening(machine=f"m{n}")]) for n in range(writers)]
        return own, [book.begin(iter([f"shared-{n}"]), "mixer", [opening()]) for n in range(shared)]


def check(place: Place, told: Sequence[Told]) -> Counter[str]:
    """Whether the casebook has what was told, each once and in its place."""
    places: dict[str, list[tuple[str, int]]] = {}
    with Casebook(place) as book:
        for head in book.all_cases():
            for entry in book.entries(head.name):
                if entry.kind == "noted" and entry.body:
                    places.setdefault(entry.body["text"], []).append((head.name, entry.seq))
        faults = verify(book.engine).faults
    recorded = [one for t in told for one in t.recorded]
    counts = Counter(
        recorded=len(recorded),
        conflicts=sum(t.conflicts for t in told),
        refused=sum(len(t.refused) for t in told),
        doubtful=sum(len(t.doubtful) for t in told),
        lost=sum(places.get(text, [])[:1] != [(case, seq)] for case, seq, text in recorded),
        twice=sum(len(found) > 1 for found in places.values()),
        reordered=sum(_reordered(t) for t in told),
        untrue=sum(text in places for t in told for text in t.refused),
        broken=len(faults),
    )
    wrong = {key: counts[key] for key in ("lost", "twice", "reordered", "untrue", "broken") if counts[key]}
    assert not wrong, f"{wrong} {faults[:3]}"
    assert counts["recorded"] > 0, "nothing was recorded"
    known = {text for _, _, text in recorded} | {text for t in told for text in t.doubtful}
    assert known.issuperset(places), "an entry that nobody was told of"
    return counts


def _reordered(told: Told) -> int:
    last: dict[str, int] = {}
    found = 0
    for case, seq, _ in told.recorded:
        found += seq <= last.get(case, 0)
        last[case] = seq
    return found


def _line(counts: Counter[str]) -> str:
    return (
        f"{counts['recorded']} entries recorded, {counts['conflicts']} conflicts; lost {counts['lost']},"
        f" twice {counts['twice']}, reordered {counts['reordered']}, told untruly {counts['untrue']},"
        f" chain broken {counts['broken']}; {counts['doubtful']} left in doubt"
    )


def run(seconds: float, writers: int, files: int, rounds: int, times: int) -> Iterator[str]:
    """All of it; a line for each part."""
    with Server() as server:
        yield "PostgreSQL, " + many(server.address(), writers, seconds)
    with tempfile.TemporaryDirectory() as folder:
        yield "SQLite, " + many(Path(folder) / "many.sqlite3", files, seconds)
        yield "SQLite, " + race(Path(folder) / "race.sqlite3", rounds)
    with Server() as server:
        yield "PostgreSQL, " + race(server.address(), rounds)
    with Server() as server:
        yield "PostgreSQL, " + crashes(server, server.address(), max(writers * 2 // 5, 2), times)


def main() -> None:
    parser = argparse.ArgumentParser(description="Many writers, a race for one machine, and a server that crashes.")
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--writers", type=int, default=50, help="into PostgreSQL")
    parser.add_argument("--files", type=int, default=10, help="writers into one SQLite file")
    parser.add_argument("--rounds", type=int, default=500, help="locks of each case in the race")
    parser.add_argument("--times", type=int, default=5, help="crashes of the server")
    asked = parser.parse_args()
    for text in run(asked.seconds, asked.writers, asked.files, asked.rounds, asked.times):
        print(text, flush=True)


if __name__ == "__main__":
    main()
