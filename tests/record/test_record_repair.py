"""Lists that do not agree with their entries: worked out anew, recorded, and no zone counts as proved."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from case.case_steps import ANN, BOB, BOX, OLGA, Ticking, gate, go_back, lock_out
from record.tampering import damage

from diag.case.case import Case
from diag.case.condition import condition_of
from diag.case.log.events import (
    GAP,
    Closed,
    Found,
    ListsRepaired,
    MadeSafe,
    Remedied,
    ResetDone,
    Stamped,
    TagDown,
    TagFound,
)
from diag.case.log.stored import derive
from diag.case.mending import mend, planned
from diag.case.sitting import Sitting
from diag.machine.model import Machine
from diag.record.casebook import Casebook, CasebookError
from diag.record.errors import Contradicts
from diag.record.store.followed import REPAIRED
from diag.record.verify.repairing import Repair
from diag.record.verify.verifying import verify
from diag.safety import Act, Phase, Refused, dead_zones

BURNING = Found(indication="smell", seen={"burning": 1.0})
LATER = datetime(2026, 11, 26, 3, 0, tzinfo=UTC)


class Floor:
    """Two cases at one machine: Ann's lockout, and a reset of Olga's."""

    def __init__(self, machine: Machine, book: Casebook) -> None:
        self.machine, self.book, self.clock = machine, book, Ticking()
        olga = self.case(OLGA)
        olga.say("box-display", machine.indications["box-display"].normal)
        olga.post(ResetDone(reset="panel-reset"))
        olga.post(TagFound(person="Carl", point="lift-permit"))
        self.ann = self.case(ANN)
        lock_out(self.ann)

    def case(self, person: object) -> Case:
        return Case.open(self.machine, Sitting(person), book=self.book, clock=self.clock)  # type: ignore[arg-type]

    def read(self, id: str = "") -> Case:
        return Case.read(id or self.ann.id, self.machine, book=self.book)

    def plan(self) -> Repair:
        return planned(self.book, self.machine.id)

    def mend(self) -> str:
        return mend(self.book, self.machine, self.plan(), Sitting(BOB), self.clock)

    def stands(self) -> object:
        """Everything that the lists have."""
        tables = ("touch", "lock_on", "danger_on", "reset_done", "rest", "machine")
        return {t: sorted(map(tuple, self.book.engine.run(f"SELECT * FROM {t}"))) for t in tables}


@pytest.fixture
def floor(book: Casebook, mixer: Machine) -> Floor:
    return Floor(mixer, book)


def test_where_lists_and_entries_agree_nothing_is_repaired(floor: Floor) -> None:
    plan = floor.plan()
    assert (plan.needed, plan.changes, plan.lost) == (False, (), ())
    with pytest.raises(KeyError):
        planned(floor.book, "another")


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("DELETE FROM lock_on WHERE point = 'main-switch-q1'", "Comes back: main-switch-q1 (Ann)"),
        (
            "INSERT INTO lock_on SELECT machine, 'q9', who, no, seq, at FROM lock_on WHERE point = 'main-switch-q1'",
            "Goes out: q9 (Ann). By the entries it does not stand.",
        ),
        (
            "INSERT INTO danger_on SELECT machine, 'smell', no, seq, at FROM lock_on WHERE point = 'main-switch-q1'",
            "Goes out: danger sign smell. By the entries it does not stand.",
        ),
        ("DELETE FROM lock_on WHERE point LIKE 'danger-tag%'", "Comes back: danger-tag lift-permit (Carl)"),
        ("UPDATE machine SET rev = 3", "by its entries, and 3 in the list of machines."),
        ("DELETE FROM touch WHERE rev > 4", "comes back as what gave mixer state 5."),
        ("DELETE FROM reset_done", "Reset panel-reset, entry 4 of case 1125-a, is counted again."),
    ],
)
def test_lists_are_worked_out_anew_from_the_entries(floor: Floor, statement: str, says: str) -> None:
    sound = floor.stands()
    locks, open_cases = floor.ann.state.locks, floor.ann.id
    damage(floor.book, statement)
    plan = floor.plan()
    assert says in " ".join(plan.changes)
    assert plan.lost == ()
    case = floor.mend()
    after = floor.stands()
    for table in ("lock_on", "danger_on", "reset_done"):
        assert after[table] == sound[table], "as before it was damaged"  # type: ignore[index]
    assert set(sound["touch"]) <= set(after["touch"])  # type: ignore[index]
    floor.book.check(floor.machine.id)
    for id in (open_cases, case):
        state = floor.read(id).state
        assert state.locks == locks
        assert state.lockouts[BOX].phase is Phase.STOP, "no zone counts as proved"
        assert state.problems == ()
        assert [tag.person for tag in state.tags] == ["Carl"]
    assert verify(floor.book.engine, derive=derive).faults == ()
    assert not floor.plan().needed


def test_what_was_done_is_an_entry_and_by_it_alone(floor: Floor) -> None:
    damage(floor.book, "DELETE FROM lock_on WHERE point = 'main-switch-q1'")
    case = floor.read(floor.mend())
    (event,) = [s.event for s in case.entries if isinstance(s, Stamped) and isinstance(s.event, ListsRepaired)]
    assert (event.changed, event.lost) == (1, 0)
    assert case.state.lead.name == "Bob"
    ann = Case.resume(floor.ann.id, floor.machine, Sitting(ANN), book=floor.book, clock=floor.clock)
    with pytest.raises(Refused, match="by `diag cases --repair` alone"):
        ann.post(ListsRepaired(changed=1))
    gate(ann, Act.BACK)
    assert ann.state.lockouts[BOX].phase is Phase.BACK, "the way back is open"


def test_what_was_told_is_what_is_done_or_nothing(floor: Floor) -> None:
    damage(floor.book, "DELETE FROM lock_on WHERE point = 'main-switch-q1'")
    plan = floor.plan()
    damage(floor.book, "DELETE FROM reset_done")
    before = floor.stands()
    with pytest.raises(CasebookError, match="Nothing was repaired"):
        mend(floor.book, floor.machine, plan, Sitting(BOB), floor.clock)
    assert floor.stands() == before


# ---------------------------------------------------------------- entries are lost


def lose(floor: Floor, act: str) -> None:
    """One entry of Ann's lockout is taken out, with all that names it but the numbers behind it."""
    ((no, seq),) = floor.book.engine.run(
        "SELECT no, MAX(seq) FROM event WHERE kind = 'gate' AND body LIKE :act GROUP BY no", {"act": f'%"{act}"%'}
    )
    damage(floor.book, f"DELETE FROM touch WHERE no = {no} AND seq = {seq}")
    damage(floor.book, f"DELETE FROM event WHERE no = {no} AND seq = {seq}")


def test_entries_that_are_lost_count_as_the_worst_that_they_can_have_been(floor: Floor) -> None:
    lose(floor, "tested-dead")
    with pytest.raises(Contradicts, match="diag cases --repair mixer"):
        floor.read()
    plan = floor.plan()
    assert any("is not there" in text for text in plan.lost)
    assert any("was taken out" in text for text in plan.lost)
    case = floor.mend()
    floor.book.check(floor.machine.id)
    new = floor.case(BOB)
    for id in (floor.ann.id, case, new.id):
        state = floor.read(id).state
        assert state.danger.startswith("Entries of this machine are lost"), id
        assert set(state.locks) == {("main-switch-q1", "Ann"), ("lift-permit", "Ann")}
        assert {o.phase for o in state.lockouts.values()} == {Phase.STOP}
        assert set(state.off) == set(floor.machine.points)
        assert [tag.person for tag in state.tags] == ["Carl"]
        assert not any(r.may for r in state.resets)
    found = condition_of(floor.book, floor.machine, LATER)
    assert [d.what for d in found.dangers] == [GAP]
    assert found.resets == 1
    assert not floor.plan().needed, "it was told once"
    assert verify(floor.book.engine, derive=derive).faults, "and what was lost is lost for ever"


def test_a_machine_whose_entries_are_lost_has_a_way_out(floor: Floor) -> None:
    """Made safe, the way back under the locks, a finding for the resets; then it works as any other."""
    lose(floor, "start-tried")
    id = floor.mend()
    bob = Case.resume(id, floor.machine, Sitting(BOB), book=floor.book, clock=floor.clock)
    ann = Case.resume(id, floor.machine, Sitting(ANN), book=floor.book, clock=floor.clock)
    ann.post(MadeSafe(how="Both points looked at, nobody inside, the covers are on."))
    carl = Case.resume(id, floor.machine, Sitting(replace(ANN, name="Carl")), book=floor.book, clock=floor.clock)
    carl.post(TagDown(person="Carl", point="lift-permit", how="It is mended."))
    ann.follow()
    assert not ann.state.danger
    go_back(ann)
    assert ann.state.energised
    assert ann.state.locks == ()
    bob.follow()
    bob.say("box-display", floor.machine.indications["box-display"].normal)
    assert "A protective device has operated" in bob.state.resets[0].because
    bob.post(Remedied(remedy="let-cool"))
    bob.say("box-display", floor.machine.indications["box-display"].normal)
    assert bob.state.resets[0].may
    bob.post(Closed(outcome="running"))
    floor.book.check(floor.machine.id)
    state = floor.case(BOB).state
    assert (state.danger, state.locks, state.problems) == ("", (), ())
    lacking = floor.read().state
    assert (lacking.danger, lacking.locks, lacking.energised) == ("", (), True), "what was repaired holds there, too"
    assert lacking.problems, "and what was behind the gap is said not to fit"


def test_a_danger_that_stood_stands_on_where_entries_are_lost(floor: Floor) -> None:
    floor.case(OLGA).post(BURNING)
    lose(floor, "tested-dead")
    id = floor.mend()
    found = condition_of(floor.book, floor.machine, LATER)
    assert sorted(d.what for d in found.dangers) == [GAP, "smell: burning"]
    case = Case.resume(id, floor.machine, Sitting(BOB), book=floor.book, clock=floor.clock)
    case.post(MadeSafe(how="Cold and aired."))
    assert case.state.danger, "one is over, and the other stands"
    case.post(MadeSafe(how="Looked at each point."))
    assert not case.state.danger


def test_an_entry_that_cannot_be_read_is_lost_too(floor: Floor) -> None:
    damage(floor.book, "UPDATE event SET body = '{' WHERE kind = 'gate' AND seq = 5")
    plan = floor.plan()
    assert plan.lost
    floor.mend()
    assert floor.read().state.danger
    assert not floor.plan().needed


DAMAGE = (
    "DELETE FROM touch WHERE rev % {n} = 0",
    "UPDATE touch SET rev = rev + 1000 WHERE rev % {n} = 1",
    "UPDATE touch SET seq = seq + 1 WHERE rev % {n} = 0",
    "DELETE FROM lock_on WHERE seq % {n} = 0",
    "UPDATE lock_on SET seq = seq + {n}",
    "INSERT INTO lock_on SELECT machine, 'q{n}', mark, no, seq, rev FROM touch, person WHERE rev = 1",
    "DELETE FROM danger_on",
    "INSERT INTO danger_on SELECT machine, 'odd: {n}', no, seq, rev FROM touch WHERE rev = 1",
    "UPDATE reset_done SET mistaken = 1 - mistaken",
    "DELETE FROM reset_done",
    "DELETE FROM rest",
    "UPDATE rest SET carried = '[]'",
    "UPDATE machine SET rev = rev - 1",
)
"""Each changes what is kept beside the entries, and no entry."""


@pytest.mark.parametrize("seed", range(4))
def test_whatever_happens_to_the_lists_they_come_back_and_nothing_counts_as_proved(
    book: Casebook, mixer: Machine, seed: int
) -> None:
    lot, floor = random.Random(seed), Floor(mixer, book)
    if lot.random() < 0.5:
        floor.case(OLGA).post(BURNING)
    elif lot.random() < 0.7:
        carl = floor.case(replace(ANN, name="Carl"))
        carl.post(TagDown(person="Carl", point="lift-permit", how="It is mended."))
        carl.post(Closed(outcome="running"))
        floor.ann.follow()
        go_back(floor.ann)
        floor.ann.post(Closed(outcome="running"))  # the machine comes to rest
        floor.ann = floor.case(ANN)
        lock_out(floor.ann)
    sound, state = floor.stands(), floor.read().state
    for statement in lot.sample(DAMAGE, 4):
        damage(book, statement.format(n=lot.randint(2, 4)))
    plan = floor.plan()
    if plan.lost:  # a number above all that were given may have been of an entry that was cut off
        assert all("is not there" in text or text.startswith("So are") for text in plan.lost), plan.lost
        assert max(row[0] for row in plan.right.touch) < plan.right.rev
    floor.mend()
    book.check(mixer.id)
    after = floor.stands()
    assert set(sound["touch"]) <= set(after["touch"])  # type: ignore[index]
    assert set(after["rest"]) - {(mixer.id, *row[1:]) for row in after["rest"] if row[2] == REPAIRED} <= set(  # type: ignore[index]
        sound["rest"]  # type: ignore[index]
    )
    for table in ("lock_on", "danger_on", "reset_done"):
        if not plan.lost:
            assert after[table] == sound[table]  # type: ignore[index]
    now = floor.read().state
    assert set(state.locks) <= set(now.locks)
    assert bool(now.danger) >= bool(state.danger)
    for person in (ANN, BOB):
        assert not dead_zones(mixer, floor.read()._so_far.isolation, person)
    assert all(fault.by == "lists" for fault in verify(book.engine, derive=derive).faults)
    assert not floor.plan().needed


LOSSES = (
    "DELETE FROM event WHERE ",
    "UPDATE event SET stamp = '{}' WHERE ",
    "UPDATE event SET at = at + 9 WHERE ",
    "UPDATE event SET body = '{}' WHERE ",
)


@pytest.mark.parametrize("seed", range(3))
def test_whichever_entries_are_lost_the_machine_opens_again_as_the_worst(
    book: Casebook, mixer: Machine, seed: int
) -> None:
    lot, floor = random.Random(seed), Floor(mixer, book)
    locks = set(floor.ann.state.locks)
    rows = book.engine.run("SELECT no, seq FROM event WHERE kind <> 'opened' ORDER BY no, seq")
    for no, seq in lot.sample(sorted(map(tuple, rows)), lot.randint(1, 3)):
        where = f"no = {no} AND seq = {seq}"
        what = lot.choice(LOSSES)
        damage(book, what + where)
        if lot.random() < 0.5:
            damage(book, f"DELETE FROM touch WHERE {where}")
    plan = floor.plan()
    assert plan.lost
    floor.mend()
    book.check(mixer.id)
    state = floor.case(BOB).state
    assert state.danger
    assert set(state.locks) == locks, "each lock that anything speaks of is on"
    assert {o.phase for o in state.lockouts.values()} == {Phase.STOP}
    assert not any(state.steps.values())
    assert not any(reset.may for reset in state.resets)
    assert verify(book.engine, derive=derive).faults
    assert not floor.plan().needed
