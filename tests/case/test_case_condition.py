"""What is physically so belongs to the machine: locks, energy, dangers and resets of one case hold in every other."""

from __future__ import annotations

from datetime import timedelta

import pytest
from case_steps import ANN, BOB, BOX, OLGA, Ticking, gate, go_back, lock_out

from diag.case.case import Case
from diag.case.log.events import (
    GAP,
    Closed,
    Elsewhere,
    Entry,
    Found,
    MadeSafe,
    Remedied,
    RemedyFailed,
    ResetDone,
    Stamped,
    Unreadable,
)
from diag.case.log.facts import sign_name, sign_named
from diag.case.log.projection import Projection
from diag.case.log.replay import replay
from diag.case.log.validate_event import validate_event
from diag.machine.model import Machine
from diag.safety import Act, Person, Phase, Refused

BURNING = {"burning": 1.0}


class Floor:
    """Cases at one machine, one clock for all, each kept nowhere; `seen` is one of them with the others in their
    places by the time of their entries."""

    def __init__(self, machine: Machine) -> None:
        self.machine, self.clock = machine, Ticking()

    def case(self, person: Person) -> Case:
        return Case.open(self.machine, person, clock=self.clock)

    def seen(self, own: Case, *others: Case, person: Person | None = None, more: tuple[Entry, ...] = ()) -> Projection:
        stream: list[Entry | Elsewhere] = list(own.entries)
        stream += [Elsewhere(f"other-{n}", entry) for n, case in enumerate(others) for entry in case.entries[2:]]
        stream += [Elsewhere("other-0", entry) for entry in more]
        stream.sort(key=lambda one: at(one))
        return replay(self.machine, own.id, stream).projection(person or own.state.person)


def at(one: Entry | Elsewhere) -> float:
    entry = one.entry if isinstance(one, Elsewhere) else one
    return entry.at.timestamp() if isinstance(entry, Stamped) else float("inf")


@pytest.fixture
def floor(mixer: Machine) -> Floor:
    return Floor(mixer)


def test_a_case_that_begins_under_locks_is_not_energised(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    bob = floor.case(BOB)
    seen = floor.seen(bob, ann)
    assert not seen.state.energised
    assert seen.state.locks == ann.state.locks
    assert seen.state.banner.title.startswith("NOT DEAD FOR YOU")
    assert seen.state.round == 1, "the power went off before this case began"
    assert floor.seen(ann, bob).state.banner.level == "dead", "and Ann's proof stands as she made it"


def test_the_same_name_in_another_case_tests_again(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    again = floor.case(ANN)
    assert floor.seen(again, ann).state.banner.title.startswith("NOT DEAD FOR YOU")


def test_the_power_that_comes_back_in_another_case_begins_a_round(floor: Floor) -> None:
    ann, bob = floor.case(ANN), floor.case(BOB)
    lock_out(ann)
    assert floor.seen(bob, ann).state.round == 2
    go_back(ann)
    seen = floor.seen(bob, ann)
    assert (seen.state.round, seen.state.energised, seen.state.locks) == (3, True, ())


def test_a_voltage_found_in_another_case_stops_the_zone_here(floor: Floor) -> None:
    ann, bob = floor.case(ANN), floor.case(BOB)
    lock_out(ann)
    mine = len(ann.entries)
    gate(ann, Act.VOLTAGE_FOUND)
    before = replay(floor.machine, bob.id, (*bob.entries, *(Elsewhere("a", e) for e in ann.entries[2:mine])))
    assert before.isolation.lockout(BOX).phase is Phase.DEAD
    assert floor.seen(bob, ann).state.banner.level == "stop"


def test_a_danger_sign_stands_for_every_case_until_it_is_made_safe(floor: Floor) -> None:
    olga, ann = floor.case(OLGA), floor.case(ANN)
    olga.post(Found(indication="smell", seen=BURNING))
    assert floor.seen(ann, olga).state.banner.level == "danger"
    assert not any(floor.seen(ann, olga).state.steps.values())
    olga.post(Found(indication="smell", seen={"none": 1.0}))
    assert olga.state.danger, "that it smells no more does not make it safe"
    with pytest.raises(Refused, match="electrician or an engineer"):
        olga.post(MadeSafe(how="Opened the window"))
    standing = floor.seen(ann, olga)
    with pytest.raises(Refused, match="how it was made safe"):
        validate_event(floor.machine, standing, MadeSafe(how=" "))
    event = validate_event(floor.machine, standing, MadeSafe(how="Cold, and nothing is charred."))
    assert isinstance(event, MadeSafe)
    over = Stamped(seq=3, at=floor.clock(), by="Ann", event=event, role=ANN.role, authorised=True, qualified=True)
    seen = replay(floor.machine, olga.id, (*olga.entries, Elsewhere(ann.id, over))).projection(OLGA)
    assert not seen.state.danger
    assert seen.state.round == olga.state.round + 1
    assert "smell" not in seen.state.current, "it is asked anew"


def test_a_danger_that_was_entered_by_mistake_never_stood(floor: Floor) -> None:
    olga, ann = floor.case(OLGA), floor.case(ANN)
    olga.post(Found(indication="smell", seen=BURNING))
    olga.undo()
    assert not olga.state.danger
    assert not floor.seen(ann, olga).state.danger


def test_resets_are_counted_for_the_machine(floor: Floor) -> None:
    """The mixer allows two resets, in whichever cases they are done, and a new case gives no more of them."""
    assert floor.machine.reset_limit == 2
    ann = floor.case(ANN)
    done = tuple(reset_at(floor) for _ in range(2))
    assert floor.seen(ann, more=done[:1]).resets == 1
    seen = floor.seen(ann, more=done)
    assert seen.resets == 2
    assert not seen.state.resets[0].may


def test_a_proven_cure_counts_afresh_after_a_day(floor: Floor) -> None:
    """Either count at its limit forbids: those of the last 24 hours, and those since the last proven cure."""
    done = tuple(reset_at(floor) for _ in range(2))
    cured = Stamped(seq=12, at=floor.clock(), by="Bob", event=Closed(outcome="cured", cause="unlisted"), role=BOB.role)
    assert floor.seen(floor.case(ANN), more=(*done, cured)).resets == 2, "both were done today"
    floor.clock.now += timedelta(hours=24)
    ann = floor.case(ANN)
    assert floor.seen(ann, more=done).resets == 2, "and nothing was cured since"
    assert floor.seen(ann, more=(*done, cured)).resets == 0


def test_a_reset_that_was_taken_back_stays_in_the_count(floor: Floor) -> None:
    """A limit that the undo key lifts is none."""
    olga = floor.case(OLGA)
    for _ in range(2):
        olga.say("box-display", floor.machine.indications["box-display"].normal)
        olga.post(ResetDone(reset="panel-reset"))
        olga.undo()
    olga.say("box-display", floor.machine.indications["box-display"].normal)
    with pytest.raises(Refused, match="2 resets done"):
        olga.post(ResetDone(reset="panel-reset"))
    assert floor.seen(floor.case(ANN), olga).resets == 2


def test_a_protective_device_is_reset_by_no_new_case(floor: Floor) -> None:
    tripped = floor.case(OLGA)
    tripped.say("box-display", "d1")
    assert not tripped.state.resets[0].may
    ann = floor.case(ANN)
    assert ann.state.resets[0].may is False, "its display is to be noted first"
    ann.say("box-display", floor.machine.indications["box-display"].normal)
    assert floor.seen(ann).state.resets[0].may
    assert not floor.seen(ann, tripped).state.resets[0].may


def reset_at(floor: Floor) -> Stamped:
    return Stamped(seq=9, at=floor.clock(), by="Olga", event=ResetDone(reset="panel-reset"), role=OLGA.role)


def test_a_gap_in_another_cases_record_proves_nothing_here(floor: Floor) -> None:
    ann, bob = floor.case(ANN), floor.case(BOB)
    lock_out(bob)
    stream = (*bob.entries, Elsewhere(ann.id, Unreadable(7, "Entry 7 of case 1125-a cannot be read.")))
    seen = replay(floor.machine, bob.id, stream).projection(BOB)
    assert seen.state.banner.level == "stop"
    assert seen.state.locks == bob.state.locks
    assert seen.state.problems == ("Entry 7 of case 1125-a cannot be read.",)


def test_a_case_ends_though_others_have_locks_on(floor: Floor) -> None:
    ann, bob = floor.case(ANN), floor.case(BOB)
    lock_out(ann)
    here = floor.seen(bob, ann)
    assert validate_event(floor.machine, here, Closed(outcome="running"))
    with pytest.raises(Refused, match="Locks of this case are on"):
        validate_event(floor.machine, floor.seen(ann, bob), Closed(outcome="running"))


def test_a_case_does_not_end_while_the_power_is_on_for_a_test(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    gate(ann, Act.TEST_POWER)
    while ann.state.locks or not ann.state.energised:
        step = ann.state.steps[BOX][0]
        gate(ann, step.act, step.target)
    with pytest.raises(Refused, match="return to service is not finished"):
        ann.post(Closed(outcome="running"))


def test_a_remedy_that_failed_in_another_case_closes_resets_here(floor: Floor) -> None:
    """The remedy had found the cause of what operated; that it failed means that the cause is still to be found."""
    tripped = floor.case(ANN)
    tripped.say("box-display", "d2")
    tripped.post(Remedied(remedy="let-cool"))
    bob = floor.case(BOB)
    bob.say("box-display", floor.machine.indications["box-display"].normal)
    assert floor.seen(bob, tripped).state.resets[0].may
    tripped.post(RemedyFailed(remedy="let-cool"))
    seen = floor.seen(bob, tripped)
    assert not seen.state.resets[0].may
    assert "A protective device has operated" in seen.state.resets[0].because
    tripped.post(Remedied(remedy="let-cool"))
    assert floor.seen(bob, tripped).state.resets[0].may, "another remedy is another finding"
    assert not floor.seen(bob, tripped).protective


def test_a_remedy_that_failed_without_a_protective_device_takes_its_own_reset_with_it(floor: Floor) -> None:
    done = tuple(reset_at(floor) for _ in range(2))
    ann = floor.case(ANN)
    ann.say("box-display", floor.machine.indications["box-display"].normal)
    other = floor.case(BOB)
    other.post(Remedied(remedy="let-cool"))
    other.post(RemedyFailed(remedy="let-cool"))
    late = reset_at(floor)
    late = late.model_copy(update={"seq": 40})
    stream = [*ann.entries, *(Elsewhere("b", n) for n in other.entries[2:]), Elsewhere("b", late)]
    assert replay(floor.machine, ann.id, stream).projection(ANN).resets == 1, "it belongs to no remedy any more"
    assert not floor.seen(ann, more=done).state.resets[0].may


def test_a_reset_that_was_taken_back_is_shown_as_said_by_mistake(floor: Floor) -> None:
    olga = floor.case(OLGA)
    olga.say("box-display", floor.machine.indications["box-display"].normal)
    olga.post(ResetDone(reset="panel-reset"))
    assert olga.state.resets[0].mistaken == ()
    olga.undo()
    (count,) = olga.state.resets
    assert (count.done, count.mistaken) == (0, ("Olga",))


def test_a_danger_sign_is_found_again_by_its_name(floor: Floor) -> None:
    (sign,) = floor.machine.dangers
    assert sign_named(floor.machine, sign_name(sign)) is sign
    for name in (GAP, "smoke: black or white and belt: hot", "odd"):
        other = sign_named(floor.machine, name)
        assert other not in floor.machine.dangers
        assert sign_name(other).removesuffix(": ") == name
    assert "Entries of this machine are lost" in sign_named(floor.machine, GAP).stop
