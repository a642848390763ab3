"""What is known of a machine while its names are looked up, and the look-ups that report what they do not find."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

from diag.machine.language.fields.base_source import Source, names
from diag.machine.language.fields.field_types import kind_of
from diag.machine.language.fields.marks import Refers
from diag.machine.language.fields.sections import NAMED_IN
from diag.machine.language.validate import NOTHING, Entry, Written, validate
from diag.machine.model import Indication, Kind
from diag.machine.names import Named, unknown
from diag.machine.place import Place
from diag.machine.problem import Broken, Level, Problem, shown
from diag.machine.reader.gather import Folder
from diag.machine.states.codes import decode_exact

MOST_WITH_NEAREST: Final = 300
"""After this many problems, no nearest names are looked for: the file is junk, and the search takes time."""

MOST_EXPANDED: Final = 100_000
"""Indications that groups may stand for, taken together, wherever they are named."""

S = TypeVar("S", bound=Source)
T = TypeVar("T")
When = tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(slots=True)
class Scope:
    """Names that exist, and those that exist but are broken: the latter are no second problem where they are used."""

    found: Folder
    problems: list[Problem] = field(default_factory=list)
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

    def entries(self, model: type[S], section: str) -> list[Entry[S]]:
        """Those entries of a section of which something can be made."""
        maps = self.found.maps
        items = maps[section].values() if section in maps else self.found.lists[section]
        entries = [validate(model, item, self.problems) for item in items]
        return [entry for entry in entries if entry is not None]

    def made(self, make: Callable[..., T], model: type[Source], section: str) -> dict[str, T]:
        """What each entry of a section stands for, where it has the fields of its model."""
        return {entry.id: make(id=entry.id, **self.looked_up(entry)) for entry in self.entries(model, section)}

    def looked_up(self, entry: Entry[Any]) -> dict[str, Any]:
        """The fields of an entry; those that are rows of names hold the names that are written somewhere, broken or
        not."""
        model = type(entry.source)
        found = dict(entry.source)
        for name, info in model.model_fields.items():
            kind = next((mark.kind for mark in info.metadata if isinstance(mark, Refers)), None)
            if kind is not None:
                right = self.found.maps[next(section for section, named in NAMED_IN.items() if named == kind)]
                found[name] = self.all_of(entry, [getattr(names(model), name)], kind, found[name], right)
        return found

    def unknown(self, place: Place, what: str, word: str, right: Collection[str], of: str = "") -> None:
        """Reports a wrong name with the nearest right one; `of`: whose state it would be."""
        if word == NOTHING or word in self.found.told or word.startswith(tuple(self.found.unmade)):
            return
        if what in (NAMED_IN.get(section) for section in self.found.lost):
            return
        if self.tired:
            self.report(place, f"unknown {what} {shown(word)}" + (f" of {shown(of)}" if of else ""), Broken.UNKNOWN)
            return
        text, near = unknown(what, word, right, of)
        self.report(place, text, Broken.UNKNOWN, near)

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
        found = [self.one_of(entry.place(*path, i), what, word, right, of) for i, word in enumerate(words)]
        return tuple(dict.fromkeys(word for word in found if word is not None))

    def expand(self, place: Place, word: str) -> tuple[str, ...]:
        """The indications that a name stands for: itself, or a group's members. Reports an unknown one."""
        if word in self.indications:
            return (word,)
        if word in self.groups:
            return self._members(place, word)
        if word not in self.broken:
            right = [] if self.tired else [*self.indications, *self.groups, *self.broken]
            self.unknown(place, Named.INDICATION, word, right)
        return ()

    def expand_all(self, entry: Written, field: str, words: Sequence[str]) -> tuple[str, ...]:
        """The indications that the names in a field stand for, each once."""
        found = (self.expand(entry.place(field, i), word) for i, word in enumerate(words))
        return tuple(dict.fromkeys(id for ids in found for id in ids))

    def _members(self, place: Place, group: str) -> tuple[str, ...]:
        before, self.expanded = self.expanded, self.expanded + len(self.groups[group])
        if self.expanded > MOST_EXPANDED:
            if before <= MOST_EXPANDED:
                text = f"groups stand for more than {MOST_EXPANDED:,} indications in this machine"
                self.report(place, text, Broken.SIZE)
            return ()
        return self.groups[group]

    def indication(self, place: Place, word: str) -> str | None:
        """An indication by its own name; a group will not do. Reports it otherwise."""
        if word in self.groups:
            self.report(place, f"{shown(word)} is a group; one indication is wanted here", Broken.KIND)
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
        self.unknown(place, Named.STATE, word, [*states, *(code.pattern for code in indication.codes)], of=id)
        return None

    def when(self, entry: Written, path: Sequence[str | int], written: Mapping[str, Any]) -> When:
        """A map from indications (or groups, meaning each member) to one state or several."""
        found: list[tuple[str, tuple[str, ...]]] = []
        if not written:
            self.report(entry.place(*path), f"{shown(str(path[-1]))} is empty", Broken.KIND)
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
        self.report(entry.place(*path), text, Broken.KIND)
        return ()


def _unwrapped(written: Mapping[str, Any]) -> Iterator[tuple[tuple[str, ...], Any]]:
    """The pairs of a `when`, with those under `all:` beside the others."""
    for key, words in written.items():
        if key == "all" and isinstance(words, dict):
            for inner, more in words.items():
                yield (key, inner), more
        else:
            yield (key,), words
