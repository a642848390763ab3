"""What somebody entered, in the words in which others are told of it: a step at a gate, and what was taken back."""

from __future__ import annotations

from diag.case.log import events as e
from diag.case.phrases import named, plain
from diag.case.sheet.what_was_done import ACTS
from diag.machine.model import Machine
from diag.safety import Act
from diag.text import one_line

STOPS = (Act.MOVED, Act.VOLTAGE_FOUND, Act.METER_FAILED, Act.BACK, Act.POWER_ON, Act.TEST_POWER)
"""What makes people come out, or stay out."""


def gate_words(gate: e.Gate, machine: Machine) -> str:
    """A confirmation at a gate, and what it names."""
    act = ACTS.get(gate.act, gate.act.value.replace("-", " "))
    return act + (f": {one_line(named(machine, gate.target))}" if gate.target else "")


def makes_come_out(event: e.Event) -> bool:
    return isinstance(event, e.Gate) and event.act in STOPS


def danger_found(event: e.Event | None, machine: Machine | None) -> str:
    """The state by which this finding shows a danger sign; empty where it shows none."""
    if not isinstance(event, e.Found) or machine is None or not event.seen:
        return ""
    seen = max(event.seen, key=lambda state: event.seen[state])
    shows = any(event.indication == i and seen in states for sign in machine.dangers for i, states in sign.when)
    return plain(seen) if shows else ""


def taken_back_words(event: e.Event | None, machine: Machine | None) -> str:
    """What was taken back, and of a danger sign with which answer; empty where it is not known. A sign that was there
    and is over is not taken back but made safe."""
    if sign := danger_found(event, machine):
        return f"took back the danger sign '{sign}': it was never there"
    if isinstance(event, e.Found) and machine is not None:
        seen = plain(max(event.seen, key=lambda state: event.seen[state]))
        return f"took back: {one_line(named(machine, event.indication))} {seen}"
    return ""
