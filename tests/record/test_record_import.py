"""Exports that somebody else wrote: each line is held against what the program writes, and nothing is stored before."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from record.entries import add, begin, derive, ending, note

from diag.case.case import names as case_names
from diag.record.casebook import Casebook, CasebookError
from diag.record.copies.importing import NAME, import_file
from diag.record.copies.moving import export
from diag.record.digest import canonical, entry_digest, genesis, mark_of
from diag.record.entry import moment
from diag.record.forgetting import forget
from diag.record.verify.verifying import verify

AT = 1_795_575_660_000_000
ID, SALT = "0123456789abcdef" * 2, b"\1" * 16
MALLORY = mark_of(SALT, "Mallory", "")
FIRST = {"format": "diag cases", "version": 2}
OPENED = ("opened", {"machine": "mixer", "revision": "1"})
CLOSED = ("closed", {"outcome": "cured", "cause": "fuse", "to": ""})
WRITTEN = (OPENED, CLOSED)


def written(path: Path, lines: Iterable[dict[str, Any] | str]) -> Path:
    """The lines as a file whose end fits them."""
    text = "".join((one if isinstance(one, str) else json.dumps(one)) + "\n" for one in lines)
    path.write_text(text + canonical({"end": sha256(text.encode()).hexdigest()}) + "\n", encoding="utf-8")
    return path


def forged(
    events: Iterable[tuple[str, Any]] = WRITTEN, stamp: Any = None, who: str = MALLORY, **head: Any
) -> list[dict[str, Any]]:
    """A case whose every digest fits, whatever it says."""
    found = {"id": ID, "name": "1125-a", "year": 2026, "machine": "mixer", "opened": AT, "over": True} | head
    found.setdefault("born", found["name"])
    digest = genesis(found["id"], found["born"], found["year"], found["machine"])
    entries = []
    for seq, (kind, body) in enumerate(events, 1):
        columns = (AT, who, kind, canonical(stamp or {}), body if isinstance(body, str) else canonical(body))
        digest = entry_digest(digest, found["id"], seq, *columns)
        entry = dict(zip(("at", "who", "kind", "stamp", "body"), columns, strict=True))
        entries.append({"entry": {"seq": seq, **entry, "digest": digest.hex(), "texts": []}})
    found |= {"seq": len(entries), "digest": digest.hex()}
    return [{"case": found}, {"person": [MALLORY, SALT.hex(), "Mallory", ""]}, *entries]


def kept(book: Casebook) -> list[Any]:
    """All that an import could change."""
    return [book.engine.run(f"SELECT * FROM {table}") for table in ("head", "event", "person", "text", "forgotten")]


def test_what_the_program_could_have_written_is_taken(book: Casebook, tmp_path: Path) -> None:
    assert import_file(book.engine, written(tmp_path / "lines", [FIRST, *forged()]), derive).added == ("1125-a",)
    assert verify(book.engine).faults == ()
    more = forged(id="a" * 32, name="1125-a.k-7", born="1125-a", stamp={"rev": 3, "revs": {"mixer": 3}, "offset": -660})
    assert import_file(book.engine, written(tmp_path / "more", [FIRST, *more]), derive).added == ("1125-a.k-7",)


def test_the_pattern_of_names_is_that_of_new_cases() -> None:
    for name in itertools.islice(case_names(moment(AT)), 2000):
        assert NAME.fullmatch(name)


BEYOND: dict[str, list[Any]] = {
    "year of many digits": forged(year=10**30),
    "year below 0": forged(year=-5),
    "year of another time": forged(year=2027),
    "opened at another time": forged(opened=AT + 1),
    "no name": forged(name=""),
    "name with a control character": forged(name="\x1b[31mX\n/2026"),
    "name written from the right": forged(name="\u202eabc"),
    "name like an option": forged(name="--help"),
    "name like a path": forged(name="../../../etc/passwd"),
    "name of thousands of letters": forged(name="1125-" + "a" * 5000),
    "name with a year": forged(name="1125-a/2026"),
    "name of no day": forged(name="1335-a"),
    "name with a mark of its own": forged(name="1125-a.\x1b", born="1125-a"),
    "name that is a number": [{"case": forged()[0]["case"] | {"name": 5, "born": 5}}],
    "surrogate": [json.dumps(forged()[0]).replace("1125-a", "\\ud800"), *forged()[1:]],
    "machine like a path": forged([("opened", {"machine": "../etc"}), CLOSED], machine="../etc"),
    "machine with a control character": forged([("opened", {"machine": "a\x1b"}), CLOSED], machine="a\x1b"),
    "another machine": forged([("opened", {"machine": "press"}), CLOSED]),
    "no opening": forged([CLOSED]),
    "something before the opening": forged([("noted", {"text": ""}), *WRITTEN]),
    "not closed at the end": forged([*WRITTEN, ("noted", {"text": ""})]),
    "only opened": forged([OPENED]),
    "no entry": forged([]),
    "text that is not there": forged([OPENED, ("noted", {"text": {"$text": "0" * 32}}), CLOSED]),
    "person who is not there": forged([OPENED, ("joined", {"person": {"$person": "0" * 32}}), CLOSED]),
    "nobody": forged(who="0" * 32),
    "body that is no map": forged([OPENED, ("noted", []), CLOSED]),
    "body with spaces": forged([OPENED, ("noted", '{"a": 1}'), CLOSED]),
    "body with a surrogate": forged([OPENED, ("noted", '{"text":"\\ud800"}'), CLOSED]),
    "body nested deep": forged([OPENED, ("noted", "[" * 50_000), CLOSED]),
    "body that is no number": forged([OPENED, ("noted", '{"a":NaN}'), CLOSED]),
    "state number of many digits": forged(stamp={"rev": 10**30}),
    "state number that is none": forged(stamp={"rev": True}),
    "state numbers of many digits": forged(stamp={"revs": {"mixer": 10**30}}),
    "state numbers that are none": forged(stamp={"revs": [1]}),
    "clock far away": forged(stamp={"offset": 10**9}),
    "forgotten at no time": [{"forgotten": ["0" * 32, 10**30]}, *forged()],
    "forgotten before there was a casebook": [{"forgotten": ["0" * 32, -(10**18)]}, *forged()],
    "forgotten at true": [{"forgotten": ["0" * 32, True]}, *forged()],
    "forgotten mark that is none": [{"forgotten": ["x", AT]}, *forged()],
    "forgotten surrogate": ['{"forgotten":["\\ud800",1]}', *forged()],
    "forgotten and there": [{"forgotten": [MALLORY, AT]}, *forged()],
    "person with a zero byte": [{"person": [mark_of(SALT, "\0", ""), SALT.hex(), "\0", ""]}, *forged()],
    "person with a surrogate": ['{"person":["' + "0" * 32 + '","00","\\ud800",""]}', *forged()],
}


@pytest.mark.parametrize("what", BEYOND)
def test_what_the_program_cannot_have_written_is_refused_whole(book: Casebook, tmp_path: Path, what: str) -> None:
    begin(book, note(1))
    before = kept(book)
    sound = forged(id="a" * 32, name="1124-a")
    for number, lines in enumerate(([FIRST, *BEYOND[what]], [FIRST, *sound, *BEYOND[what]])):
        with pytest.raises(CasebookError) as error:
            import_file(book.engine, written(tmp_path / f"{number}", lines), derive)
        said = str(error.value)
        assert "\n" not in said
        assert said.isprintable()
        assert "Nothing was imported" in said
        assert kept(book) == before


# ------------------------------------------------------------ names, and what was forgotten


@pytest.fixture
def mine(book: Casebook, tmp_path: Path) -> Path:
    """An export of a case of Bob's that is here, and over."""
    case = begin(book, note(1, "a bang", "Bob"))
    add(book, case, ending(9))
    export(book.engine, [case], tmp_path / "mine")
    return tmp_path / "mine"


def mark(book: Casebook, name: str) -> str:
    return str(book.engine.run("SELECT mark FROM person WHERE name = :name", {"name": name})[0][0])


@pytest.mark.usefixtures("mine")
def test_nobody_is_forgotten_by_a_file_of_others(book: Casebook, tmp_path: Path) -> None:
    bob = mark(book, "Bob")
    ((text,),) = book.engine.run("SELECT mark FROM text")
    before, gone = kept(book), [{"forgotten": [bob, AT]}, {"forgotten": [text, AT]}]
    assert import_file(book.engine, written(tmp_path / "lines", [FIRST, *gone]), derive).added == ()
    assert kept(book) == before
    naming = [OPENED, ("joined", {"person": {"$person": bob}, "text": {"$text": text}}), CLOSED]
    lines = [FIRST, *gone, *forged(naming, name="1124-a")]
    assert import_file(book.engine, written(tmp_path / "naming", lines), derive).added == ("1124-a",)
    assert book.engine.run("SELECT * FROM forgotten") == []
    assert verify(book.engine).remarks == ()


def test_a_case_that_comes_again_brings_nobody_back(book: Casebook, mine: Path) -> None:
    forget(book.engine, "Bob", derive, blank=True)
    before = kept(book)
    assert import_file(book.engine, mine, derive).known == ("1125-a",)
    assert kept(book) == before
    assert book.search("Bob") == ()


def test_another_case_of_somebody_forgotten_brings_nobody_back(book: Casebook, mine: Path, tmp_path: Path) -> None:
    next_one = begin(book, note(1, "a hiss", "Bob"), note(2, "Bob knows"))
    add(book, next_one, ending(9))
    export(book.engine, ["1125-a", next_one], tmp_path / "both")
    with Casebook(tmp_path / "other.sqlite3") as other:
        import_file(other.engine, mine, derive)
        forget(other.engine, "Bob", derive)
        found = import_file(other.engine, tmp_path / "both", derive)
        assert (found.added, found.known) == ((next_one,), ("1125-a",))
        assert other.engine.run("SELECT name FROM person WHERE name = 'Bob'") == []
        assert [e.who.partition(" ")[0] for e in other.entries(next_one)] == ["Ann", "forgotten", "Ann", "Ann"]
        assert verify(other.engine).faults == ()


def test_persons_whom_no_new_case_names_stay_out(book: Casebook, tmp_path: Path) -> None:
    eve = {"person": [mark_of(SALT, "Eve", ""), SALT.hex(), "Eve", ""]}
    import_file(book.engine, written(tmp_path / "lines", [FIRST, eve, *forged()]), derive)
    assert [name for (name,) in book.engine.run("SELECT name FROM person")] == ["Mallory"]
