"""Where an authored tree stands over the facts that are known.

A walk starts at the root and follows every answer that is known, through other trees where it says `go`, until it
meets something that is not known, an instruction that was not carried out, or an end. It is computed anew after each
fact, so facts may be entered in any order and taken back.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from diag.machine.model import Machine
from diag.machine.nodes import Call, Conclude, Do, Go, Look, TreeNode


@dataclass(frozen=True, slots=True)
class Ask:
    """The tree wants to know this indication next."""

    tree: str
    indication: str
    why: str


@dataclass(frozen=True, slots=True)
class Instruct:
    """An instruction of the tree that was not carried out yet."""

    tree: str
    text: str


@dataclass(frozen=True, slots=True)
class Concluded:
    tree: str
    causes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CallFor:
    tree: str
    role: str


@dataclass(frozen=True, slots=True)
class NoBranch:
    """The tree did not think of this state."""

    tree: str
    indication: str
    state: str


@dataclass(frozen=True, slots=True)
class Unknown:
    """Nobody could tell what the tree asks for."""

    tree: str
    indication: str


@dataclass(frozen=True, slots=True)
class Ended:
    """The tree ended without a conclusion: after its last instruction, or because it led back to where it came from."""

    tree: str


TreePosition = Ask | Instruct | Concluded | CallFor | NoBranch | Unknown | Ended


def walk(
    machine: Machine,
    tree: str,
    known: Mapping[str, str],
    cannot_tell: Collection[str] = (),
    did: Collection[tuple[str, str]] = (),
) -> TreePosition:
    """Where `tree` stands when `known` (indication to state) is known, nobody could tell `cannot_tell`, and the
    instructions `did` (tree and text) were carried out. What is known goes before "I can't tell".

    Raises KeyError for a tree that the machine does not have.
    """
    node: TreeNode | None = machine.trees[tree].root
    entered = {tree}
    while True:
        match node:
            case None:
                return Ended(tree)
            case Conclude(causes=causes):
                return Concluded(tree, causes)
            case Call(role=role):
                return CallFor(tree, role)
            case Go(tree=other):
                # The facts do not change during a walk, so a tree entered twice would be entered for ever.
                if other in entered:
                    return Ended(tree)
                entered.add(other)
                tree, node = other, machine.trees[other].root
            case Do(text=text, then=then):
                if (tree, text) not in did:
                    return Instruct(tree, text)
                node = then
            case Look(indication=indication):
                state = known.get(indication)
                if state is None:
                    if indication in cannot_tell:
                        return Unknown(tree, indication)
                    return Ask(tree, indication, node.why)
                branch = node.when.get(state, node.otherwise)
                if branch is None:
                    return NoBranch(tree, indication, state)
                node = branch
