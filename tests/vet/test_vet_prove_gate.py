"""The proof of the gate and of the way back: what it walks, and that it finds one that does not hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from diag.machine.isolation import PutBack, TakenOff
from diag.machine.load import read
from diag.machine.model import Machine
from diag.safety import Isolation, Permission, order
from diag.vet.proof import prove_gate as proof
from diag.vet.proof.prove import Proof, lines
from diag.vet.proof.prove_gate import prove_gate

REMEDY = "supply-unit-failed"


@pytest.fixture(scope="module")
def bench() -> Machine:
    """The mixer with a prop under its arm, and a remedy that takes phases off and puts an earth on."""
    mixer = read(Path(__file__).parents[1] / "machines" / "mixer")
    arm = replace(mixer.stored["arm-weight"], put_back=PutBack(do="Take out the prop", inside=True))
    off = (TakenOff(what="wires 4 and 5", phases=True), TakenOff(what="earth at U1", earth=True))
    unit = replace(mixer.remedies[REMEDY], takes_off=off)
    return replace(mixer, stored={arm.id: arm}, remedies={**mixer.remedies, REMEDY: unit})


def test_it_holds_and_says_what_was_walked(bench: Machine) -> None:
    seen: list[int] = []
    walked = prove_gate(bench, seen.append)
    assert walked.counter == ""
    assert walked.zones == 1
    assert len(seen) == walked.states > 100
    assert walked.ways > walked.states, "one from each state, and those with things off"
    text = "\n".join(lines(Proof(bench.id, 0, gate=walked)))
    assert f"{walked.states:,} states of these gates" in text
    assert "nothing left in, off or lifted" in text


def test_two_zones_that_share_a_point_are_brought_back_one_after_the_other(
    bench: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    (zone,) = bench.zones.values()
    drive = replace(zone, id="drive", points=zone.points[:1], stored=())
    monkeypatch.setattr(proof._Zone, "walk", lambda self: None)
    walked = prove_gate(replace(bench, zones={zone.id: zone, drive.id: drive}))
    assert (walked.counter, walked.ways) == ("", 2)


def test_a_rule_that_opens_a_remedy_too_early_is_found(bench: Machine, monkeypatch: pytest.MonkeyPatch) -> None:
    def opened(machine: Machine, isolation: Isolation, *_: object, **__: object) -> Permission:
        now = bool(isolation.off)
        return Permission(now, now, "a fault put in")

    monkeypatch.setattr(proof, "permission", opened)
    assert "may be done as" in prove_gate(bench).counter


@pytest.mark.parametrize(
    ("name", "fault", "says"),
    [
        ("_things", lambda *_, **__: (), "main-switch-q1 goes on while something is still in, off or locked"),
        ("_cold", lambda *_, **__: (), "the return to service ends, and is still off: lift-permit, main-switch-q1"),
        ("free_points", lambda *_: (), "the return to service ends, and is still off: lift-permit"),
    ],
)
def test_a_way_back_that_leaves_something_is_found(
    bench: Machine, monkeypatch: pytest.MonkeyPatch, name: str, fault: Callable[..., Any], says: str
) -> None:
    monkeypatch.setattr(order, name, fault)
    walked = prove_gate(bench)
    assert walked.counter == f"control-box: {says}"
    assert f"DOES NOT HOLD {walked.counter}" in "\n".join(lines(Proof(bench.id, 0, gate=walked)))
