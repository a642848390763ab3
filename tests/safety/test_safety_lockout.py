"""The lockout against the texts that it follows."""

from __future__ import annotations

from dataclasses import replace

import gate_machines
import pytest
from gate_steps import ANN, BOB, EVE, go, offered, onward

from diag.machine.model import Role
from diag.safety import Act, Person, Phase, Refused, Site, dead_zones

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
    site = onward(machine, Site(), CABINET, ANN, until=Act.SHUT_DOWN)
    asked = site.steps(machine, CABINET, ANN)
    assert [s.target for s in asked] == ["q1", "feed"]
    assert "from outside this machine" in asked[1].text
    site = go(machine, site, CABINET, ANN, (Act.OFF_AND_LOCKED, "q1"))
    with pytest.raises(Refused, match="feed"):
        go(machine, site, CABINET, ANN, Act.START_TRIED)


@source(
    "29 CFR 1910.147(e)(1)-(3): tools and guards, people clear, own locks off, people told", found="read in public text"
)
def test_order_of_the_way_back() -> None:
    machine = gate_machines.plain()
    site = go(machine, onward(machine, Site(), CABINET, ANN), CABINET, ANN, Act.BACK)
    assert [act for act, _ in offered(machine, CABINET, ANN, site)] == [
        "tools-out",
        "guards-on",
        "clear",
        "locks-off",
        "told-back",
        "power-on",
    ]


@source(
    "29 CFR 1910.147(f)(1): clear, remove locks, energise and test, de-energise and re-apply",
    found="read in public text",
)
def test_power_for_a_test_ends_in_the_whole_proof() -> None:
    machine = gate_machines.stored()
    site = go(machine, onward(machine, Site(), DRIVE, ANN), DRIVE, ANN, Act.TEST_POWER)
    site = onward(machine, site, DRIVE, ANN, until=Act.POWER_ON)
    assert site.lockout(DRIVE).phase is Phase.TESTING
    assert site.energised(machine)
    asked = [act for act, _ in offered(machine, DRIVE, ANN, go(machine, site, DRIVE, ANN, Act.ISOLATE_AGAIN))]
    assert asked == [act for act, _ in offered(machine, DRIVE, ANN)][1:]


@source("29 CFR 1910.147(f)(3)(ii)(D): each person's own lock, for as long as they work", found="read in public text")
def test_the_second_person_locks_in_one_act_and_tests_again() -> None:
    machine = gate_machines.foreign()
    site = onward(machine, Site(), CABINET, ANN)
    assert not dead_zones(machine, site, BOB)
    step = site.steps(machine, CABINET, BOB)[0]
    assert (step.act, step.target) == (Act.OFF_AND_LOCKED, "")
    site = go(machine, site, CABINET, BOB, Act.OFF_AND_LOCKED)
    assert not dead_zones(machine, site, BOB)
    assert dead_zones(machine, site, ANN) == {CABINET}
    assert [act for act, _ in offered(machine, CABINET, BOB, site)] == [
        "meter-proved",
        "tested-dead",
        "tested-dead",
        "meter-proved",
    ]
    site = onward(machine, site, CABINET, BOB)
    assert dead_zones(machine, site, BOB) == dead_zones(machine, site, ANN) == {CABINET}


@source("29 CFR 1910.147(f)(4): orderly transfer between off-going and oncoming people", found="read in public text")
def test_shift_change_never_leaves_the_zone_without_a_lock() -> None:
    machine = gate_machines.plain()
    site = onward(machine, Site(), CABINET, ANN)
    with pytest.raises(Refused, match="yours stay on"):
        go(machine, site, CABINET, ANN, Act.LOCKS_OFF)
    site = onward(machine, go(machine, site, CABINET, BOB, Act.OFF_AND_LOCKED), CABINET, BOB)
    site = go(machine, site, CABINET, ANN, Act.LOCKS_OFF)
    assert site.locks == {("q1", "Bob")}
    assert dead_zones(machine, site, BOB) == {CABINET}
    assert not dead_zones(machine, site, ANN)


def test_a_person_who_is_not_qualified_joins_when_somebody_qualified_tests_again() -> None:
    machine = gate_machines.plain()
    dan = Person("Dan", Role.ELECTRICIAN, authorised=True)
    site = go(machine, onward(machine, Site(), CABINET, ANN), CABINET, dan, Act.OFF_AND_LOCKED)
    with pytest.raises(Refused, match="qualified"):
        go(machine, site, CABINET, dan, Act.METER_PROVED)
    assert next(s.act for s in site.ways(machine, CABINET, ANN)) is Act.METER_PROVED
    site = go(machine, site, CABINET, ANN, Act.METER_PROVED, (Act.TESTED_DEAD, "out"), Act.METER_PROVED)
    assert dead_zones(machine, site, dan) == {CABINET}


@source("29 CFR 1910.147(e)(3): the lock comes off by the one who put it on", found="read in public text")
def test_power_waits_for_every_owner() -> None:
    machine = gate_machines.plain()
    site = onward(machine, Site(), CABINET, ANN)
    site = go(machine, site, CABINET, BOB, Act.OFF_AND_LOCKED)
    site = go(machine, site, CABINET, ANN, Act.BACK, Act.TOOLS_OUT, Act.GUARDS_ON, Act.CLEAR, Act.LOCKS_OFF)
    for act in (Act.TOLD_BACK, Act.POWER_ON):
        with pytest.raises(Refused, match="Locks are still on: Bob"):
            go(machine, site, CABINET, ANN, act)
    with pytest.raises(Refused, match="No lock of yours"):
        go(machine, site, CABINET, ANN, Act.LOCKS_OFF)
    site = go(machine, site, CABINET, BOB, Act.LOCKS_OFF)
    assert not go(machine, site, CABINET, ANN, Act.TOLD_BACK, Act.POWER_ON).lockouts


def test_the_first_person_confirms_each_point_by_its_name() -> None:
    machine = gate_machines.foreign()
    site = onward(machine, Site(), CABINET, ANN, until=Act.SHUT_DOWN)
    with pytest.raises(Refused, match="each point by itself"):
        go(machine, site, CABINET, ANN, Act.OFF_AND_LOCKED)


@pytest.mark.parametrize("found", [Act.VOLTAGE_FOUND, Act.METER_FAILED, Act.MOVED])
@pytest.mark.parametrize("after", [Act.START_TRIED, Act.METER_PROVED, Act.TESTED_DEAD, None])
def test_what_is_found_stops_the_zone_until_the_site_decides(found: Act, after: Act | None) -> None:
    machine = gate_machines.plain()
    site = go(machine, onward(machine, Site(), CABINET, ANN, until=after), CABINET, ANN, found)
    assert not site.steps(machine, CABINET, ANN)
    assert not dead_zones(machine, site, ANN)
    assert site.locks == {("q1", "Ann")}
    for act in (Act.METER_PROVED, Act.RETRACT, Act.SHUT_DOWN):
        with pytest.raises(Refused):
            go(machine, site, CABINET, ANN, act)
    with pytest.raises(Refused, match="who decided"):
        go(machine, site, CABINET, ANN, Act.ISOLATE_AGAIN)
    site = site.apply(machine, CABINET, Act.ISOLATE_AGAIN, "", ANN, reason="Second feed found and locked; Bob decided")
    asked = [act for act, _ in offered(machine, CABINET, ANN, site)]
    assert asked == ["shut-down", "start-tried", "opened", "meter-proved", "tested-dead", "meter-proved"]


def test_a_voltage_stops_every_zone_on_the_same_switch() -> None:
    machine = gate_machines.twins()
    site = onward(machine, onward(machine, Site(), "left", ANN), "right", ANN)
    assert dead_zones(machine, site, ANN) == {"left", "right"}
    site = go(machine, site, "left", ANN, Act.VOLTAGE_FOUND)
    assert not dead_zones(machine, site, ANN)
    assert site.lockout("right").phase is Phase.STOP


def test_a_shared_point_stays_off_and_locked_for_the_other_zone() -> None:
    machine = gate_machines.sharing()
    site = onward(machine, onward(machine, Site(), CABINET, ANN), "frame", ANN, until=Act.SHUT_DOWN)
    assert [s.target for s in site.steps(machine, "frame", ANN)] == ["air"]
    site = go(machine, onward(machine, site, "frame", ANN), "frame", ANN, Act.BACK)
    site = onward(machine, site, "frame", ANN)
    assert site.off == {"q1"}
    assert site.locks == {("q1", "Ann")}
    assert dead_zones(machine, site, ANN) == {CABINET}
    site = onward(machine, go(machine, site, CABINET, ANN, Act.BACK), CABINET, ANN)
    assert site == Site()


def test_taking_back_goes_one_step_back_and_never_nearer() -> None:
    machine = gate_machines.plain()
    trail = [Site()]
    while steps := trail[-1].steps(machine, CABINET, ANN):
        trail.append(go(machine, trail[-1], CABINET, ANN, (steps[0].act, steps[0].target)))
    assert go(machine, trail[-1], CABINET, ANN, Act.RETRACT).lockout(CABINET).trail == trail[-2].lockout(CABINET).trail
    start = next(n for n, site in enumerate(trail) if site.lockout(CABINET).has(Act.START_TRIED))
    for n in range(start, 0, -1):
        assert go(machine, trail[n], CABINET, ANN, Act.RETRACT) == trail[n - 1]
    with pytest.raises(Refused, match="way back"):
        go(machine, trail[start + 1], CABINET, ANN, Act.RETRACT)


def test_only_the_owner_takes_back_a_lock() -> None:
    machine = gate_machines.plain()
    site = onward(machine, Site(), CABINET, ANN, until=Act.OFF_AND_LOCKED)
    with pytest.raises(Refused, match="Only Ann"):
        go(machine, site, CABINET, BOB, Act.RETRACT)


def test_the_proof_is_one_persons_work() -> None:
    machine = gate_machines.plain()
    site = onward(machine, Site(), CABINET, ANN, until=Act.OFF_AND_LOCKED)
    site = onward(machine, go(machine, site, CABINET, BOB, Act.OFF_AND_LOCKED), CABINET, ANN, until=Act.TESTED_DEAD)
    assert [act for act, _ in offered(machine, CABINET, BOB, site)] == ["meter-proved", "tested-dead", "meter-proved"]


@pytest.mark.parametrize("missing", ["points", "test_points"])
def test_a_zone_that_names_nothing_to_isolate_or_to_test_is_never_dead(missing: str) -> None:
    machine = gate_machines.plain()
    bare = replace(machine, zones={CABINET: replace(machine.zones[CABINET], **{missing: ()})})
    assert not Site().steps(bare, CABINET, ANN)
    with pytest.raises(Refused, match="cannot be proved dead"):
        go(bare, Site(), CABINET, ANN, Act.TOLD)


@source("29 CFR 1910.147(b): an authorised person locks out", found="read in public text")
def test_an_operator_gets_no_way_in() -> None:
    machine = gate_machines.plain()
    assert not Site().steps(machine, CABINET, EVE)
    assert not Site().ways(machine, CABINET, EVE)
    for act in (Act.TOLD, Act.SHUT_DOWN, Act.OPENED, Act.METER_PROVED, Act.LIVE):
        with pytest.raises(Refused):
            Site().apply(machine, CABINET, act, "", EVE, "because", "P 12")


def test_a_person_who_became_an_operator_still_takes_off_their_own_locks() -> None:
    machine = gate_machines.plain()
    site = onward(machine, Site(), CABINET, ANN)
    site = go(machine, site, CABINET, ANN, Act.BACK, Act.TOOLS_OUT, Act.GUARDS_ON, Act.CLEAR)
    assert not go(machine, site, CABINET, replace(ANN, role=Role.OPERATOR), Act.LOCKS_OFF).locks


def test_a_countdown_informs_and_never_permits() -> None:
    machine = gate_machines.stored()
    site = onward(machine, Site(), DRIVE, ANN, until=Act.OFF_AND_LOCKED)
    assert [s.wait for s in site.steps(machine, DRIVE, ANN)] == [5, 5]
    with pytest.raises(Refused, match="Next: Energy bus"):
        go(machine, site, DRIVE, ANN, Act.START_TRIED)


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
    site = onward(machine, Site(), CABINET, ANN, until=Act.OFF_AND_LOCKED)
    with pytest.raises(Refused, match=says) as refused:
        go(machine, site, zone, ANN, (act, target))
    assert "\n" not in str(refused.value)


def test_nobody_is_not_a_person() -> None:
    with pytest.raises(Refused, match="who you are"):
        go(gate_machines.plain(), Site(), CABINET, replace(ANN, name="  "), Act.TOLD)


def test_what_still_waits_is_not_released_and_keeps_all_that_comes_after_it_closed() -> None:
    machine = gate_machines.stored()
    site = onward(machine, Site(), DRIVE, ANN, until=Act.OFF_AND_LOCKED)
    running = frozenset({"bus"})
    with pytest.raises(Refused, match="the wait on its label is not over"):
        site.apply(machine, DRIVE, Act.RELEASED, "bus", ANN, waiting=running)
    site = site.apply(machine, DRIVE, Act.RELEASED, "lift", ANN, waiting=running)
    with pytest.raises(Refused, match="Next: Energy bus"):
        site.apply(machine, DRIVE, Act.OPENED, "", ANN, waiting=running)
    assert site.apply(machine, DRIVE, Act.RELEASED, "bus", ANN).lockout(DRIVE).targets(Act.RELEASED) == {"bus", "lift"}
