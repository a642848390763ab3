"""What the gate says, word by word: people confirm these sentences, and act on what a refusal says."""

from __future__ import annotations

from dataclasses import replace

import gate_machines
import pytest
from gate_steps import ANN, BOB, EVE, OUT, WHY, go, offered, onward

from diag.machine.model import Access, Check, Machine, Role
from diag.safety import Act, Isolation, Permission, Person, Phase, Refused, dead_zones, live_zones, order, permission
from diag.safety.types import nameless, same_name

CABINET, DRIVE, FRAME = "cabinet", "drive", "frame"
DAN = Person("Dan", Role.ELECTRICIAN, authorised=True)
PLAIN, STORED, SHARING = gate_machines.plain(), gate_machines.stored(), gate_machines.sharing()
DEAD = onward(PLAIN, Isolation(), CABINET, ANN)
BACK_CLEAR = (Act.BACK, *OUT)


def asked(machine: Machine, zone: str, person: Person, isolation: Isolation) -> list[str]:
    """Every sentence that the gate asks a person to confirm, until it asks for nothing more."""
    found = []
    while steps := isolation.steps(machine, zone, person):
        found.append(steps[0].text)
        isolation = isolation.apply(machine, zone, steps[0].act, steps[0].target, person)
        if isolation.lockout(zone).phase in (Phase.NONE, Phase.TESTING):
            break
    return found


def said(machine: Machine, zone: str, person: Person, isolation: Isolation) -> list[tuple[Act, str]]:
    """The other ways that stand open, and what each says."""
    return [(way.act, way.text) for way in isolation.ways(machine, zone, person)]


def test_what_is_confirmed_on_the_way_in() -> None:
    assert asked(STORED, DRIVE, ANN, Isolation()) == [
        "Everyone who works at or near the machine has been told that it will be locked out.",
        "The machine has been shut down with its own controls and stands still.",
        "Switch q1 (front) is off, with your own lock on it.",
        "Energy bus: Let it go.",
        "Energy lift: Let it go.",
        "Everyone is clear. A start was tried, nothing moved, and the control is back to off.",
        "The enclosure has been opened as though everything in it were live.",
        "The meter has been proved on a known source, here where you work.",
        "Terminals bars: tested, 0 V.",
        "The same meter has been proved again on a known source, here where you work.",
    ]


def test_what_is_confirmed_on_the_way_back() -> None:
    assert asked(PLAIN, CABINET, ANN, go(PLAIN, DEAD, CABINET, ANN, Act.BACK)) == [
        "What was done inside has been entered: each remedy, or nothing was done.",
        "Tools, meters, test leads, lamps, rags and spare parts are out: counted in, counted out.",
        "No earth and no short is left inside. From now on it counts as live: touch nothing.",
        "Covers, doors and guards are back in place, with all their fasteners.",
        "All controls are off or neutral, and nothing calls for a start by itself.",
        "People have been counted by name and seen clear of the machine: Ann.",
        "Your lock at Switch q1 comes off now.",
        "A last look, after the locks of Zone cabinet: everyone is clear of the machine.",
        "Those who use the machine have been told that locks are off and power is coming back.",
        "Switch q1 is on again.",
    ]


def test_a_second_person_is_asked_for_all_locks_at_once_or_for_each() -> None:
    machine = gate_machines.foreign()
    dead = onward(machine, Isolation(), CABINET, ANN)
    assert [(s.target, s.text) for s in dead.steps(machine, CABINET, BOB)] == [
        ("", "Your own lock is on each of these: Switch q1, Switch feed."),
        ("q1", "Switch q1 (front) is off, with your own lock on it."),
        ("feed", "Switch feed (front), which feeds in from outside this machine, is off, with your own lock on it."),
    ]
    assert [s.target for s in DEAD.steps(PLAIN, CABINET, BOB)] == ["q1"], "of one point there is nothing to join"


def test_each_step_says_what_may_be_found_instead_whom_it_needs_and_how_long_to_wait() -> None:
    def steps(machine: Machine, zone: str, until: Act | None) -> list[tuple[str, tuple[Act, ...], str, float]]:
        isolation = onward(machine, Isolation(), zone, ANN, until=until) if until else Isolation()
        return [(s.target, s.fails, s.needs, s.wait) for s in isolation.steps(machine, zone, ANN)]

    assert steps(STORED, DRIVE, None) == [("", (), "authorised", 0.0)]
    locked = onward(STORED, Isolation(), DRIVE, ANN, until=Act.OFF_AND_LOCKED)
    assert [(s.target, s.wait, s.needs) for s in locked.steps(STORED, DRIVE, ANN)] == [
        ("bus", 5, "authorised"),
        ("lift", 5, "authorised"),
    ]
    assert steps(PLAIN, CABINET, Act.OFF_AND_LOCKED) == [("", (Act.MOVED,), "authorised", 0.0)]
    assert steps(PLAIN, CABINET, Act.START_TRIED) == [("", (), "qualified", 0.0)]
    assert steps(PLAIN, CABINET, Act.OPENED) == [("", (Act.METER_FAILED,), "qualified", 0.0)]
    found = (Act.VOLTAGE_FOUND, Act.METER_FAILED)
    assert steps(PLAIN, CABINET, Act.METER_PROVED) == [("out", found, "qualified", 0.0)]
    frame = gate_machines.mechanical()
    found = (Act.VOLTAGE_FOUND, Act.MOVED)
    assert steps(frame, FRAME, Act.START_TRIED) == [
        ("gauge", found, "authorised", 0.0),
        ("lever", found, "authorised", 0.0),
    ]
    (again,) = go(PLAIN, DEAD, CABINET, ANN, Act.VOLTAGE_FOUND).ways(PLAIN, CABINET, ANN)[1:2]
    assert (again.act, again.asks) == (Act.ISOLATE_AGAIN, ("reason",))
    (live,) = Isolation().ways(PLAIN, CABINET, ANN)
    assert (live.act, live.asks, live.needs) == (Act.LIVE, ("reason", "permit"), "qualified")


BACK = (Act.BACK, "Return to service: what was taken off, holds, tools, covers, people, locks, a last look, power.")
TEST = (
    Act.TEST_POWER,
    "Power is needed for a test: return to service first, then isolate and prove dead again.",
)
PROVE = (Act.METER_PROVED, "The meter has been proved on a known source, here where you work.")
RETRACT = (Act.RETRACT, "The last confirmation was a mistake: take it back.")
LIVE = (Act.LIVE, "Live work in this zone: it cannot be done dead, and the site permits it.")
AGAIN = "Tell everyone, then isolate, lock and prove it dead again."


def leave(other: str) -> tuple[Act, str]:
    finished = "You have finished here and are clear of the machine. Your lock at Switch q1 comes off now."
    return Act.LOCKS_OFF, f"{finished} Others' locks stay: {other} at Switch q1."


LEAVE, BOBS = leave("Bob"), leave("Ann")


def test_what_else_may_be_said_in_each_phase() -> None:
    told = go(PLAIN, Isolation(), CABINET, ANN, Act.TOLD)
    assert said(PLAIN, CABINET, ANN, Isolation()) == [LIVE]
    assert said(PLAIN, CABINET, ANN, told) == [BACK, RETRACT], "no live work while a zone stands locked"
    assert said(PLAIN, CABINET, ANN, DEAD) == [PROVE, TEST, BACK, RETRACT], "a proof ages, and is made again"
    back = go(PLAIN, DEAD, CABINET, ANN, Act.BACK)
    assert said(PLAIN, CABINET, ANN, back) == [(Act.ISOLATE_AGAIN, AGAIN)]
    tools = go(PLAIN, back, CABINET, ANN, Act.WORK_SAID)
    assert said(PLAIN, CABINET, ANN, tools) == [(Act.ISOLATE_AGAIN, AGAIN), RETRACT]
    stop = go(PLAIN, DEAD, CABINET, ANN, Act.VOLTAGE_FOUND)
    decided = "The site has found the cause and decided. Tell everyone, check every lock, and prove it all again."
    assert said(PLAIN, CABINET, ANN, stop) == [BACK, (Act.ISOLATE_AGAIN, decided)]
    testing = onward(PLAIN, go(PLAIN, DEAD, CABINET, ANN, Act.TEST_POWER), CABINET, ANN, until=Act.POWER_ON)
    (step,) = testing.steps(PLAIN, CABINET, ANN)
    assert step.text == f"The test is over. {AGAIN}"
    assert said(PLAIN, CABINET, ANN, testing) == [
        (Act.BACK, "The test is over and nothing is left to do inside."),
        LIVE,
    ]
    live = Isolation().apply(PLAIN, CABINET, Act.LIVE, "", ANN, *WHY)
    assert said(PLAIN, CABINET, ANN, live) == [
        (Act.LIVE_OVER, "The live work is finished and the enclosure is closed.")
    ]


def test_live_work_is_offered_in_electrical_zones_alone_with_everything_closed_and_on() -> None:
    assert said(SHARING, FRAME, ANN, Isolation()) == []
    assert said(SHARING, CABINET, ANN, onward(SHARING, Isolation(), FRAME, ANN)) == []
    apart = gate_machines.apart()
    live = Isolation().apply(apart, "left", Act.LIVE, "", ANN, *WHY)
    assert said(apart, "right", ANN, live) == [], "one live work at a time"


def test_leaving_is_offered_while_somebody_elses_locks_are_on_every_point() -> None:
    both = go(PLAIN, DEAD, CABINET, BOB, Act.OFF_AND_LOCKED)
    assert BOBS in said(PLAIN, CABINET, BOB, both)
    assert LEAVE in said(PLAIN, CABINET, ANN, both)
    for name in (ANN, BOB):
        assert Act.LOCKS_OFF not in dict(said(PLAIN, CABINET, name, DEAD)), "nobody else's lock, or none to leave"
    stopped = go(PLAIN, both, CABINET, ANN, Act.VOLTAGE_FOUND)
    assert LEAVE in said(PLAIN, CABINET, ANN, stopped)
    back = go(PLAIN, both, CABINET, ANN, Act.BACK)
    assert Act.LOCKS_OFF not in dict(said(PLAIN, CABINET, ANN, back)), "on the way back it is a step of its own"


def test_whoever_is_covered_may_test_again_for_those_who_joined() -> None:
    both = go(PLAIN, DEAD, CABINET, DAN, Act.OFF_AND_LOCKED)
    assert said(PLAIN, CABINET, ANN, both)[0] == PROVE
    assert said(PLAIN, CABINET, BOB, both) == [TEST, BACK, RETRACT]
    assert said(PLAIN, CABINET, DAN, both) == [TEST, BACK, BOBS, RETRACT], "not qualified, and not covered"
    joined = go(PLAIN, DEAD, CABINET, BOB, Act.OFF_AND_LOCKED)
    assert said(PLAIN, CABINET, BOB, joined) == [TEST, BACK, BOBS, RETRACT], "for them it is the next step itself"


def test_an_operator_is_offered_what_takes_permission_away_and_nothing_else() -> None:
    live = Isolation().apply(PLAIN, CABINET, Act.LIVE, "", ANN, *WHY)
    assert [act for act, _ in said(PLAIN, CABINET, EVE, live)] == [Act.LIVE_OVER]
    assert [act for act, _ in said(PLAIN, CABINET, EVE, DEAD)] == [Act.RETRACT]


def test_a_danger_sign_leaves_only_what_takes_permission_away() -> None:
    assert [way.act for way in DEAD.ways(PLAIN, CABINET, ANN, danger=True)] == [Act.RETRACT]
    live = Isolation().apply(PLAIN, CABINET, Act.LIVE, "", ANN, *WHY)
    assert [way.act for way in live.ways(PLAIN, CABINET, ANN, danger=True)] == [Act.LIVE_OVER]
    assert live.apply(PLAIN, CABINET, Act.LIVE_OVER, "", ANN, danger=True).live is None


# ---------------------------------------------------------------- holds on the way back


def back(machine: Machine, zone: str, isolation: Isolation) -> tuple[list[str], Isolation]:
    """The return to service of a zone, as far as Ann gets: each act, with what it names."""
    isolation, done = go(machine, isolation, zone, ANN, Act.BACK), []
    while steps := isolation.steps(machine, zone, ANN):
        done.append(" ".join(filter(None, (steps[0].act.value, steps[0].target))))
        isolation = isolation.apply(machine, zone, steps[0].act, steps[0].target, ANN)
        if isolation.lockout(zone).phase is Phase.NONE:
            break
    return done, isolation


def both_dead(machine: Machine) -> Isolation:
    return onward(machine, onward(machine, Isolation(), "left", ANN), "right", ANN)


BEGIN, END = ["work-said"], ["controls-off", "clear"]
LAST = ["last-look", "told-back"]


def test_holds_come_out_inside_outside_and_under_power() -> None:
    machine = gate_machines.pinned()
    dead = onward(machine, Isolation(), "drum", ANN)
    assert dead.holds == {"pin", "prop", "valve"}
    done, after = back(machine, "drum", dead)
    assert done == [
        *BEGIN,
        *("hold-out pin", "tools-out", "earths-out", "guards-on", "hold-out valve"),
        *END,
        *("locks-off q1", *LAST, "power-on q1", "hold-out prop"),
    ]
    assert after == Isolation()
    begun = go(machine, dead, "drum", ANN, Act.BACK)
    still = [f"{act.value} {target}".strip() for act, target in order.ahead(machine, begun, machine.zones["drum"])]
    assert still == done, "what is still to come is told from the start"


def test_a_pin_between_two_zones_comes_out_with_the_last_of_them() -> None:
    machine = gate_machines.drums()
    done, left = back(machine, "left", both_dead(machine))
    assert done == [*BEGIN, "tools-out", "guards-on", *END, "locks-off", *LAST, "power-on"]
    assert (left.holds, left.off) == ({"pin"}, {"q1", "q2"})
    done, right = back(machine, "right", left)
    powered = ["power-on q1", "power-on q2"]
    assert done == [
        *BEGIN,
        "hold-out pin",
        "tools-out",
        "guards-on",
        *END,
        "locks-off q1",
        "locks-off q2",
        *LAST,
        *powered,
    ]
    assert right == Isolation()


def test_a_prop_that_comes_out_under_power_waits_for_both_zones() -> None:
    machine = gate_machines.props()
    done, left = back(machine, "left", both_dead(machine))
    assert done == [*BEGIN, "tools-out", "guards-on", *END, "locks-off", *LAST, "power-on"]
    assert left.lockout("left").phase is Phase.HOLDS
    done, right = back(machine, "right", left)
    assert done == [*BEGIN, "tools-out", "guards-on", *END, "locks-off q1", *LAST, "power-on q1", "hold-out prop"]
    assert right == Isolation()


def test_a_drain_that_two_zones_share_keeps_the_locks_of_the_first_on() -> None:
    machine = gate_machines.valves()
    done, left = back(machine, "left", both_dead(machine))
    assert done == [*BEGIN, "tools-out", "guards-on", *END], "no lock comes off yet"
    with pytest.raises(Refused) as refused:
        go(machine, left, "left", ANN, Act.LOCKS_OFF)
    held = "Energy drain: the hold is still in for Zone right. It comes out there first."
    assert held in str(refused.value)
    done, right = back(machine, "right", left)
    assert done == [*BEGIN, "tools-out", "guards-on", "hold-out drain", *END, "locks-off q2", *LAST, "power-on q2"]
    rest = [" ".join(filter(None, step)) for step in offered(machine, "left", ANN, right)]
    assert rest == ["locks-off q1", *LAST, "power-on q1"]


def test_whose_locks_come_off_and_whose_stay_is_said() -> None:
    both = go(PLAIN, DEAD, CABINET, BOB, Act.OFF_AND_LOCKED)
    clear = onward(PLAIN, go(PLAIN, both, CABINET, ANN, Act.BACK), CABINET, ANN, until=Act.CLEAR)
    (step,) = clear.steps(PLAIN, CABINET, ANN)
    assert step.text == "Your lock at Switch q1 comes off now. Others' locks stay: Bob at Switch q1."
    (step,) = clear.steps(PLAIN, CABINET, BOB)
    assert step.text == "Your lock at Switch q1 comes off now. Others' locks stay: Ann at Switch q1."
    frame = onward(SHARING, FRAME_DEAD, FRAME, ANN)
    clear = onward(SHARING, go(SHARING, frame, FRAME, ANN, Act.BACK), FRAME, ANN, until=Act.CLEAR)
    (step,) = clear.steps(SHARING, FRAME, ANN)
    assert step.text == "Your lock at Switch air comes off now. Your lock at Switch q1 stays: Zone cabinet needs it."


# ---------------------------------------------------------------- refusals

TOLD = go(PLAIN, Isolation(), CABINET, ANN, Act.TOLD)
FOREIGN = gate_machines.foreign()
FOREIGN_DEAD = onward(FOREIGN, Isolation(), CABINET, ANN)
FRAME_DEAD = onward(SHARING, onward(SHARING, Isolation(), CABINET, ANN), FRAME, ANN)
FRAME_BOTH = go(SHARING, FRAME_DEAD, FRAME, BOB, Act.OFF_AND_LOCKED)
FRAME_LEFT = go(SHARING, onward(SHARING, FRAME_BOTH, FRAME, BOB), FRAME, ANN, Act.LOCKS_OFF)
STOPPED = go(PLAIN, DEAD, CABINET, ANN, Act.VOLTAGE_FOUND)
NO_TESTS = replace(PLAIN, zones={CABINET: replace(PLAIN.zones[CABINET], test_points=())})


@pytest.mark.parametrize(
    ("machine", "isolation", "zone", "person", "act", "target", "says"),
    [
        (PLAIN, TOLD, CABINET, ANN, Act.OFF_AND_LOCKED, "q1", "Not yet. Next: The machine has been shut down "),
        (PLAIN, DEAD, CABINET, ANN, Act.OFF_AND_LOCKED, "", "Your lock is already on."),
        (PLAIN, DEAD, CABINET, ANN, Act.TOLD, "", "Zone cabinet has already been proved dead."),
        (PLAIN, DEAD, CABINET, BOB, Act.LOCKS_OFF, "", "No lock of yours is on for Zone cabinet."),
        (PLAIN, DEAD, CABINET, ANN, Act.LOCKS_OFF, "", "Nobody else's locks are on every point, so yours stay on. "),
        (
            FOREIGN,
            go(FOREIGN, FOREIGN_DEAD, CABINET, BOB, (Act.OFF_AND_LOCKED, "q1")),
            CABINET,
            BOB,
            Act.LOCKS_OFF,
            "feed",
            "Your lock is not on that point. Each person takes off only their own.",
        ),
        (
            PLAIN,
            go(PLAIN, DEAD, CABINET, ANN, Act.BACK, Act.WORK_SAID, Act.TOOLS_OUT),
            CABINET,
            ANN,
            Act.LOCKS_OFF,
            "",
            "Not yet. Next: No earth and no short is left inside. From now on it counts as live: touch nothing.",
        ),
        (
            SHARING,
            FRAME_BOTH,
            FRAME,
            ANN,
            Act.LOCKS_OFF,
            "q1",
            "That lock also holds another zone. It stays on until that zone is back in service.",
        ),
        (SHARING, FRAME_LEFT, FRAME, ANN, Act.LOCKS_OFF, "", "No lock of yours is on for Zone frame."),
        (
            SHARING,
            onward(SHARING, Isolation(), CABINET, ANN),
            FRAME,
            ANN,
            Act.LOCKS_OFF,
            "",
            "No lock of yours is on for Zone frame.",
        ),
        (PLAIN, Isolation(), CABINET, ANN, Act.BACK, "", "Only a zone that is locked out can be returned to service."),
        (
            PLAIN,
            go(PLAIN, DEAD, CABINET, ANN, Act.BACK),
            CABINET,
            ANN,
            Act.BACK,
            "",
            "Only a zone that is locked out can be returned to service.",
        ),
        (
            PLAIN,
            TOLD,
            CABINET,
            ANN,
            Act.TEST_POWER,
            "",
            "Power for a test starts from a zone that is proved dead. Otherwise return to service.",
        ),
        (
            PLAIN,
            STOPPED,
            CABINET,
            ANN,
            Act.RETRACT,
            "",
            "What stopped this zone cannot be taken back. Return to service, or begin the proof again.",
        ),
        (
            PLAIN,
            STOPPED,
            CABINET,
            ANN,
            Act.SHUT_DOWN,
            "",
            "Zone cabinet is stopped. Call; then return to service, or prove it all again once the site has decided.",
        ),
        (PLAIN, Isolation(), CABINET, ANN, Act.RETRACT, "", "There is nothing to take back here."),
        (
            PLAIN,
            go(PLAIN, DEAD, CABINET, ANN, *BACK_CLEAR, Act.LOCKS_OFF),
            CABINET,
            ANN,
            Act.RETRACT,
            "",
            "Locks are off already. Isolate again, or finish the return to service.",
        ),
        (
            PLAIN,
            onward(PLAIN, Isolation(), CABINET, ANN, until=Act.OPENED),
            CABINET,
            ANN,
            Act.RETRACT,
            "",
            "That cannot be taken back by a key. Return to service: tools out, guards on, people clear.",
        ),
        (
            PLAIN,
            go(PLAIN, go(PLAIN, DEAD, CABINET, ANN, Act.BACK), CABINET, ANN, Act.ISOLATE_AGAIN),
            CABINET,
            ANN,
            Act.RETRACT,
            "",
            "That cannot be taken back by a key. Return to service: tools out, guards on, people clear.",
        ),
        (
            PLAIN,
            go(PLAIN, DEAD, CABINET, BOB, Act.OFF_AND_LOCKED),
            CABINET,
            BOB,
            Act.RETRACT,
            "",
            "The zone was opened under that lock. Return to service, then take it off.",
        ),
        (
            SHARING,
            go(SHARING, onward(SHARING, Isolation(), FRAME, ANN), FRAME, BOB, Act.OFF_AND_LOCKED),
            FRAME,
            BOB,
            Act.RETRACT,
            "",
            "The zone was opened under that lock. Return to service, then take it off.",
        ),
        (
            SHARING,
            go(SHARING, onward(SHARING, Isolation(), FRAME, ANN, until=Act.OFF_AND_LOCKED), FRAME, ANN, Act.RETRACT),
            CABINET,
            ANN,
            Act.RETRACT,
            "",
            "There is nothing to take back here.",
        ),
        (PLAIN, TOLD, CABINET, ANN, Act.MOVED, "", "This zone is not locked out. Keep away, and call."),
        (PLAIN, DEAD, CABINET, DAN, Act.METER_PROVED, "", "This step needs a person who is qualified to work near "),
        (
            PLAIN,
            Isolation(),
            CABINET,
            replace(DAN, authorised=False),
            Act.TOLD,
            "",
            "This step needs a person who is authorised to lock out.",
        ),
        (
            PLAIN,
            Isolation(),
            CABINET,
            EVE,
            Act.TOLD,
            "",
            "Operators do not lock out or go inside. Call an electrician or an engineer.",
        ),
        (
            PLAIN,
            Isolation(),
            CABINET,
            replace(ANN, name="electrician on shift"),
            Act.TOLD,
            "",
            "A lock and a confirmation need a name of your own, not only a role. Say your name first.",
        ),
        (
            STORED,
            onward(STORED, Isolation(), DRIVE, ANN, until=Act.OFF_AND_LOCKED),
            DRIVE,
            ANN,
            Act.RELEASED,
            "q1",
            "Say which one: bus, lift.",
        ),
        (PLAIN, Isolation(), "attic", ANN, Act.TOLD, "", "This machine has no zone 'attic'."),
        (
            NO_TESTS,
            Isolation(),
            CABINET,
            ANN,
            Act.TOLD,
            "",
            "The machine file names no test point for Zone cabinet, so it cannot be proved dead. Call.",
        ),
        (PLAIN, Isolation(), CABINET, ANN, Act.LIVE_OVER, "", "No live work is open in this zone."),
    ],
)
def test_a_refusal_says_why_and_what_to_do(
    machine: Machine, isolation: Isolation, zone: str, person: Person, act: Act, target: str, says: str
) -> None:
    with pytest.raises(Refused) as refused:
        isolation.apply(machine, zone, act, target, person)
    assert str(refused.value).startswith(says)
    assert says.endswith(" ") or str(refused.value) == says


def test_an_announced_lockout_is_taken_back_only_while_its_points_are_on() -> None:
    twins = gate_machines.twins()
    assert go(PLAIN, TOLD, CABINET, ANN, Act.RETRACT) == Isolation()
    left = onward(twins, Isolation(), "left", ANN)
    told = go(twins, left, "right", ANN, Act.TOLD)
    assert go(twins, told, "right", ANN, Act.RETRACT) == left, (
        "the switch is off for the other zone, which stands on it"
    )


def test_a_stop_begun_anew_says_who_decided() -> None:
    with pytest.raises(Refused) as refused:
        go(PLAIN, STOPPED, CABINET, ANN, Act.ISOLATE_AGAIN)
    assert str(refused.value) == "Say what the site found and who decided that the proof may start again."
    with pytest.raises(Refused, match="There is nothing to isolate again here"):
        go(PLAIN, DEAD, CABINET, ANN, Act.ISOLATE_AGAIN)


@pytest.mark.parametrize(
    ("machine", "isolation", "zone", "given", "says"),
    [
        (
            gate_machines.apart(),
            Isolation().apply(gate_machines.apart(), "left", Act.LIVE, "", ANN, *WHY),
            "right",
            WHY,
            "Live work is open already. Close up and confirm that it is over first.",
        ),
        (SHARING, Isolation(), FRAME, WHY, "Live work is for electrical zones. This one is locked out."),
        (
            PLAIN,
            DEAD,
            CABINET,
            WHY,
            "Live work needs every zone closed, holds out and the power on. Return to service first.",
        ),
        (PLAIN, Isolation(), CABINET, ("", "P 1"), "Say why it cannot be done dead, and name the site's permit."),
    ],
)
def test_live_work_is_refused_with_the_reason(
    machine: Machine, isolation: Isolation, zone: str, given: tuple[str, str], says: str
) -> None:
    with pytest.raises(Refused) as refused:
        isolation.apply(machine, zone, Act.LIVE, "", ANN, *given)
    assert str(refused.value) == says


# ---------------------------------------------------------------- what lapses


def test_live_work_is_taken_back_by_its_own_zone_alone() -> None:
    machine = gate_machines.apart()
    live = Isolation().apply(machine, "left", Act.LIVE, "", ANN, *WHY)
    assert go(machine, live, "left", ANN, Act.RETRACT) == Isolation()
    with pytest.raises(Refused, match="nothing to take back"):
        go(machine, live, "right", ANN, Act.RETRACT)
    with pytest.raises(Refused, match="No live work is open in this zone"):
        go(machine, live, "right", ANN, Act.LIVE_OVER)


def test_a_gap_in_the_record_stops_every_zone_that_stands_as_if_it_were_open() -> None:
    machine = gate_machines.apart()
    locked = onward(machine, onward(machine, Isolation(), "left", ANN, until=Act.OFF_AND_LOCKED), "right", ANN)
    doubted = locked.doubted(machine)
    assert [doubted.lockout(zone).phase for zone in ("left", "right")] == [Phase.STOP, Phase.STOP]
    assert doubted.locks == locked.locks
    # It may have been opened: the return to service asks for what was done inside.
    back = go(machine, doubted, "left", ANN, Act.BACK)
    assert back.steps(machine, "left", ANN)[0].act is Act.WORK_SAID
    again = doubted.apply(machine, "left", Act.ISOLATE_AGAIN, "", ANN, reason="Nobody was inside; Bob decided")
    joined = go(machine, go(machine, again, "left", ANN, Act.SHUT_DOWN), "left", BOB, (Act.OFF_AND_LOCKED, "q1"))
    with pytest.raises(Refused, match="opened under that lock"):
        go(machine, joined, "left", BOB, Act.RETRACT)
    testing = onward(PLAIN, go(PLAIN, DEAD, CABINET, ANN, Act.TEST_POWER), CABINET, ANN, until=Act.POWER_ON)
    assert testing.doubted(PLAIN) == testing, "the power is on: nothing stands on its points"
    live = Isolation().apply(PLAIN, CABINET, Act.LIVE, "", ANN, *WHY)
    assert live.doubted(PLAIN) == Isolation()


def test_whoever_was_away_tests_again_and_keeps_their_locks() -> None:
    returned = DEAD.returned("Ann")
    assert not returned.dead(PLAIN, CABINET, "Ann")
    assert returned.locks == DEAD.locks
    assert [s.act for s in returned.steps(PLAIN, CABINET, ANN)] == [Act.METER_PROVED]
    assert DEAD.returned("Bob") == DEAD
    half = onward(PLAIN, Isolation(), CABINET, ANN, until=Act.TESTED_DEAD)
    opened = onward(PLAIN, Isolation(), CABINET, ANN, until=Act.OPENED)
    assert half.returned("Ann").lockout(CABINET).trail == opened.lockout(CABINET).trail, "the proof begins anew"
    assert half.returned("Bob") == half
    live = Isolation().apply(PLAIN, CABINET, Act.LIVE, "", ANN, *WHY)
    assert live.returned("Ann") == Isolation()
    assert live.returned("Bob") == live


# ---------------------------------------------------------------- what one confirmation leaves as it was


def test_a_step_that_is_taken_back_leaves_all_as_it_was() -> None:
    back = go(PLAIN, DEAD, CABINET, ANN, Act.BACK)
    tools = go(PLAIN, back, CABINET, ANN, Act.WORK_SAID)
    assert go(PLAIN, tools, CABINET, ANN, Act.RETRACT) == back
    earths = go(PLAIN, tools, CABINET, ANN, Act.TOOLS_OUT, Act.EARTHS_OUT)
    guards = go(PLAIN, earths, CABINET, ANN, Act.GUARDS_ON)
    assert go(PLAIN, guards, CABINET, ANN, Act.RETRACT) == earths, "open again: the guards are off"
    locked = onward(PLAIN, Isolation(), CABINET, ANN, until=Act.OFF_AND_LOCKED)
    assert go(PLAIN, locked, CABINET, BOB, Act.OFF_AND_LOCKED, Act.RETRACT) == locked
    assert go(PLAIN, TOLD, CABINET, ANN, Act.BACK) == Isolation(), "nothing was switched off: it just ends"


def test_a_voltage_stops_what_was_being_proved_on_the_same_point_and_nothing_else() -> None:
    twins, apart = gate_machines.twins(), gate_machines.apart()
    locked = onward(twins, onward(twins, Isolation(), "left", ANN), "right", ANN, until=Act.SHUT_DOWN)
    found = go(twins, locked, "left", ANN, Act.VOLTAGE_FOUND)
    assert found.lockout("left").phase is Phase.STOP
    assert found.lockout("right") == locked.lockout("right"), "nothing of it was proved yet"
    both = onward(apart, onward(apart, Isolation(), "left", ANN), "right", ANN)
    found = go(apart, both, "left", ANN, Act.VOLTAGE_FOUND)
    assert found.dead(apart, "right", "Ann")
    shared = onward(twins, onward(twins, Isolation(), "left", ANN), "right", ANN)
    failed = go(twins, shared, "left", ANN, Act.METER_FAILED)
    assert failed.dead(twins, "right", "Ann"), "a meter puts no switch in doubt"


def test_whoever_left_and_comes_back_is_not_covered_by_the_old_proof() -> None:
    both = onward(PLAIN, go(PLAIN, DEAD, CABINET, BOB, Act.OFF_AND_LOCKED), CABINET, BOB)
    back = go(PLAIN, both, CABINET, ANN, Act.LOCKS_OFF, Act.OFF_AND_LOCKED)
    assert not back.dead(PLAIN, CABINET, "Ann")
    assert back.dead(PLAIN, CABINET, "Bob")


def test_a_lock_kept_for_another_zone_no_longer_counts_where_its_owner_left() -> None:
    held = {(c.target, c.person) for c in FRAME_LEFT.lockout(FRAME).trail if c.act is Act.OFF_AND_LOCKED}
    assert held == {("q1", "Bob"), ("air", "Bob")}
    assert ("q1", "Ann") in FRAME_LEFT.locks
    assert not FRAME_LEFT.dead(SHARING, FRAME, "Ann")
    assert FRAME_LEFT.dead(SHARING, CABINET, "Ann")
    assert FRAME_LEFT.remaining(SHARING, FRAME, "Ann") == ("q1", "air"), "to come back, each again"


def test_inside_nobody_works_who_may_not() -> None:
    live = Isolation().apply(PLAIN, CABINET, Act.LIVE, "", ANN, *WHY)
    assert dead_zones(PLAIN, DEAD, ANN) == live_zones(PLAIN, live, ANN) == {CABINET}
    for person in (replace(ANN, role=Role.OPERATOR), replace(ANN, authorised=False), BOB):
        assert not dead_zones(PLAIN, DEAD, person)
    for person in (replace(ANN, role=Role.OPERATOR), replace(ANN, qualified=False), BOB):
        assert not live_zones(PLAIN, live, person)


# ---------------------------------------------------------------- the rule


def inside(access: Access, zone: str = CABINET, who: tuple[Role, ...] = tuple(Role)) -> Check:
    return Check(id="c", title="Look", gives=(), do="Look", minutes=1, access=access, zone=zone, who=who)


@pytest.mark.parametrize(
    ("isolation", "person", "work", "because"),
    [
        (DEAD, ANN, inside(Access.DEAD), "Zone cabinet is proved dead, with your locks on."),
        (Isolation(), ANN, inside(Access.DEAD), "First lock out Zone cabinet and prove it dead."),
        (
            DEAD,
            BOB,
            inside(Access.DEAD),
            "First put your own lock on each isolation point of Zone cabinet, and test again.",
        ),
        (
            go(PLAIN, DEAD, CABINET, BOB, Act.OFF_AND_LOCKED),
            BOB,
            inside(Access.DEAD),
            "Your locks went on after the proof. Test Zone cabinet again first.",
        ),
        (
            STOPPED,
            ANN,
            inside(Access.DEAD),
            "Voltage found: Zone cabinet is not dead. Keep out and call.",
        ),
        (
            DEAD.doubted(PLAIN),
            ANN,
            inside(Access.DEAD),
            "The record has a gap: Zone cabinet is not dead. Keep out and call.",
        ),
        (
            DEAD,
            replace(ANN, authorised=False),
            inside(Access.DEAD),
            "It needs a person who is authorised to lock out. Call one.",
        ),
        (
            Isolation(),
            DAN,
            inside(Access.LIVE),
            "It needs a person who is qualified to work near live parts. Call one.",
        ),
        (
            DEAD,
            ANN,
            inside(Access.LIVE),
            "It needs every zone closed, holds out and the power on. Return to service first.",
        ),
        (
            Isolation(),
            ANN,
            inside(Access.LIVE),
            "First say why the work in Zone cabinet cannot be done dead, and name the permit.",
        ),
        (Isolation(), EVE, inside(Access.DEAD), "Operators do not go inside. Call."),
        (
            Isolation(),
            ANN,
            inside(Access.DEAD, "attic"),
            "The machine file names no zone for this work, so it stays closed. Call.",
        ),
        (
            Isolation(),
            ANN,
            inside(Access.LIVE, "attic"),
            "The machine file names no electrical zone for this work, so it stays closed. Call.",
        ),
        (
            Isolation(),
            EVE,
            inside(Access.OUTSIDE, "", (Role.ELECTRICIAN, Role.ENGINEER)),
            "This is for an electrician or an engineer. Call.",
        ),
        (Isolation(), EVE, inside(Access.OUTSIDE, "", ()), "This is for nobody named in the file. Call."),
        (
            Isolation(),
            replace(ANN, name="Ann"),
            inside(Access.OUTSIDE),
            "From outside, with everything closed.",
        ),
    ],
)
def test_the_rule_says_why(isolation: Isolation, person: Person, work: Check, because: str) -> None:
    assert permission(PLAIN, isolation, person, work).because == because


@pytest.mark.parametrize(
    ("isolation", "done", "because"),
    [
        (Isolation(), 0, "2 more resets allowed at this machine."),
        (Isolation(), 1, "1 more reset allowed at this machine."),
        (Isolation(), 2, "2 resets done, and the limit here is 2. No more: find the cause, or call."),
        (DEAD, 0, "The machine is locked out. Return to service first."),
        (
            Isolation().apply(PLAIN, CABINET, Act.LIVE, "", ANN, *WHY),
            0,
            "Live work is open. Close up and confirm that it is over first.",
        ),
    ],
)
def test_the_rule_says_how_many_resets_are_left(isolation: Isolation, done: int, because: str) -> None:
    assert permission(PLAIN, isolation, ANN, PLAIN.resets["clear"], resets=done).because == because
    once = replace(PLAIN, reset_limit=1)
    told = permission(once, Isolation(), ANN, once.resets["clear"], resets=1).because
    assert told == "1 reset done, and the limit here is 1. No more: find the cause, or call."


def test_a_stopped_zone_says_what_was_found_in_it() -> None:
    frame = gate_machines.mechanical()
    dead = onward(frame, Isolation(), FRAME, ANN)
    for found, says in (
        (Act.VOLTAGE_FOUND, "Energy found"),
        (Act.MOVED, "Something moved when a start was tried"),
        (Act.METER_FAILED, "The meter could not be proved"),
    ):
        stopped = go(frame, dead, FRAME, ANN, found)
        because = permission(frame, stopped, ANN, inside(Access.DEAD, FRAME)).because
        assert because == f"{says}: Zone frame is not dead. Keep out and call."


@pytest.mark.parametrize("name", ["", "  ", "Electrician", "electrician on shift", "ENGINEER  on Shift", "operator"])
def test_a_role_alone_is_nobodys_name(name: str) -> None:
    assert not Person(name, Role.ELECTRICIAN).named
    assert Person("Ole", Role.ELECTRICIAN).named
    assert nameless(Role.ENGINEER) == "engineer on shift"


def test_nobody_is_authorised_or_qualified_who_was_not_said_to_be() -> None:
    nobody = Person("Ole", Role.ELECTRICIAN)
    assert (nobody.authorised, nobody.qualified) == (False, False)
    first = permission(PLAIN, Isolation(), EVE, PLAIN.resets["clear"])
    assert first.because == "2 more resets allowed at this machine.", "no reset was done that was not said"


def test_a_name_is_the_same_without_regard_to_case_spaces_and_accents() -> None:
    assert same_name("Åsa  Berg", " asa berg")
    assert not same_name("Ann", "Anna")


def test_who_may_is_listed_in_words() -> None:
    given: Permission = permission(PLAIN, Isolation(), EVE, inside(Access.OUTSIDE, "", (Role.ENGINEER,)))
    assert given.because == "This is for an engineer. Call."
