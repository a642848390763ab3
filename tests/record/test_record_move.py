"""Copies: a whole casebook while others write, and cases as JSON Lines."""

from __future__ import annotations

import json
import stat
import threading
from dataclasses import replace
from pathlib import Path

import pytest
from record.conftest import Open
from record.entries import add, begin, derive, ending, lock, note

from diag.record.casebook import Casebook, CasebookError
from diag.record.copies.importing import import_file
from diag.record.copies.moving import backup, export
from diag.record.forgetting import forget
from diag.record.verify.verifying import verify


@pytest.fixture
def filled(book: Casebook) -> Casebook:
    """One case that is over, with a lock that came off, and one that is open with a lock on."""
    first = begin(book, note(1, "größer", "Bob"), lock(2, "q2"))
    add(book, first, ending(9))
    begin(book, lock(3), note(4), minute=3000)
    return book


# ------------------------------------------------------------ a whole casebook


def test_a_copy_is_one_sound_file_with_everything(filled: Casebook, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite3"
    backup(filled.engine, copy)
    assert sorted(path.name for path in tmp_path.glob("copy*")) == ["copy.sqlite3"]
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    with Casebook(copy) as other:
        assert [replace(head, cursor=(0, 0)) for head in other.cases()] == [
            replace(head, cursor=(0, 0)) for head in filled.cases()
        ], "a database leaves numbers out, a file none"
        for head in filled.cases():
            assert other.entries(head.name) == filled.entries(head.name)
        assert other.locks("mixer") == filled.locks("mixer")
        assert other.machine_rev("mixer") == 2
        assert [h.name for h in other.search("grosser")] == ["1125-a"]
        assert verify(other.engine) == verify(filled.engine)
        add(other, "1125-b", note(5))
        assert verify(other.engine).faults == ()


def test_a_copy_is_whole_while_others_write(filled: Casebook, open_book: Open, tmp_path: Path) -> None:
    other, stop = open_book(), threading.Event()

    def write() -> None:
        case = begin(other)
        minute = 0
        while not stop.is_set():
            minute += 1
            add(other, case, note(minute), lock(minute))

    thread = threading.Thread(target=write)
    thread.start()
    try:
        for number in range(5):
            backup(filled.engine, tmp_path / f"copy-{number}")
    finally:
        stop.set()
        thread.join()
    counts = []
    for number in range(5):
        with Casebook(tmp_path / f"copy-{number}", only_read=True) as copy:
            found = verify(copy.engine)
            assert found.faults == ()
            counts.append(found.entries)
    assert counts == sorted(counts)


def test_a_copy_takes_no_file_s_place(filled: Casebook, tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("mine")
    with pytest.raises(CasebookError, match="is there already"):
        backup(filled.engine, tmp_path / "mine")
    assert (tmp_path / "mine").read_text() == "mine"
    with pytest.raises(CasebookError, match="There is no folder"):
        backup(filled.engine, tmp_path / "no" / "copy")


# ------------------------------------------------------------ JSON Lines


@pytest.fixture
def lines(filled: Casebook, tmp_path: Path) -> Path:
    path = tmp_path / "cases.jsonl"
    assert export(filled.engine, (), path) == 1, "the open one stays"
    return path


def test_a_case_comes_over_whole_and_moves_no_lock(filled: Casebook, lines: Path, tmp_path: Path) -> None:
    with Casebook(tmp_path / "other.sqlite3") as other:
        begin(other, lock(7, "q9", "Cem"))
        case = filled.case("1125-a")
        found = None
        with pytest.raises(CasebookError, match="Another case is called 1125-a here already"):
            found = import_file(other.engine, lines, derive)
        assert found is None
    with Casebook(tmp_path / "third.sqlite3") as other:
        other.begin(iter(["1125-x"]), "mixer", [note(1), lock(7, "q9", "Cem")])
        assert import_file(other.engine, lines, derive).added == ("1125-a",)
        assert other.entries("1125-a") == filled.entries("1125-a")
        here = other.case("1125-a")
        assert (here.id, here.digest, here.ended, here.cause) == (case.id, case.digest, "cured", "fuse")
        assert [s.what for s in other.locks("mixer")] == ["q9"]
        assert other.machine_rev("mixer") == 1
        assert [e.case for _, e in other.machine_entries("mixer")] == ["1125-x"]
        assert [h.name for h in other.search("grosser")] == ["1125-a"]
        assert verify(other.engine).faults == ()
        assert import_file(other.engine, lines, derive).known == ("1125-a",)


def test_only_cases_that_are_over_are_taken(filled: Casebook, tmp_path: Path) -> None:
    path = tmp_path / "open.jsonl"
    assert export(filled.engine, ["1125-b"], path) == 1
    with Casebook(tmp_path / "other.sqlite3") as other:
        with pytest.raises(CasebookError, match="1125-b is not over"):
            import_file(other.engine, path, derive)
        assert other.cases() == ()
        path.write_text(forged(path, "case", over=True))
        with pytest.raises(CasebookError, match="By its entries case 1125-b is not over"):
            import_file(other.engine, path, derive)
        assert other.cases() == ()


def test_a_case_that_went_on_on_both_sides_is_refused(filled: Casebook, lines: Path) -> None:
    add(filled, "1125-a", note(20))
    with pytest.raises(CasebookError, match="here already and says something else"):
        import_file(filled.engine, lines, derive)


def test_a_person_who_was_forgotten_stays_so(filled: Casebook, tmp_path: Path) -> None:
    forget(filled.engine, "Bob", derive)
    export(filled.engine, ["1125-a"], tmp_path / "lines")
    assert "Bob" not in (tmp_path / "lines").read_text(encoding="utf-8")
    with Casebook(tmp_path / "other.sqlite3") as other:
        import_file(other.engine, tmp_path / "lines", derive)
        assert other.entries("1125-a")[1].who == filled.entries("1125-a")[1].who != "Bob"
        assert verify(other.engine).faults == ()


def forged(path: Path, line: str, **values: object) -> str:
    """The file with values of the last line of a kind changed, and its end put right."""
    from hashlib import sha256

    from diag.record.digest import canonical

    found = [json.loads(text) for text in path.read_text(encoding="utf-8").splitlines()][:-1]
    last = [one for one in found if line in one][-1]
    if isinstance(last[line], dict):
        last[line] |= values
    else:
        last[line] = values["words"]
    text = "".join(canonical(one) + "\n" for one in found)
    return text + canonical({"end": sha256(text.encode()).hexdigest()}) + "\n"


@pytest.mark.parametrize(
    ("line", "values"),
    [
        ("entry", {"body": "{}"}),
        ("entry", {"at": 1_800_000_000_000_000}),
        ("entry", {"at": 0}),
        ("entry", {"seq": 3}),
        ("entry", {"who": "x"}),
        ("entry", {"digest": "00" * 32}),
        ("entry", {"texts": [["x", "00", "words"]]}),
        ("entry", {"texts": 3}),
        ("case", {"machine": "press"}),
        ("case", {"seq": 3}),
        ("case", {"id": "x"}),
        ("case", {"name": "other"}),
        ("case", {"over": 1}),
        ("case", {"opened": None}),
        ("case", {"digest": "00" * 32}),
        ("person", {"words": ["00", "00", "Eve", ""]}),
        ("person", {"words": 3}),
        ("format", {"words": "another"}),
    ],
)
def test_a_line_that_was_altered_is_named(lines: Path, tmp_path: Path, line: str, values: dict[str, object]) -> None:
    lines.write_text(forged(lines, line, **values), encoding="utf-8")
    with Casebook(tmp_path / "other.sqlite3") as other:
        with pytest.raises(CasebookError, match=r"line \d+ does not verify"):
            import_file(other.engine, lines, derive)
        assert other.cases() == ()
        assert other.engine.run("SELECT COUNT(*) FROM person") == [(0,)]


@pytest.mark.parametrize("text", ["", "\n", "{}\n", "[1]\n", "x", "\udcff", '{"format": "diag cases", "version": 2}\n'])
def test_a_file_that_is_no_export_is_one_line(book: Casebook, tmp_path: Path, text: str) -> None:
    path = tmp_path / "lines"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    with pytest.raises(CasebookError) as error:
        import_file(book.engine, path, derive)
    assert "\n" not in str(error.value)
    with pytest.raises(CasebookError, match="cannot be read"):
        import_file(book.engine, tmp_path / "none", derive)


def test_each_line_left_out_is_noticed(lines: Path, tmp_path: Path) -> None:
    whole = lines.read_text(encoding="utf-8").splitlines(keepends=True)
    with Casebook(tmp_path / "other.sqlite3") as other:
        for number in range(len(whole)):
            lines.write_text("".join(whole[:number] + whole[number + 1 :]), encoding="utf-8")
            with pytest.raises(CasebookError):
                import_file(other.engine, lines, derive)
        assert other.cases() == ()


def test_an_export_takes_no_file_s_place_and_is_its_owner_s(filled: Casebook, lines: Path) -> None:
    with pytest.raises(CasebookError, match="is there already"):
        export(filled.engine, (), lines)
    with pytest.raises(KeyError):
        export(filled.engine, ["1125-z"], lines.with_name("new"))
    assert stat.S_IMODE(lines.stat().st_mode) == 0o600
