"""What goes in comes out, and what follows from it stands beside it: the same on a file and on a database."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone

import pytest
from record.conftest import Open
from record.entries import STAMP, START, add, begin, derive, ending, lock, names, note, unlock
from record.tampering import damage

from diag.record.casebook import Casebook, CasebookError, Conflict
from diag.record.entry import DangerOn, Derived, LockOn, Name, NewEntry, ResetDone, Stale, Stamp, Stored, Text


def test_an_entry_comes_out_as_it_went_in(book: Casebook, open_book: Open) -> None:
    body = {"text": Text("Hörte einen Knall — 電"), "by": Name("Bob"), "seen": {"lit": 0.25}, "none": [None, True, 3]}
    at = datetime(2026, 11, 25, 4, 30, 0, 123456, tzinfo=timezone(timedelta(hours=1)))
    case = begin(book, NewEntry(at, "Ann", "found", body, STAMP))
    first, found = open_book().entries(case)
    assert (found.case, found.seq, found.at, found.who, found.kind) == (case, 2, at, "Ann", "found")
    assert found.body == {"text": "Hörte einen Knall — 電", "by": "Bob", "seen": {"lit": 0.25}, "none": [None, True, 3]}
    assert found.stamp == STAMP
    assert first.kind == "opened"
    assert len(found.digest) == 32
    assert book.entries(case, after=1) == (found,)
    assert book.entries(case, after=2) == ()


def test_a_name_and_a_text_stand_apart_from_the_entry(book: Casebook) -> None:
    case = begin(book, note(1, "Smith saw smoke", who="Ann Smith"))
    rows = book.engine.run("SELECT who, stamp, body FROM event")
    assert len(book.entries(case)) == len(rows) == 2
    assert not any("Ann" in word or "smoke" in word or "plant" in word for row in rows for word in row)


def test_names_are_unique_in_a_year_and_the_newest_is_meant(book: Casebook) -> None:
    assert [begin(book), begin(book)] == ["1125-a", "1125-b"]
    later = NewEntry(START.replace(year=2027), "Ann", "opened", {}, STAMP)
    assert book.begin(names(), "press", [later]) == "1125-a"
    assert book.case("1125-a").machine == "press"
    assert book.case("1125-a/2026").machine == "mixer"
    assert [head.name for head in book.cases()] == ["1125-a", "1125-b", "1125-a/2026"]
    for wrong in ("1125-c", "1125-a/1999", "1125-a/", "1125-a/x", "", "1125-a\0"):
        with pytest.raises(KeyError):
            book.case(wrong)
    with pytest.raises(CasebookError, match="No case name is free"):
        book.begin(iter(["1125-a"]), "press", [later])


def test_the_second_who_adds_at_the_same_place_is_told(book: Casebook, open_book: Open) -> None:
    case = begin(book)
    assert isinstance(open_book().append(case, note(1, "theirs"), after=1), Stored)
    for after in (1, 0, 7):
        with pytest.raises(Conflict, match="Somebody else has added"):
            book.append(case, [note(2, "ours"), note(3, "ours too")], after=after)
    assert [entry.body for entry in book.entries(case, 1)] == [{"text": "theirs"}]
    assert book.append(case, note(2, "ours"), after=2) == Stored(3, book.entries(case)[-1].digest, 0, {})


def test_several_entries_are_stored_all_or_none(book: Casebook) -> None:
    case = begin(book)
    with pytest.raises(ValueError, match="kept apart"):
        book.append(case, [note(1), NewEntry(START, "Ann", "found", {"x": {"$text": "1"}})], after=1)
    with pytest.raises(ValueError, match="JSON"):
        book.append(case, [note(1), NewEntry(START, "Ann", "found", {"x": float("nan")})], after=1)
    assert len(book.entries(case)) == 1
    assert book.append(case, [note(1), note(2)], after=1).seq == 3  # type: ignore[union-attr]


def test_a_clock_that_cannot_be_right_is_refused_before_anything_is_stored(book: Casebook) -> None:
    case = begin(book)
    for year in (1970, 1999, 3000, 9999):
        at = datetime(year, 12, 31, 12, tzinfo=UTC)
        with pytest.raises(CasebookError, match=f"The clock says {year}.*Nothing was recorded"):
            book.append(case, NewEntry(at, "Ann", "noted", {}), after=1)
        with pytest.raises(CasebookError, match=f"The clock says {year}"):
            book.begin(names(), "mixer", [NewEntry(at, "Ann", "opened", {})])
    assert len(book.entries(case)) == 1
    assert len(book.cases()) == 1


def test_a_character_that_cannot_be_kept_is_one_line(book: Casebook) -> None:
    case = begin(book)
    with pytest.raises(CasebookError) as error:
        book.append(case, note(1, "half a character: \ud800"), after=1)
    assert "\n" not in str(error.value)
    assert len(book.entries(case)) == 1


def test_the_machine_s_state_number_guards_what_touches_it(book: Casebook, open_book: Open) -> None:
    here, there = begin(book), begin(book)
    other = open_book()
    assert book.machine_rev("mixer") == 0
    assert other.append(there, lock(1, seen=0), after=1).revs == {"mixer": 1}  # type: ignore[union-attr]
    assert book.append(here, lock(2, "q2", "Bob", seen=0), after=1) == Stale("mixer", 1)
    assert len(book.entries(here)) == 1, "nothing was recorded"
    assert [s.what for s in book.locks("mixer")] == ["q1"]
    assert isinstance(book.append(here, note(2), after=1), Stored), "a note does not touch the machine"
    assert isinstance(book.append(here, lock(3, "q2", "Bob", seen=1), after=2), Stored)
    assert isinstance(book.append(here, lock(4, "q2", "Bob"), after=3), Stored), "None is not compared"
    assert book.machine_rev("mixer") == 3
    assert book.machine_rev("press") == 0


def test_what_touched_a_machine_comes_in_the_order_of_its_state(book: Casebook) -> None:
    first, second = begin(book), begin(book)
    add(book, second, lock(5, "q2"))
    add(book, first, lock(1, "q1"), note(2), lock(3, "q3"))
    add(book, second, lock(6, "q4"))
    found = book.machine_entries("mixer")
    assert [(rev, e.case, (e.body or {})["target"]) for rev, e in found] == [
        (1, second, "q2"),
        (2, first, "q1"),
        (3, first, "q3"),
        (4, second, "q4"),
    ], "the times say otherwise, and are not asked"
    assert [dict(e.revs) for _, e in found] == [{"mixer": n} for n in (1, 2, 3, 4)]
    assert book.machine_entries("mixer", 2) == found[2:]
    assert book.machine_entries("press") == ()


def test_a_case_s_stream_has_what_others_did_in_its_place_and_is_the_same_for_all(book: Casebook) -> None:
    """By the machine's state number alone: the clock of the second terminal is an hour off."""
    first, second = begin(book), begin(book, minute=60)
    add(book, second, lock(61, "q2"))
    add(book, first, note(1, "one"))
    add(book, second, note(62, "nobody else's matter"), lock(63, "q4"))
    add(book, first, note(2, "two"), lock(3, "q3"), note(4, "three"))
    add(book, second, unlock(66, "q2"))
    words = [(e.case, (e.body or {}).get("text") or (e.body or {}).get("target")) for e in book.stream(first).entries]
    here = [(first, None), (second, "q2"), (first, "one"), (second, "q4"), (first, "two"), (first, "q3")]
    assert words == [*here, (first, "three"), (second, "q2")]
    assert [e.rev for e in book.entries(first)] == [0, 1, 2, 3, 3]
    assert book.stream(first).place == book.place(first) == (5, 4)
    there = [(e.case, e.seq) for e in book.stream(second).entries]
    assert there == [(second, 1), (second, 2), (second, 3), (second, 4), (first, 4), (second, 5)]


def test_a_case_s_stream_knows_no_other_machine(book: Casebook) -> None:
    case, other = begin(book), begin(book, machine="press")
    add(book, other, lock(1, machine="press"))
    assert [e.case for e in book.stream(case).entries] == [case]
    assert book.place(case) == (1, 0)
    with pytest.raises(KeyError):
        book.stream("none")


def test_locks_dangers_and_resets_stand_at_the_machine(book: Casebook) -> None:
    case, other = begin(book), begin(book)
    at = START + timedelta(minutes=1)
    touch = {"mixer": None}
    danger = NewEntry(at, "Bob", "danger", {}, STAMP, Derived(dangers=(DangerOn("mixer", "smoke"),)), touch)
    reset = NewEntry(at, "Bob", "reset", {}, STAMP, Derived(resets=(ResetDone("mixer", "f1"),)), touch)
    add(book, case, lock(1), danger, reset)
    add(book, other, lock(2, "q2", "Bob"))
    assert [(s.what, s.who, s.case, s.seq) for s in book.locks("mixer")] == [
        ("q1", "Ann", case, 2),
        ("q2", "Bob", other, 2),
    ]
    assert [(s.what, s.who, s.case, s.seq) for s in book.dangers("mixer")] == [("smoke", "Bob", case, 3)]
    assert [(s.what, s.who, s.at, s.mistaken) for s in book.resets("mixer", START)] == [("f1", "Bob", at, False)]
    assert book.resets("mixer", START + timedelta(minutes=2)) == ()
    assert {head.name: head.locks for head in book.cases()} == {case: (("q1", "Ann"),), other: (("q2", "Bob"),)}

    q9, smoke = LockOn("mixer", "q9", "Ann"), DangerOn("mixer", "smoke")
    taken = (ResetDone("mixer", "f1", 4, mistaken=True), ResetDone("mixer", "f1"))
    add(book, case, NewEntry(at, "Ann", "x", {}, STAMP, Derived(locked=(q9,), made_safe=(smoke,), resets=taken)))
    assert [(s.what, s.seq) for s in book.locks("mixer") if s.case == case] == [("q1", 2), ("q9", 5)], "one stood"
    assert book.dangers("mixer") == ()
    assert [(s.seq, s.mistaken) for s in book.resets("mixer", START)] == [(4, True), (5, False)]
    add(book, other, unlock(5), unlock(5, "q9"))
    assert [s.what for s in book.locks("mixer")] == ["q2"], "whichever case they come off in"


def test_a_lock_is_its_owner_s_whatever_account_they_come_by(book: Casebook) -> None:
    case = begin(book, lock(1))
    other = Stamp(account="somebody")
    add(book, case, unlock(2, who="Bob"))
    assert [(s.what, s.who) for s in book.locks("mixer")] == [("q1", "Ann")], "nobody takes off another's"
    add(book, case, unlock(3, stamp=other))
    assert book.locks("mixer") == ()
    assert [e.stamp.account for e in book.entries(case)] == ["plant", "plant", "plant", "somebody"]
    assert [e.who for e in book.entries(case)] == ["Ann", "Ann", "Bob", "Ann"]


def test_lists_come_by_page_the_latest_first(book: Casebook) -> None:
    cases = [begin(book, minute=n, machine="press" if n % 3 == 0 else "mixer") for n in range(10)]
    for n in (1, 2, 4):
        add(book, cases[n], ending(20 + n, cause="fuse" if n < 4 else "coil"))
    order = [cases[n] for n in (4, 2, 1, 9, 8, 7, 6, 5, 3, 0)]
    page = book.cases(limit=4)
    assert [head.name for head in page] == order[:4]
    assert [head.name for head in book.cases(limit=40, before=page[-1].cursor)] == order[4:]
    assert [head.name for head in book.all_cases()] == order
    assert [head.name for head in book.cases(only_open=True)] == order[3:]
    assert [head.name for head in book.cases(machine="press")] == [cases[n] for n in (9, 6, 3, 0)]
    assert [head.name for head in book.cases(machine="mixer", only_open=True)] == [cases[n] for n in (8, 7, 5)]
    assert [head.name for head in book.cases(cause="fuse")] == [cases[2], cases[1]]
    over = page[0]
    assert (over.ended, over.over, over.cause, over.minutes, over.seq, over.who) == (
        "cured",
        True,
        "coil",
        24,
        2,
        "Ann",
    )
    assert (over.opened, over.last) == (START + timedelta(minutes=4), START + timedelta(minutes=24))


def test_search_finds_words_whatever_case_and_accents(book: Casebook) -> None:
    first = begin(book, note(1, "Das Schütz -Q12.3 klebt, größer als nötig"))
    second = begin(book, note(1, "the contactor q12 sticks"))
    add(book, first, note(2, "smoke"))
    assert [h.name for h in book.search("q12")] == [second, first], "the newest first"
    assert [h.name for h in book.search("-Q12.3 KLEBT")] == [first]
    assert [h.name for h in book.search("schutz GROSSER smoke")] == [first]
    assert [h.name for h in book.search("contac*")] == [second]
    assert [h.name for h in book.search("contac")] == []
    assert [h.name for h in book.search("q12", limit=1)] == [second]
    for nothing in ("", "  ", "'", "' | q12", '" OR "', "-*"):
        assert not {h.name for h in book.search(nothing)} - {second, first}
    assert book.search("'") == book.search("*") == ()


def test_what_follows_can_be_made_anew_from_the_entries(book: Casebook) -> None:
    first = begin(book, lock(1), note(2, "smoke"))
    add(book, begin(book), lock(1, "q2", "Bob"), lock(1, "q3", "Bob"), unlock(2, "q2", "Bob"), ending(7))
    add(book, first, unlock(3, "q3", "Bob"))
    heads, locks, found = book.cases(), book.locks("mixer"), book.search("smoke")
    tables = ("lock_on", "danger_on", "reset_done", "said")
    book.engine.write(lambda: [book.engine.run(f"DELETE FROM {t}") for t in tables], lambda _: False)
    book.engine.write(
        lambda: book.engine.run("UPDATE head SET over = 0, ended = '', cause = '', who = ''"), lambda _: False
    )
    assert book.locks("mixer") == ()
    assert book.rebuild(derive) == 2
    assert (book.cases(), book.locks("mixer"), book.search("smoke")) == (heads, locks, found)


def test_an_entry_that_was_damaged_hides_no_other(book: Casebook) -> None:
    case = begin(book, note(1), note(2))
    damage(book, "UPDATE event SET body = '{', stamp = 'x' WHERE seq = 2")
    entries = book.entries(case)
    assert [entry.body for entry in entries] == [{"machine": "mixer", "revision": "1"}, None, {"text": "a bang"}]
    assert entries[1].stamp.host == ""


@pytest.mark.parametrize(
    "statement", ["UPDATE event SET body = '{}'", "DELETE FROM event", "DELETE FROM event WHERE seq = 1"]
)
def test_the_database_refuses_by_itself_what_changes_an_entry(book: Casebook, statement: str) -> None:
    case = begin(book, note(1))
    with pytest.raises(CasebookError, match="only added to"):
        book.engine.write(lambda: book.engine.run(statement), lambda _: False)
    assert len(book.entries(case)) == 2


@pytest.mark.parametrize("seq", [1, 2, 4])
def test_the_database_refuses_an_entry_out_of_its_order(book: Casebook, seq: int) -> None:
    begin(book, note(1))
    copied = f"INSERT INTO event SELECT no, {seq}, at, who, kind, stamp, body, digest, stored FROM event WHERE seq = 1"
    for statement in (copied, copied.replace("INSERT", "INSERT OR REPLACE", 1)):
        with pytest.raises(CasebookError):
            book.engine.write(lambda text=statement: book.engine.run(text), lambda _: False)  # type: ignore[misc]
    assert len(book.engine.run("SELECT 1 FROM event")) == 2


def test_a_body_is_stored_in_one_way_only(book: Casebook) -> None:
    begin(book, NewEntry(START, "Ann", "found", {"b": 1, "a": {"d": "ü", "c": []}}))
    ((body,),) = book.engine.run("SELECT body FROM event WHERE seq = 2")
    assert body == '{"a":{"c":[],"d":"ü"},"b":1}'
    assert json.loads(body)


def test_following_tells_of_what_another_terminal_added(book: Casebook, open_book: Open) -> None:
    case = begin(book)
    other = open_book()
    assert other.changed(), "the first time says look"
    assert not other.changed()
    book.append(case, note(1), after=1)
    import time

    end = time.monotonic() + 10
    while not other.changed():
        assert time.monotonic() < end
    assert [entry.seq for entry in other.entries(case, 1)] == [2]
    assert not other.changed()
