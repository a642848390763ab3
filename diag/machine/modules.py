"""Modules: knowledge that several machines share, written out into each that uses it.

A module is one file of `modules/`, beside the machines or among those that came with the program. It declares what it
asks for (`parameters`) and holds sections as a machine does. A machine names it under `uses`, with `as`, under which
the module's names are put (`rack` and `output` make `rack-output`), and `with`, what it is given. `expand` writes all
uses and chains out on the words as they were written; what comes after sees an ordinary machine. A problem in a module
says where it stands, and where the module is used.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from diag.machine.bind import Asked, bind, settle
from diag.machine.chain_parts import laid_under
from diag.machine.chains import write_out
from diag.machine.gather import Folder
from diag.machine.names import unknown
from diag.machine.names_in import FREE, NAMED_IN, SPECS, entry_spec, walk
from diag.machine.parameters import (
    MARK,
    Argument,
    Budget,
    Filler,
    Report,
    TooLarge,
    measured,
    one_mark_off,
    twice,
    unmarked,
)
from diag.machine.place import Place
from diag.machine.problem import Problem, shown
from diag.machine.scope import round_trip
from diag.machine.shelf import CHAIN_WORDS, Template, module_files, read_module
from diag.machine.source import UseSource
from diag.machine.span import Node
from diag.machine.validate import Written, validate
from diag.machine.words import NO_NAME, is_name

DEEPEST_USE: Final = 40
"""Modules within modules. Two or three make sense."""
A_USE: Final = 100
"""Words that each use counts for besides what it makes, so that no great number of small ones takes long."""
SECTIONS: Final = tuple(section for section in SPECS if section not in ("trees", "chains"))
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
        found["indication"].update(dict.fromkeys(maps["resets"]))
        found["tree"].update(dict.fromkeys(id for section, id in self.sections.named if section == "trees"))
        return found

    def indications(self, word: str) -> Collection[str]:
        """The indications that are there where a word comes from: at this level, or at one above."""
        if word.startswith(MARK) and self.above is not None:
            return self.above.indications(word[1:])
        return self.sections.maps["indications"]


def expand(found: Folder, folder: Path) -> None:
    """Writes a machine's uses and chains out into its own sections. Problems are added to those of the machine."""
    if not found.lists["uses"] and not found.maps["chains"]:
        return
    expansion = _Expansion(found, module_files(folder))
    try:
        expansion.write_out(Level(found))
    except TooLarge as error:
        found.problems.append(error.problem)
        _lose(found)


def _lose(found: Folder) -> None:
    """Names that may come from what could not be written out are not told as unknown."""
    found.lost.update(SPECS)


class _Expansion:
    def __init__(self, found: Folder, files: Mapping[str, Path]) -> None:
        self.found = found
        self.report = found.problems.append
        self.budget = Budget()
        self.files = files
        self.templates: dict[str, Template | None] = {}

    def write_out(self, level: Level) -> None:
        """Writes the uses and then the chains of a level out into its sections."""
        asked: list[Asked] = []
        names: dict[str, Written] = {}
        for use in level.sections.lists["uses"]:
            made = self.used(use, level, names, asked)
            if made is not None:
                self.merge(level.sections, made)
            elif is_name(_as(use)):
                level.sections.unmade.add(f"{_as(use)}-")
            else:
                _lose(level.sections)
        for chain in level.sections.maps["chains"].values():
            self.merge(level.sections, write_out(chain, level.indications, self.report, self.budget))
        level.sections.maps["chains"] = {}
        level.sections.lists["uses"] = []
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
            first = names[source.as_].place("as")
            text = f"{shown(source.as_)} is the name of another use, in line {first.line}; its names would clash"
            self.report(Problem.at(entry.place("as"), text, "twice"))
            return None
        names[source.as_] = use
        name = unmarked(source.module)
        if name in level.stack:
            text = f"a module that uses itself: {round_trip(level.stack[level.stack.index(name) :])}"
            self.report(Problem.at(entry.place("module"), text, "circle"))
            return None
        if len(level.stack) >= DEEPEST_USE:
            self.report(Problem.at(entry.place("module"), f"modules within modules, {DEEPEST_USE} deep", "size"))
            return None
        self.budget.spend(entry.place("module"), A_USE)
        template = self.template(name, entry.place("module"))
        if template is None:
            return None
        arguments = bind(template.name, template.parameters, entry, level.arguments, asked, self.report)
        if arguments is None:
            return None
        filler = Filler(arguments, self.report, self.budget, entry.place("module"), use.file, template.file)
        before = len(self.found.problems)
        inner = Level(_filled(template.sections, filler), arguments, (*level.stack, name), level)
        if len(self.found.problems) > before:
            return None
        self.write_out(inner)
        made = _Names(inner, unmarked(source.as_), self.report, self.budget, entry.place("as")).renamed()
        if len(self.found.problems) > before:
            return None
        self.override(made, use, unmarked(source.as_))
        return made

    def template(self, name: str, place: Place) -> Template | None:
        """The module of that name, read once. What is wrong with its file is told where it is used first."""
        if name not in self.files:
            text, near = unknown("module", name, self.files)
            self.report(Problem.at(place, text, "unknown", near))
            return None
        if name not in self.templates:
            template, problems, file = read_module(name, self.files[name])
            self.templates[name] = template
            self.found.problems.extend(replace(problem, text=f"{problem.text}{place.uses}") for problem in problems)
            self.found.files.append(file)
        return self.templates[name]

    def merge(self, into: Folder, made: Folder) -> None:
        """Adds what a use or a chain made. A name that is there already is told, and what was there stays."""
        for section, entries in made.maps.items():
            there = into.maps[section]
            for id, item in entries.items():
                if id not in there:
                    there[id] = item
                    continue
                first, second = there[id].key_place(), item.key_place()
                user = second.used or second
                text = (
                    f"{shown(id)} is a name that {user.file}, line {user.line}, makes too; choose another, or use 'but'"
                )
                self.report(Problem.at(first, text, "clash"))
        for item in made.lists["trees"]:
            if ("trees", item.id) in into.named:
                first = into.named["trees", item.id].place("tree")
                text = f"{shown(item.id)} is written twice; first in {first.file}, line {first.line}"
                self.report(Problem.at(item.place("tree"), text, "twice"))
            else:
                into.lists["trees"].append(item)
                into.named["trees", item.id] = item
        into.lost.update(made.lost)
        into.unmade.update(made.unmade)

    def override(self, made: Folder, use: Written, prefix: str) -> None:
        """What the user says otherwise under `but`: fields of single entries, by the module's own names. What is left
        empty is taken out."""
        for section, entries in _map_of(use.node.find(["but"]) if "but" in use.keys else None).items():
            if section not in SECTIONS:
                text, near = unknown("section", section, SECTIONS)
                self.report(Problem.at(entries.key_place(use.file), text, "unknown", near))
                continue
            for id, over in _map_of(entries).items():
                full, there = f"{prefix}-{id}", made.maps[section]
                if full in there and over.value == "":
                    del there[full]
                elif full in there:
                    old = there[full]
                    there[full] = Written(full, old.file, laid_under(old.node, _of(over, use.file)))
                else:
                    right = [name.removeprefix(f"{prefix}-") for name in there]
                    text, near = unknown(NAMED_IN[section], id, right)
                    self.report(Problem.at(over.key_place(use.file), text, "unknown", near))


def _as(use: Written) -> str:
    """The name of a use, as far as it has one."""
    word = use.node.find(["as"]).value if "as" in use.keys else ""
    return unmarked(word) if isinstance(word, str) else ""


def _map_of(node: Node | None) -> Mapping[str, Node]:
    return node.value if node is not None and isinstance(node.value, dict) else {}


def _of(node: Node, file: str) -> Node:
    """A copy whose places are in `file`, where it says none itself."""
    value = node.value
    if isinstance(value, list):
        value = [_of(child, file) for child in value]
    elif isinstance(value, dict):
        value = {key: _of(child, file) for key, child in value.items()}
    return replace(node, value=value, file=node.file or file)


def _filled(read: Folder, filler: Filler) -> Folder:
    """A module's sections with what is given filled in."""
    made = Folder()
    for section in (*SECTIONS, "chains"):
        filler.keep = CHAIN_WORDS if section == "chains" else frozenset()
        spec = entry_spec(section)
        made.maps[section] = {id: filler.entry(item, spec) for id, item in read.maps[section].items()}
    filler.keep = frozenset()
    overrides = {"but": {section: SPECS[section] for section in SECTIONS}}
    made.lists["uses"] = [filler.entry(item, overrides) for item in read.lists["uses"]]
    for item in read.lists["trees"]:
        tree = filler.entry(item, SPECS["trees"])
        made.lists["trees"].append(tree)
        made.named["trees", tree.id] = tree
    return made


@dataclass(slots=True)
class _Names:
    """Puts the names of a level under the name of its use. What came from outside loses a mark and stays."""

    level: Level
    prefix: str
    report: Report
    budget: Budget
    used: Place
    own: Mapping[str, Collection[str]] = field(default_factory=dict)
    file: str = ""

    def renamed(self) -> Folder:
        self.own = self.level.names()
        made = Folder(lost=set(self.level.sections.lost))
        for section in SECTIONS:
            for id, item in self.level.sections.maps[section].items():
                new = self.under(id)
                if not is_name(new):
                    text = f"{shown(id)} under {shown(self.prefix)} {NO_NAME}"
                    self.report(Problem.at(item.key_place(), text, "name"))
                made.maps[section][new] = Written(new, item.file, self.entry(item, section))
        for item in self.level.sections.lists["trees"]:
            tree = Written(self.under(item.id) if item.id else "", item.file, self.entry(item, "trees"))
            made.lists["trees"].append(tree)
            made.named["trees", tree.id] = tree
        return made

    def entry(self, item: Written, section: str) -> Node:
        self.file = item.file
        return measured(walk(item.node, entry_spec(section), self, item.file), self.used)

    def under(self, id: str) -> str:
        return f"{self.prefix}-{id}"

    def made(self, node: Node) -> None:
        self.budget.spend(self.used)

    def word(self, node: Node, kind: str) -> Node:
        assert isinstance(node.value, str)
        node.value = self.key(node.value, node.place(self.file), kind)
        return node

    def twice(self, key: str, place: Place) -> None:
        self.report(twice(key, place))

    def key(self, word: str, place: Place, kind: str) -> str:
        if word.startswith(MARK):
            return one_mark_off(word)
        if not kind or word in FREE or not word:
            return word
        if word in self.own[kind]:
            return self.under(word)
        there = self.level.sections
        if not there.lost and word not in there.told and not word.startswith(tuple(there.unmade)):
            given = [name for name, argument in self.level.arguments.items() if argument.kind == kind]
            text, near = unknown(kind, word, [*self.own[kind], *given], of=self.level.stack[-1])
            self.report(Problem.at(place, text, "unknown", near))
        return word
