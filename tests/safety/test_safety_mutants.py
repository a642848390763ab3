"""The proof can fail: the gate is broken on purpose, one rule at a time, and the walk must catch each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import gate_machines
import pytest
from walk import ABLE, KINDS, Caught, Walk

import diag.safety.lockout as lockout
import diag.safety.permissions as rule
from diag.machine.model import Machine
from diag.safety import Act, Isolation, Lockout, Phase
from diag.safety import steps as words

Patch = Callable[[pytest.MonkeyPatch], None]


def meter_not_proved_after(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Lockout, "proved", lambda self, zone: self.targets(Act.TESTED_DEAD) >= set(zone.test_points))


def one_test_point_is_enough(patch: pytest.MonkeyPatch) -> None:
    right = Lockout.proved

    def proved(self: Lockout, zone: object) -> bool:
        return right(self, replace(zone, test_points=zone.test_points[:1]))

    patch.setattr(Lockout, "proved", proved)
    step = Lockout._next_proof
    patch.setattr(
        Lockout,
        "_next_proof",
        lambda self, zone, name: step(self, replace(zone, test_points=zone.test_points[:1]), name),
    )


def foreign_point_forgotten(patch: pytest.MonkeyPatch) -> None:
    right = Isolation.locked

    def locked(self: Isolation, machine: Machine, zone: str, name: str) -> bool:
        z = machine.zones[zone]
        own = tuple(p for p in z.points if not machine.points[p].foreign)
        return right(self, replace(machine, zones={**machine.zones, zone: replace(z, points=own)}), zone, name)

    patch.setattr(Isolation, "locked", locked)


def stored_energy_forgotten(patch: pytest.MonkeyPatch) -> None:
    step = Lockout._next_proof
    patch.setattr(
        Lockout, "_next_proof", lambda self, zone, name: step(self, replace(zone, stored=zone.stored[:1]), name)
    )


def any_lock_will_do(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "dead", lambda self, machine, zone, name: self.lockout(zone).phase is Phase.DEAD)


def joined_without_testing(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(
        Isolation,
        "dead",
        lambda self, machine, zone, name: self.lockout(zone).phase is Phase.DEAD and self.locked(machine, zone, name),
    )


def proof_shared_between_hands(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Lockout, "run", lambda self, name: tuple(c for c in self.trail if c.act in lockout.PROOF))


def voltage_shrugged_off(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "_stop", lambda self, machine, out, act: self)


def stop_stays_in_its_zone(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "_stop", lambda self, machine, out, act: self._put(lockout._stopped(out, act)))


def proof_outlives_its_locks(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "_settled", lambda self, machine: self)


def shared_point_switched_on(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "held", lambda self, machine, zone, point, name="": False)


def power_on_past_a_lock(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "owners", lambda self, machine, zone: frozenset())


def somebody_elses_lock_taken_off(patch: pytest.MonkeyPatch) -> None:
    right = Isolation._locks_off

    def locks_off(
        self: Isolation, machine: Machine, zone: object, out: Lockout, target: str, name: str, old: bool = False
    ) -> Isolation:
        after = right(self, machine, zone, out, target, name, old)
        return replace(after, locks=frozenset((p, n) for p, n in after.locks if p not in zone.points))

    patch.setattr(Isolation, "_locks_off", locks_off)


def live_work_for_whoever_is_there(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(
        rule,
        "live_zones",
        lambda machine, isolation, person: frozenset({isolation.live.zone}) if isolation.live else frozenset(),
    )


def live_work_while_another_zone_is_open(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "closed", property(lambda self: True))


def live_work_never_lapses(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Isolation, "lapse", lambda self: self)


def operators_let_in(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(words, "entitled", lambda zone, act, person: None)


def unauthorised_let_in(patch: pytest.MonkeyPatch) -> None:
    right = rule.permission
    patch.setattr(
        "walk.permission",
        lambda machine, isolation, person, action, **case: right(
            machine, isolation, replace(person, authorised=True), action, **case
        ),
    )


def wrong_energy_taken(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(rule, "_with_energy", lambda answer, wanted, on: answer)


def danger_sign_ignored(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(lockout, "PAST_DANGER", tuple(Act))


def stop_taken_back(patch: pytest.MonkeyPatch) -> None:
    right = Isolation._stop

    def stop(self: Isolation, machine: Machine, out: Lockout, act: Act) -> Isolation:
        after = right(self, machine, out, act)
        return after._put(replace(after.lockout(out.zone), trail=out.trail))

    retract = Isolation._retract

    def back(self: Isolation, machine: Machine, zone: object, out: Lockout, name: str) -> Isolation:
        if out.phase is Phase.STOP and out.trail:
            return self._put(replace(out, phase=Phase.DEAD, covered=frozenset({name}), found=None))
        return retract(self, machine, zone, out, name)

    patch.setattr(Isolation, "_stop", stop)
    patch.setattr(Isolation, "_retract", back)


MUTANTS: dict[Patch, str] = {
    meter_not_proved_after: "plain",
    one_test_point_is_enough: "foreign",
    foreign_point_forgotten: "foreign",
    stored_energy_forgotten: "stored",
    any_lock_will_do: "plain",
    joined_without_testing: "plain",
    proof_shared_between_hands: "plain",
    voltage_shrugged_off: "plain",
    stop_stays_in_its_zone: "twins",
    proof_outlives_its_locks: "plain",
    shared_point_switched_on: "twins",
    power_on_past_a_lock: "twins",
    somebody_elses_lock_taken_off: "plain",
    live_work_for_whoever_is_there: "plain",
    live_work_while_another_zone_is_open: "apart",
    live_work_never_lapses: "plain",
    operators_let_in: "plain",
    unauthorised_let_in: "plain",
    wrong_energy_taken: "plain",
    danger_sign_ignored: "plain",
    stop_taken_back: "plain",
}


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda m: m.__name__)
def test_a_broken_gate_is_caught(mutant: Patch, monkeypatch: pytest.MonkeyPatch) -> None:
    bench = {**gate_machines.SINGLES, **gate_machines.PAIRS}[MUTANTS[mutant]]()
    mutant(monkeypatch)
    pair = len(bench.zones) > 1
    without = frozenset({Act.RETRACT, Act.TEST_POWER}) if pair else frozenset()
    with pytest.raises(Caught) as caught:
        Walk(bench, kinds=(ABLE,) if pair else KINDS, at_once=pair, gaps=not pair, without=without).run()
    assert "after:" in str(caught.value)
