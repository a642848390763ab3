"""The lockout against the texts that it follows."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import gate_machines
import pytest
from gate_steps import ANN, BOB, EVE, OUT, confirm, go, offered, onward

from diag.case.log.events import Gate, Stamped
from diag.case.log.stored import entries_of
from diag.machine.isolation import TakenOff
from diag.machine.model import Machine, Role
from diag.record.casebook import Casebook
from diag.record.entry import NewEntry
from diag.safety import Act, Isolation, Person, Phase, Refused, dead_zones

source = pytest.mark.source
DRIVE, CABINET = "drive", "cabinet"


@source(
    "29 CFR 1910.147(d)(1)-(6): prepare, shut down, isolate, lock, stored energy, verify", found="read in public text"
)
@source("29 CFR 1910.333(b)(2)(iv); HSG85, GS38: prove the meter, test, prove it again", found="read in public text")
def test_order_of_an_electrical_zone() -> None:
    assert offered(gate_machines.stored(), DRIVE, ANN) == [
        ("told", ""),
        ("shut-down", ""),
        ("off-and-locked", "q1"),
        ("released", "bus"),
        ("released", "lift"),
        ("start-tried", ""),
        ("opened", ""),
        ("meter-proved", ""),
        ("tested-dead", "bars"),
        ("meter-proved", ""),
    ]


def test_a_zone_without_electricity_is_proved_by_its_own_test_points() -> None:
    asked = offered(gate_machines.mechanical(), "frame", ANN)
    assert asked[-3:] == [("start-tried", ""), ("tested-dead", "gauge"), ("tested-dead", "lever")]


@source("IEC 60204-1 5.3.5: with the main switch off, excepted circuits may stay live", found="read in public text")
def test_a_foreign_feed_is_asked_for_by_name() -> None:
    machine = gate_machines.foreign()
    isolation = onward(machine, Isolation(), CABINET, ANN, until=Act.SHUT_DOWN)
    asked = isolation.steps(machine, CABINET, ANN)
    assert [s.target for s in asked] == ["q1", "feed"]
    assert "from outside this machine" in asked[1].text
    isolation = go(machine, isolation, CABINET, ANN, (Act.OFF_AND_LOCKED, "q1"))
    with pytest.raises(Refused, match="feed"):
        go(machine, isolation, CABINET, ANN, Act.START_TRIED)


@source(
    "29 CFR 1910.147(e)(1)-(3): tools and guards, people clear, own locks off, people told", found="read in public text"
)
@source(
    "29 CFR 1910.333(b)(2)(v): jumpers, shorts and grounds out; a look that all are clear, after the locks",
    found="read in public text",
)
@source("29 CFR 1910.147 App. A: controls in neutral before the locks come off", found="read in public text")
def test_order_of_the_way_back() -> None:
    machine = gate_machines.plain()
    isolation = go(machine, onward(machine, Isolation(), CABINET, ANN), CABINET, ANN, Act.BACK)
    assert [act for act, _ in offered(machine, CABINET, ANN, isolation)] == [
        "work-said",
        "tools-out",
        "earths-out",
        "guards-on",
        "controls-off",
        "clear",
        "locks-off",
        "last-look",
        "told-back",
        "power-on",
    ]


@source(
    "29 CFR 1910.147(f)(1): clear, remove locks, energise and test, de-energise and re-apply",
    found="read in public text",
)
def test_power_for_a_test_ends_in_the_whole_proof() -> None:
    machine = gate_machines.stored()
    isolation = go(machine, onward(machine, Isolation(), DRIVE, ANN), DRIVE, ANN, Act.TEST_POWER)
    isolation = onward(machine, isolation, DRIVE, ANN, until=Act.POWER_ON)
    assert isolation.lockout(DRIVE).phase is Phase.TESTING
    assert isolation.energised(machine)
    asked = [act for act, _ in offered(machine, DRIVE, ANN, go(machine, isolation, DRIVE, ANN, Act.ISOLATE_AGAIN))]
    assert asked == [act for act, _ in offered(machine, DRIVE, ANN)][1:]


@source("29 CFR 1910.147(f)(3)(ii)(D): each person's own lock, for as long as they work", found="read in public text")
def test_the_second_person_locks_in_one_act_and_tests_again() -> None:
    machine = gate_machines.foreign()
    isolation = onward(machine, Isolation(), CABINET, ANN)
    assert not dead_zones(machine, isolation, BOB)
    step = isolation.steps(machine, CABINET, BOB)[0]
    assert (step.act, step.target) == (Act.OFF_AND_LOCKED, "")
    isolation = go(machine, isolation, CABINET, BOB, Act.OFF_AND_LOCKED)
    assert not dead_zones(machine, isolation, BOB)
    assert dead_zones(machine, isolation, ANN) == {CABINET}
    assert [act for act, _ in offered(machine, CABINET, BOB, isolation)] == [
        "meter-proved",
        "tested-dead",
        "tested-dead",
        "meter-proved",
    ]
    isolation = onward(machine, isolation, CABINET, BOB)
    assert dead_zones(machine, isolation, BOB) == dead_zones(machine, isolation, ANN) == {CABINET}


@source("29 CFR 1910.147(f)(4): orderly transfer between off-going and oncoming people", found="read in public text")
def test_shift_change_never_leaves_the_zone_without_a_lock() -> None:
    machine = gate_machines.plain()
    isolation = onward(machine, Isolation(), CABINET, ANN)
    with pytest.raises(Refused, match="yours stay on"):
        go(machine, isolation, CABINET, ANN, Act.LOCKS_OFF)
    isolation = onward(machine, go(machine, isolation, CABINET, BOB, Act.OFF_AND_LOCKED), CABINET, BOB)
    isolation = go(machine, isolation, CABINET, ANN, Act.LOCKS_OFF)
    assert isolation.locks == {("q1", "Bob")}
    assert dead_zones(machine, isolation, BOB) == {CABINET}
    assert not dead_zones(machine, isolation, ANN)


def test_a_person_who_is_not_qualified_joins_when_somebody_qualified_tests_again() -> None:
    machine = gate_machines.plain()
    dan = Person("Dan", Role.ELECTRICIAN, authorised=True)
    isolation = go(machine, onward(machine, Isolation(), CABINET, ANN), CABINET, dan, Act.OFF_AND_LOCKED)
    with pytest.raises(Refused, match="qualified"):
        go(machine, isolation, CABINET, dan, Act.METER_PROVED)
    assert next(s.act for s in isolation.ways(machine, CABINET, ANN)) is Act.METER_PROVED
    isolation = go(machine, isolation, CABINET, ANN, Act.METER_PROVED, (Act.TESTED_DEAD, "out"), Act.METER_PROVED)
    assert dead_zones(machine, isolation, dan) == {CABINET}


@source("29 CFR 1910.147(e)(3): the lock comes off by the one who put it on", found="read in public text")
def test_power_waits_for_every_owner() -> None:
    machine = gate_machines.plain()
    isolation = onward(machine, Isolation(), CABINET, ANN)
    isolation = go(machine, isolation, CABINET, BOB, Act.OFF_AND_LOCKED)
    isolation = go(machine, isolation, CABINET, ANN, Act.BACK, *OUT, (Act.LOCKS_OFF, "q1"))
    for act in (Act.LAST_LOOK, Act.TOLD_BACK, Act.POWER_ON):
        with pytest.raises(Refused, match="Locks are still on: Bob"):
            go(machine, isolation, CABINET, ANN, act)
    with pytest.raises(Refused, match="No lock of yours"):
        go(machine, isolation, CABINET, ANN, Act.LOCKS_OFF)
    isolation = go(machine, isolation, CABINET, BOB, Act.LOCKS_OFF, Act.LAST_LOOK, Act.TOLD_BACK)
    assert not go(machine, isolation, CABINET, ANN, (Act.POWER_ON, "q1")).lockouts


def test_the_first_person_confirms_each_point_by_its_name() -> None:
    machine = gate_machines.foreign()
    isolation = onward(machine, Isolation(), CABINET, ANN, until=Act.SHUT_DOWN)
    with pytest.raises(Refused, match="each point by itself"):
        go(machine, isolation, CABINET, ANN, Act.OFF_AND_LOCKED)


@pytest.mark.parametrize("found", [Act.VOLTAGE_FOUND, Act.METER_FAILED, Act.MOVED])
@pytest.mark.parametrize("after", [Act.START_TRIED, Act.METER_PROVED, Act.TESTED_DEAD, None])
def test_what_is_found_stops_the_zone_until_the_site_decides(found: Act, after: Act | None) -> None:
    machine = gate_machines.plain()
    isolation = go(machine, onward(machine, Isolation(), CABINET, ANN, until=after), CABINET, ANN, found)
    assert not isolation.steps(machine, CABINET, ANN)
    assert not dead_zones(machine, isolation, ANN)
    assert isolation.locks == {("q1", "Ann")}
    for act in (Act.METER_PROVED, Act.RETRACT, Act.SHUT_DOWN):
        with pytest.raises(Refused):
            go(machine, isolation, CABINET, ANN, act)
    with pytest.raises(Refused, match="who decided"):
        go(machine, isolation, CABINET, ANN, Act.ISOLATE_AGAIN)
    isolation = isolation.apply(
        machine, CABINET, Act.ISOLATE_AGAIN, "", ANN, reason="Second feed found and locked; Bob decided"
    )
    asked = [act for act, _ in offered(machine, CABINET, ANN, isolation)]
    assert asked == ["shut-down", "start-tried", "opened", "meter-proved", "tested-dead", "meter-proved"]


def test_a_voltage_stops_every_zone_on_the_same_switch() -> None:
    machine = gate_machines.twins()
    isolation = onward(machine, onward(machine, Isolation(), "left", ANN), "right", ANN)
    assert dead_zones(machine, isolation, ANN) == {"left", "right"}
    isolation = go(machine, isolation, "left", ANN, Act.VOLTAGE_FOUND)
    assert not dead_zones(machine, isolation, ANN)
    assert isolation.lockout("right").phase is Phase.STOP


def test_a_shared_point_stays_off_and_locked_for_the_other_zone() -> None:
    machine = gate_machines.sharing()
    isolation = onward(machine, onward(machine, Isolation(), CABINET, ANN), "frame", ANN, until=Act.SHUT_DOWN)
    assert [s.target for s in isolation.steps(machine, "frame", ANN)] == ["air"]
    isolation = go(machine, onward(machine, isolation, "frame", ANN), "frame", ANN, Act.BACK)
    isolation = onward(machine, isolation, "frame", ANN)
    assert isolation.off == {"q1"}
    assert isolation.locks == {("q1", "Ann")}
    assert dead_zones(machine, isolation, ANN) == {CABINET}
    isolation = onward(machine, go(machine, isolation, CABINET, ANN, Act.BACK), CABINET, ANN)
    assert isolation == Isolation()


@source(
    "29 CFR 1910.147(e)(3), HSG253: one point, two jobs; no lock of another job is named as off",
    found="common practice",
)
def test_locks_and_points_are_named_one_by_one_and_so_are_those_that_stay() -> None:
    """Never the power back, or a lock off, at what keeps another zone dead."""

    def said(isolation: Isolation) -> list[tuple[Act, str, str]]:
        back, found = go(machine, onward(machine, isolation, "frame", ANN), "frame", ANN, Act.BACK), []
        while steps := back.steps(machine, "frame", ANN):
            found += [(s.act, s.target, s.text) for s in steps if s.act in (Act.LOCKS_OFF, Act.POWER_ON)]
            back = confirm(machine, back, steps[0], ANN)
            if back.lockout("frame").phase is Phase.NONE:
                return found
        raise AssertionError("the return to service has no end")

    machine = gate_machines.sharing()
    alone = said(Isolation())
    assert [(act, target) for act, target, _ in alone] == [
        *((Act.LOCKS_OFF, "q1"), (Act.LOCKS_OFF, "air"), (Act.LOCKS_OFF, "air")),
        *((Act.POWER_ON, "q1"), (Act.POWER_ON, "air"), (Act.POWER_ON, "air")),
    ]
    assert alone[0][2] == "Your lock at Switch q1 comes off now."
    assert alone[3][2] == "Switch q1 is on again."
    beside = said(onward(machine, Isolation(), CABINET, ANN))
    assert [text for _, _, text in beside] == [
        "Your lock at Switch air comes off now. Your lock at Switch q1 stays: Zone cabinet needs it.",
        "Switch air is on again. Switch q1 stays off: Zone cabinet needs it.",
    ]


@source("29 CFR 1910.147 App. A: a block that only comes out under power", found="read in public text")
def test_every_hold_is_taken_out_by_its_name_where_it_lies() -> None:
    machine = gate_machines.pinned()
    dead = onward(machine, Isolation(), "drum", ANN)
    assert dead.holds == {"pin", "valve", "prop"}
    back = go(machine, dead, "drum", ANN, Act.BACK)
    with pytest.raises(Refused, match="Energy pin"):
        go(machine, back, "drum", ANN, Act.WORK_SAID, Act.TOOLS_OUT)
    asked = offered(machine, "drum", ANN, back)
    assert [step for step in asked if step[0] != "told-back"] == [
        *(("work-said", ""), ("hold-out", "pin"), ("tools-out", ""), ("earths-out", ""), ("guards-on", "")),
        *(("hold-out", "valve"), ("controls-off", ""), ("clear", ""), ("locks-off", "q1"), ("last-look", "")),
        *(("power-on", "q1"), ("hold-out", "prop")),
    ]


@source("EN 50110-1 6.2: as soon as an earth is out the part counts as live", found="from memory")
def test_what_was_taken_off_is_back_only_by_its_name_and_an_earth_last_of_all() -> None:
    machine = gate_machines.plain()
    dead = onward(machine, Isolation(), CABINET, ANN)
    off = dead.took_off(CABINET, (TakenOff(what="plug X14", phases=True), TakenOff(what="earth at U1", earth=True)))
    back = go(machine, off, CABINET, ANN, Act.BACK)
    assert [step[0] for step in offered(machine, CABINET, ANN, back)] == [
        *("work-said", "put-back", "tools-out", "put-back", "earths-out", "guards-on", "controls-off", "clear"),
        *("locks-off", "last-look", "told-back", "power-on", "rotation"),
    ]
    assert off.unfinished == {CABINET}
    with pytest.raises(Refused, match="isolate again first"):
        go(machine, back, CABINET, BOB, Act.WORK_SAID, Act.TOOLS_OUT)


def test_a_meter_s_reading_is_asked_for_each_pair_and_nothing_at_or_above_the_limit_is_dead() -> None:
    machine = gate_machines.plain()
    point = replace(machine.test_points["out"], below=50.0, pairs=("L1-L2", "L1-PE"))
    machine = replace(machine, test_points={"out": point})
    isolation = onward(machine, Isolation(), CABINET, ANN, until=Act.METER_PROVED)
    assert isolation.steps(machine, CABINET, ANN)[0].asks == ("values",)
    dead = {"L1-L2": 0.1, "L1-PE": 49.9}
    for values, says in (
        ({}, "Missing: L1-L2, L1-PE"),
        ({"L1-L2": 0.0}, "Missing: L1-PE"),
        (dead | {"L1-PE": 50.0}, "L1-PE: 50 V or more"),
        (dead | {"L1-PE": -400.0}, "L1-PE: 50 V or more"),
        (dead | {"L1-PE": float("nan")}, "no voltage"),
        (dead | {"L1-PE": float("inf")}, "no voltage"),
    ):
        with pytest.raises(Refused, match=says):
            isolation.apply(machine, CABINET, Act.TESTED_DEAD, "out", ANN, values=values)
    isolation = isolation.apply(machine, CABINET, Act.TESTED_DEAD, "out", ANN, values=dead)
    assert dead_zones(machine, go(machine, isolation, CABINET, ANN, Act.METER_PROVED), ANN) == {CABINET}


def test_what_is_done_with_the_power_on_comes_before_the_shut_down_and_what_starts_a_wait_before_its_end() -> None:
    machine = gate_machines.stored()
    zone = replace(machine.zones[DRIVE], before_off=("Lower the lift", "Unload the drum"))
    lift = replace(machine.stored["lift"], counts_when="The lift is down", after=("bus",))
    machine = replace(machine, zones={DRIVE: zone}, stored={**machine.stored, "lift": lift})
    assert offered(machine, DRIVE, ANN)[:7] == [
        *(("told", ""), ("before-off", "Lower the lift"), ("before-off", "Unload the drum"), ("shut-down", "")),
        *(("off-and-locked", "q1"), ("released", "bus"), ("wait-begun", "lift")),
    ]


def test_entries_of_earlier_casebooks_are_read_as_they_were_made_and_end_on_the_safe_side() -> None:
    machine = gate_machines.pinned()
    dead = onward(machine, Isolation(), "drum", ANN)
    acts = (Act.BACK, Act.TOOLS_OUT, Act.GUARDS_ON, Act.CLEAR, Act.LOCKS_OFF, Act.TOLD_BACK)
    isolation = dead
    for act in acts:
        isolation = isolation.apply(machine, "drum", act, "", ANN, old=True)
    assert isolation.off == {"q1"}
    over = isolation.apply(machine, "drum", Act.POWER_ON, "", ANN, old=True)
    assert over.energised(machine)
    for act in acts[1:]:
        with pytest.raises(Refused):
            go(machine, go(machine, dead, "drum", ANN, Act.BACK), "drum", ANN, act)


def test_taking_back_goes_one_step_back_and_never_nearer() -> None:
    machine = gate_machines.plain()
    trail = [Isolation()]
    while steps := trail[-1].steps(machine, CABINET, ANN):
        trail.append(go(machine, trail[-1], CABINET, ANN, (steps[0].act, steps[0].target)))
    assert go(machine, trail[-1], CABINET, ANN, Act.RETRACT).lockout(CABINET).trail == trail[-2].lockout(CABINET).trail
    start = next(n for n, isolation in enumerate(trail) if isolation.lockout(CABINET).has(Act.START_TRIED))
    for n in range(start, 0, -1):
        assert go(machine, trail[n], CABINET, ANN, Act.RETRACT) == trail[n - 1]
    with pytest.raises(Refused, match="eturn to service"):
        go(machine, trail[start + 1], CABINET, ANN, Act.RETRACT)


def test_only_the_owner_takes_back_a_lock() -> None:
    machine = gate_machines.plain()
    isolation = onward(machine, Isolation(), CABINET, ANN, until=Act.OFF_AND_LOCKED)
    with pytest.raises(Refused, match="Only Ann"):
        go(machine, isolation, CABINET, BOB, Act.RETRACT)


def test_the_proof_is_one_persons_work() -> None:
    machine = gate_machines.plain()
    isolation = onward(machine, Isolation(), CABINET, ANN, until=Act.OFF_AND_LOCKED)
    isolation = onward(
        machine, go(machine, isolation, CABINET, BOB, Act.OFF_AND_LOCKED), CABINET, ANN, until=Act.TESTED_DEAD
    )
    assert [act for act, _ in offered(machine, CABINET, BOB, isolation)] == [
        "meter-proved",
        "tested-dead",
        "meter-proved",
    ]


@pytest.mark.parametrize("missing", ["points", "test_points"])
def test_a_zone_that_names_nothing_to_isolate_or_to_test_is_never_dead(missing: str) -> None:
    machine = gate_machines.plain()
    bare = replace(machine, zones={CABINET: replace(machine.zones[CABINET], **{missing: ()})})
    assert not Isolation().steps(bare, CABINET, ANN)
    with pytest.raises(Refused, match="cannot be proved dead"):
        go(bare, Isolation(), CABINET, ANN, Act.TOLD)


@source("29 CFR 1910.147(b): an authorised person locks out", found="read in public text")
def test_an_operator_gets_no_way_in() -> None:
    machine = gate_machines.plain()
    assert not Isolation().steps(machine, CABINET, EVE)
    assert not Isolation().ways(machine, CABINET, EVE)
    for act in (Act.TOLD, Act.SHUT_DOWN, Act.OPENED, Act.METER_PROVED, Act.LIVE):
        with pytest.raises(Refused):
            Isolation().apply(machine, CABINET, act, "", EVE, "because", "P 12")


def test_a_person_who_became_an_operator_still_takes_off_their_own_locks() -> None:
    machine = gate_machines.plain()
    isolation = onward(machine, Isolation(), CABINET, ANN)
    isolation = go(machine, isolation, CABINET, ANN, Act.BACK, *OUT)
    assert not go(machine, isolation, CABINET, replace(ANN, role=Role.OPERATOR), Act.LOCKS_OFF).locks


def test_a_countdown_informs_and_never_permits() -> None:
    machine = gate_machines.stored()
    isolation = onward(machine, Isolation(), DRIVE, ANN, until=Act.OFF_AND_LOCKED)
    assert [s.wait for s in isolation.steps(machine, DRIVE, ANN)] == [5, 5]
    with pytest.raises(Refused, match="Next: Energy bus"):
        go(machine, isolation, DRIVE, ANN, Act.START_TRIED)


@pytest.mark.parametrize(
    ("zone", "act", "target", "says"),
    [
        ("nowhere", Act.TOLD, "", "no zone"),
        ("cabinet", Act.OFF_AND_LOCKED, "q9", "no isolation point"),
        ("cabinet", Act.OFF_AND_LOCKED, "q1", "already on"),
        ("cabinet", Act.TOLD, "", "Not yet. Next: "),
        ("cabinet", Act.ISOLATE_AGAIN, "", "nothing to isolate again"),
        ("cabinet", Act.LIVE_OVER, "", "No live work"),
        ("cabinet", Act.TEST_POWER, "", "proved dead"),
    ],
)
def test_a_refusal_says_what_to_do(zone: str, act: Act, target: str, says: str) -> None:
    machine = gate_machines.plain()
    isolation = onward(machine, Isolation(), CABINET, ANN, until=Act.OFF_AND_LOCKED)
    with pytest.raises(Refused, match=says) as refused:
        go(machine, isolation, zone, ANN, (act, target))
    assert "\n" not in str(refused.value)


def test_nobody_is_not_a_person() -> None:
    with pytest.raises(Refused, match="who you are"):
        go(gate_machines.plain(), Isolation(), CABINET, replace(ANN, name="  "), Act.TOLD)


def test_what_still_waits_is_not_released_and_keeps_all_that_comes_after_it_closed() -> None:
    machine = gate_machines.stored()
    isolation = onward(machine, Isolation(), DRIVE, ANN, until=Act.OFF_AND_LOCKED)
    running = frozenset({"bus"})
    with pytest.raises(Refused, match="the wait on its label is not over"):
        isolation.apply(machine, DRIVE, Act.RELEASED, "bus", ANN, waiting=running)
    isolation = isolation.apply(machine, DRIVE, Act.RELEASED, "lift", ANN, waiting=running)
    with pytest.raises(Refused, match="Next: Energy bus"):
        isolation.apply(machine, DRIVE, Act.OPENED, "", ANN, waiting=running)
    assert isolation.apply(machine, DRIVE, Act.RELEASED, "bus", ANN).lockout(DRIVE).targets(Act.RELEASED) == {
        "bus",
        "lift",
    }


def test_a_zone_that_was_stopped_is_begun_anew_with_a_reason_alone() -> None:
    machine = gate_machines.plain()
    isolation = go(machine, onward(machine, Isolation(), CABINET, ANN), CABINET, ANN, Act.VOLTAGE_FOUND)
    assert isolation.lockout(CABINET).phase is Phase.STOP
    for given in ({}, {"reason": "  "}, {"permit": "P 12"}):
        with pytest.raises(Refused):
            isolation.apply(machine, CABINET, Act.ISOLATE_AGAIN, "", ANN, **given)
    again = isolation.apply(machine, CABINET, Act.ISOLATE_AGAIN, "", ANN, reason="the feed was found")
    assert again.lockout(CABINET).phase is Phase.LOCKING


@pytest.mark.parametrize("act", [Act.VOLTAGE_FOUND, Act.METER_FAILED, Act.MOVED])
def test_what_is_found_stops_a_zone_from_the_shut_down_on_and_never_before(act: Act) -> None:
    machine = gate_machines.plain()
    for before in (Isolation(), go(machine, Isolation(), CABINET, ANN, Act.TOLD)):
        with pytest.raises(Refused, match="not locked out"):
            before.apply(machine, CABINET, act, "", ANN)
    shut = onward(machine, Isolation(), CABINET, ANN, until=Act.SHUT_DOWN)
    back = go(machine, onward(machine, Isolation(), CABINET, ANN), CABINET, ANN, Act.BACK)
    for after in (shut, back):
        assert after.apply(machine, CABINET, act, "", ANN).lockout(CABINET).phase is Phase.STOP


STORED = (
    *("told", "shut-down", "off-and-locked", "released", "start-tried", "opened", "meter-proved", "tested-dead"),
    *("moved", "voltage-found", "meter-failed"),
    *("tools-out", "guards-on", "clear", "locks-off", "told-back", "power-on"),
    *("test-power", "isolate-again", "back", "retract", "live", "live-over"),
    *("before-off", "wait-begun", "work-said", "put-back", "hold-out", "earths-out", "controls-off", "last-look"),
    "rotation",
)
"""The acts as casebooks hold them. A case may go on after an update, so none is ever respelled."""


def test_what_a_casebook_holds_of_a_gate_is_read_as_the_same_act(tmp_path: Path) -> None:
    assert tuple(act.value for act in Act) == STORED
    at = datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC)
    book = Casebook(tmp_path / "cases.db")
    case = book.begin(
        iter(["0102-a"]), "bench", [NewEntry(at, "Ann", "gate", {"zone": CABINET, "act": act}) for act in STORED]
    )
    read = [e.event for e in entries_of(book, case) if isinstance(e, Stamped)]
    named = [act.name.lower().replace("_", "-") for act in Act]
    assert [e.act.name.lower().replace("_", "-") for e in read if isinstance(e, Gate)] == named == list(STORED)


def two_guarded() -> tuple[Machine, Isolation]:
    """Ann locked the one switch at the left zone, and proved the right one, which it isolates too."""
    zones = [gate_machines.zone(z, "q1", tests=f"{z}-gauge", electrical=False) for z in ("left", "right")]
    machine = gate_machines.machine(*zones)
    isolation = go(machine, Isolation(), "left", ANN, Act.TOLD, Act.SHUT_DOWN, (Act.OFF_AND_LOCKED, "q1"))
    isolation = go(machine, isolation, "right", ANN, Act.TOLD, Act.SHUT_DOWN)
    assert go(machine, isolation, "left", ANN, Act.RETRACT).energised(machine), "nobody is behind it yet"
    return machine, go(machine, isolation, "right", ANN, Act.START_TRIED, (Act.TESTED_DEAD, "right-gauge"))


def test_a_lock_is_not_taken_back_while_another_zone_is_open_behind_it() -> None:
    machine, isolation = two_guarded()
    assert dead_zones(machine, isolation, ANN) == {"right"}
    with pytest.raises(Refused, match="Zone right was proved or opened under that lock"):
        go(machine, isolation, "left", ANN, Act.RETRACT)


def test_a_zone_that_was_open_is_not_taken_back_to_closed() -> None:
    machine, isolation = two_guarded()
    isolation = go(machine, isolation, "right", ANN, Act.RETRACT, Act.RETRACT, Act.RETRACT)
    with pytest.raises(Refused, match="The zone was opened"):
        go(machine, isolation, "right", ANN, Act.RETRACT)
    with pytest.raises(Refused, match="Zone right"):
        go(machine, isolation, "left", ANN, Act.RETRACT)


def test_a_proof_under_way_counts_no_more_for_whoever_was_away() -> None:
    machine = gate_machines.plain()
    isolation = onward(machine, Isolation(), CABINET, ANN, until=Act.OFF_AND_LOCKED)
    isolation = go(machine, isolation, CABINET, BOB, Act.OFF_AND_LOCKED, Act.START_TRIED, Act.OPENED, Act.METER_PROVED)
    isolation = onward(machine, isolation.returned("Ann"), CABINET, BOB)
    assert dead_zones(machine, isolation, BOB) == {CABINET}
    assert not dead_zones(machine, isolation, ANN)
