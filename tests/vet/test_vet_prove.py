"""The proof that no path leads inside without the gate: what it counts, and that it finds a path that does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from diag.case.advice import actions, advice, proving
from diag.case.case import Case
from diag.case.log.events import Event, Remedied
from diag.case.log.projection import Projection, permitted
from diag.machine.load import read
from diag.machine.model import Access, Check, Machine, Remedy, Reset, Role
from diag.safety import Permission
from diag.vet.proof.prove import lines, prove


@pytest.fixture(scope="module")
def mixer() -> Machine:
    return read(Path(__file__).parents[1] / "machines" / "mixer")


def test_it_holds_and_says_what_was_walked(mixer: Machine) -> None:
    seen: list[int] = []
    proof = prove(mixer, depth=1, done=seen.append)
    assert proof.holds
    assert proof.positions > 50
    assert len(seen) == proof.positions + proof.steps + proof.gate.states
    inner = sum(a.access is not Access.OUTSIDE for a in (*mixer.checks.values(), *mixer.remedies.values()))
    assert proof.inside == inner * proof.positions
    assert proof.steps > 2 * 20, "the gate and the way back, as an electrician and as an engineer"
    text = "\n".join(lines(proof))
    assert f"{proof.tree_paths:,} paths of the trees" in text
    assert "none shown" in text
    assert "trusts the access" in text


def test_every_path_of_the_trees_is_walked(mixer: Machine) -> None:
    """Counted by hand for one question with an answer each and one for "can't tell": a tree of one look."""
    tree = mixer.trees[mixer.start]
    small = replace(mixer, trees={tree.id: replace(tree, root=replace(tree.root, when={}, otherwise=None))})
    look = small.trees[tree.id].root
    states = len(mixer.indications[look.indication].states)  # type: ignore[union-attr]
    assert prove(small, depth=0).tree_paths == (states + 1) * len(Role)


@pytest.mark.parametrize(
    ("opened", "wrong"),
    [
        (Permission(True, False, "a fault put in"), "shows how work inside is done without the gate"),
        (Permission(False, True, "a fault put in"), "may be done inside without the gate"),
    ],
)
def test_a_rule_that_lets_somebody_in_is_found(
    mixer: Machine, monkeypatch: pytest.MonkeyPatch, opened: Permission, wrong: str
) -> None:
    """For one check, and only once the supply lamp was seen dark: the path is told."""
    inner = next(c.id for c in mixer.checks.values() if c.access is not Access.OUTSIDE)

    def broken(machine: Machine, projection: Projection, action: Check | Remedy | Reset) -> Permission:
        if action.id == inner and projection.known.get("supply-lamp") == "dark":
            return opened
        return permitted(machine, projection, action)

    for module in (actions, advice, proving):
        monkeypatch.setattr(module, "permitted", broken)
    proof = prove(mixer, depth=1)
    assert not proof.holds
    assert proof.counter is not None
    assert (proof.counter.action, proof.counter.wrong) == (inner, wrong)
    assert ("supply-lamp", "dark") in proof.counter.path
    assert "DOES NOT HOLD as operator:" in "\n".join(lines(proof))


def test_work_that_is_taken_as_done_is_found(mixer: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diag.case.case.validate_event", lambda machine, projection, event, at=None: event)
    proof = prove(mixer, depth=0)
    assert proof.counter is not None
    assert proof.counter.wrong == "is taken as done without the gate"
    assert "at once" in proof.counter.text


def test_a_remedy_that_may_be_entered_before_the_last_step_is_found(
    mixer: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only once a zone is half locked out, which no path of the trees shows."""
    refusal = Case.refusal

    def early(case: Case, event: Event) -> str:
        return "" if case.state.locks and isinstance(event, Remedied) else refusal(case, event)

    monkeypatch.setattr(Case, "refusal", early)
    proof = prove(mixer, depth=0)
    assert proof.counter is not None
    assert "off-and-locked" in proof.counter.text
    assert proof.counter.wrong == "is taken as done without the gate"


def test_a_remedy_that_stays_closed_past_the_gate_is_found(mixer: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Case, "refusal", lambda case, event: "a fault put in")
    proof = prove(mixer, depth=0)
    assert proof.counter is not None
    assert proof.counter.wrong == "is refused past the gate"
