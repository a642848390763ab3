"""The one rule, the banner, danger signs and cautions."""

from __future__ import annotations

from dataclasses import replace

import gate_machines
import pytest
from gate_steps import ANN, BOB, EVE, WHY, go, onward

from diag.machine.model import Access, Check, Danger, Energy, Machine, Remedy, Role
from diag.safety import CAUTIONS, Act, Isolation, Permission, Person, Refused, banner, danger, permission
from diag.safety.banners import ALLOWS, SYMBOLS, TITLE

source = pytest.mark.source
MACHINE = gate_machines.plain()
CLEAR = MACHINE.resets["clear"]
TRADE = (Role.ELECTRICIAN, Role.ENGINEER)


def check(access: Access = Access.OUTSIDE, energy: Energy = Energy.ANY, who: tuple[Role, ...] = tuple(Role)) -> Check:
    zone = "" if access is Access.OUTSIDE else "cabinet"
    return Check(id="c", title="Look", gives=(), do="Look", minutes=1, access=access, zone=zone, energy=energy, who=who)


def short(given: Permission) -> tuple[bool, bool, str]:
    return given.how, given.now, given.way


DEAD = onward(MACHINE, Isolation(), "cabinet", ANN)
LIVE = Isolation().apply(MACHINE, "cabinet", Act.LIVE, "", ANN, *WHY)


def test_outside_work_is_open_and_its_answer_waits_for_the_energy() -> None:
    on, off = check(energy=Energy.ON), check(energy=Energy.OFF)
    assert short(permission(MACHINE, Isolation(), EVE, check())) == (True, True, "")
    assert short(permission(MACHINE, Isolation(), EVE, on)) == (True, True, "")
    assert short(permission(MACHINE, Isolation(), EVE, off)) == (True, False, "isolate")
    assert short(permission(MACHINE, DEAD, EVE, on)) == (True, False, "restore")
    assert short(permission(MACHINE, DEAD, EVE, off)) == (True, True, "")


@pytest.mark.parametrize("access", Access)
@pytest.mark.parametrize("isolation", [Isolation(), DEAD, LIVE])
def test_what_a_role_may_not_is_closed(access: Access, isolation: Isolation) -> None:
    person = replace(ANN, role=Role.OPERATOR)
    assert short(permission(MACHINE, isolation, person, check(access, who=TRADE))) == (False, False, "call")


@pytest.mark.parametrize("access", [Access.DEAD, Access.LIVE])
@pytest.mark.parametrize("isolation", [DEAD, LIVE])
def test_a_file_that_names_operators_for_inside_work_opens_nothing(access: Access, isolation: Isolation) -> None:
    person = replace(ANN, role=Role.OPERATOR)
    assert short(permission(MACHINE, isolation, person, check(access))) == (False, False, "call")


@source("29 CFR 1910.147; 1910.333(b): inside work only locked out and proved dead", found="read in public text")
def test_dead_work() -> None:
    work = check(Access.DEAD, Energy.OFF)
    assert short(permission(MACHINE, Isolation(), ANN, work)) == (False, False, "lock")
    assert short(permission(MACHINE, DEAD, ANN, work)) == (True, True, "")
    assert short(permission(MACHINE, DEAD, BOB, work)) == (False, False, "lock")
    assert short(permission(MACHINE, DEAD, replace(ANN, authorised=False), work)) == (False, False, "call")
    assert short(permission(MACHINE, LIVE, ANN, work)) == (False, False, "lock")
    stopped = go(MACHINE, DEAD, "cabinet", ANN, Act.VOLTAGE_FOUND)
    assert short(permission(MACHINE, stopped, ANN, work)) == (False, False, "call")
    remedy = Remedy(id="r", do="Swap", minutes=5, access=Access.DEAD, who=TRADE, zone="cabinet")
    assert short(permission(MACHINE, DEAD, ANN, remedy)) == (True, True, "")
    assert short(permission(MACHINE, Isolation(), ANN, remedy)) == (False, False, "lock")


@source("29 CFR 1910.333(a)(1), (c)(2): live only by qualified persons where it must be", found="read in public text")
def test_live_work() -> None:
    work = check(Access.LIVE, Energy.ON)
    assert short(permission(MACHINE, Isolation(), ANN, work)) == (False, False, "live")
    assert short(permission(MACHINE, LIVE, ANN, work)) == (True, True, "")
    assert short(permission(MACHINE, LIVE, BOB, work)) == (False, False, "live")
    assert short(permission(MACHINE, LIVE, replace(ANN, qualified=False), work)) == (False, False, "call")
    assert short(permission(MACHINE, LIVE.lapse(), ANN, work)) == (False, False, "live")
    assert short(permission(MACHINE, DEAD, ANN, work)) == (False, False, "restore")
    assert short(permission(MACHINE, go(MACHINE, LIVE, "cabinet", ANN, Act.TOLD), ANN, work)) == (
        False,
        False,
        "restore",
    )


@pytest.mark.parametrize("given", [("", "P 12"), ("cannot be done dead", " "), ("", "")])
def test_live_work_wants_a_reason_and_a_permit(given: tuple[str, str]) -> None:
    with pytest.raises(Refused, match="permit"):
        Isolation().apply(MACHINE, "cabinet", Act.LIVE, "", ANN, *given)


@pytest.mark.parametrize("given", [{"reason": "cannot be done dead"}, {"permit": "P 12"}, {}])
def test_what_is_left_out_counts_as_not_given(given: dict[str, str]) -> None:
    """Neither a reason nor a permit is ever made up."""
    with pytest.raises(Refused, match="permit"):
        Isolation().apply(MACHINE, "cabinet", Act.LIVE, "", ANN, **given)


def test_live_work_wants_everything_closed() -> None:
    with pytest.raises(Refused, match="eturn to service"):
        DEAD.apply(MACHINE, "cabinet", Act.LIVE, "", ANN, *WHY)


def test_live_work_lapses_when_another_takes_the_keys() -> None:
    machine = gate_machines.apart()
    isolation = Isolation().apply(machine, "left", Act.LIVE, "", ANN, *WHY)
    assert isolation.apply(machine, "left", Act.LIVE, "", BOB, *WHY).live.person == "Bob"
    with pytest.raises(Refused, match="open already"):
        isolation.apply(machine, "right", Act.LIVE, "", ANN, *WHY)
    assert go(machine, isolation, "left", EVE, Act.LIVE_OVER).live is None


@pytest.mark.parametrize("access", Access)
@pytest.mark.parametrize("isolation", [Isolation(), DEAD, LIVE])
def test_a_danger_sign_leaves_nothing_but_the_call(access: Access, isolation: Isolation) -> None:
    assert short(permission(MACHINE, isolation, ANN, check(access), danger=True)) == (False, False, "call")
    assert short(permission(MACHINE, isolation, ANN, CLEAR, danger=True)) == (False, False, "call")
    assert not isolation.steps(MACHINE, "cabinet", ANN, danger=True)
    with pytest.raises(Refused, match="Keep away"):
        isolation.apply(MACHINE, "cabinet", Act.TOLD, "", ANN, danger=True)


@source(
    "29 CFR 1910.334(b)(2): no re-energising before it is found safe, no repeated re-closing",
    found="read in OSHA's letter of 19 November 2001",
)
def test_no_reset_once_a_protective_device_has_operated() -> None:
    given = permission(MACHINE, Isolation(), ANN, CLEAR, protective=True)
    assert short(given) == (False, False, "call")
    assert "1910.334(b)(2)" in given.because


def test_resets_end_at_the_limit_of_the_machine() -> None:
    assert [permission(MACHINE, Isolation(), EVE, CLEAR, resets=n).now for n in range(4)] == [True, True, False, False]
    assert "limit here is 2" in permission(MACHINE, Isolation(), EVE, CLEAR, resets=2).because


def test_no_reset_while_somebody_may_be_inside() -> None:
    assert short(permission(MACHINE, DEAD, ANN, CLEAR)) == (False, False, "restore")
    assert short(permission(MACHINE, go(MACHINE, Isolation(), "cabinet", ANN, Act.TOLD), ANN, CLEAR)) == (
        False,
        False,
        "restore",
    )
    assert short(permission(MACHINE, LIVE, ANN, CLEAR)) == (False, False, "")


def test_energy_goes_with_the_first_electrical_point() -> None:
    machine = gate_machines.sharing()
    isolation = onward(machine, Isolation(), "frame", ANN, until=Act.SHUT_DOWN)
    assert go(machine, isolation, "frame", ANN, (Act.OFF_AND_LOCKED, "air")).energised(machine)
    assert not go(machine, isolation, "frame", ANN, (Act.OFF_AND_LOCKED, "q1")).energised(machine)


def long(machine: Machine) -> Machine:
    zones = {
        z.id: replace(z, title="Control cabinet behind the second conveyor, upper section")
        for z in machine.zones.values()
    }
    return replace(machine, zones=zones)


@pytest.mark.parametrize(
    ("isolation", "person", "sign", "level"),
    [
        (Isolation(), ANN, None, "energised"),
        (go(MACHINE, Isolation(), "cabinet", ANN, Act.TOLD), ANN, None, "locking"),
        (DEAD, ANN, None, "dead"),
        (DEAD, BOB, None, "locking"),
        (go(MACHINE, DEAD, "cabinet", ANN, Act.BACK), ANN, None, "locking"),
        (LIVE, ANN, None, "live"),
        (LIVE, BOB, None, "energised"),
        (go(MACHINE, DEAD, "cabinet", ANN, Act.METER_FAILED), ANN, None, "stop"),
        (DEAD.doubted(MACHINE), ANN, None, "stop"),
        (DEAD, ANN, True, "danger"),
    ],
)
def test_the_banner_says_it_in_words_and_a_symbol_and_is_short(
    isolation: Isolation, person: Person, sign: bool, level: str
) -> None:
    for machine in (MACHINE, long(MACHINE)):
        shown = banner(machine, isolation, person, sign)
        assert shown.level == level
        assert shown.symbol == SYMBOLS[level]
        assert 0 < len(shown.title) <= TITLE
        assert 0 < len(shown.allows) <= ALLOWS
        assert not shown.allows.endswith("…")
    assert len(set(SYMBOLS.values())) == len(SYMBOLS)


TWINS, FRAME = gate_machines.twins(), gate_machines.mechanical()
BOTH_DEAD = onward(TWINS, onward(TWINS, Isolation(), "left", ANN), "right", ANN)
FRAME_DEAD = onward(FRAME, Isolation(), "frame", ANN)
OUTSIDE_ONLY = "Outside work only, and the steps of the lockout."
STOP_SAYS = "Keep out and call. Then return to service, or prove dead again."


@pytest.mark.parametrize(
    ("machine", "isolation", "person", "title", "allows"),
    [
        (MACHINE, Isolation(), ANN, "ENERGISED", "Outside work only, with everything closed."),
        (MACHINE, DEAD, ANN, "DEAD: Zone cabinet", "Work inside, with your lock on each point."),
        (TWINS, BOTH_DEAD, ANN, "DEAD: Zone left", "Work inside, with your lock on each point. Also dead: 1 more."),
        (MACHINE, DEAD, BOB, "NOT DEAD FOR YOU: Zone cabinet", "Outside work only. Your lock is not on each point."),
        (
            MACHINE,
            go(MACHINE, DEAD, "cabinet", BOB, Act.OFF_AND_LOCKED),
            BOB,
            "NOT DEAD FOR YOU: Zone cabinet",
            "Outside work only. Test again with your locks on.",
        ),
        (
            MACHINE,
            LIVE,
            ANN,
            "LIVE WORK: Zone cabinet",
            "Only what cannot be done dead. Close up when it is done.",
        ),
        (
            MACHINE,
            go(MACHINE, Isolation(), "cabinet", ANN, Act.TOLD),
            ANN,
            "LOCKING OUT, not dead: Zone cabinet",
            OUTSIDE_ONLY,
        ),
        (
            MACHINE,
            go(MACHINE, DEAD, "cabinet", ANN, Act.BACK),
            ANN,
            "RESTORING POWER: Zone cabinet",
            "Outside work only. Keep out.",
        ),
        (
            MACHINE,
            onward(MACHINE, go(MACHINE, DEAD, "cabinet", ANN, Act.TEST_POWER), "cabinet", ANN, until=Act.POWER_ON),
            ANN,
            "POWER ON FOR A TEST: Zone cabinet",
            "Outside work only. Isolate again after the test.",
        ),
        (
            MACHINE,
            go(MACHINE, DEAD, "cabinet", ANN, Act.VOLTAGE_FOUND),
            ANN,
            "STOP, voltage found: Zone cabinet",
            STOP_SAYS,
        ),
        (
            MACHINE,
            go(MACHINE, DEAD, "cabinet", ANN, Act.METER_FAILED),
            ANN,
            "STOP, meter not proved: Zone cabinet",
            STOP_SAYS,
        ),
        (MACHINE, go(MACHINE, DEAD, "cabinet", ANN, Act.MOVED), ANN, "STOP, it moved: Zone cabinet", STOP_SAYS),
        (MACHINE, DEAD.doubted(MACHINE), ANN, "STOP, a gap in the record: Zone cabinet", STOP_SAYS),
        (
            FRAME,
            go(FRAME, FRAME_DEAD, "frame", ANN, Act.VOLTAGE_FOUND),
            ANN,
            "STOP, energy found: Zone frame",
            STOP_SAYS,
        ),
        (FRAME, go(FRAME, FRAME_DEAD, "frame", ANN, Act.MOVED), ANN, "STOP, it moved: Zone frame", STOP_SAYS),
    ],
)
def test_the_banner_names_the_worst_zone_and_what_may_be_done(
    machine: Machine, isolation: Isolation, person: Person, title: str, allows: str
) -> None:
    shown = banner(machine, isolation, person)
    assert (shown.title, shown.allows) == (title, allows)


def test_the_banner_says_that_a_danger_sign_leaves_nothing_to_do() -> None:
    shown = banner(MACHINE, DEAD, ANN, True)
    assert (shown.title, shown.allows) == ("DANGER SIGN", "Keep away and call. Nothing else may be done.")


def test_a_danger_sign_is_found_when_all_of_it_stands() -> None:
    both = Danger(when=(("smell", ("burning", "hot")), ("lamp", ("lit",))), stop="Keep away.", call=Role.ENGINEER)
    machine = gate_machines.machine(*MACHINE.zones.values(), dangers=(replace(both, when=()), both))
    assert danger(machine, {"smell": "hot", "lamp": "lit"}) is both
    assert danger(machine, {"smell": "hot"}) is None
    assert danger(machine, {"smell": "none", "lamp": "lit"}) is None


def test_every_caution_is_one_short_line_with_a_source() -> None:
    for caution in CAUTIONS:
        assert caution.source
        assert len(caution.text) <= 120
        assert caution.text.endswith(".")
    assert len({c.text for c in CAUTIONS}) == len(CAUTIONS)
