"""What a rule is, and what it may look at."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

from diag.machine.gather import Folder
from diag.machine.model import Indication, Machine, Remedy
from diag.machine.nodes import Node, Tree
from diag.machine.place import Place
from diag.machine.problem import Level
from diag.vet.routes import Routes, routes
from diag.vet.ways import below, open_states

if TYPE_CHECKING:
    from diag.vet.examples import Replayed
    from diag.vet.numbers import Numbers


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

    def place(self, section: str, id: str, *path: str | int, otherwise: Place | None = None) -> Place:
        """Where the value at `path` of an entry stands; its key when there is no path. What stands in no entry, since
        it was made from something else, has its place `otherwise`, or at the top."""
        item = self.written.maps[section].get(id)
        if item is None:
            return otherwise or self.top
        return item.place(*path) if path else item.key_place()

    def key(self, section: str, id: str, *path: str | int, otherwise: Place | None = None) -> Place:
        """Where the key at `path` of an entry stands."""
        item = self.written.maps[section].get(id)
        return (otherwise or self.top) if item is None else item.key_place(*path)

    def in_remedy(self, remedy: Remedy, name: str) -> Place:
        """Where a field of a remedy stands: in an entry of its own, or in the cause that it is for."""
        if remedy.id in self.written.maps["remedies"]:
            return self.place("remedies", remedy.id, name, otherwise=remedy.place)
        return self.place("causes", remedy.id, "remedy", name, otherwise=remedy.place)

    def where(self, place: Place | None) -> Place:
        """The place, or the top of machine.yaml for what stands nowhere."""
        return place or self.top

    def asked(self, indication: Indication) -> str:
        """A question as it is written, whatever its title on the screen; its title where it is written nowhere."""
        item = self.written.maps["indications"].get(indication.id)
        text = item.node.find(["question"]).value if item is not None else indication.title
        return text if isinstance(text, str) else indication.title

    @property
    def top(self) -> Place:
        head = self.written.head
        return Place(head.file, 1, 1) if head is not None else Place("machine.yaml", 1, 1)

    @cached_property
    def nodes(self) -> tuple[tuple[Tree, Node], ...]:
        """Every node of every tree, from the root down."""
        return tuple((tree, node) for tree in self.machine.trees.values() for node in below(tree.root))

    @cached_property
    def open_states(self) -> Mapping[int, frozenset[str]]:
        """For each look that can be reached (by the `id()` of its node) the states that it can still meet."""
        return open_states(self.machine)

    @cached_property
    def routes(self) -> Routes:
        """Every way through the trees, as far as there are not too many."""
        return routes(self.machine)

    @cached_property
    def replayed(self) -> tuple[Replayed, ...]:
        """Every worked example after its last fact; none when the machine is too entangled to be reckoned with."""
        from diag.vet.examples import replay

        return tuple(replay(self.machine, example) for example in self.machine.examples) if self.numbers else ()

    @cached_property
    def numbers(self) -> Numbers | None:
        """The machine in numbers; None when it is too entangled for that, which is a finding of its own."""
        from diag.reason.compile import CannotCompile
        from diag.vet.numbers import numbers

        try:
            return numbers(self.machine)
        except CannotCompile:
            return None


Find = Callable[[Vetted], Iterator[Finding]]


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing to look at. Its name stands at the end of each line it writes.

    The examples are pieces of a file, laid over the machine of `diag.vet.sample`; one whose first line is a comment
    with a file's name is that whole file.
    """

    name: str
    level: Level
    because: str
    """Why it has this level."""
    why: str
    bad: str
    """Gives a finding of this rule."""
    good: str
    """The same, mended."""
    find: Find | None = None
    """None for what is found while the files are read."""


def rule(name: str, level: Level, because: str, *, bad: str, good: str) -> Callable[[Find], Rule]:
    """Makes a rule of the function that finds; its docstring says why there is such a rule."""

    def make(find: Find) -> Rule:
        return Rule(
            name, level, because, " ".join((find.__doc__ or "").split()), bad.strip("\n"), good.strip("\n"), find
        )

    return make


MOST_LISTED: Final = 4


def some(names: list[str]) -> str:
    """The first few names, and how many more there are."""
    more = len(names) - MOST_LISTED
    return ", ".join(names[:MOST_LISTED]) + (f" and {more} more" if more > 0 else "")


def joined(vetted: Vetted) -> Iterator[str]:
    """What others lean on: lamp tests, and lamps that a contact agrees with."""
    for indication in vetted.machine.indications.values():
        yield from (id for id, _ in indication.lamp_test)
        yield from (id for id, _ in indication.agrees)
