"""What a rule is, and what it may look at."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from diag.machine.gather import Folder
from diag.machine.model import Machine, Place
from diag.machine.nodes import Node, Tree
from diag.machine.problem import Level
from diag.vet.ways import below, open_states


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

    def place(self, section: str, id: str, *path: str | int) -> Place:
        """Where the value at `path` of an entry stands; its key when there is no path."""
        item = self.written.maps[section].get(id)
        if item is None:
            return self.top
        return item.place(*path) if path else item.key_place()

    def where(self, place: Place | None) -> Place:
        """The place, or the top of machine.yaml for what stands nowhere."""
        return place or self.top

    @property
    def top(self) -> Place:
        head = self.written.head
        return Place(head.file, 1, 1) if head is not None else Place("machine.yaml", 1, 1)

    @cached_property
    def shown(self) -> frozenset[str]:
        """Indications that some cause turns off normal, itself or through what follows it."""
        followers: dict[str, list[str]] = {id: [] for id in self.machine.indications}
        for indication in self.machine.indications.values():
            for rule in indication.follows:
                for on, _ in rule.when:
                    followers[on].append(indication.id)
        found: set[str] = set()
        waiting = [id for cause in self.machine.causes.values() for id in cause.shows]
        while waiting:
            id = waiting.pop()
            if id not in found:
                found.add(id)
                waiting.extend(followers[id])
        return frozenset(found)

    @cached_property
    def nodes(self) -> tuple[tuple[Tree, Node], ...]:
        """Every node of every tree, from the root down."""
        return tuple((tree, node) for tree in self.machine.trees.values() for node in below(tree.root))

    @cached_property
    def open_states(self) -> Mapping[int, frozenset[str]]:
        """For each look that can be reached (by the `id()` of its node) the states that it can still meet."""
        return open_states(self.machine)


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing to look at. Its name stands at the end of each line it writes."""

    name: str
    level: Level
    find: Callable[[Vetted], Iterator[Finding]]


MOST_LISTED: Final = 4


def some(names: list[str]) -> str:
    """The first few names, and how many more there are."""
    more = len(names) - MOST_LISTED
    return ", ".join(names[:MOST_LISTED]) + (f" and {more} more" if more > 0 else "")
