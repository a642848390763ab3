"""What a rule is, and what it has to work with."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import ModuleType
from typing import TYPE_CHECKING, Final

from diag.machine.language.validate import Written
from diag.machine.model import Cause, Check, Example, Indication, Machine, Remedy
from diag.machine.nodes import Tree, TreeNode
from diag.machine.place import Place
from diag.machine.problem import Level
from diag.machine.reader.gather import Folder
from diag.tree.routes import Routes, routes
from diag.tree.ways import below, open_states

if TYPE_CHECKING:
    from diag.vet.examples.replay_example import Replayed
    from diag.vet.vetted.numbers import Numbers


Entry = Indication | Cause | Check | Remedy
Placed = Entry | Example | TreeNode | Tree

_SECTIONS: Final = {Indication: "indications", Cause: "causes", Check: "checks", Remedy: "remedies"}


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that a rule has to say about one place."""

    place: Place
    text: str


@dataclass(frozen=True)
class Vetted:
    """A machine without errors, and its files with the place of every word."""

    machine: Machine
    written: Folder

    def place(self, about: Placed, *path: str | int) -> Place:
        """Where the value at `path` of an entry is written. Without a path, and for an entry that was made from another
        one, its own place, or else the top of machine.yaml."""
        item, before = self._item(about) if path and isinstance(about, Entry) else (None, ())
        return about.place or self.top if item is None else item.place(*before, *path)

    def key(self, about: Entry, *path: str | int) -> Place:
        """Where the key at `path` of an entry is written."""
        item, before = self._item(about)
        return about.place or self.top if item is None else item.key_place(*before, *path)

    def _item(self, about: Entry) -> tuple[Written | None, tuple[str, ...]]:
        """An entry's own words, and the path to them: a remedy may be written in the cause that it is for."""
        item = self.written.maps[_SECTIONS[type(about)]].get(about.id)
        if item is None and isinstance(about, Remedy):
            return self.written.maps["causes"].get(about.id), ("remedy",)
        return item, ()

    def finding(self, about: Placed, text: str, *path: str | int) -> Finding:
        return Finding(self.place(about, *path), text)

    def asked(self, indication: Indication) -> str:
        """A question as it is written, whatever its title on the screen; its title where none is written."""
        item = self.written.maps["indications"].get(indication.id)
        text = item.node.find(["question"]).value if item is not None else indication.title
        return text if isinstance(text, str) else indication.title

    @property
    def top(self) -> Place:
        head = self.written.head
        return Place(head.file, 1, 1) if head is not None else Place("machine.yaml", 1, 1)

    @cached_property
    def nodes(self) -> tuple[TreeNode, ...]:
        """Every node of every tree, from the root down."""
        return tuple(node for tree in self.machine.trees.values() for node in below(tree.root))

    @cached_property
    def open_states(self) -> Mapping[int, frozenset[str]]:
        """For each look that can be reached (by the `id()` of its node) the states that it can still meet."""
        return open_states(self.machine)

    @cached_property
    def routes(self) -> Routes:
        """Every way through the trees, unless there are too many."""
        return routes(self.machine)

    @cached_property
    def replayed(self) -> tuple[Replayed, ...]:
        """Every worked example after its last fact. Raises `CannotCompile`."""
        from diag.vet.examples.replay_example import replay

        return tuple(replay(self.machine, example) for example in self.machine.examples)

    @cached_property
    def numbers(self) -> Numbers:
        """The machine in numbers. Raises `CannotCompile` where it is too entangled, which is a finding of its own."""
        from diag.vet.vetted.numbers import numbers

        return numbers(self.machine)


Find = Callable[[Vetted], Iterator[Finding]]

EXAMPLES: Final = ("this breaks it", "this keeps it")


def _nothing(vetted: Vetted) -> Iterator[Finding]:
    """For a rule that the reader of the files enforces."""
    yield from ()


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing to look at. Each line that it writes ends with its name.

    The examples are pieces of a file, laid over the machine of `sample`; one whose first line is a comment
    with a file's name is that whole file.
    """

    name: str
    level: Level
    because: str
    """Why it has this level, and no other."""
    why: str
    bad: str
    """Gives a finding of this rule."""
    good: str
    """The same, mended."""
    find: Find = _nothing

    def sections(self) -> Iterator[tuple[str, str]]:
        """The rule in words: headings and texts, in order; those of `EXAMPLES` are lines of a file."""
        yield "why", self.why
        yield f"why {'an' if self.level[0] in 'aei' else 'a'} {self.level}", self.because
        yield EXAMPLES[0], self.bad
        yield EXAMPLES[1], self.good


_REGISTERED: Final[dict[str, dict[str, Rule]]] = {}
"""For each module its rules by name, in the order in which they stand there."""


def rule(
    name: str, level: Level, because: str, *, bad: str, good: str = "", mend: tuple[str, str] = ("", ""), more: str = ""
) -> Callable[[Find], Rule]:
    """Makes a rule of the function that finds, and registers it. The function's docstring says why the rule exists.

    The good example is the bad one with one passage replaced (`mend`) and lines added (`more`), where it is not
    written out. Raises ValueError where the passage does not stand in the bad one exactly once."""
    if mend[0] and bad.count(mend[0]) != 1:
        raise ValueError(f"{name}: {mend[0]!r} has to stand in the bad example once")
    kept = (good or bad.replace(*mend).rstrip("\n") + more).strip("\n")

    def make(find: Find) -> Rule:
        why = " ".join((find.__doc__ or "").split())
        return register(Rule(name, level, because, why, bad.strip("\n"), kept, find), find.__module__)

    return make


def register(made: Rule, module: str) -> Rule:
    """Enters a rule under the module that it stands in. Raises ValueError where another module has its name already."""
    if any(made.name in rules for other, rules in _REGISTERED.items() if other != module):
        raise ValueError(f"two rules are named {made.name!r}")
    _REGISTERED.setdefault(module, {})[made.name] = made
    return made


def rules_of(module: ModuleType) -> tuple[Rule, ...]:
    """The rules that a module registered, in the order in which they stand there."""
    return tuple(_REGISTERED.get(module.__name__, {}).values())


MOST_LISTED: Final = 4


def some(names: list[str]) -> str:
    """The first few names, and how many more there are."""
    more = len(names) - MOST_LISTED
    return ", ".join(names[:MOST_LISTED]) + (f" and {more} more" if more > 0 else "")


def joined(vetted: Vetted) -> Iterator[str]:
    """The indications that others depend on: a lamp test, or a lamp that has to agree with a contact."""
    for indication in vetted.machine.indications.values():
        yield from (id for id, _ in indication.lamp_test)
        yield from (id for id, _ in indication.agrees)
