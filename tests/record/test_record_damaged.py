"""Texts of the file that are no UTF-8 any more: they are named, and the others stand."""

from __future__ import annotations

from pathlib import Path

import pytest
from record.entries import begin, note
from record.tampering import damage

from diag.record.casebook import Casebook
from diag.record.verify.verifying import verify


@pytest.fixture
def book(tmp_path: Path) -> Casebook:
    """Two cases. PostgreSQL takes nothing that is no UTF-8."""
    found = Casebook(tmp_path / "book.sqlite3")
    begin(found, note(1, "a bang", "Bob"))
    begin(found, note(1, "a hiss"))
    return found


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE head SET name = CAST(x'ff41' AS TEXT) WHERE no = 1", "was opened as 1125-a"),
        ("UPDATE person SET name = CAST(x'ff41' AS TEXT) WHERE name = 'Bob'", "at entry 2 of case 1125-a was changed"),
        ("UPDATE event SET body = CAST(x'ff' AS TEXT) WHERE no = 1 AND seq = 2", "Entry 2 of case 1125-a was replaced"),
        ("UPDATE event SET kind = CAST(x'ff' AS TEXT) WHERE no = 1 AND seq = 2", "Entry 2 of case 1125-a was replaced"),
        (
            "UPDATE text SET words = CAST(x'ff' AS TEXT) WHERE no = 1",
            "The words of entry 2 of case 1125-a were changed",
        ),
    ],
)
@pytest.mark.parametrize("only_read", [False, True])
def test_what_is_no_utf_8_is_named_and_the_others_stand(
    book: Casebook, tmp_path: Path, statement: str, said: str, only_read: bool
) -> None:
    other = book.entries("1125-b")
    damage(book, statement)
    book.close()
    with Casebook(tmp_path / "book.sqlite3", only_read=only_read) as again:
        faults = verify(again.engine).faults
        assert faults
        assert all("1125-b" not in fault.text for fault in faults)
        assert any(said in fault.text for fault in faults)
        heads = again.all_cases()
        assert [head.id for head in heads] == [head.id for head in again.cases()]
        assert len(heads) == 2
        for head in heads:
            assert len(again.entries(head.id)) == 2
        assert again.entries("1125-b") == other
