"""Danger tags, and the lock of an absent owner: recorded step by step, never granted, and nothing opens by it."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from case_steps import ANN, BOB, BOX, OLGA, Ticking, gate, go_back, lock_out

from diag.case.case import Case
from diag.case.condition import as_object, condition_of, in_words
from diag.case.log import events as e
from diag.case.log.owners import PRESENT, WrongAnswer
from diag.case.log.stored import cases_in
from diag.case.sheet import sheet
from diag.case.sitting import Sitting
from diag.machine.load import read
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.safety import Act, Isolation, Person, Phase, Refused, dead_zones, live_zones
from diag.safety.tags import check_switched_on

KNOWLEDGE = Path(__file__).parents[2] / "knowledge"
Q1, LIFT = "main-switch-q1", "lift-permit"
EVA = "Eva Roth"
"""Who directs it for the employer."""


class Floor:
    """Cases at one machine in one casebook, at terminals of their own."""

    def __init__(self, machine: Machine, book: Casebook) -> None:
        self.machine, self.book, self.clock = machine, book, Ticking()

    def case(self, person: Person) -> Case:
        return Case.open(self.machine, Sitting(person), book=self.book, clock=self.clock)

    def later(self, minutes: float = 45) -> None:
        """Whoever entered something has left."""
        self.clock.now += timedelta(minutes=minutes)

    def words(self) -> str:
        return " ".join(in_words(condition_of(self.book, self.machine, self.clock()), self.machine))


@pytest.fixture
def floor(mixer: Machine, tmp_path: Path) -> Iterator[Floor]:
    with Casebook(tmp_path / "book.sqlite3") as book:
        yield Floor(mixer, book)


def absent(owner: str = "Ann", *points: str, tags: tuple[str, ...] = (), **changed: str) -> e.OwnerAbsent:
    said = {
        "directed_by": EVA,
        "off_site": "The gate has her badge out at 02:10.",
        "tried": "Telephone at 05:10 and 05:20, no answer.",
        "removed_by": "Bob",
        "checked": "Bob and Olga looked behind both guards, nobody there.",
    }
    return e.OwnerAbsent(owner=owner, locks=points, tags=tags, **(said | changed))


def refused(case: Case, event: e.Event) -> str:
    was = case.state
    with pytest.raises(Refused) as error:
        case.post(event)
    assert case.state == was
    return str(error.value)


# ---------------------------------------------------------------- the lock of an absent owner


@pytest.mark.source(
    "29 CFR 1910.147(e)(3), as WAC 296-307-32033: direction, verified off site, tried, told before work", found="read"
)
def test_each_thing_that_the_procedure_asks_for_is_answered_in_its_order(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    bob = floor.case(BOB)
    said: dict[str, str] = dict.fromkeys(("directed_by", "off_site", "tried", "removed_by", "checked"), " ")
    whole = absent("Ann", Q1, LIFT)
    for field, why in (
        ("directed_by", "Say who directs it for the employer, by name."),
        ("off_site", "Say how it was verified that the owner is not on site."),
        ("tried", "Say how the owner was tried to be reached."),
        ("removed_by", "Say who takes it off, by name."),
        ("checked", "Say who checked the area and saw that everybody is clear."),
    ):
        assert refused(bob, absent("Ann", Q1, LIFT, **said)) == why
        said[field] = getattr(whole, field)
    state = bob.post(absent("Ann", Q1, LIFT, **said))
    assert state.locks == ()
    (one,) = state.to_be_told
    assert (one.owner, one.locks, one.directed_by, one.removed_by) == ("Ann", (Q1, LIFT), EVA, "Bob")


@pytest.mark.source("common practice: ask first whoever was here just now; no standard gives minutes", found="read")
def test_whoever_entered_something_here_just_now_is_not_absent(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    again, bob = floor.case(ANN), floor.case(BOB)
    again.follow()
    again.post(e.Joined(person="Ann", role=Role.ELECTRICIAN, authorised=True, qualified=True))
    last = again.state.last
    bob.follow()
    why = f"Ann entered something here at {last.astimezone():%H:%M}. Reach them first."
    assert refused(bob, absent("Ann", Q1, LIFT)) == why, "in whichever case it was"
    floor.clock.now = last + timedelta(minutes=25)
    assert refused(bob, absent("Ann", Q1, LIFT)) == why
    floor.clock.now = last + PRESENT
    assert bob.post(absent("Ann", Q1, LIFT)).locks == ()


def test_an_entry_that_was_taken_back_was_still_made_by_somebody_who_is_here(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    ann.say("smell", "none")
    ann.post(ann.undoing())
    bob = floor.case(BOB)
    assert "Reach them first" in refused(bob, absent("Ann", Q1))


@pytest.mark.parametrize(
    ("field", "said", "why"),
    [
        ("off_site", "x", "how it was verified that the owner is not on site. That is too short"),
        ("tried", "- 1 -", "how the owner was tried to be reached. That is too short"),
        ("checked", "Ann Weber", "leave Ann Weber out"),
        ("checked", "Bob and  ANN  Wéber", "leave Ann Weber out"),
        ("checked", "Ann", "leave Ann Weber out"),
        ("directed_by", "ann weber", "somebody else's"),
        ("removed_by", "Ann Weber", "somebody else's"),
    ],
)
def test_an_answer_says_something_and_not_that_the_owner_was_there(
    floor: Floor, field: str, said: str, why: str
) -> None:
    bob = floor.case(BOB)
    bob.post(e.TagFound(person="Ann Weber", point=Q1))
    was = bob.state
    with pytest.raises(WrongAnswer, match=why) as error:
        bob.post(absent("Ann Weber", tags=(Q1,), **{field: said}))
    assert error.value.field == field
    assert bob.state == was
    bob.post(absent("Ann Weber", tags=(Q1,), checked="Bob and Annabel looked, nobody there"))


@pytest.mark.source("29 CFR 1910.333(b)(2)(v)(C), as WAC 296-307-37817: a qualified person, designated", found="read")
def test_who_may_enter_it_who_takes_it_off_and_who_directs_it(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    olga, bob = floor.case(OLGA), floor.case(BOB)
    ann.follow()
    olga.follow()
    assert "An electrician or an engineer" in refused(olga, absent("Ann", Q1))
    assert "It is your own" in refused(ann, absent("Ann", Q1, removed_by="Ann"))
    assert "No such lock" in refused(bob, absent("Carl", Q1))
    assert "No such lock" in refused(bob, absent("Ann", Q1, Q1))
    assert "Say which lock" in refused(bob, absent("Ann"))
    assert "Carl has not said here what they may do" in refused(bob, absent("Ann", Q1, removed_by="Carl"))
    assert "two people" in refused(bob, absent("Ann", Q1, directed_by="bob"))
    assert "somebody else's" in refused(bob, absent("Ann", Q1, directed_by="ANN"))
    assert "somebody else's" in refused(bob, absent("Ann", Q1, directed_by="engineer on shift"))
    for one in (Person("Dora", Role.ELECTRICIAN, authorised=True), OLGA):
        Case.resume(bob.id, floor.machine, Sitting(one), book=floor.book, clock=floor.clock)
    bob.follow()
    assert "qualified to work near live parts" in refused(bob, absent("Ann", Q1, removed_by="Dora"))
    assert "not said here that they are authorised" in refused(bob, absent("Ann", Q1, removed_by="Olga"))
    nobody = floor.case(Person("engineer on shift", Role.ENGINEER, True, True))
    assert "by a name of their own" in refused(nobody, absent("Ann", Q1))
    plain = floor.case(replace(BOB, name="Fred", authorised=False))
    assert "authorised to lock out" in refused(plain, absent("Ann", Q1))


def test_a_lock_at_a_point_without_electricity_takes_nobody_who_is_qualified(mixer: Machine) -> None:
    air = replace(mixer, points={p: replace(point, electrical=False) for p, point in mixer.points.items()})
    clock = Ticking()
    case = Case.open(air, ANN, clock=clock)
    lock_out(case)
    clock.now += timedelta(minutes=45)
    case.post(e.TookOver(person="Dora", role=Role.ELECTRICIAN, authorised=True))
    dora = Sitting(Person("Dora", Role.ELECTRICIAN, authorised=True))
    case.sit(dora)
    case.post(absent("Ann", LIFT, removed_by="dora"))
    assert case.state.locks == ((Q1, "Ann"),)
    (event,) = [s.event for s in case.entries if isinstance(s, e.Stamped) and isinstance(s.event, e.OwnerAbsent)]
    assert (event.removed_by, event.authorised, event.qualified) == ("Dora", True, False)


def test_the_proof_of_every_zone_on_that_point_lapses_for_everybody(floor: Floor) -> None:
    """Bob's own locks are on and his proof was made under them, and still it is gone."""
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    bob = floor.case(BOB)
    for point in (Q1, LIFT):
        gate(bob, Act.OFF_AND_LOCKED, point)
    lock_out(bob)
    assert bob.state.banner.level == "dead"
    bob.post(absent("Ann", Q1))
    assert bob.state.banner.title.startswith("LOCKING OUT, not dead")
    assert set(bob.state.locks) == {(Q1, "Bob"), (LIFT, "Bob"), (LIFT, "Ann")}
    assert not bob.state.energised, "the points stay off"
    lock_out(bob)
    assert bob.state.banner.level == "dead", "tested anew"


def test_the_way_back_goes_on_and_a_last_look_is_taken_anew(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    gate(ann, Act.BACK)
    while ann.state.steps[BOX] and ann.state.steps[BOX][0].act is not Act.LOCKS_OFF:
        step = ann.state.steps[BOX][0]
        gate(ann, step.act, step.target)
    floor.later()
    bob = floor.case(BOB)
    assert not bob.state.steps[BOX], "they wait for Ann's locks"
    bob.post(absent("Ann", Q1, LIFT))
    assert bob.state.steps[BOX][0].act is Act.LAST_LOOK
    with pytest.raises(Refused, match="Locks are off already"):
        gate(bob, Act.RETRACT)


def test_a_last_look_that_was_before_that_lock_is_taken_anew(mixer: Machine) -> None:
    """Ann's zone has had its last look when Bob locks the shared point for another zone, and goes home."""
    both = replace(mixer, zones={**mixer.zones, "bowl": replace(mixer.zones[BOX], id="bowl", title="Bowl")})
    isolation = Isolation()

    def go(zone: str, person: Person, until: Act) -> Isolation:
        now = isolation
        while (step := now.steps(both, zone, person)[0]).act is not until:
            values = dict.fromkeys(both.test_points[step.target].pairs, 0.0) if step.act is Act.TESTED_DEAD else {}
            now = now.apply(both, zone, step.act, step.target, person, values=values)
        return now

    isolation = go(BOX, ANN, Act.RELEASED).apply(both, BOX, Act.BACK, "", ANN)
    isolation = go(BOX, ANN, Act.POWER_ON)
    isolation = go("bowl", BOB, Act.OFF_AND_LOCKED).apply(both, "bowl", Act.OFF_AND_LOCKED, Q1, BOB)
    assert isolation.lockout(BOX).has(Act.LAST_LOOK)
    after = isolation.owner_absent(both, "Bob", (Q1,), "Ann")
    assert not after.lockout(BOX).has(Act.LAST_LOOK)
    assert not after.lockout(BOX).has(Act.TOLD_BACK)
    assert after.steps(both, BOX, ANN)[0].act is Act.LAST_LOOK


def test_not_while_a_danger_sign_stands(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    bob = floor.case(BOB)
    bob.say("smell", "burning")
    assert "A danger sign stands" in refused(bob, absent("Ann", Q1))


def test_the_owner_is_to_be_told_over_cases_and_rests_until_that_is_entered(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    bob = floor.case(BOB)
    bob.post(absent("Ann", Q1, LIFT))
    gate(bob, Act.BACK)
    go_on(bob)
    assert bob.state.energised
    places = "Main switch Q1 and Permission feed from the bowl lift"
    assert f"TO BE TOLD: Ann, before any work. Taken off at {places} by Bob (case {bob.id}" in floor.words()
    found = as_object(condition_of(floor.book, floor.machine, floor.clock()))
    (one,) = found["owners_to_be_told"]
    assert (one["who"], one["locks"], one["removed_by"], one["directed_by"]) == ("Ann", [Q1, LIFT], "Bob", EVA)
    assert found["locks"] == []
    bob.post(e.Closed(outcome="running"))
    ann.follow()
    ann.post(e.Closed(outcome="running"))
    later = floor.case(OLGA)
    assert [one.owner for one in later.state.to_be_told] == ["Ann"]
    assert [line.to_be_told for line in cases_in(floor.book) if line.id == later.id] == [("Ann",)]
    assert "TO BE TOLD: Ann, before any work here." in " ".join(sheet.plain(later).split())
    assert "Say how they were told" in refused(later, e.OwnerTold(owner="Ann", how=" "))
    assert "Nothing of Carl" in refused(later, e.OwnerTold(owner="Carl", how="by telephone"))
    later.post(e.OwnerTold(owner="ANN", how="By telephone at 06:10, by Olga."))
    assert later.state.to_be_told == ()
    assert "TO BE TOLD" not in floor.words()


def test_the_owner_does_no_work_here_before_they_know(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    floor.case(BOB).post(absent("Ann", Q1, LIFT))
    again = floor.case(ANN)
    why = "Your lock at Main switch Q1 and your lock at Permission feed from the bowl lift were taken off on "
    for event in (
        e.Gate(zone=BOX, act=Act.OFF_AND_LOCKED, target=Q1),
        e.Remedied(remedy="let-cool"),
        e.ResetDone(reset="panel-reset"),
    ):
        told = refused(again, event)
        assert told.startswith(why), event
        assert told.endswith("by Bob, for Eva Roth. Say first that you know it.")
    again.post(e.Noted(text="I am back."))
    again.post(e.OwnerTold(owner="Ann", how="Read it here."))
    gate(again, Act.OFF_AND_LOCKED, Q1)
    assert again.state.locks == ((Q1, "Ann"),)


def test_what_is_stored_is_what_is_replayed_and_names_can_be_forgotten(floor: Floor) -> None:
    ann = floor.case(ANN)
    lock_out(ann)
    floor.later()
    bob = floor.case(BOB)
    bob.post(absent("Ann", Q1))
    seen = Case.read(bob.id, floor.machine, book=floor.book)
    assert (seen.state.locks, seen.state.to_be_told) == (bob.state.locks, bob.state.to_be_told)
    assert seen.state.problems == ()
    floor.book.check(floor.machine.id)
    (body,) = floor.book.engine.run("SELECT body FROM event WHERE kind = 'owner-absent'")[0]
    for words in ("Eva", "Bob", "badge", "Telephone", "guards"):
        assert words not in body, "names and free words stand apart"


def go_on(case: Case, zone: str = BOX) -> None:
    while case.state.lockouts[zone].phase is not Phase.NONE and case.state.steps[zone]:
        step = case.state.steps[zone][0]
        gate(case, step.act, step.target, zone)


# ---------------------------------------------------------------- danger tags


def test_a_tag_stands_for_every_case_and_only_the_person_named_takes_it_down(floor: Floor) -> None:
    olga, bob = floor.case(OLGA), floor.case(BOB)
    olga.post(e.TagFound(person="Ann", point=Q1, says="Do not switch on."))
    bob.follow()
    (tag,) = bob.state.tags
    assert (tag.person, tag.point, tag.by, tag.case) == ("Ann", Q1, "Olga", olga.id)
    assert "DANGER TAG at Main switch Q1 names Ann" in floor.words()
    assert "Only Ann takes that tag down" in refused(bob, e.TagDown(person="Ann", point=Q1, how="It looked old."))
    assert "cannot be taken back" in refused(bob, e.TakenBack(seq=3))
    assert "entered already" in refused(bob, e.TagFound(person="ann", point=Q1))
    text = " ".join(sheet.plain(bob).split())
    assert 'DANGER TAG: Main switch Q1, names Ann, says "Do not switch on."' in text
    ann = floor.case(ANN)
    assert "Say what you saw" in refused(ann, e.TagDown(person="Ann", point=Q1))
    ann.post(e.TagDown(person="Ann", point=Q1, how="The arm is mended and guarded."))
    bob.follow()
    assert bob.state.tags == ()
    assert "DANGER TAG" not in floor.words()


def test_a_tag_needs_a_name_and_a_place(floor: Floor) -> None:
    olga = floor.case(OLGA)
    assert "Say which name" in refused(olga, e.TagFound(person=" ", point=Q1))
    assert "Say where" in refused(olga, e.TagFound(person="Ann"))
    assert "no isolation point 'q9'" in refused(olga, e.TagFound(person="Ann", point="q9"))
    assert "No such danger tag" in refused(olga, e.TagDown(person="Ann", point=Q1, how="x"))


@pytest.mark.parametrize("point", [Q1, ""])
def test_what_a_tag_hangs_on_is_not_switched_on(floor: Floor, point: str) -> None:
    """On one point it closes that one alone; where it hangs elsewhere, it may be meant for any of them."""
    bob = floor.case(BOB)
    lock_out(bob)
    floor.case(OLGA).post(e.TagFound(person="Ann", point=point, where="" if point else "on the start button"))
    bob.follow()
    assert bob.state.banner.level == "dead", "work that is under way goes on"
    with pytest.raises(Refused, match=r"A danger tag.* names Ann"):
        gate(bob, Act.TEST_POWER)
    gate(bob, Act.BACK)
    while bob.state.steps[BOX] and bob.state.steps[BOX][0].act is not Act.POWER_ON:
        step = bob.state.steps[BOX][0]
        gate(bob, step.act, step.target)
    assert [s.target for s in bob.state.steps[BOX]] == ([LIFT] if point else [])
    with pytest.raises(Refused, match="It stays off until Ann takes the tag down"):
        gate(bob, Act.POWER_ON, Q1)
    if point:
        gate(bob, Act.POWER_ON, LIFT)
    assert Q1 in bob.state.off
    ann = floor.case(ANN)
    ann.post(e.TagDown(person="Ann", point=point, how="It is mended."))
    bob.follow()
    go_on(bob)
    assert bob.state.energised


def test_nothing_is_reset_worked_live_or_ended_under_a_tag(floor: Floor) -> None:
    bob = floor.case(BOB)
    bob.say("box-display", floor.machine.indications["box-display"].normal)
    assert bob.state.resets[0].may
    bob.post(e.TagFound(person="Ann", point=Q1))
    assert "A danger tag names Ann" in bob.state.resets[0].because
    assert "A danger tag names Ann" in refused(bob, e.ResetDone(reset="panel-reset"))
    assert not any(way.act is Act.LIVE for way in bob.state.ways[BOX])
    live = e.Gate(zone=BOX, act=Act.LIVE, reason="measured no other way", permit="P-17")
    assert "A danger tag at Main switch Q1 names Ann" in refused(bob, live)
    assert "A danger tag names Ann" in refused(bob, e.Closed(outcome="running"))
    bob.post(e.Closed(outcome="handed-over", to="the day shift"))


def test_a_lock_that_is_taken_back_does_not_switch_on_what_a_tag_keeps_off(floor: Floor) -> None:
    bob = floor.case(BOB)
    for act, target in ((Act.TOLD, ""), (Act.SHUT_DOWN, ""), (Act.OFF_AND_LOCKED, Q1)):
        gate(bob, act, target)
    bob.post(e.TagFound(person="Ann", point=Q1))
    with pytest.raises(Refused, match="It stays off until Ann"):
        gate(bob, Act.RETRACT)


def test_the_employers_procedure_ends_a_tag_too(floor: Floor) -> None:
    bob = floor.case(BOB)
    bob.post(e.TagFound(person="Ann Weber", point=Q1))
    assert "No such danger tag of Carl" in refused(bob, absent("Carl", tags=(Q1,)))
    assert "No such danger tag of Ann Weber" in refused(bob, absent("Ann Weber", tags=(LIFT,)))
    state = bob.post(absent("Ann Weber", tags=(Q1,)))
    assert state.tags == ()
    assert [(one.owner, one.tags) for one in state.to_be_told] == [("Ann Weber", (Q1,))]
    assert Case.read(bob.id, floor.machine, book=floor.book).state.problems == ()


def test_a_person_whose_tag_stands_is_not_forgotten(floor: Floor) -> None:
    from diag.case.log.stored import derive
    from diag.record.casebook import CasebookError
    from diag.record.forgetting import forget

    floor.case(OLGA).post(e.TagFound(person="Ann Weber", point=Q1))
    with pytest.raises(CasebookError, match="Ann Weber"):
        forget(floor.book.engine, "Ann Weber", derive)


# ---------------------------------------------------------------- nothing opens by it


def walked(machine: Machine, seed: int) -> Iterator[tuple[Isolation, tuple[Person, ...]]]:
    """States of a lockout that three people come to by lot, each way and finding among them."""
    lot, people = random.Random(seed), (ANN, BOB, replace(ANN, name="Cleo"))
    isolation = Isolation()
    for _ in range(60):
        zone, person = lot.choice(tuple(machine.zones)), lot.choice(people)
        steps = isolation.steps(machine, zone, person)
        ways = [w for w in isolation.ways(machine, zone, person) if lot.random() < 0.15]
        open_now = [*steps, *steps, *ways]
        if not open_now:
            continue
        step = lot.choice(open_now)
        words = {"reason": "no other way", "permit": "P-1"} if step.asks else {}
        points = machine.test_points.get(step.target)
        values = dict.fromkeys(points.pairs or (points.title,), 0.0) if points is not None else {}
        with suppress(Refused):
            isolation = isolation.apply(machine, zone, step.act, step.target, person, values=values, **words)
        yield isolation, people


@pytest.mark.parametrize("name", ["mixer", "tray-stacker"])
def test_taking_a_lock_off_opens_nothing_that_was_not_open(name: str, mixer: Machine, record_property: object) -> None:
    """Over random walks: for nobody is a zone dead or live afterwards that was not before; every zone on that point is
    dead for nobody; nothing is switched on; and what is due next is never nearer to dead than it was."""
    machine = mixer if name == "mixer" else read(KNOWLEDGE / name, examples=False)
    tried = 0
    for seed in range(12 if name == "mixer" else 5):
        for isolation, people in walked(machine, seed):
            owners = {owner for _, owner in isolation.locks}
            for owner in sorted(owners):
                own = sorted(p for p, who in isolation.locks if who == owner)
                for points in (own[:1], own):
                    after = isolation.owner_absent(machine, owner, points, "Bob")
                    tried += 1
                    assert after.off == isolation.off
                    assert after.holds == isolation.holds
                    assert isolation.locks - after.locks == {(p, owner) for p in points}
                    assert after.live is None
                    for person in people:
                        assert dead_zones(machine, after, person) <= dead_zones(machine, isolation, person)
                        assert not live_zones(machine, after, person)
                    for zone in machine.zones.values():
                        was, now = isolation.lockout(zone.id), after.lockout(zone.id)
                        assert now.entered == was.entered, "opened is opened"
                        if not set(points).isdisjoint(zone.points):
                            assert now.phase is not Phase.DEAD
                            assert not now.covered
                            assert not now.has(Act.TESTED_DEAD)
                            assert not now.has(Act.LAST_LOOK)
                        else:
                            assert (was.phase, was.entered) == (now.phase, now.entered)
    assert tried > 400
    record_property("figure", f"{tried} locks of absent owners taken off in {name}")  # type: ignore[operator]


def test_no_confirmation_switches_on_what_a_tag_keeps_off(mixer: Machine) -> None:
    for seed in range(20):
        before = Isolation()
        for after, _ in walked(mixer, seed):
            on = before.off - after.off
            for tags in ({Q1: "Ann"}, {"": "Ann"}):
                if Q1 in on or ("" in tags and on):
                    with pytest.raises(Refused, match="names Ann"):
                        check_switched_on(mixer, before, after, tags)
                else:
                    check_switched_on(mixer, before, after, tags)
            before = after


def test_go_back_is_the_whole_way(floor: Floor) -> None:
    """Nothing of all this stands in the way of an ordinary lockout."""
    bob = floor.case(BOB)
    lock_out(bob)
    go_back(bob)
    assert bob.state.energised
