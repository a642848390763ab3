"""Modules: knowledge that several machines share, written out into each that uses it.

`expand` works on the words as they were written; what comes after sees an ordinary machine. A problem in a module says
where it stands, and where the module is used.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from diag.machine.circles import round_trip
from diag.machine.expand.chain_parts import laid_under
from diag.machine.expand.chains import write_out
from diag.machine.expand.fill import Budget, Filler, TooLarge, measured, twice
from diag.machine.expand.parameters import (
    CHAIN_WORDS,
    MARK,
    Argument,
    Asked,
    Report,
    Template,
    bind,
    module_files,
    read_module,
    settle,
    unmarked,
)
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.field_types import NO_NAME, is_name
from diag.machine.language.fields.module_fields import UseSource
from diag.machine.language.fields.sections import NAMED_IN, Sections
from diag.machine.language.fields.tree_fields import TreeSource
from diag.machine.language.names_in import FREE, IN_MODULES, entry_spec, walk
from diag.machine.language.validate import Written, validate
from diag.machine.names import Named
from diag.machine.place import Place
from diag.machine.problem import Broken, shown
from diag.machine.reader.gather import Folder
from diag.machine.span import Node

_SECTION, _USE, _TREE = names(Sections), names(UseSource), names(TreeSource)

DEEPEST_USE: Final = 40
"""Modules within modules. Two or three make sense."""
A_USE: Final = 100
"""Words that each use counts for besides what it makes, so that no great number of small ones takes long."""
SECTIONS: Final = tuple(section for section in IN_MODULES if section not in (_SECTION.trees, _SECTION.chains))
"""The maps of entries that a module makes."""


@dataclass(slots=True)
class Level:
    """A machine, or one use of a module: its sections, and what stood for its parameters."""

    sections: Folder
    arguments: Mapping[str, Argument] = field(default_factory=dict)
    stack: tuple[str, ...] = ()
    """The modules that this stands in, the outermost first."""
    above: Level | None = None

    def names(self) -> dict[str, dict[str, None]]:
        """Its own names by kind, in the order of the files."""
        maps = self.sections.maps
        found: dict[str, dict[str, None]] = {kind: {} for kind in NAMED_IN.values()}
        for section, kind in NAMED_IN.items():
            found[kind].update(dict.fromkeys(maps.get(section, ())))
        found[Named.INDICATION].update(dict.fromkeys(maps[_SECTION.resets]))
        found[Named.TREE].update(dict.fromkeys(id for section, id in self.sections.named if section == _SECTION.trees))
        return found

    def indications(self, word: str) -> Collection[str]:
        """The indications that are there where a word comes from: at this level, or at one above."""
        if word.startswith(MARK) and self.above is not None:
            return self.above.indications(word[1:])
        return self.sections.maps[_SECTION.indications]


def expand(found: Folder, folder: Path) -> None:
    """Writes a machine's uses and chains out into its own sections. Problems are added to those of the machine."""
    expansion = _Expansion(found, module_files(folder))
    try:
        expansion.write_out(Level(found))
    except TooLarge as error:
        found.problems.append(error.problem)
        found.lost.update(IN_MODULES)


class _Expansion:
    def __init__(self, found: Folder, files: Mapping[str, Path]) -> None:
        self.found = found
        self.report = Report(found.problems)
        self.budget = Budget()
        self.files = files
        self.templates: dict[str, Template | None] = {}

    def write_out(self, level: Level) -> None:
        """Writes the uses and then the chains of a level out into its sections."""
        asked: list[Asked] = []
        names: dict[str, Written] = {}
        for use in level.sections.lists[_SECTION.uses]:
            made = self.used(use, level, names, asked)
            if made is not None:
                self.merge(level.sections, made)
            elif is_name(_as(use)):
                level.sections.unmade.add(f"{_as(use)}-")
            else:
                level.sections.lost.update(IN_MODULES)
        for chain in level.sections.maps[_SECTION.chains].values():
            self.merge(level.sections, write_out(chain, level.indications, self.report, self.budget))
        level.sections.maps[_SECTION.chains] = {}
        level.sections.lists[_SECTION.uses] = []
        settle(asked, level.names(), level.sections, self.report)

    def used(self, use: Written, level: Level, names: dict[str, Written], asked: list[Asked]) -> Folder | None:
        """The sections that one use of a module makes, its names put under the name of the use.

        None when anything is wrong with the use, or with the module apart from what its entries say.
        """
        entry = validate(UseSource, use, self.found.problems)
        if entry is None or not entry.sound:
            return None
        source = entry.source
        if source.as_ in names:
            first = names[source.as_].place(_USE.as_)
            text = f"{shown(source.as_)} is the name of another use, in line {first.line}; its names would clash"
            self.report(entry.place(_USE.as_), text, Broken.TWICE)
            return None
        names[source.as_] = use
        name, place = unmarked(source.module), entry.place(_USE.module)
        if name in level.stack:
            text = f"a module that uses itself: {round_trip(level.stack[level.stack.index(name) :])}"
            self.report(place, text, Broken.CIRCLE)
            return None
        if len(level.stack) >= DEEPEST_USE:
            self.report(place, f"modules within modules, {DEEPEST_USE} deep", Broken.SIZE)
            return None
        self.budget.spend(place, A_USE)
        template = self.template(name, place)
        if template is None:
            return None
        arguments = bind(template.name, template.parameters, entry, level.arguments, asked, self.report)
        if arguments is None:
            return None
        before = len(self.found.problems)
        filler = Filler(arguments, self.report, self.budget, place, use.file, template.file)
        inner = Level(_filled(template.sections, filler), arguments, (*level.stack, name), level)
        if len(self.found.problems) > before:
            return None
        self.write_out(inner)
        prefix = unmarked(source.as_)
        names_of = _Names(inner, prefix, self.report, self.budget, entry.place(_USE.as_), inner.names())
        made = _copied(inner.sections, names_of.entry)
        if len(self.found.problems) > before:
            return None
        self.override(made, use, prefix)
        return made

    def template(self, name: str, place: Place) -> Template | None:
        """The module of that name, read once. What is wrong with its file is reported where it is used first."""
        if name not in self.files:
            self.report.unknown(place, Named.MODULE, name, self.files)
            return None
        if name not in self.templates:
            template, problems, file = read_module(name, self.files[name])
            self.templates[name] = template
            self.found.problems.extend(replace(problem, text=f"{problem.text}{place.uses}") for problem in problems)
            self.found.files.append(file)
        return self.templates[name]

    def merge(self, into: Folder, made: Folder) -> None:
        """Adds what a use or a chain made. A name that is there already is reported, and what was there stays."""
        for section, entries in made.maps.items():
            there = into.maps[section]
            for id, item in entries.items():
                if id not in there:
                    there[id] = item
                    continue
                first, second = there[id].key_place(), item.key_place()
                user = second.used or second
                text = f"{shown(id)} is a name that {user.file}, line {user.line}, makes too"
                self.report(first, f"{text}; choose another, or use 'but'", Broken.CLASH)
        for item in made.lists[_SECTION.trees]:
            if (_SECTION.trees, item.id) in into.named:
                first = into.named[_SECTION.trees, item.id].place(_TREE.tree)
                text = f"{shown(item.id)} is written twice; first in {first.file}, line {first.line}"
                self.report(item.place(_TREE.tree), text, Broken.TWICE)
            else:
                into.lists[_SECTION.trees].append(item)
                into.named[_SECTION.trees, item.id] = item
        into.lost.update(made.lost)
        into.unmade.update(made.unmade)

    def override(self, made: Folder, use: Written, prefix: str) -> None:
        """What the user says otherwise under `but`: fields of single entries, by the module's own names. What is left
        empty is taken out."""
        for section, entries in _map_of(use.node.find([_USE.but]) if _USE.but in use.keys else None).items():
            if section not in SECTIONS:
                self.report.unknown(entries.key_place(use.file), "section", section, SECTIONS)
                continue
            for id, over in _map_of(entries).items():
                full, there = f"{prefix}-{id}", made.maps[section]
                if full in there and over.value == "":
                    del there[full]
                elif full in there:
                    old = there[full]
                    there[full] = Written(full, old.file, laid_under(old.node, over.mapped(file=use.file)))
                else:
                    right = [name.removeprefix(f"{prefix}-") for name in there]
                    self.report.unknown(over.key_place(use.file), NAMED_IN[section], id, right)


def _as(use: Written) -> str:
    """The name of a use, as far as it has one."""
    word = use.node.find([_USE.as_]).value if _USE.as_ in use.keys else ""
    return unmarked(word) if isinstance(word, str) else ""


def _map_of(node: Node | None) -> Mapping[str, Node]:
    return node.value if node is not None and isinstance(node.value, dict) else {}


def _copied(read: Folder, entry: Callable[[Written, str], Written]) -> Folder:
    """The sections of a module, each entry of each section as `entry` makes it."""
    made = Folder(lost=set(read.lost))
    for section in (*SECTIONS, _SECTION.chains):
        entries = [entry(item, section) for item in read.maps[section].values()]
        made.maps[section] = {item.id: item for item in entries}
    for item in read.lists[_SECTION.trees]:
        tree = entry(item, _SECTION.trees)
        made.lists[_SECTION.trees].append(tree)
        made.named[_SECTION.trees, tree.id] = tree
    return made


def _filled(read: Folder, filler: Filler) -> Folder:
    """A module's sections with what is given filled in."""

    def entry(item: Written, section: str) -> Written:
        filler.keep = CHAIN_WORDS if section == _SECTION.chains else frozenset()
        return filler.entry(item, entry_spec(section))

    made = _copied(read, entry)
    made.lists[_SECTION.uses] = [entry(item, _SECTION.uses) for item in read.lists[_SECTION.uses]]
    return made


@dataclass(slots=True)
class _Names:
    """Puts the names of a level under the name of its use. What came from outside loses a mark and stays."""

    level: Level
    prefix: str
    report: Report
    budget: Budget
    used: Place
    own: Mapping[str, Collection[str]]
    """The names of the level, by kind."""
    file: str = ""

    def entry(self, item: Written, section: str) -> Written:
        self.file = item.file
        new = self.under(item.id) if item.id else ""
        if section != _SECTION.trees and not is_name(new):
            text = f"{shown(item.id)} under {shown(self.prefix)} {NO_NAME}"
            self.report(item.key_place(), text, Broken.NAME)
        return Written(new, item.file, measured(walk(item.node, entry_spec(section), self, item.file), self.used))

    def under(self, id: str) -> str:
        return f"{self.prefix}-{id}"

    def made(self, node: Node) -> None:
        self.budget.spend(self.used)

    def word(self, node: Node, kind: str) -> Node:
        assert isinstance(node.value, str)
        node.value = self.key(node.value, node.place(self.file), kind)
        return node

    def twice(self, key: str, place: Place) -> None:
        twice(self.report, key, place)

    def key(self, word: str, place: Place, kind: str) -> str:
        if word.startswith(MARK):
            return word[1:]
        if not kind or word in FREE or not word:
            return word
        if word in self.own[kind]:
            return self.under(word)
        there = self.level.sections
        if not there.lost and word not in there.told and not word.startswith(tuple(there.unmade)):
            given = [name for name, argument in self.level.arguments.items() if argument.kind == kind]
            self.report.unknown(place, kind, word, [*self.own[kind], *given], of=self.level.stack[-1])
        return word
