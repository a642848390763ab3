"""What a replay gives, and what the one rule of `diag.safety` and the machine's tree say of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from diag.case.phrases import listed
from diag.case.snapshot import CaseState, Fact
from diag.machine.model import Check, Machine, ProofStep, Remedy, Reset
from diag.safety import Isolation, Permission, permission, tag_stands
from diag.safety.types import Aged
from diag.tree.walk import TreePosition, walk

DECIDES = 2.0
"""A doubtful observation leads a tree on only when its likeliest state is this many times likelier than any other."""


@dataclass(frozen=True, slots=True)
class Undo:
    """Something that may be taken back: an entry, or (with a zone) the last confirmation at its gate."""

    seq: int
    by: str
    """Who entered it; nobody takes back by a key what another person entered."""
    zone: str = ""


@dataclass(frozen=True, slots=True)
class DeadTime:
    """A zone was proved dead for one person from then until then; `until` is None while it is."""

    zone: str
    person: str
    since: datetime
    until: datetime | None = None


@dataclass(frozen=True)
class Projection:
    """The state to show, and what is needed to decide and to advise."""

    state: CaseState
    isolation: Isolation
    evidence: tuple[Fact, ...]
    """Facts that count as evidence now: the latest of each indication in each round, by round."""
    known: Mapping[str, str]
    """What the tree may take as known: indication to state."""
    cleared: tuple[tuple[int, str], ...]
    """A round, and what began it: a reset by id, or `power`."""
    failed: tuple[str, ...]
    skipped: frozenset[str]
    did: frozenset[tuple[str, str]]
    awaiting: str
    """The reset whose outcome is asked for; empty when none is."""
    protective: bool
    """A protective device has operated, and its cause is not found."""
    resets: int
    """Resets that count against the limit."""
    wrong: Mapping[str, str]
    """Everything that was seen off its normal state in this stop."""
    proving: Mapping[str, str]
    """The states that may prove something now."""
    dead_times: tuple[DeadTime, ...]
    """When which zone was proved dead for whom."""
    aged: Mapping[str, Aged]
    """Zones whose proof of dead is made again before anything more is begun."""
    undo: Undo | None
    open_seqs: frozenset[int]
    """Entries that may still be taken back by their number."""


def known(evidence: Iterable[Fact]) -> Mapping[str, str]:
    """The latest evidence on each indication, as far as it decides."""
    found: dict[str, str] = {}
    for fact in evidence:
        found.pop(fact.indication, None)
        others = max((p for s, p in fact.seen.items() if s != fact.state), default=0.0)
        if fact.seen[fact.state] >= DECIDES * others:
            found[fact.indication] = fact.state
    return found


def tree_position(machine: Machine, projection: Projection) -> TreePosition | None:
    """Where the machine's start tree stands by what is known; None where there is no tree."""
    if machine.start not in machine.trees:
        return None
    return walk(machine, machine.start, projection.known, projection.state.cannot_tell, projection.did)


def may_prepare(projection: Projection, step: ProofStep) -> Permission:
    """The rule for what is done from outside before a proof is looked at: with the machine closed and its power on."""
    state, isolation = projection.state, projection.isolation
    if state.danger:
        return Permission(False, False, "A danger sign stands. Keep away and call.", way="call")
    if state.tags:
        return Permission(False, False, tag_stands(state.tags[0].person))
    if state.person.role not in step.who:
        return Permission(False, False, f"This is for {listed([r.value for r in step.who], 'or')}. Call.", way="call")
    if not isolation.closed or not state.energised or isolation.holds:
        return Permission(
            True, False, "It needs the machine closed and the power on. Return to service first.", way="restore"
        )
    return Permission(True, True, "From outside, with everything closed.")


def permitted(machine: Machine, projection: Projection, action: Check | Remedy | Reset) -> Permission:
    """The one rule, asked for the person at the keys now."""
    state = projection.state
    return permission(
        machine,
        projection.isolation,
        state.person,
        action,
        danger=bool(state.danger),
        resets=projection.resets,
        protective=projection.protective,
        aged=projection.aged,
        tagged=state.tags[0].person if state.tags else "",
    )
