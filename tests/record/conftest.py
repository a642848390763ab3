"""Casebooks of both kinds: a file, and a database of a server that is started for the run."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from record.server import Server, available

from diag.record.casebook import Casebook

Open = Callable[..., Casebook]

KINDS = ("sqlite", "postgres")

OTHERS_OFF = """SELECT pg_terminate_backend(pid) FROM pg_stat_activity
  WHERE pid <> pg_backend_pid() AND datname = current_database()"""


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    if importlib.util.find_spec("psycopg") is None or not available():
        pytest.skip("PostgreSQL or psycopg is not there")
    with Server() as running:
        yield running


def empty(address: str) -> None:
    """Takes our tables out of a database, and everybody off it."""
    import psycopg

    with psycopg.connect(address, autocommit=True) as db:
        db.execute(OTHERS_OFF)
        db.execute("DROP SCHEMA IF EXISTS diag CASCADE")


@pytest.fixture
def plant(server: Server) -> str:
    """The address of an empty database."""
    empty(server.address())
    return server.address()


@pytest.fixture(params=KINDS)
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    """Where a casebook can be made: a file, then a database."""
    if request.param == "sqlite":
        return tmp_path / "book.sqlite3"
    found: str = request.getfixturevalue("plant")
    return found


@pytest.fixture
def open_book(place: Path | str) -> Iterator[Open]:
    """Opens the casebook once more, as another terminal would."""
    books: list[Casebook] = []

    def opened(**options: object) -> Casebook:
        books.append(Casebook(place, **options))  # type: ignore[arg-type]
        return books[-1]

    yield opened
    for book in books:
        book.close()


@pytest.fixture
def book(open_book: Open) -> Casebook:
    return open_book()
