"""Forgetting a person: nothing of the name stays in the casebook, and it still verifies."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from record.conftest import Open
from record.entries import STAMP, START, add, begin, derive, lock, note, unlock

from diag.record.casebook import Casebook, CasebookError
from diag.record.entry import Name, NewEntry, Text
from diag.record.forgetting import forget, naming
from diag.record.verify.verifying import verify

NAME = "Zacharias Quux"


@pytest.fixture
def filled(book: Casebook) -> tuple[Casebook, str]:
    """A case with entries of this person, of others about them, and of others alone; and its name."""
    case = begin(book, note(1, "Smoke", who=NAME), note(2, "told by ZACHARIAS  quux, at 3"))
    other = begin(book, NewEntry(START, "Ann", "handed", {"to": Name(NAME), "note": Text("to nobody")}, STAMP))
    add(book, other, note(5, "Zacharias Quuxton is another"))
    add(book, case, lock(3), note(4, "quiet"))
    return book, case


def test_the_name_the_account_and_the_words_go(filled: tuple[Casebook, str], place: Path | str) -> None:
    book, case = filled
    account = "plant"
    found = forget(book.engine, "zacharias quux", derive, blank=True)
    assert (found.names, found.cases, found.blanked) == ((NAME,), 2, True)
    assert [(n.case, n.seq) for n in found.naming] == [(case, 3)]
    entries = book.entries(case)
    assert entries[1].who.startswith("forgotten person ")
    assert entries[1].stamp.account == ""
    assert (entries[2].who, entries[2].body, entries[2].stamp.account) == ("Ann", {"text": "(blanked)"}, account)
    assert book.search("zacharias quux") == book.search("quux") == ()
    assert [head.name for head in book.search("smoke")] == [case], "what else was said is still found"
    assert [s.who for s in book.locks("mixer")] == ["Ann"], "locks of others stay"
    verified = verify(book.engine)
    assert verified.faults == ()
    assert any("was forgotten on 20" in remark for remark in verified.remarks)
    if isinstance(place, Path):
        book.close()
        for path in place.parent.iterdir():
            assert b"Zacharias Quux\x00" not in path.read_bytes()
            assert b"acharias quux" not in path.read_bytes().lower().replace(b"zacharias quuxton", b"")


def test_two_who_were_forgotten_stay_two(book: Casebook) -> None:
    case = begin(book, note(1, who="Eve"), note(2, who="Mallory"), note(3, who="Eve"))
    forget(book.engine, "Eve", derive)
    forget(book.engine, "Mallory", derive)
    first, second, third = [entry.who for entry in book.entries(case)[1:]]
    assert first == third != second


def test_notes_are_listed_where_they_are_not_to_be_blanked(filled: tuple[Casebook, str]) -> None:
    book, case = filled
    found = forget(book.engine, NAME, derive)
    assert [naming.words for naming in found.naming] == ["told by ZACHARIAS  quux, at 3"]
    assert book.entries(case)[2].body == {"text": "told by ZACHARIAS  quux, at 3"}
    with pytest.raises(KeyError):
        forget(book.engine, NAME, derive, blank=True)
    assert book.entries(case)[2].body == {"text": "told by ZACHARIAS  quux, at 3"}


def test_whoever_has_a_lock_on_is_not_forgotten(filled: tuple[Casebook, str]) -> None:
    book, case = filled
    with pytest.raises(CasebookError, match=r"What stands at mixer is in the name of Ann \(q1\)"):
        forget(book.engine, "Ann", derive)
    add(book, case, unlock(9))
    assert forget(book.engine, "Ann", derive).cases == 2
    assert verify(book.engine).faults == ()


@pytest.mark.parametrize("name", ["", " ", "nobody", "Zacharias", "%"])
@pytest.mark.parametrize("blank", [False, True])
def test_a_name_that_nobody_has_is_told(filled: tuple[Casebook, str], name: str, blank: bool) -> None:
    book, case = filled
    before = book.entries(case)
    with pytest.raises(KeyError):
        forget(book.engine, name, derive, blank=blank)
    with pytest.raises(KeyError):
        naming(book.engine, name)
    assert book.entries(case) == before


def test_words_that_are_nobody_s_name_blank_nothing(filled: tuple[Casebook, str]) -> None:
    book, case = filled
    for words in ("quiet", "smoke", "another", "told by", "quux", "at 3"):
        with pytest.raises(KeyError):
            forget(book.engine, words, derive, blank=True)
    assert [(entry.body or {}).get("text") for entry in book.entries(case)[1:]] == [
        "Smoke",
        "told by ZACHARIAS  quux, at 3",
        None,
        "quiet",
    ]


def test_what_is_blanked_is_what_was_told_before(book: Casebook) -> None:
    case = begin(book, note(1, "so O\u2019Brien-Lee said", "Jo O\u2019Brien-Lee"), note(2, "Jo said O'Brien"))
    add(book, case, note(3, "ask jo  O BRIEN LEE."))
    told = naming(book.engine, "jo o\u2019brien-lee")
    assert [(one.case, one.seq, one.words) for one in told] == [(case, 4, "ask jo  O BRIEN LEE.")]
    assert forget(book.engine, "jo o\u2019brien-lee", derive, blank=True).naming == told
    assert [(entry.body or {}).get("text") for entry in book.entries(case)[1:]] == [
        "so O\u2019Brien-Lee said",
        "Jo said O'Brien",
        "(blanked)",
    ]
    assert verify(book.engine).faults == ()


def test_a_name_of_signs_alone_blanks_nothing(book: Casebook) -> None:
    case = begin(book, note(1, "a - b", "-"))
    assert forget(book.engine, "-", derive, blank=True).naming == ()
    assert book.entries(case)[1].body == {"text": "a - b"}


def test_a_lock_that_comes_on_meanwhile_is_seen(
    book: Casebook, open_book: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    case, other = begin(book, note(1, who="Eve")), open_book()
    write = book.engine.write

    def later(work: Callable[[], Any], stored: Callable[[Any], bool]) -> Any:
        add(other, case, lock(2, who="Eve"))
        return write(work, stored)

    monkeypatch.setattr(book.engine, "write", later)
    with pytest.raises(CasebookError, match=r"What stands at mixer is in the name of Eve \(q1\)"):
        forget(book.engine, "Eve", derive)
    assert book.entries(case)[1].who == "Eve"


def test_a_person_who_comes_again_is_a_new_one(book: Casebook) -> None:
    case = begin(book, note(1, who="Eve"))
    forget(book.engine, "Eve", derive)
    add(book, case, note(2, who="Eve"))
    before, after = book.entries(case)[1:]
    assert before.who.startswith("forgotten person")
    assert after.who == "Eve"
    assert verify(book.engine).faults == ()
