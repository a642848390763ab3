"""What a casebook of 100,000 cases reads for one thing asked, in rows and by which plan; never how long it takes."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from record.bulk import MACHINES, fill, name_of
from record.conftest import empty
from record.entries import START, lock, note, opening
from record.server import Server

from diag.record.casebook import Casebook

pytestmark = pytest.mark.slow
FEW, MANY = 1_000, 100_000
LARGE = ("head", "event", "touch", "text", "said", "rest")
"""Tables that grow with the cases, and that nothing here may go through."""
_NAMES = count()

Ask = Callable[[Casebook, int], object]
"""Asks something of a casebook of so many cases."""

ASKED: dict[str, tuple[Ask, int]] = {
    "a case": (lambda book, n: book.case(name_of(n // 2)), 20),
    "its entries": (lambda book, n: book.entries(name_of(n // 2)), 40),
    "how far it is": (lambda book, n: book.place(name_of(n // 2)), 10),
    "an open case with what others did": (lambda book, n: book.stream(name_of(n)), 80 + 20 * 6),
    "a page of cases": (lambda book, n: book.cases(), 400),
    "a page from the middle": (lambda book, n: book.cases(before=(book.case(name_of(n // 2)).cursor)), 420),
    "open cases": (lambda book, n: book.cases(only_open=True), 400),
    "the last cases of a machine": (lambda book, n: book.cases(machine="m7", limit=20), 250),
    "its open cases": (lambda book, n: book.cases(machine="m150", only_open=True), 250),
    "the last cases of a cause": (lambda book, n: book.cases(cause="cause-7", limit=20), 250),
    "the locks of a machine": (lambda book, n: book.locks("m150"), 10),
    "the dangers of a machine": (lambda book, n: book.dangers("m7"), 0),
    "the resets of a machine": (lambda book, n: book.resets("m7", START), 0),
    "a word that is rare": (lambda book, n: book.search(f"rare{n // 2}"), 20_000 + 150),
    "a word that all cases have": (lambda book, n: book.search("bang"), 20_000 + 400),
    "a note": (lambda book, n: _noted(book, name_of(n)), 120),
    "a lock": (lambda book, n: _locked(book, name_of(n)), 150),
    "a new case": (lambda book, n: book.begin(iter([f"new-{next(_NAMES)}"]), "m7", [opening(machine="m7")]), 120),
}
"""Each thing asked, and the most rows that PostgreSQL may read for it of tables that grow. A word is looked for among
the newest 20,000 cases first, and the last 20 cases of a machine that are over are looked at for a later state."""


def _noted(book: Casebook, name: str) -> None:
    book.append(name, note(5_000_000), after=book.case(name).seq)


def _locked(book: Casebook, name: str) -> None:
    head = book.case(name)
    seen = book.machine_rev(head.machine)
    book.append(name, lock(5_000_000, f"q{head.seq}", machine=head.machine, seen=seen), after=head.seq)


# ------------------------------------------------------------ SQLite


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Casebook, Casebook]]:
    folder = tmp_path_factory.mktemp("growth")
    for number in (FEW, MANY):
        fill(folder / f"{number}.sqlite3", number)
    with Casebook(folder / f"{FEW}.sqlite3") as few, Casebook(folder / f"{MANY}.sqlite3") as many:
        yield few, many


@pytest.mark.parametrize("what", ASKED)
def test_sqlite_takes_no_more_steps_for_100_times_the_cases(files: tuple[Casebook, Casebook], what: str) -> None:
    """Steps of SQLite's own machine: some for each row that is read."""
    ask, _ = ASKED[what]
    few, many = steps(files[0], lambda: ask(files[0], FEW)), steps(files[1], lambda: ask(files[1], MANY))
    assert 0 < many <= 1.5 * few + 300, f"{few} steps with {FEW} cases, {many} with {MANY}"


@pytest.mark.parametrize("what", ASKED)
def test_sqlite_goes_through_no_table_that_grows(files: tuple[Casebook, Casebook], what: str) -> None:
    book = files[1]
    said: set[str] = set()
    asked = list[tuple[str, Any]]()
    with watched(book, lambda statement, values: asked.append((statement, values))):
        ASKED[what][0](book, MANY)
    engine: Any = book.engine
    for statement, values in asked:
        if not statement.startswith(("BEGIN", "COMMIT", "PRAGMA")):
            plan = engine._read.execute(f"EXPLAIN QUERY PLAN {statement.replace('{lock}', '')}", values or {})
            said |= {row[3] for row in plan}
    assert said
    bad = [line for line in said if line.startswith("SCAN") and line.split(" ")[1] in (*LARGE, "h", "e", "t", "x")]
    assert not [line for line in bad if "VIRTUAL TABLE" not in line and "USING" not in line], bad


def steps(book: Casebook, ask: Callable[[], object]) -> int:
    found = [0]

    def step() -> int:
        found[0] += 1
        return 0

    engine: Any = book.engine
    for db in (engine._db, engine._read):
        db.set_progress_handler(step, 1)
    try:
        ask()
    finally:
        for db in (engine._db, engine._read):
            db.set_progress_handler(None, 0)
    return found[0]


@contextmanager
def watched(book: Casebook, tell: Callable[[str, Any], object]) -> Iterator[None]:
    engine: Any = book.engine
    run = engine.run

    def told(statement: str, values: Any = None) -> Any:
        tell(statement, values)
        return run(statement, values)

    engine.run = told
    try:
        yield
    finally:
        engine.run = run


# ------------------------------------------------------------ PostgreSQL


@pytest.fixture(scope="module")
def database(server: Server) -> Iterator[Casebook]:
    empty(server.address())
    fill(server.address(), MANY)
    with Casebook(server.address()) as book:
        yield book


@pytest.mark.parametrize("what", ASKED)
def test_postgresql_reads_few_rows_and_by_an_index(database: Casebook, what: str) -> None:
    ask, most = ASKED[what]
    rows = list[int]()
    engine: Any = database.engine

    def explained(statement: str, values: Any) -> None:
        if not statement.lstrip().startswith("SELECT"):
            return
        writing = engine._writer_thread is not None
        db = engine._write_db if writing else engine._reader()
        text = "EXPLAIN (ANALYZE, FORMAT JSON) " + engine._own(statement)
        ((plan,),) = db.execute(text, values or {}).fetchall()
        for node in nodes((plan if isinstance(plan, list) else json.loads(plan))[0]["Plan"]):
            if "Scan" in node["Node Type"]:
                seen = node["Actual Rows"] + node.get("Rows Removed by Filter", 0)
                table = node.get("Relation Name", "")
                rows.append(round(seen * node["Actual Loops"]) if table in LARGE else 0)
                assert node["Node Type"] != "Seq Scan" or table not in LARGE, f"{table}: {statement}"

    with watched(database, explained):
        ask(database, MANY)
    assert rows
    assert sum(rows) <= most, f"{sum(rows)} rows read, at most {most} expected"


def nodes(plan: dict[str, Any]) -> Iterator[dict[str, Any]]:
    yield plan
    for one in plan.get("Plans", ()):
        yield from nodes(one)


def test_the_bulk_is_as_the_casebook_would_write_it(files: tuple[Casebook, Casebook], tmp_path: Path) -> None:
    for book, number in zip(files, (FEW, MANY), strict=True):
        assert book.count() >= number
        head = book.case(name_of(number // 2))
        entries = book.entries(head.name)
        assert [e.kind for e in entries] == ["opened", "took-over", "gate", "noted", "closed"]
        assert entries[3].body == {"text": f"a bang in case {number // 2}"}
        assert entries[0].who.startswith("Person ")
        stream = book.stream(name_of(number // 2))
        first = next(n for n, e in enumerate(stream.entries) if e.case == head.name)
        assert (first, stream.carried) == (0, "{}" if number // 2 > MACHINES else ""), "from the last rest"
