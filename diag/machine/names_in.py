"""Where names stand in the files: which words of an entry are the names of other entries, and of what kind.

Modules and chains work on the words as they were written, before names are looked up. This table tells them a name
from a state or a text; `walk` goes over an entry by it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Protocol

from diag.machine.place import Place
from diag.machine.span import Node

NAMED_IN: Final = {
    "points": "isolation point",
    "stored": "stored energy",
    "test-points": "test point",
    "zones": "zone",
    "resets": "reset",
    "groups": "indication",
    "indications": "indication",
    "remedies": "remedy",
    "causes": "cause",
    "checks": "check",
    "trees": "tree",
    "chains": "chain",
}
"""What the names of a section are called in a problem. A reset's name is that of an indication too."""
MEMBER: Final = "member"
"""The kind of a chain's member: an indication that is there, or a name of the chain's own."""
FREE: Final = frozenset({"all", "power", "unlisted"})
"""Words that mean something by themselves where a name could stand."""


@dataclass(frozen=True, slots=True)
class Name:
    """A word, or a list of words, that names something of this kind."""

    kind: str


@dataclass(frozen=True, slots=True)
class Keys:
    """A map whose keys are names of this kind; under `all:` the same again."""

    kind: str
    values: Spec = None


@dataclass(frozen=True, slots=True)
class Each:
    """A map of which all values are alike."""

    values: Spec


Spec = Name | Keys | Each | Mapping[str, Any] | tuple[Any, ...] | None
"""A map of fields is given as a map; where a word or a map may stand, both in a tuple. What is not told of is text. A
list is as many of what is told."""

_WHEN: Final = {"when": Keys("indication")}
_REMEDY: Final = {"zone": Name("zone")}
_INDICATION: Final = {
    "follows": _WHEN,
    "latched": Each(Name("reset")),
    "lamp-test": Keys("indication"),
    "agrees": Keys("indication"),
}
_CAUSE: Final = {
    "shows": Keys("indication"),
    "proof": Keys("indication"),
    "remedy": (Name("remedy"), _REMEDY),
}
_CHECK: Final = {"gives": Name("indication"), "zone": Name("zone"), "needs": Keys("indication")}
_TREE: Final[dict[str, Any]] = {"tree": Name("tree"), "look": Name("indication"), "go": Name("tree")}
_TREE.update({"conclude": Name("cause"), "when": Each(_TREE), "otherwise": _TREE, "then": _TREE})
_PARTS: Final = {"cause": _CAUSE, "cable": _CAUSE, "station": _CAUSE, "check": _CHECK}
_OF_MEMBER: Final = {
    **_PARTS,
    "point": _INDICATION,
    "in": Name("indication"),
    "out": Name("indication"),
    "power": Name("indication"),
}
_MEMBERS: Final = (Name(MEMBER), Keys(MEMBER, _OF_MEMBER))

SPECS: Final[dict[str, Spec]] = {
    "points": None,
    "stored": None,
    "test-points": None,
    "zones": Each(
        {"points": Name("isolation point"), "stored": Name("stored energy"), "test-points": Name("test point")}
    ),
    "resets": Each({"note-first": Name("indication")}),
    "groups": Each(Name("indication")),
    "indications": Each(_INDICATION),
    "remedies": Each(_REMEDY),
    "causes": Each(_CAUSE),
    "checks": Each(_CHECK),
    "chains": Each(
        {
            **_PARTS,
            "series": _MEMBERS,
            "line": _MEMBERS,
            "point": _INDICATION,
            "lamp": _INDICATION,
            "power": _INDICATION,
            "head": (Name("indication"), _INDICATION),
        }
    ),
    "trees": _TREE,
}
"""The sections that a module may hold. A map of entries is told as a whole, a list by one entry."""


def entry_spec(section: str) -> Spec:
    """What is told of one entry of a section."""
    spec = SPECS[section]
    return spec.values if isinstance(spec, Each) else spec


def under(spec: Spec, key: str) -> Spec:
    """What is told of a field's value, or of the value that stands under any key."""
    if isinstance(spec, tuple):
        spec = next((part for part in spec if not isinstance(part, Name)), None)
    if isinstance(spec, Mapping):
        return spec.get(key)
    if isinstance(spec, Keys):
        return spec if key == "all" else spec.values
    return spec.values if isinstance(spec, Each) else None


def kind_of_word(spec: Spec) -> str:
    """The kind that a word names; empty where it is text."""
    if isinstance(spec, tuple):
        spec = next((part for part in spec if isinstance(part, Name)), None)
    return spec.kind if isinstance(spec, Name) else ""


def kind_of_keys(spec: Spec) -> str:
    """The kind that a map's keys name; empty where they are fields or states."""
    if isinstance(spec, tuple):
        spec = next((part for part in spec if isinstance(part, Keys)), None)
    return spec.kind if isinstance(spec, Keys) else ""


class Visitor(Protocol):
    """What becomes of each word. `kind` is empty where the word is no name."""

    def made(self, node: Node) -> None:
        """Called once for each list, map and word that is made."""

    def word(self, node: Node, kind: str) -> Node:
        """The node that stands for a word; it may be changed, and is new."""

    def key(self, word: str, place: Place, kind: str) -> str:
        """The key that stands for a key."""

    def twice(self, key: str, place: Place) -> None:
        """Called where two keys of a map have become one."""


def walk(node: Node, spec: Spec, visitor: Visitor, file: str) -> Node:
    """A copy of an entry in which each word is what the visitor made of it."""
    value = node.value
    if isinstance(value, str):
        new = like(node, value)
        visitor.made(new)
        return visitor.word(new, kind_of_word(spec))
    if isinstance(value, list):
        new = like(node, [walk(child, spec, visitor, file) for child in value])
        visitor.made(new)
        return new
    kind = kind_of_keys(spec)
    filled: dict[str, Node] = {}
    for key, child in value.items():
        place = child.key_place(file)
        name = visitor.key(key, place, kind)
        if name in filled:
            visitor.twice(name, place)
        else:
            filled[name] = walk(child, under(spec, key), visitor, file)
    new = like(node, filled)
    visitor.made(new)
    return new


def like(node: Node, value: str | list[Node] | dict[str, Node]) -> Node:
    """A node in the same place that holds something else."""
    return Node(value, node.line, node.column, node.key_line, node.key_column, file=node.file, used=node.used)
