"""Where an authored tree stands over the facts that are known.

A walk starts at the root and follows every answer that is known already, through other trees where it says `go`, until
it meets something that is not known, an instruction that was not carried out, or an end. It is computed anew after each
fact, so facts may be entered in any order and taken back, and the tree is always where they put it.
"""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from diag.machine.model import Machine
from diag.machine.nodes import Call, Conclude, Do, Go, Look, Node


@dataclass(frozen=True, slots=True)
class Passed:
    """One answer on the way."""

    tree: str
    indication: str
    state: str


Path = tuple[Passed, ...]


@dataclass(frozen=True, slots=True)
class Ask:
    """The tree wants to know this indication next."""

    tree: str
    indication: str
    why: str
    path: Path


@dataclass(frozen=True, slots=True)
class Instruct:
    """An instruction of the tree that was not carried out yet."""

    tree: str
    text: str
    path: Path


@dataclass(frozen=True, slots=True)
class Concluded:
    tree: str
    causes: tuple[str, ...]
    path: Path


@dataclass(frozen=True, slots=True)
class CallFor:
    tree: str
    role: str
    path: Path


@dataclass(frozen=True, slots=True)
class NoBranch:
    """The tree did not think of this state."""

    tree: str
    indication: str
    state: str
    path: Path


@dataclass(frozen=True, slots=True)
class Unknown:
    """Nobody could tell what the tree asks for."""

    tree: str
    indication: str
    path: Path


@dataclass(frozen=True, slots=True)
class Ended:
    """The tree ended without a conclusion: after its last instruction, or because it led back to where it came from."""

    tree: str
    looped: bool
    path: Path


Stand = Ask | Instruct | Concluded | CallFor | NoBranch | Unknown | Ended


def walk(
    machine: Machine,
    tree: str,
    standing: Mapping[str, str],
    cannot_tell: AbstractSet[str] = frozenset(),
    did: AbstractSet[tuple[str, str]] = frozenset(),
) -> Stand:
    """Where `tree` stands when `standing` (indication to state) is known, nobody could tell `cannot_tell`, and the
    instructions `did` (tree and text) were carried out. What is known goes before "I can't tell".

    Raises KeyError for a tree that the machine does not have.
    """
    node: Node | None = machine.trees[tree].root
    entered = {tree}
    path: Path = ()
    while True:
        match node:
            case None:
                return Ended(tree, False, path)
            case Conclude(causes=causes):
                return Concluded(tree, causes, path)
            case Call(role=role):
                return CallFor(tree, role, path)
            case Go(tree=other):
                # The facts do not change during a walk, so a tree entered twice would be entered for ever.
                if other in entered:
                    return Ended(tree, True, path)
                entered.add(other)
                tree, node = other, machine.trees[other].root
            case Do(text=text, then=then):
                if (tree, text) not in did:
                    return Instruct(tree, text, path)
                node = then
            case Look(indication=indication):
                state = standing.get(indication)
                if state is None:
                    if indication in cannot_tell:
                        return Unknown(tree, indication, path)
                    return Ask(tree, indication, node.why, path)
                path = (*path, Passed(tree, indication, state))
                branch = node.when.get(state, node.otherwise)
                if branch is None:
                    return NoBranch(tree, indication, state, path)
                node = branch
