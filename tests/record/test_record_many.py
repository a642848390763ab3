"""A sample of many who write at once; the whole is `python tests/record/many.py`."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path

import pytest
from record import many
from record.server import Server, available

Record = Callable[[str, object], None]


def test_many_who_write_at_once_lose_nothing(place: Path | str, record_property: Record) -> None:
    record_property("figure", many.many(place, writers=4, seconds=1.5, shared=2))


def test_of_two_cases_at_one_machine_one_is_told_to_look_again(place: Path | str, record_property: Record) -> None:
    record_property("figure", many.race(place, rounds=20))


@pytest.mark.skipif(
    importlib.util.find_spec("psycopg") is None or not available(), reason="PostgreSQL or psycopg is not there"
)
def test_a_server_that_crashes_leaves_nothing_told_untruly(record_property: Record) -> None:
    with Server() as server:
        record_property("figure", many.crashes(server, server.address(), writers=3, times=1, apart=1.0))


def test_what_is_told_untruly_is_found(place: Path | str) -> None:
    """The check itself: an entry that was told and is not there, and one that is there though it was refused."""
    from record.entries import add, begin, note

    from diag.record.casebook import Casebook

    with Casebook(place) as book:
        case = begin(book)
        add(book, case, note(1, "there"))
    many.check(place, [many.Told(recorded=[(case, 2, "there")])])
    for told, what in (
        (many.Told(recorded=[(case, 2, "there"), (case, 3, "gone")]), "lost"),
        (many.Told(recorded=[(case, 3, "there")]), "lost"),
        (many.Told(recorded=[(case, 2, "there")], refused=["there"]), "untrue"),
    ):
        with pytest.raises(AssertionError, match=what):
            many.check(place, [told])
