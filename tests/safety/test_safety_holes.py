"""Holes planted in the rule, of the kinds that attackers of earlier versions found and of others. The same walks look
for each, in the same order, and are not told which it is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import gate_machines
import pytest
from two_cases import TwoCases
from walk import ABLE, KINDS, Caught, Walk

from diag.case.log import events as e
from diag.case.log import projection, stored, tallies
from diag.case.log import replay as replays
from diag.case.log import validate_event as valid
from diag.case.log.others import Others
from diag.case.log.replay import Replay
from diag.machine.isolation import Zone
from diag.machine.model import Machine, Remedy
from diag.safety import Act, Isolation, Lockout, Person, Phase, lockout, order
from diag.safety import permissions as rule
from diag.safety.types import Permission

Patch = Callable[[pytest.MonkeyPatch], None]


def walks() -> Iterator[TwoCases | Walk]:
    """What looks for a hole, the shortest first."""
    yield TwoCases(("waiting", "danger"))
    yield TwoCases(("way back", "power for a test"))
    yield Walk(gate_machines.plain(), kinds=(ABLE, *KINDS[-1:]))
    yield TwoCases(("remedies", "way back"), most=500)
    undo = frozenset({Act.RETRACT})
    yield Walk(gate_machines.twins(), kinds=(ABLE,), names=("Ann",), at_once=True, gaps=False, without=undo)
    held = undo | {Act.TEST_POWER, Act.LIVE, Act.METER_FAILED, Act.VOLTAGE_FOUND, Act.MOVED}
    yield Walk(gate_machines.drums(), kinds=(ABLE,), names=("Ann",), at_once=True, gaps=False, without=held)


def hunt() -> None:
    """Raises `Caught` for the first that one of the walks finds."""
    for walk in walks():
        walk.run()


# ---- of the kinds that were found: another's name, another's rights, a stale terminal, no name, what was never tried


def an_entry_in_the_name_of_whoever_leads(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Replay, "who", lambda self, entry: self.lead)


def a_terminal_becomes_that_of_the_last_who_sat_down(patch: pytest.MonkeyPatch) -> None:
    right = Replay.projection
    patch.setattr(Replay, "projection", lambda self, person, at=None: right(self, list(self.sittings.values())[-1], at))


def a_terminal_goes_stale(patch: pytest.MonkeyPatch) -> None:
    right = Replay._gate

    def gate(self: Replay, entry: e.Stamped, event: e.Gate, elsewhere: bool = False) -> None:
        if not elsewhere or event.act not in (Act.BACK, Act.VOLTAGE_FOUND):
            right(self, entry, event, elsewhere)

    patch.setattr(Replay, "_gate", gate)


def a_role_owns_a_lock(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Person, "named", property(lambda self: True))


def the_wait_on_the_label_is_not_asked_for(patch: pytest.MonkeyPatch) -> None:
    for room in (tallies, valid, replays):
        patch.setattr(room, "waiting", lambda ends, at: frozenset())


# ---- others


def a_danger_stays_in_its_case(patch: pytest.MonkeyPatch) -> None:
    right = stored.touching
    patch.setattr(stored, "touching", lambda m, before, event: event.kind != "found" and right(m, before, event))


def a_danger_ends_with_the_next_look(patch: pytest.MonkeyPatch) -> None:
    right = Replay._raise_danger

    def raised(self: Replay, case: str, entry: e.Stamped, event: e.Found) -> None:
        self.dangers = ()
        right(self, case, entry, event)

    patch.setattr(Replay, "_raise_danger", raised)


def an_operator_says_it_was_made_safe(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(valid, "_made_safe", lambda projection, event: None)


def a_remedy_past_the_gate(patch: pytest.MonkeyPatch) -> None:
    right = projection.permission

    def permission(m: Machine, isolation: Isolation, person: Person, action: object, **case: object) -> Permission:
        given = right(m, isolation, person, action, **case)
        return replace(given, now=True) if isinstance(action, Remedy) and not case["danger"] else given

    patch.setattr(projection, "permission", permission)


def work_under_a_danger_sign(patch: pytest.MonkeyPatch) -> None:
    right = projection.permission
    patch.setattr(
        projection,
        "permission",
        lambda m, isolation, person, action, **case: right(m, isolation, person, action, **{**case, "danger": False}),
    )


def resets_of_another_case_do_not_count(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Others, "counted", lambda self, at: 0)


def a_reset_while_locks_are_on(patch: pytest.MonkeyPatch) -> None:
    right = rule._reset
    patch.setattr(rule, "_reset", lambda m, isolation, *rest: right(m, Isolation(live=isolation.live), *rest))


def a_case_ends_with_its_lock_on(patch: pytest.MonkeyPatch) -> None:
    right = valid._closed

    def closed(machine: Machine, now: projection.Projection, event: e.Closed) -> None:
        right(machine, replace(now, state=replace(now.state, own_locks=(), own_zones=())), event)

    patch.setattr(valid, "_closed", closed)


def what_a_remedy_took_off_is_forgotten_elsewhere(patch: pytest.MonkeyPatch) -> None:
    right = Replay._take

    def take(self: Replay, one: e.Entry | e.Elsewhere, taken: set[tuple[str, int]]) -> None:
        before = self.isolation.taken
        right(self, one, taken)
        if isinstance(one, e.Elsewhere) and isinstance(one.entry, e.Stamped) and one.entry.event.kind == "remedied":
            self.isolation = replace(self.isolation, taken=before)

    patch.setattr(Replay, "_take", take)


def the_proof_outlives_power_for_a_test(patch: pytest.MonkeyPatch) -> None:
    right = Isolation._again

    def again(self: Isolation, out: Lockout, name: str, reason: str) -> Isolation:
        after = right(self, out, name, reason)
        if out.phase is not Phase.BACK or not out.again:
            return after
        return after._put(replace(after.lockout(out.zone), phase=Phase.DEAD, covered=frozenset({name})))

    patch.setattr(Isolation, "_again", again)


def power_with_a_hold_in(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(order, "_cold", lambda machine, isolation, zone, inside: ())
    patch.setattr(order, "cold_in", lambda machine, isolation, zone: ())


def a_hold_comes_out_under_another_zone(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(order, "minded", lambda machine, isolation, zone, stored: False)


def the_last_look_before_the_last_lock(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(
        Lockout, "without", lambda self, *acts: tuple(c for c in self.trail if c.act not in acts or c.act is LOOK)
    )


LOOK = Act.LAST_LOOK


def a_gap_leaves_the_proof(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "doubted", lambda self, machine: self.lapse())


def a_lock_comes_off_a_shared_point(patch: pytest.MonkeyPatch) -> None:
    right = order.sorted_locks

    def sorted_locks(machine: Machine, isolation: Isolation, zone: Zone, name: str, old: bool = False) -> object:
        off, stay, waits = right(machine, isolation, zone, name, old)
        return (*off, *stay), (), waits

    patch.setattr(order, "sorted_locks", sorted_locks)


def whoever_joins_is_covered_at_once(patch: pytest.MonkeyPatch) -> None:
    right = Isolation._lock

    def lock(self: Isolation, machine: Machine, zone: Zone, out: Lockout, target: str, name: str) -> Isolation:
        after = right(self, machine, zone, out, target, name)
        now = after.lockout(zone.id)
        return after._put(replace(now, covered=now.covered | {name})) if now.phase is Phase.DEAD else after

    patch.setattr(Isolation, "_lock", lock)


def a_voltage_leaves_the_zone_as_it_is(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(lockout, "_stopped", lambda out, found: replace(out, found=found))


AFTER_REVIEW = (
    an_entry_in_the_name_of_whoever_leads,
    a_terminal_becomes_that_of_the_last_who_sat_down,
    a_terminal_goes_stale,
    a_role_owns_a_lock,
    the_wait_on_the_label_is_not_asked_for,
)
OTHERS = (
    a_danger_stays_in_its_case,
    a_danger_ends_with_the_next_look,
    an_operator_says_it_was_made_safe,
    a_remedy_past_the_gate,
    work_under_a_danger_sign,
    resets_of_another_case_do_not_count,
    a_reset_while_locks_are_on,
    a_case_ends_with_its_lock_on,
    what_a_remedy_took_off_is_forgotten_elsewhere,
    the_proof_outlives_power_for_a_test,
    power_with_a_hold_in,
    a_hold_comes_out_under_another_zone,
    the_last_look_before_the_last_lock,
    a_gap_leaves_the_proof,
    a_lock_comes_off_a_shared_point,
    whoever_joins_is_covered_at_once,
    a_voltage_leaves_the_zone_as_it_is,
)


@pytest.mark.parametrize("hole", [*AFTER_REVIEW, *OTHERS], ids=lambda h: h.__name__)
def test_a_planted_hole_is_found(hole: Patch, monkeypatch: pytest.MonkeyPatch) -> None:
    hole(monkeypatch)
    with pytest.raises(Caught, match="after:"):
        hunt()


@pytest.mark.slow
def test_without_a_hole_the_same_walks_find_nothing() -> None:
    hunt()
