"""What a fold gives: the state to show, and what is needed to decide and to advise."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diag.case.snapshot import Fact, State
from diag.safety import Site

DECIDES = 2.0
"""A doubtful sight leads a tree on only when its likeliest state is this many times likelier than any other."""


@dataclass(frozen=True, slots=True)
class Undo:
    """Something that may be taken back: an entry, or (with a zone) the last confirmation at its gate."""

    seq: int
    zone: str = ""


@dataclass(frozen=True)
class Folded:
    """The case's state, and what is needed to decide and to advise."""

    state: State
    site: Site
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
