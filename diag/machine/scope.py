"""What is known of a machine while its names are looked up, and the look-ups that report what they do not find."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from diag.machine.codes import decode_exact
from diag.machine.model import Indication, Kind
from diag.machine.names import unknown
from diag.machine.place import Place
from diag.machine.problem import Level, Problem, shown
from diag.machine.validate import NOTHING, Written
from diag.machine.words import kind_of

MOST_WITH_NEAREST: Final = 300
"""After so many problems no nearest names are looked for: the file is junk, and the search takes time."""

MOST_EXPANDED: Final = 100_000
"""Indications that groups may stand for, taken together, wherever they are named."""

When = tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(slots=True)
class Scope:
    """Names that exist, and those that exist but are broken: the latter are no second problem where they are used."""

    problems: list[Problem] = field(default_factory=list)
    lost: frozenset[str] = frozenset()
    """Kinds of names that may be in a file that could not be read: not found is no problem then."""
    unmade: tuple[str, ...] = ()
    """How names begin that a wrong use or chain would have made: not found is no further problem."""
    told: frozenset[str] = frozenset()
    """Names that were told as unknown before."""
    indications: dict[str, Indication] = field(default_factory=dict)
    groups: dict[str, tuple[str, ...]] = field(default_factory=dict)
    questions: dict[str, str] = field(default_factory=dict)
    """The text of each question, which its title may shorten."""
    expanded: int = 0
    """Indications that groups stood for so far."""
    broken: set[str] = field(default_factory=set)
    """Indications and groups that are written, and wrong."""

    @property
    def tired(self) -> bool:
        """So many problems that nearest names are not worth their time."""
        return len(self.problems) >= MOST_WITH_NEAREST

    def report(self, place: Place, text: str, rule: str, hint: str = "", level: Level = "error") -> None:
        self.problems.append(Problem.at(place, text, rule, hint, level))

    def unknown(self, place: Place, what: str, word: str, right: Collection[str], of: str = "") -> None:
        """Reports a wrong name with the nearest right one; `of`: whose state it would be."""
        if word == NOTHING or what in self.lost or word in self.told or word.startswith(self.unmade):
            return
        if self.tired:
            self.report(place, f"unknown {what} {shown(word)}" + (f" of {shown(of)}" if of else ""), "unknown")
            return
        text, near = unknown(what, word, right, of)
        self.report(place, text, "unknown", near)

    def one_of(self, place: Place, what: str, word: str, right: Collection[str], of: str = "") -> str | None:
        """`word` when it is one of `right`; else reports it."""
        if word in right:
            return word
        self.unknown(place, what, word, right, of)
        return None

    def all_of(
        self,
        entry: Written,
        path: Sequence[str | int],
        what: str,
        words: Sequence[str],
        right: Collection[str],
        of: str = "",
    ) -> tuple[str, ...]:
        """Those of the words at `path` that are right, each once; reports the others."""
        found = [
            word
            for i, word in enumerate(words)
            if self.one_of(entry.place(*path, i), what, word, right, of) is not None
        ]
        return tuple(dict.fromkeys(found))

    def expand(self, place: Place, word: str) -> tuple[str, ...]:
        """The indications that a name stands for: itself, or a group's members. Reports an unknown one."""
        if word in self.indications:
            return (word,)
        if word in self.groups:
            return self._members(place, word)
        if word not in self.broken:
            right = [] if self.tired else [*self.indications, *self.groups, *self.broken]
            self.unknown(place, "indication", word, right)
        return ()

    def _members(self, place: Place, group: str) -> tuple[str, ...]:
        before, self.expanded = self.expanded, self.expanded + len(self.groups[group])
        if self.expanded > MOST_EXPANDED:
            if before <= MOST_EXPANDED:
                self.report(place, f"groups stand for more than {MOST_EXPANDED:,} indications in this machine", "size")
            return ()
        return self.groups[group]

    def indication(self, place: Place, word: str) -> str | None:
        """An indication by its own name; a group will not do. Reports it otherwise."""
        if word in self.groups:
            self.report(place, f"{shown(word)} is a group; one indication is wanted here", "kind")
            return None
        found = self.expand(place, word)
        return found[0] if found else None

    def state(self, place: Place, id: str, word: str) -> str | None:
        """The state `word` of an indication, or that of the display code `word`. Reports an unknown one."""
        indication = self.indications[id]
        states = indication.state_ids
        if word in states:
            return word
        if indication.kind in (Kind.DISPLAY, Kind.HISTORY):
            state = decode_exact(indication, word)
            if state is not None:
                return state
        self.unknown(place, "state", word, [*states, *(code.pattern for code in indication.codes)], of=id)
        return None

    def when(self, entry: Written, path: Sequence[str | int], written: Mapping[str, Any]) -> When:
        """A map from indications (or groups, meaning each member) to one state or several."""
        found: list[tuple[str, tuple[str, ...]]] = []
        if not written:
            self.report(entry.place(*path), f"{shown(str(path[-1]))} is empty", "kind")
        for key, words in _unwrapped(written):
            at = (*path, *key)
            states = self._words(entry, at, words)
            for id in self.expand(entry.key_place(*at), key[-1]):
                right = [self.state(entry.place(*at, i), id, word) for i, word in enumerate(states)]
                known = tuple(dict.fromkeys(word for word in right if word is not None))
                if known:
                    found.append((id, known))
        return tuple(found)

    def _words(self, entry: Written, path: Sequence[str | int], words: Any) -> tuple[str, ...]:
        if isinstance(words, str) and words:
            return (words,)
        if isinstance(words, list | tuple) and words and all(isinstance(word, str) and word for word in words):
            return tuple(words)
        text = f"{shown(str(path[-1]))} names a state, dark, or several, [dark, slow], and this is {kind_of(words)}"
        self.report(entry.place(*path), text, "kind")
        return ()


def _unwrapped(written: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """The pairs of a `when`, with those under `all:` beside the others."""
    for key, words in written.items():
        if key == "all" and isinstance(words, dict):
            for inner, more in words.items():
                yield (key, inner), more
        else:
            yield (key,), words


def round_trip(names: Sequence[str]) -> str:
    """A circle as a message shows it: back to its first name, and not too long."""
    shown_names = [*names[:6], "..."] if len(names) > 7 else list(names)
    return ", ".join((*shown_names, names[0]))


def circle(start: Collection[str], after: Callable[[str], Sequence[str]]) -> list[tuple[str, ...]]:
    """The circles in a graph, one for each connected knot that is met, each as the names on it in order."""
    done: set[str] = set()
    found: list[tuple[str, ...]] = []
    for first in start:
        if first in done:
            continue
        path: dict[str, Iterator[str]] = {first: iter(after(first))}
        while path:
            last = next(reversed(path))
            name = next(path[last], None)
            if name is None:
                done.add(last)
                del path[last]
            elif name in path:
                names = list(path)
                found.append(tuple(names[names.index(name) :]))
            elif name not in done:
                path[name] = iter(after(name))
    return found
