"""Cases at one machine in one casebook, each at a terminal of its own: what is physically so is the same for all,
whatever order they are told in and whatever their clocks say."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta

import pytest
from case.case_steps import ANN, BOB, BOX, OLGA, Ticking, gate, go_back, lock_out

from diag.case.case import Case
from diag.case.log.events import Closed, Event, Found, Gate, MadeSafe, Noted, ResetDone, TakenBack
from diag.case.log.facts import sign_name
from diag.case.log.replay import Replay, replay
from diag.case.log.stored import stream_of
from diag.case.sitting import Sitting
from diag.machine.model import Machine
from diag.record.casebook import Casebook, Conflict
from diag.safety import Act, Person, Phase, Refused

BURNING = Found(indication="smell", seen={"burning": 1.0})


class Late(Ticking):
    """The clock of a terminal that is an hour behind."""

    def __call__(self) -> datetime:
        return super().__call__() - timedelta(hours=1)


class Floor:
    """One machine; each case is opened through a casebook of its own, as another terminal would."""

    def __init__(self, machine: Machine, open_book: object) -> None:
        self.machine, self._open_book, self.clock, self.late = machine, open_book, Ticking(), Late()

    def case(self, person: Person, late: bool = False) -> Case:
        book = self._open_book()  # type: ignore[operator]
        return Case.open(self.machine, Sitting(person), book=book, clock=self.late if late else self.clock)

    def book(self) -> Casebook:
        return self._open_book()  # type: ignore[operator,no-any-return]

    def again(self, case: Case) -> Case:
        """The case as somebody who looks from nowhere finds it."""
        return Case.read(case.id, self.machine, book=self.book())


@pytest.fixture
def floor(mixer: Machine, open_book: object) -> Iterator[Floor]:
    return Floor(mixer, open_book)  # type: ignore[return-value]


def physical(case: Case) -> object:
    """What is so at the machine, as this case says."""
    return said(case._so_far)


def said(so_far: Replay) -> object:
    return so_far.isolation, so_far.dangers, so_far.states, so_far.off_since


def test_a_case_opened_under_locks_begins_under_them(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    bob = floor.case(BOB, late=True)
    assert bob.state.locks == ann.state.locks
    assert not bob.state.energised
    assert bob.state.banner.title.startswith("NOT DEAD FOR YOU")
    ann.follow()
    assert ann.state.banner.level == "dead"
    assert physical(ann) == physical(bob) == physical(floor.again(bob))


def test_a_step_that_was_armed_before_another_case_changed_the_machine_is_not_stored(floor: Floor) -> None:
    """The race of two cases: B saw no lock, and A's lock went on before B confirmed."""
    ann, bob = floor.case(ANN), floor.case(BOB)
    ann.follow()
    gate(ann, Act.TOLD)
    before = len(bob.entries)
    with pytest.raises(Conflict, match="its machine"):
        gate(bob, Act.TOLD)
    assert len(floor.again(bob).entries) == before, "a refused step leaves no row"
    assert bob.state.steps[BOX][0].act is Act.SHUT_DOWN, "and then it is seen"
    lock_out(ann)
    with pytest.raises(Conflict):
        gate(bob, Act.SHUT_DOWN)
    assert bob.state.locks == ann.state.locks


def test_the_power_that_comes_back_elsewhere_ends_the_proof_here(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    bob = floor.case(BOB, late=True)
    ann.follow()
    go_back(ann)
    assert bob.follow()
    assert bob.state.energised
    assert bob.state.locks == ()
    assert not bob.follow(), "nothing new since"
    assert [c.locks for c in floor.book().cases()] == [(), ()]


def test_a_danger_stands_in_every_case_until_it_is_made_safe_in_any(floor: Floor) -> None:
    olga, ann = floor.case(OLGA), floor.case(ANN, late=True)
    olga.post(BURNING)
    with pytest.raises(Conflict):
        gate(ann, Act.TOLD)
    assert ann.state.banner.level == "danger"
    with pytest.raises(Refused, match="danger sign"):
        gate(ann, Act.TOLD)
    (standing,) = floor.book().dangers(floor.machine.id)
    assert (standing.what.startswith("smell"), standing.who, standing.case) == (True, "Olga", olga.id)
    ann.post(MadeSafe(how="Cold, and nothing is charred."))
    assert floor.book().dangers(floor.machine.id) == ()
    olga.follow()
    assert not olga.state.danger
    assert physical(olga) == physical(ann)


def test_a_fact_that_met_with_a_conflict_is_judged_again_and_stored_in_its_name(floor: Floor) -> None:
    olga, ann = floor.case(OLGA), floor.case(ANN)
    ann.post(Noted(text="I am here."))
    olga.post(BURNING)
    ann.post(Found(indication="smell", seen={"none": 1.0}))
    assert [e.by for e in ann.entries][-1] == "Ann"  # type: ignore[union-attr]
    assert ann.state.danger, "that Ann smells nothing does not make it safe"


def test_a_danger_said_by_mistake_never_stood(floor: Floor) -> None:
    olga, ann = floor.case(OLGA), floor.case(ANN)
    olga.post(BURNING)
    olga.undo()
    ann.follow()
    assert not ann.state.danger
    assert floor.book().dangers(floor.machine.id) == ()


def test_resets_of_other_cases_count(floor: Floor) -> None:
    """The mixer allows two, and a new case gives no more of them."""
    assert floor.machine.reset_limit == 2
    for _ in range(2):
        olga = floor.case(OLGA)
        olga.say("box-display", floor.machine.indications["box-display"].normal)
        olga.post(ResetDone(reset="panel-reset"))
        olga.post(Closed(outcome="running"))
    ann = floor.case(ANN)
    ann.say("box-display", floor.machine.indications["box-display"].normal)
    assert not ann.state.resets[0].may
    since = ann.state.opened - timedelta(hours=24)
    assert [(r.what, r.mistaken) for r in floor.book().resets(floor.machine.id, since)] == [("panel-reset", False)] * 2


def test_a_reset_taken_back_stays_in_the_list_as_said_by_mistake(floor: Floor) -> None:
    olga = floor.case(OLGA)
    olga.say("box-display", floor.machine.indications["box-display"].normal)
    olga.post(ResetDone(reset="panel-reset"))
    olga.undo()
    (reset,) = floor.book().resets(floor.machine.id, olga.state.opened)
    assert reset.mistaken


def test_what_was_seen_before_the_power_went_off_keeps_its_weight(floor: Floor) -> None:
    """A plain entry stands where the machine was when it was recorded, though its clock says an hour earlier."""
    bob = floor.case(BOB, late=True)
    bob.say("supply-lamp", "dark")
    ann = floor.case(ANN)
    lock_out(ann)
    bob.say("supply-lamp", "lit")
    assert not bob.state.energised, "with what was stored it learns what others did before"
    for case in (bob, floor.again(bob)):
        assert [(f.state, f.counts) for f in case.state.facts] == [("dark", True), ("lit", False)]


def test_another_spelling_of_a_lock_s_owner_is_that_person_in_a_new_case(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    again = floor.case(Person("  ÄNN ", ANN.role, authorised=True, qualified=True))
    assert again.state.person.name == "Ann"
    gate(again, Act.BACK)
    ann.follow()
    assert ann.state.lockouts[BOX].phase is Phase.BACK


def test_many_steps_by_turns_come_out_the_same_for_all(floor: Floor) -> None:
    """Two cases lock out and return by turns; each one's record, read anew, gives the same machine."""
    ann, bob = floor.case(ANN), floor.case(BOB, late=True)
    lock_out_by_turns(ann, bob)
    assert ann.state.banner.level == "dead"
    ann.post(Noted(text="half way"))
    for case in (ann, bob):
        case.follow()
        go_back_own(case)
    for case in (ann, bob):
        case.follow()
        assert physical(case) == physical(floor.again(case))
    assert physical(ann) == physical(bob)
    assert ann.state.problems == bob.state.problems == ()


@pytest.mark.parametrize("seed", range(4))
def test_whatever_is_entered_anywhere_each_case_says_the_same_of_the_machine(floor: Floor, seed: int) -> None:
    """Three cases, of two persons, with steps at the gate, dangers, ends and slips taken back, in an order by lot."""
    rng = random.Random(seed)
    cases = [floor.case(ANN), floor.case(BOB, late=True), floor.case(ANN)]
    book, stored = floor.book(), 0
    for _ in range(60):
        at = rng.randrange(3)
        if cases[at].state.closed in ("cured", "running"):
            cases[at] = floor.case(rng.choice((ANN, BOB)))
        case = cases[at]
        case.follow()
        with suppress(Refused):
            case.post(by_lot(case, rng))
            stored += 1
        if rng.random() < 0.2:
            for other in cases:
                other.follow()
            here = physical(cases[0])
            assert here == whole(floor, book, cases[rng.randrange(3)].id), "from its first entry as from its last rest"
            assert here == physical(cases[1]) == physical(cases[2]) == physical(floor.again(cases[0]))
            so_far, machine = cases[0]._so_far, floor.machine.id
            assert {(lock.what, lock.who) for lock in book.locks(machine)} == so_far.isolation.locks
            assert {d.what for d in book.dangers(machine)} == {sign_name(d) for d in so_far.dangers}
    assert stored > 20


def whole(floor: Floor, book: Casebook, id: str) -> object:
    """What is so at the machine by all that was ever entered there."""
    stream = stream_of(book, id, whole=True)
    assert stream.carried is None
    return said(replay(floor.machine, id, stream.entries))


def test_a_case_begins_at_the_machine_s_last_rest(floor: Floor) -> None:
    """So that a machine's whole history is not read for each case of it."""
    for _ in range(3):
        ann = floor.case(ANN)
        lock_out(ann)
        go_back(ann)
        ann.post(Closed(outcome="running"))
    bob, book = floor.case(BOB), floor.book()
    assert len(book.stream(bob.id).entries) == 2
    assert len(book.stream(bob.id, whole=True).entries) == len(ann.entries) * 3 - 3 + 2, "the openings touch nothing"
    assert physical(bob) == whole(floor, book, bob.id)


def test_a_danger_or_a_lock_is_no_rest(floor: Floor) -> None:
    olga = floor.case(OLGA)
    olga.post(BURNING)
    ann = floor.case(ANN)
    assert ann.state.danger
    ann.post(MadeSafe(how="Cold."))
    assert len(floor.book().stream(floor.case(BOB).id).entries) == 2


def by_lot(case: Case, rng: random.Random) -> Event:
    state, seqs = case.state, sorted(case._projection.open_seqs)[-2:]
    steps = [*state.steps[BOX][:1] * 6, *state.ways[BOX]]
    events: list[Event] = [
        Gate(zone=BOX, act=step.act, target=step.target, reason="By lot", permit="P-1" if step.asks else "")
        for step in steps
    ]
    events += [TakenBack(seq=seq) for seq in seqs]
    events += [Noted(text="By lot"), rng.choice((BURNING, Found(indication="smell", seen={"none": 1.0})))]
    events += [MadeSafe(how="By lot")] * 4 if state.danger else []
    events += [Closed(outcome="running")] if rng.random() < 0.2 else []
    return rng.choice(events)


def lock_out_by_turns(ann: Case, bob: Case) -> None:
    """Bob's lock goes on after Ann's, and Ann proves with both on."""
    for act, target in ((Act.TOLD, ""), (Act.SHUT_DOWN, "")):
        ann.follow()
        gate(ann, act, target)
    for case in (ann, bob):
        case.follow()
        while case.state.steps[BOX][0].act is Act.OFF_AND_LOCKED:
            gate(case, Act.OFF_AND_LOCKED, case.state.steps[BOX][0].target)
    ann.follow()
    lock_out(ann)


def go_back_own(case: Case) -> None:
    """This person's part of the way back."""
    if case.state.lockouts[BOX].phase is Phase.DEAD:
        gate(case, Act.BACK)
    while steps := case.state.steps[BOX]:
        if case.state.lockouts[BOX].phase is not Phase.BACK:
            return
        gate(case, steps[0].act, steps[0].target)
