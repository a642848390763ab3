"""Random ways through the gates of the machines of `knowledge/`: rule and ledger agree, and every act was met in every
phase. `roam.py` goes further."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from roam import Roam, machines

from diag.machine.model import Machine
from diag.safety import Act, Phase

STEPS = 5_000


@pytest.mark.parametrize("machine", machines(), ids=lambda m: m.id)
def test_every_act_in_every_phase_of_every_machine(
    machine: Machine, record_property: Callable[[str, object], None]
) -> None:
    roam = Roam(machine).run(STEPS)
    assert not roam.missing()
    assert not roam.unforeseen(), "taken where the gate was not thought to take it"
    taken = sum(roam.taken.values())
    pairs = f"{len(roam.taken)} of {len(Act) * len(Phase)} acts in phases taken, every other one refused"
    record_property("figure", f"{machine.id}: {STEPS:,} random steps, {taken:,} acts taken; {pairs}")
