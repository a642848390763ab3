"""Whether what was recorded still stands: each way to alter a casebook, and what names it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from record.conftest import Open
from record.entries import START, add, begin, derive, ending, lock, note
from record.tampering import damage, put_right, seal_anew

from diag.record.casebook import Casebook
from diag.record.digest import shown
from diag.record.entry import DangerOn, Derived, NewEntry, ResetDone
from diag.record.errors import CasebookError, Contradicts
from diag.record.verify.verifying import Verified, verify

DAY = 24 * 60
BOB = "SELECT who FROM event WHERE no = 2 AND seq = 2"


@pytest.fixture
def filled(book: Casebook) -> Casebook:
    """Three cases in two days, so that the first day is sealed."""
    first = begin(book, note(1), lock(2), note(3))
    begin(book, note(5, "another bang", "Bob"), note(6))
    third = begin(book, note(DAY + 1, "on the next day"), minute=DAY)
    add(book, first, note(DAY + 2), note(DAY + 3))
    add(book, third, ending(DAY + 9))
    return book


def number(book: Casebook, letter: str) -> int:
    """Of a case in its tables. A database leaves numbers out."""
    ((found,),) = book.engine.run("SELECT no FROM head WHERE born = :born", {"born": f"1125-{letter}"})
    return int(found)


def said(found: Verified) -> str:
    return "\n".join(fault.text for fault in found.faults)


def test_a_sound_casebook_has_no_fault(filled: Casebook) -> None:
    found = verify(filled.engine, derive=derive)
    assert (found.cases, found.entries, found.seals, found.faults, found.remarks) == (3, 12, 1, (), ())
    assert len(found.last_seal.replace(" ", "")) == 16


@pytest.mark.parametrize(
    ("statement", "names"),
    [
        ("UPDATE event SET body = '{}' WHERE no = 1 AND seq = 2", "Entry 2 of case 1125-a was replaced"),
        ("UPDATE event SET kind = 'x' WHERE no = 1 AND seq = 6", "Entry 6 of case 1125-a was replaced"),
        ("UPDATE event SET at = at + 1 WHERE no = 2 AND seq = 3", "Entry 3 of case 1125-b was replaced"),
        (f"UPDATE event SET who = ({BOB}) WHERE no = 2 AND seq = 1", "Entry 1 of case 1125-b was replaced, or its"),
        ("UPDATE event SET stamp = '{}' WHERE no = 3 AND seq = 1", "Entry 1 of case 1125-c was replaced"),
        ("DELETE FROM event WHERE no = 1 AND seq = 3", "Entry 3 of case 1125-a was taken out"),
        ("DELETE FROM event WHERE no = 1 AND seq = 6", "Entry 6 of case 1125-a was taken out"),
        ("DELETE FROM event WHERE no = 2 AND seq = 1", "Entry 1 of case 1125-b was taken out"),
        ("UPDATE person SET name = 'Eve' WHERE name = 'Bob'", "at entry 2 of case 1125-b was changed"),
        ("UPDATE person SET account = 'root' WHERE name = 'Bob'", "at entry 2 of case 1125-b was changed"),
        ("DELETE FROM person WHERE name = 'Bob'", "at entry 2 of case 1125-b was taken out"),
        ("UPDATE text SET words = 'no' WHERE no = 2 AND seq = 2", "The words of entry 2 of case 1125-b were changed"),
        ("DELETE FROM text WHERE no = 2 AND seq = 2", "Words of entry 2 of case 1125-b were taken out"),
        ("UPDATE head SET machine = 'press' WHERE no = 2", "Entry 1 of case 1125-b was replaced"),
        ("UPDATE head SET name = '1125-x' WHERE no = 2", "Case 1125-x was opened as 1125-b"),
        ("UPDATE head SET seq = 9 WHERE no = 2", "Entry 4 of case 1125-b was taken out"),
        ("DELETE FROM head WHERE no = 2", "The head of the case with number"),
    ],
)  # fmt: skip
def test_the_chain_names_what_was_altered(filled: Casebook, statement: str, names: str) -> None:
    damage(filled, re.sub(r"(?<=no = )\d", lambda found: str(number(filled, "_abc"[int(found[0])])), statement))
    found = verify(filled.engine)
    assert names in said(found)
    assert any(fault.by == "chain" for fault in found.faults)


def test_an_entry_replaced_with_a_digest_of_its_own_is_named(filled: Casebook) -> None:
    no = number(filled, "a")
    damage(filled, f"UPDATE event SET body = '{{}}' WHERE no = {no} AND seq = 3")
    put_right(filled, no, 3, only=True)
    assert "Entry 4 of case 1125-a" in said(verify(filled.engine))


def cut_the_end(book: Casebook) -> None:
    no = number(book, "b")
    for table in ("event", "text"):
        damage(book, f"DELETE FROM {table} WHERE no = {no} AND seq = 3")
    last = f"(SELECT digest FROM event WHERE no = {no} AND seq = 2)"
    damage(book, f"UPDATE head SET seq = 2, digest = {last} WHERE no = {no}")
    damage(book, f"UPDATE head SET last = (SELECT MAX(at) FROM event WHERE no = {no}) WHERE no = {no}")


def make_anew(book: Casebook) -> None:
    no = number(book, "b")
    damage(book, f"UPDATE event SET kind = 'x' WHERE no = {no} AND seq = 2")
    put_right(book, no, 2)


def take_out(book: Casebook) -> None:
    no = number(book, "b")
    for table in ("event", "text", "touch", "lock_on", "head"):
        damage(book, f"DELETE FROM {table} WHERE no = {no}")


@pytest.mark.parametrize(
    ("alter", "names"),
    [
        (cut_the_end, "Entries of case 1125-b were cut off: seal 1 holds 3 of them"),
        (make_anew, "The entries of case 1125-b were made anew up to entry 3, which seal 1 holds otherwise"),
        (take_out, "Case 1125-b was taken out: seal 1 holds 3 entries of it"),
    ],
)
def test_the_seal_names_what_no_chain_can_show(filled: Casebook, alter: Callable[[Casebook], None], names: str) -> None:
    alter(filled)
    found = verify(filled.engine)
    assert names in said(found)
    by = {fault.by for fault in found.faults if "What had number 2 among the cases" not in fault.text}
    assert by == {"seal"}, "the chain alone finds nothing"


@pytest.mark.parametrize("alter", [cut_the_end, make_anew, take_out])
def test_digits_kept_outside_show_it_when_the_seals_are_made_anew_too(
    filled: Casebook, alter: Callable[[Casebook], None]
) -> None:
    of_case, seal = shown(filled.case("1125-b").digest), verify(filled.engine).last_seal
    assert verify(filled.engine, [of_case, seal, f"1125-b 3 {of_case}", f"seal 1 {seal}"]).digits == 4
    alter(filled)
    seal_anew(filled)
    if (
        filled.engine.dialect == "sqlite" and alter is take_out
    ):  # it leaves a number out; whoever knows can put it right
        for table in ("text", "touch", "lock_on", "event", "sealed", "head"):
            damage(filled, f"UPDATE {table} SET no = no - 1 WHERE no > 2")
    assert verify(filled.engine, derive=derive).faults == ()
    for digits in (of_case, seal, f"1125-b 3 {of_case.replace(' ', '')}"):
        found = verify(filled.engine, [digits])
        assert [fault.by for fault in found.faults] == ["digits"]
        assert digits in said(found)


def test_digits_of_another_entry_are_not_taken_for_these(filled: Casebook) -> None:
    digits = shown(filled.case("1125-b").digest)
    assert verify(filled.engine, [f"1125-b 2 {digits}"]).faults
    assert verify(filled.engine, [f"1125-a 3 {digits}"]).faults
    assert not verify(filled.engine, [f"1125-b 3 {digits.upper()}"]).faults


@pytest.mark.parametrize("digits", ["", "12ab", "xyz0 0000 0000 0000", "1125-a 3", "0123456789abcde"])
def test_what_are_no_digits_is_said(filled: Casebook, digits: str) -> None:
    with pytest.raises(ValueError, match="16 digits"):
        verify(filled.engine, [digits])


@pytest.mark.parametrize(
    ("statement", "names"),
    [
        ("UPDATE seal SET at = at + 1", "Seal 1 of 2026-11-26 does not hold what it was made of"),
        ("UPDATE sealed SET seq = seq - 1 WHERE no = 2", "Seal 1 of 2026-11-26 does not hold what it was made of"),
        ("DELETE FROM sealed WHERE no = 2", "Seal 1 of 2026-11-26 does not hold what it was made of"),
    ],
)
def test_a_seal_that_was_altered_is_named(filled: Casebook, statement: str, names: str) -> None:
    damage(filled, statement.replace("no = 2", f"no = {number(filled, 'b')}"))
    assert names in said(verify(filled.engine))


def test_a_seal_that_was_taken_out_is_named(filled: Casebook) -> None:
    add(filled, "1125-b", note(3 * DAY))
    assert verify(filled.engine).seals == 2
    damage(filled, "DELETE FROM seal WHERE number = 1")
    assert "Seal 1 was taken out" in said(verify(filled.engine))


def test_each_day_with_entries_is_sealed_once(filled: Casebook, open_book: Open) -> None:
    other = open_book()
    for minute in (2 * DAY, 2 * DAY + 1, DAY + 5, 5 * DAY, 5 * DAY - 1, 5 * DAY + 1):
        add(other, "1125-b", note(minute))
    assert verify(filled.engine).seals == 3
    rows = filled.engine.run("SELECT number, id, seq FROM sealed ORDER BY number, no")
    assert [row[0] for row in rows] == [1, 1, 2, 2, 3] or [row[0] for row in rows] == [1, 1, 2, 2, 2, 3]


def test_a_clock_that_ran_backwards_is_a_remark_and_no_fault(book: Casebook) -> None:
    case = begin(book, note(10))
    for back in (timedelta(seconds=1), timedelta(hours=1)):
        add(book, case, NewEntry(START + timedelta(minutes=10) - back, "Ann", "x", {}))
    found = verify(book.engine)
    assert found.faults == ()
    assert len(found.remarks) == 2
    assert "1.0 s earlier" in found.remarks[0]
    assert "set back" not in found.remarks[0]
    assert "the clock was set back" in found.remarks[1]


def test_a_casebook_without_cases_verifies(place: Path | str, book: Casebook) -> None:
    assert verify(book.engine) == Verified(0, 0, 0, 0, (), (), "")
    assert place


# ------------------------------------------------------------ what is kept beside the entries


def standing(minute: int, kind: str, body: dict[str, str], derived: Derived) -> NewEntry:
    return NewEntry(START + timedelta(minutes=minute), "Ann", kind, body, derived=derived, touches={"mixer": None})


@pytest.fixture
def stood(book: Casebook) -> Casebook:
    """A case that came to rest, and one of the next day with a lock, a danger sign and a reset."""
    case = begin(book, standing(1, "rested", {}, Derived(rest='{"form":1}')))
    add(book, case, ending(9))
    danger = standing(DAY + 3, "danger", {"sign": "smoke"}, Derived(dangers=(DangerOn("mixer", "smoke"),)))
    reset = standing(DAY + 4, "reset", {"reset": "panel"}, Derived(resets=(ResetDone("mixer", "panel"),)))
    begin(book, lock(DAY + 2), danger, reset, note(DAY + 5), minute=DAY + 1)
    return book


def test_a_casebook_in_which_something_stands_has_no_fault(stood: Casebook) -> None:
    found = verify(stood.engine, derive=derive)
    assert (found.faults, found.remarks, found.seals) == ((), (), 1)
    stood.check("mixer")
    assert len(stood.stream("1125-b").entries) == 5, "it begins at the rest"


NO_CASE = "no = (SELECT no FROM head WHERE born = '1125-b')"


@pytest.mark.parametrize(
    ("statement", "names", "refused"),
    [
        ("DELETE FROM touch WHERE rev = 2", "Entry 2 of case 1125-b is missing in the list of what touched", True),
        ("DELETE FROM touch WHERE rev = 4", "Entry 4 of case 1125-b is missing in the list of what touched", True),
        ("DELETE FROM touch", "Entry 3 of case 1125-b is missing in the list of what touched mixer", True),
        ("DROP TABLE touch", "The table touch was taken out", True),
        ("UPDATE touch SET rev = 9 WHERE rev = 4", "names an entry at state 9 that did not", True),
        ("UPDATE machine SET rev = 0", "The state of mixer is 4 by its entries, and 0 in the list", True),
        ("UPDATE machine SET rev = 7", "The state of mixer is 4 by its entries, and 7 in the list", True),
        ("DELETE FROM machine", "The state of mixer is 4 by its entries, and none in the list", True),
        ("DROP TABLE machine", "The table machine was taken out", True),
        ("DELETE FROM lock_on", "The lock q1 of mixer, of entry 2 of case 1125-b, is missing", True),
        ("UPDATE lock_on SET point = 'q2'", "The lock q2 of mixer stands among the locks that are on, and no", True),
        ("UPDATE lock_on SET at = at + 1", "The lock q1 of mixer, of entry 2 of case 1125-b, stands with", True),
        ("DROP TABLE lock_on", "The table lock_on was taken out", True),
        ("DELETE FROM danger_on", "The danger sign smoke of mixer, of entry 3 of case 1125-b, is missing", True),
        ("UPDATE danger_on SET sign = 'x'", "The danger sign x of mixer stands among the danger signs, and no", True),
        ("DELETE FROM reset_done", "The resets of mixer do not say of panel what case 1125-b says at entry 4", False),
        ("UPDATE reset_done SET mistaken = 1", "The resets of mixer do not say of panel what case 1125-b", False),
        ("UPDATE rest SET carried = '{}'", "What mixer carries on from its rest at state 1 is not what", False),
        ("UPDATE rest SET rev = 4", "What mixer carries on from its rest at state 4 is not what", False),
        (f"UPDATE head SET over = 1 WHERE {NO_CASE}", "has case 1125-b over, its entries not", False),
        (f"UPDATE head SET who = 'x' WHERE {NO_CASE}", "has the person of case 1125-b otherwise", False),
        (f"UPDATE head SET ended = 'x' WHERE {NO_CASE}", "has the end of case 1125-b otherwise", False),
        (f"UPDATE head SET cause = 'x' WHERE {NO_CASE}", "has the cause of case 1125-b otherwise", False),
        (f"UPDATE head SET remedy = 'x' WHERE {NO_CASE}", "has the remedy of case 1125-b otherwise", False),
        (f"UPDATE head SET minutes = 9 WHERE {NO_CASE}", "has the minutes of case 1125-b otherwise", False),
        (f"UPDATE head SET opened = 0 WHERE {NO_CASE}", "has case 1125-b begin or go on at another time", False),
        (f"UPDATE head SET last = 0 WHERE {NO_CASE}", "has case 1125-b begin or go on at another time", False),
        (f"UPDATE head SET name = '1125-b.2' WHERE {NO_CASE}", "Case 1125-b.2 was opened as 1125-b", False),
        ("DELETE FROM seal", "Seal 1 was taken out", False),
        ("UPDATE head SET sealed = 0", "Case 1125-a is marked as sealed up to entry 0, and the seals hold 3", False),
        ("UPDATE head SET sealed = 99", "Case 1125-b is marked as sealed up to entry 99, and the seals hold 0", False),
        ("UPDATE book SET day = 0", "Entry 5 of case 1125-b, of 2026-11-26, is under no seal", False),
        ("UPDATE book SET day = 99999", "Entry 5 of case 1125-b, of 2026-11-26, is under no seal", False),
        ("DELETE FROM book", "The casebook's day was taken out", False),
        ("INSERT INTO forgotten SELECT mark, 0 FROM person", "is said to be forgotten, and is there", False),
        ("INSERT INTO forgotten SELECT mark, 0 FROM text", "Words of entry 5 of case 1125-b are said to be", False),
        ("UPDATE text SET seq = 4", "Words stand at entry 4 of case 1125-b that are not its own", False),
    ],
)  # fmt: skip
def test_what_is_kept_beside_the_entries_is_held_against_them(
    stood: Casebook, statement: str, names: str, refused: bool
) -> None:
    damage(stood, statement)
    assert names in said(verify(stood.engine, derive=derive))
    if refused:
        with pytest.raises(CasebookError):
            stood.check("mixer")
    if refused and not re.search("lock_on|danger_on", statement):
        with pytest.raises(CasebookError):
            stood.stream("1125-b")


def test_seals_that_are_all_gone_are_missed(stood: Casebook) -> None:
    """By all that is older than a day before the day that goes on: a clock may be a day behind another's."""
    add(stood, "1125-b", note(3 * DAY))
    for statement in ("DELETE FROM seal", "DELETE FROM sealed", "UPDATE head SET sealed = 0"):
        damage(stood, statement)
    assert "of 2026-11-25, is under no seal" in said(verify(stood.engine, derive=derive))


def test_a_rest_that_no_entry_said_hides_nothing(stood: Casebook) -> None:
    damage(stood, "UPDATE rest SET carried = '{}'")
    found = stood.stream("1125-b")
    assert (found.carried, len(found.entries)) == ("", 6), "all that touched the machine counts"


def test_the_last_touch_taken_out_everywhere_is_seen_by_the_stamps(stood: Casebook) -> None:
    damage(stood, "DELETE FROM touch WHERE rev > 1")
    damage(stood, "UPDATE machine SET rev = 1")
    with pytest.raises(Contradicts, match="Run `diag cases --verify`"):
        stood.check("mixer")
    with pytest.raises(Contradicts):
        stood.stream("1125-b")
    assert "The state of mixer is 4 by its entries, and 1" in said(verify(stood.engine, derive=derive))


def test_a_day_that_was_taken_out_is_told_in_one_line(stood: Casebook) -> None:
    damage(stood, "DELETE FROM book")
    with pytest.raises(CasebookError, match="its day was taken out"):
        add(stood, "1125-b", note(DAY + 9))


def test_a_case_taken_out_of_a_file_leaves_its_number_and_its_states(stood: Casebook) -> None:
    no = number(stood, "a")
    for table in ("event", "text", "touch", "sealed", "head"):
        damage(stood, f"DELETE FROM {table} WHERE no = {no}")
    found = said(verify(stood.engine, derive=derive))
    assert "The entry that gave mixer state 1 was taken out with its case" in found
    if stood.engine.dialect == "sqlite":
        assert "What had number 1 among the cases was taken out" in found
