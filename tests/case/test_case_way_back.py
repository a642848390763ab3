"""The way back over a whole case: what was taken off, remedies entered later, proofs that age, and old casebooks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pytest
from case_steps import ANN, BOB, BOX, OLGA, START, Ticking, gate, go_back, lock_out

from diag.case.case import Case
from diag.case.log import events as e
from diag.case.log.replay import replay
from diag.case.sitting import Sitting
from diag.machine.isolation import PutBack, TakenOff
from diag.machine.model import Machine
from diag.safety import Act, Person, Phase, Refused


def bench(mixer: Machine) -> Machine:
    """The mixer with a prop under its arm, a meter's limit, and a remedy that takes two wires off."""
    arm = replace(mixer.stored["arm-weight"], put_back=PutBack(do="Take out the prop", inside=True))
    out = replace(mixer.test_points["q1-out"], below=50.0, pairs=("L1-L2", "L1-PE"))
    unit = replace(mixer.remedies["supply-unit-failed"], takes_off=(TakenOff(what="wires 4 and 5", phases=True),))
    return replace(
        mixer,
        stored={"arm-weight": arm},
        test_points={"q1-out": out},
        remedies={**mixer.remedies, unit.id: unit},
    )


def opened(machine: Machine, person: Person = ANN) -> Case:
    return Case.open(machine, person, clock=Ticking())


def refused(case: Case, event: e.Event) -> str:
    with pytest.raises(Refused) as why:
        case.post(event)
    assert "\n" not in str(why.value)
    return str(why.value)


REMEDY = "supply-unit-failed"
DEAD = {"L1-L2": 0.0, "L1-PE": 0.2}


def dead(case: Case) -> None:
    """The gate to its end, with what the meter reads at a dead point."""
    while steps := case.state.steps[BOX]:
        while steps[0].act is Act.RELEASED and case.state.waits.get(steps[0].target, START) > case._clock():
            pass
        values = DEAD if steps[0].asks == ("values",) else {}
        case.post(e.Gate(zone=BOX, act=steps[0].act, target=steps[0].target, values=values))


def test_a_reading_at_the_limit_is_stored_as_a_voltage_found(mixer: Machine) -> None:
    case = opened(bench(mixer))
    while case.state.steps[BOX][0].act is not Act.TESTED_DEAD:
        step = case.state.steps[BOX][0]
        while step.act is Act.RELEASED and case.state.waits.get(step.target, START) > case._clock():
            pass
        gate(case, step.act, step.target)
    assert "Missing: L1-L2" in refused(case, e.Gate(zone=BOX, act=Act.TESTED_DEAD, target="q1-out"))
    live = e.Gate(zone=BOX, act=Act.TESTED_DEAD, target="q1-out", values=DEAD | {"L1-PE": 230.0})
    case.post(live)
    assert case.state.lockouts[BOX].phase is Phase.STOP
    stored = case.entries[-1]
    assert isinstance(stored, e.Stamped)
    assert isinstance(stored.event, e.Gate)
    assert (stored.event.act, stored.event.values["L1-PE"]) == (Act.VOLTAGE_FOUND, 230.0)


def test_what_a_remedy_took_off_and_what_was_held_come_back_by_name_before_the_case_ends(mixer: Machine) -> None:
    case = opened(bench(mixer))
    dead(case)
    assert case.state.holds == ("arm-weight",)
    case.post(e.Remedied(remedy=REMEDY))
    assert case.state.taken == ((BOX, "wires 4 and 5"),)
    gate(case, Act.BACK)
    named = []
    while case.state.lockouts[BOX].phase is not Phase.NONE:
        step = case.state.steps[BOX][0]
        assert (step.act, step.target) == case.state.ahead[BOX][0] or step.act is Act.LOCKS_OFF
        if case.state.lockouts[BOX].phase is Phase.HOLDS:
            assert case.state.energised
            assert case.state.banner.title.startswith("POWER ON, NOT FINISHED")
        assert "not finished" in refused(case, e.Closed(outcome="running")) or case.state.locks
        named.append((step.act, step.target))
        gate(case, step.act, step.target)
    assert named[:3] == [(Act.WORK_SAID, ""), (Act.PUT_BACK, "wires 4 and 5"), (Act.HOLD_OUT, "arm-weight")]
    assert named[-1] == (Act.ROTATION, "")
    assert (case.state.holds, case.state.taken) == ((), ())


def test_a_case_does_not_end_while_power_is_on_for_a_test(mixer: Machine) -> None:
    case = opened(bench(mixer))
    dead(case)
    gate(case, Act.TEST_POWER)
    while case.state.lockouts[BOX].phase is Phase.BACK:
        gate(case, case.state.steps[BOX][0].act, case.state.steps[BOX][0].target)
    assert case.state.lockouts[BOX].phase is Phase.TESTING
    assert "Power is on for a test" in refused(case, e.Closed(outcome="running"))


def test_a_remedy_is_entered_later_by_whoever_did_it_at_a_time_when_it_was_dead_for_them(mixer: Machine) -> None:
    case = opened(mixer)
    before = case._clock()
    lock_out(case)
    during = case._clock()
    go_back(case)
    after = case._clock()
    late = e.Remedied(remedy=REMEDY, done_at=during)
    for at in (before, after):
        assert "was not proved dead for Ann" in refused(case, late.model_copy(update={"done_at": at}))
    for at in (after + timedelta(days=1), START - timedelta(days=1), during.replace(tzinfo=None)):
        assert "Say when it was done" in refused(case, late.model_copy(update={"done_at": at}))
    assert "First lock out" in refused(case, e.Remedied(remedy=REMEDY))
    case.post(e.TookOver(person="Bob", role=BOB.role, authorised=True, qualified=True))
    assert "was not proved dead for Bob" in refused(case, late)
    case.post(e.TookOver(person="Olga", role=OLGA.role))
    refused(case, late)
    case.post(e.TookOver(person="Ann", role=ANN.role, authorised=True, qualified=True))
    case.post(late)
    assert case.state.remedy == REMEDY


def test_what_a_late_remedy_took_off_is_said_to_be_back_before_the_case_ends(mixer: Machine) -> None:
    case = opened(bench(mixer))
    dead(case)
    during = case._clock()
    gate(case, Act.BACK)
    while case.state.lockouts[BOX].phase is not Phase.NONE:
        gate(case, case.state.steps[BOX][0].act, case.state.steps[BOX][0].target)
    case.post(e.Remedied(remedy=REMEDY, done_at=during))
    assert "wires 4 and 5" in refused(case, e.Closed(outcome="running"))
    assert any(way.act is Act.PUT_BACK for way in case.state.ways[BOX])
    gate(case, Act.PUT_BACK, "wires 4 and 5")
    assert case.state.taken == ()


def test_a_proof_of_dead_ages_and_closes_what_is_begun_and_not_what_was_done(mixer: Machine) -> None:
    clock = Ticking()
    case = Case.open(replace(mixer, proof_holds=30), ANN, clock=clock)
    lock_out(case)
    tested = next(s.at for s in case.entries if isinstance(s.event, e.Gate) and s.event.act is Act.TESTED_DEAD)
    assert case.state.banner.level == "dead"
    assert case.action(REMEDY).how
    assert not case.tick()
    clock.now = tested + timedelta(minutes=29)
    assert case.tick(), "the clock goes on a minute each time it is read"
    assert case.state.banner.title.startswith("PROVED ")
    assert "Test again before you touch" in case.state.banner.allows
    assert case.action(REMEDY).how == ""
    assert case.action(REMEDY).permission.now
    assert any(way.act is Act.BACK for way in case.state.ways[BOX])
    gate(case, Act.METER_PROVED)
    values = dict.fromkeys(mixer.test_points["q1-out"].pairs, 0.0)
    case.post(e.Gate(zone=BOX, act=Act.TESTED_DEAD, target="q1-out", values=values))
    gate(case, Act.METER_PROVED)
    assert case.state.banner.level == "dead"
    assert case.action(REMEDY).how


def as_before(entries: Sequence[e.Entry], leave_out: frozenset[Act]) -> list[e.Entry]:
    """The entries as a program wrote them that knew no values and no way back item by item."""
    found = []
    for entry in entries:
        assert isinstance(entry, e.Stamped)
        event = entry.event
        if isinstance(event, e.Gate):
            if event.act in leave_out:
                continue
            event = event.model_copy(update={"by_item": False, "values": {}})
            if event.act is Act.POWER_ON:
                leave_out |= {Act.POWER_ON}  # one entry for all points
                event = event.model_copy(update={"target": ""})
        found.append(entry.model_copy(update={"event": event, "seq": len(found) + 1}))
    return found


def test_a_casebook_from_before_is_read_to_the_safe_side(mixer: Machine) -> None:
    """Dead as it was then; what the file holds now is on the way back, and nothing of it is taken as done."""
    machine = bench(mixer)
    case = opened(machine)
    dead(case)
    old = replay(machine, case.id, as_before(case.entries, frozenset()))
    assert old.isolation.lockout(BOX).phase is Phase.DEAD
    assert old.isolation.holds == {"arm-weight"}
    gate(case, Act.BACK)
    while case.state.lockouts[BOX].phase is not Phase.NONE:
        gate(case, case.state.steps[BOX][0].act, case.state.steps[BOX][0].target)
    new = frozenset({Act.WORK_SAID, Act.HOLD_OUT, Act.EARTHS_OUT, Act.CONTROLS_OFF, Act.LAST_LOOK})
    over = replay(machine, case.id, as_before(case.entries, new))
    assert over.problems == ()
    assert over.isolation.energised(machine)
    assert over.isolation.lockout(BOX).phase is Phase.NONE


def test_an_operator_s_reading_from_inside_is_another_person_s_by_name(mixer: Machine) -> None:
    case = opened(mixer, OLGA)
    for who in ("Olga", "OLGA", "operator on shift", "operator"):
        assert "Say who found it" in refused(case, e.Found(indication="mains", seen={"good": 1.0}, before=who))
    case.post(e.Found(indication="mains", seen={"good": 1.0}, before="Ann"))
    case.post(e.Found(indication="supply-lamp", seen={"dark": 1.0}, before="Olga"))
    assert [f.before for f in case.state.facts] == ["Ann", "Olga"]


def to_the_last_point(case: Case) -> None:
    """The way back, with a last look and users told, up to the power."""
    gate(case, Act.BACK)
    while (step := case.state.steps[BOX][0]).act is not Act.POWER_ON:
        gate(case, step.act, step.target)


def last_looks(case: Case) -> int:
    acts = [n.event.act for n in case.entries if isinstance(n, e.Stamped) and isinstance(n.event, e.Gate)]
    return acts.count(Act.LAST_LOOK)


@pytest.mark.source("29 CFR 1910.147(e)(2)(i): everyone is clear before the power", found="read in public text")
def test_a_danger_after_the_last_look_asks_for_another_one(mixer: Machine) -> None:
    case = opened(mixer)
    lock_out(case)
    to_the_last_point(case)
    case.say("smell", "burning")
    case.undo()
    assert case.state.steps[BOX][0].act is Act.LAST_LOOK
    assert "Not yet" in refused(case, e.Gate(zone=BOX, act=Act.POWER_ON, target=case.machine.zones[BOX].points[0]))


def test_whoever_comes_after_the_last_look_was_not_seen_by_it(mixer: Machine) -> None:
    case = opened(mixer)
    lock_out(case)
    to_the_last_point(case)
    gate(case, case.state.steps[BOX][0].act, case.state.steps[BOX][0].target)
    case.post(e.Noted(text="The night shift's engineer is here"), Sitting(BOB))
    assert case.state.steps[BOX][0].act is Act.LAST_LOOK
    while steps := case.state.steps[BOX]:
        gate(case, steps[0].act, steps[0].target)
        if case.state.lockouts[BOX].phase is Phase.NONE:
            break
    assert last_looks(case) == 2
    assert case.state.energised


def test_a_wait_begins_anew_after_what_stopped_the_zone(mixer: Machine) -> None:
    """What moved was fed, so that what a store holds is full again."""
    case = opened(mixer)
    while (step := case.state.steps[BOX][0]).act is not Act.RELEASED:
        gate(case, step.act, step.target)
    first = case.state.waits[step.target]
    gate(case, Act.MOVED)
    gate(case, Act.ISOLATE_AGAIN, reason="Found and put right; Eva decided")
    assert "looked" not in case.state.steps[BOX][0].text
    assert "been to each of these again" in case.state.steps[BOX][0].text
    assert "Main switch Q1" in case.state.steps[BOX][0].text
    while (step := case.state.steps[BOX][0]).act is not Act.RELEASED:
        gate(case, step.act, step.target)
    again = timedelta(minutes=mixer.stored[step.target].wait)
    assert case.state.waits[step.target] > first
    assert case.state.waits[step.target] >= case.entries[-2].at + again
