"""What a chain is made of, and what it makes: shared by the two kinds of chain."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from diag.machine.expand.parameters import unmarked
from diag.machine.span import Node, Plain


@dataclass(frozen=True, slots=True)
class Member:
    id: str
    word: str
    """Its name as the file has it; in a module with the marks of what came from outside."""
    title: str
    at: Node
    """Its name's node."""
    says: Mapping[str, Node]
    """What it says otherwise than the chain."""
    there: bool
    """An indication that is there already has its name."""


@dataclass(frozen=True, slots=True)
class Chain:
    id: str
    file: str
    node: Node
    title: str
    series: bool
    members: tuple[Member, ...]

    def says(self, field: str) -> Node | None:
        """What is written for all members."""
        value = self.node.value
        return value.get(field) if isinstance(value, dict) else None

    def word(self, field: str, default: str) -> str:
        """A word that is written for all members."""
        node = self.says(field)
        return unmarked(node.value) if node is not None and isinstance(node.value, str) else default


@dataclass(frozen=True, slots=True)
class Part:
    """One entry that a chain makes."""

    section: str
    id: str
    node: Node
    at: Node
    """Where problems with it are reported."""
    words: Mapping[str, str]
    """What stands for the words in braces."""


def part_of(chain: Chain, k: int, section: str, id: str, plain: Plain, field: str) -> Part:
    """What a chain makes for its member `k`: this, and over it what the chain and the member say under a field."""
    member = chain.members[k]
    node = laid_under(node_of(plain, member.at), chain.says(field), member.says.get(field))
    return Part(section, f"{chain.id}-{id}", node, member.at, words(chain, k))


def titled(id: str) -> str:
    """A name as words, as it stands within a sentence."""
    return id.replace("-", " ")


def words(chain: Chain, k: int) -> dict[str, str]:
    """What stands for the words in braces at member `k`; at an end the chain itself is its neighbour."""
    titles = [member.title for member in chain.members]
    return {
        "chain": chain.title,
        "member": titles[k],
        "before": titles[k - 1] if k else f"{'the start of' if chain.series else 'the head of'} the {chain.title}",
        "after": titles[k + 1] if k + 1 < len(titles) else f"the end of the {chain.title}",
    }


def node_of(plain: Plain, at: Node) -> Node:
    """A node that holds this, all of it in the place of `at`."""
    value: str | list[Node] | dict[str, Node]
    if isinstance(plain, str):
        value = plain
    elif isinstance(plain, list):
        value = [node_of(child, at) for child in plain]
    else:
        value = {key: node_of(child, at) for key, child in plain.items()}
    return Node(value, at.line, at.column, at.line, at.column, file=at.file, used=at.used)


def laid_under(node: Node, *over: Node | None) -> Node:
    """A node with the fields of others laid over it, map by map; what is no map is replaced, and a field that is left
    empty is taken out."""
    for other in over:
        if other is None:
            continue
        if isinstance(node.value, dict) and isinstance(other.value, dict):
            made = dict(node.value)
            for key, child in other.value.items():
                if key in made and child.value == "":
                    del made[key]
                else:
                    made[key] = laid_under(made[key], child) if key in made else child
            node = replace(node, value=made)
        else:
            node = other
    return node
