"""Lamps as evidence: one may be dead, until a lamp test shows that it is not; and one against its contact."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from diag.machine.model import Indication, Kind, Machine, State
from diag.panel import contacts, flash, lamps

FAILED = "It failed its lamp test, so it tells nothing about the fault."


@lru_cache(maxsize=1024)
def patterns(states: tuple[State, ...]) -> Mapping[str, flash.Pattern]:
    """How a lamp looks in each of its states, with the colour where a state names one."""
    return {s.id: flash.parse(f"{s.colour} {s.pattern}".strip()) for s in states}


def tested(indication: Indication, standing: Mapping[str, str]) -> bool | None:
    """Whether a lamp or a display passed its lamp test; None when there is none, or nobody did it."""
    found = [standing[test] not in failed for test, failed in indication.lamp_test if test in standing]
    return all(found) if found else None


def as_evidence(indication: Indication, seen: Mapping[str, float], standing: Mapping[str, str]) -> dict[str, float]:
    """P(seen | true state) of a lamp that may be dead, from how it looked; other kinds stay as they are.

    A lamp that passed its test is taken as whole. One that failed is left as it is here: it carries nothing (`FAILED`).
    """
    if indication.kind is not Kind.LAMP or tested(indication, standing) is False:
        return dict(seen)
    dead = 0.0 if tested(indication, standing) else lamps.DEAD
    found = lamps.through(seen, patterns(indication.states), indication.colour, dead)
    best = max(found.values(), default=0.0)
    return {s: p / best for s, p in found.items() if p > 0.0} if best > 0.0 else dict(seen)


def disagreements(machine: Machine, standing: Mapping[str, str]) -> tuple[tuple[str, str, contacts.Contradiction], ...]:
    """Contacts and lamps that report one thing and do not agree: contact, lamp, and what that is called."""
    found = []
    for id, contact in machine.indications.items():
        for lamp, pairs in contact.agrees:
            agreed = dict(pairs).get(standing.get(lamp, ""))
            now = standing.get(id, "")
            if agreed is None or now not in {state for _, state in pairs}:
                continue
            named = contacts.contradiction(agreed != contact.normal, now != contact.normal)
            if named is not None:
                found.append((id, lamp, named))
    return tuple(found)
