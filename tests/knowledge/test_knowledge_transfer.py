"""The kiln car transfer: what its lockout, its proofs and its physics promise holds for every check and cause of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from case.case_steps import ANN, Ticking, lock_out

from diag.case.case import Case
from diag.machine.load import read
from diag.machine.model import Access, Cause, Check, Energy, Machine, Role
from diag.vet.examples.replay_example import replay
from diag.vet.run import vet_machine

TRANSFER = Path(__file__).parents[2] / "knowledge" / "kiln-transfer"
PATH = ("carriage", "hydraulics", "fence")
"""Zones inside the fence."""


@pytest.fixture(scope="module")
def transfer() -> Machine:
    return read(TRANSFER)


def from_the_walkway(machine: Machine) -> list[Check]:
    """Checks that are prepared in the dead state and read with the power back and everybody out."""
    return [c for c in machine.checks.values() if c.access is Access.DEAD and "restore power" in c.do]


def test_vet_finds_neither_error_nor_warning() -> None:
    assert [p for p in vet_machine(TRANSFER) if p.level != "info"] == []


def test_every_example_comes_out(transfer: Machine) -> None:
    assert [(r.example.id, r.trouble) for e in transfer.examples if not (r := replay(transfer, e)).fine] == []


def test_nothing_inside_the_fence_is_done_live(transfer: Machine) -> None:
    """The carriage starts by itself, so that nobody is beside it with the power on, qualified or not."""
    actions = [*transfer.checks.values(), *transfer.remedies.values()]
    assert {a.zone for a in actions if a.access is Access.LIVE} == {"post"}
    assert all(a.who and Role.OPERATOR not in a.who for a in actions if a.access is not Access.OUTSIDE)


@pytest.mark.parametrize("zone", PATH)
def test_the_path_is_entered_only_with_its_neighbours_off_and_the_oil_let_down(zone: str, transfer: Machine) -> None:
    assert "neighbours-switch" in transfer.zones[zone].points
    assert {"accumulator", "catch", "rolling", "hot-parts"} <= set(transfer.zones[zone].stored)


def test_what_is_read_from_the_walkway_counts_once_the_leads_come_off(transfer: Machine) -> None:
    """It is written down in the dead state again, so that its meaning cannot hang on the energy at that moment."""
    checks = from_the_walkway(transfer)
    assert len(checks) >= 6
    for check in checks:
        assert check.changes
        assert check.energy is Energy.ANY, check.id
    case = Case.open(transfer, ANN, clock=Ticking())
    for indication, said in (("danger-sign", "none"), ("main-display", "b1"), ("rails", "clear")):
        case.say(indication, said)
    lock_out(case, "carriage")
    case.say("brake-volts", "3 V", check="measure-brake-feed")
    assert case.state.facts[-1].counts


def test_a_proof_needs_no_live_work_and_can_be_had_on_a_machine_that_is_well(transfer: Machine) -> None:
    for cause in transfer.causes.values():
        for id, states in cause.proof.items():
            ways = [c for c in transfer.checks_for[id] if c.access is not Access.LIVE]
            assert ways, (cause.id, id)
            assert any(well(check, cause) for check in ways), (cause.id, id, states)


def well(check: Check, cause: Cause) -> bool:
    """Whether what the check needs agrees with the cause's own proof, and with a controller that is ready."""
    shown = {"main-display": ("idle",)} | dict(cause.proof)
    return all(set(states) & set(shown.get(id, states)) for id, states in check.needs.items())


def test_no_cause_says_other_than_what_follows_from_it(transfer: Machine) -> None:
    """A rule under `follows` goes before what a cause says; said otherwise it would be a word without effect."""
    against = [row for cause in transfer.causes.values() for row in overruled(transfer, cause)]
    assert against == []


def overruled(machine: Machine, cause: Cause) -> list[tuple[str, str, str]]:
    """Cause, indication and the state that a rule makes it show, where the cause names other states for it."""
    shown: dict[str, str] = {}
    found = []

    def state(id: str) -> str:
        if id not in shown:
            indication, row = machine.indications[id], cause.shows.get(id, {})
            likely = max(row, key=lambda s: row[s]) if sum(row.values()) > 0.5 else indication.normal
            rule = next((r for r in indication.follows if all(state(on) in states for on, states in r.when)), None)
            shown[id] = rule.shows if rule is not None else likely
            if rule is not None and row and rule.shows not in row:
                found.append((cause.id, id, rule.shows))
        return shown[id]

    for id in machine.indications:
        state(id)
    return found
