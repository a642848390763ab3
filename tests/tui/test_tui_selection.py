"""An alternative that was turned to stays the same action, not the same place in the list."""

from __future__ import annotations

import pytest

from diag.case.snapshot import Action, Advice
from diag.machine.model import Access
from diag.safety import Permission
from diag.tui.screens.case.parts.asked import PANEL, Selection


def action(kind: str, id: str) -> Action:
    return Action(
        kind=kind, id=id, title=id, gives=(), tool="", where="", minutes=1.0, access=Access.OUTSIDE, zone="", who=(),
        why="", saved=0.0, permission=Permission(how=True, now=True, because=""), how="",
    )  # fmt: skip


def advice(*offered: Action) -> Advice:
    return Advice((), None, (), offered[0] if offered else None, offered[1:], "")


LOOK, REMEDY, PROOF, FAILED = (
    action("check", "look"),
    action("remedy", "swap"),
    action("check", "proof"),
    action("failed", "swap"),
)


def test_after_a_remedy_its_proof_comes_next_and_not_its_failure() -> None:
    selection = Selection(chosen=1).kept(advice(LOOK, REMEDY), advice(PROOF, FAILED))
    assert selection.action(advice(PROOF, FAILED)) is PROOF


@pytest.mark.parametrize("after", [advice(REMEDY, LOOK), advice(PROOF, LOOK, REMEDY)])
def test_it_follows_its_action_to_another_place(after: Advice) -> None:
    assert Selection(chosen=1).kept(advice(LOOK, REMEDY), after).action(after) is REMEDY


def test_the_next_thing_stays_the_next_thing() -> None:
    after = advice(PROOF, LOOK)
    assert Selection().kept(advice(LOOK, REMEDY), after).action(after) is PROOF


def test_a_walk_over_the_panel_goes_on() -> None:
    selection = Selection(PANEL, "lamp", 1, "Bo").kept(advice(LOOK, REMEDY), advice())
    assert selection == Selection(PANEL, "lamp", 0, "Bo")
