"""The files of the modules, what a module asks for, and what a use of it gives."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from diag.machine.find import MODULES, shipped_folder
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.field_types import is_number, kind_of, with_a_point
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.module_fields import ParameterSource, UseSource
from diag.machine.language.fields.sections import NAMED_IN, Sections
from diag.machine.language.names_in import FREE
from diag.machine.language.validate import Entry, Written, validate
from diag.machine.names import Named, unknown
from diag.machine.place import Place
from diag.machine.problem import Broken, Problem, shown
from diag.machine.reader.gather import Folder, gather_module
from diag.machine.span import Node

_SECTION, _PARAMETER, _USE = names(Sections), names(ParameterSource), names(UseSource)
_HEAD = names(HeadSource)

MARK: Final = "\x01"
"""Stands before a word that came from outside a module: a name that is not the module's own. No file can hold it. One
is taken off where the module's names are put under the name of its use, so that none is left in the machine."""
CHAIN_WORDS: Final = frozenset({"member", "before", "after", "chain"})
"""What a chain fills in by itself; no parameter may be called so."""
NAME_KINDS: Final = frozenset(
    kind for section, kind in NAMED_IN.items() if section not in (_SECTION.chains, _SECTION.groups)
)


@dataclass(frozen=True, slots=True)
class Report:
    """Adds to the problems of a machine."""

    problems: list[Problem] = field(default_factory=list)

    def __call__(self, place: Place, text: str, rule: str, hint: str = "") -> None:
        self.problems.append(Problem.at(place, text, rule, hint))

    def unknown(self, place: Place, what: str, word: str, right: Iterable[str], of: str = "", before: str = "") -> str:
        """Reports a wrong name; gives the nearest right one. `of`: whose name it would be; `before` begins the text."""
        text, near = unknown(what, word, right, of)
        self(place, before + text, Broken.UNKNOWN, near)
        return near


@dataclass(frozen=True, slots=True)
class Parameter:
    """What a module asks for."""

    what: str
    kind: str
    default: Node | None = None


@dataclass(frozen=True, slots=True)
class Argument:
    """What is given for a parameter."""

    kind: str
    node: Node

    @property
    def names(self) -> bool:
        """Whether it is the name of something of the using machine."""
        return self.kind in NAME_KINDS


def unmarked(word: str) -> str:
    """The word without any `MARK`."""
    return word.replace(MARK, "")


def declared(written: Mapping[str, Written], report: Report) -> dict[str, Parameter]:
    """The parameters of a module. One that is wrong stays, so that its uses are no further problem."""
    found = {}
    for id, item in written.items():
        entry: Entry[ParameterSource] | None = validate(ParameterSource, item, report.problems)
        if entry is None:
            found[id] = Parameter("", "text", item.node)
            continue
        source = entry.source
        default = item.node.find([_PARAMETER.default]) if _PARAMETER.default in entry.keys else None
        found[id] = Parameter(source.what, source.kind, default)
        if default is None:
            continue
        if source.kind in NAME_KINDS:
            text = f"{shown(id)} names something of the machine that uses this, which a 'default' cannot know"
            report(item.key_place(_PARAMETER.default), text, Broken.KIND)
        elif text := wrong_kind(source.kind, default):
            report(item.place(_PARAMETER.default), f"'default' {text}", Broken.KIND)
    return found


@dataclass(frozen=True, slots=True)
class Template:
    """A module as its file has it."""

    name: str
    file: str
    parameters: Mapping[str, Parameter]
    sections: Folder


def module_files(folder: Path) -> dict[str, Path]:
    """The modules by name: those beside the machines of the site, else those that came with the program."""
    beside = Path(os.path.abspath(folder)).parent  # noqa: PTH100 - takes out "..", and follows no link
    found: dict[str, Path] = {}
    for shelf in (beside / MODULES, shipped_folder() / MODULES):
        with suppress(OSError):
            for path in sorted(shelf.iterdir()):
                if path.suffix == ".yaml":
                    found.setdefault(path.stem, path)
    return found


def read_module(name: str, path: Path) -> tuple[Template | None, list[Problem], str]:
    """A module, or None when it cannot be made out; what is wrong with its file; and the file as problems name it."""
    read = gather_module(path)
    report = Report(read.problems)
    parameters = declared(read.maps[_SECTION.parameters], report)
    _misnamed(read, report)
    if read.head is not None and _HEAD.title not in read.head.keys:
        report(read.head.place(), f"{shown(_HEAD.title)} is missing", Broken.MISSING)
    file = read.files[0]
    if read.head is None or read.lost:
        return None, read.problems, file
    return Template(name, file, parameters, read), read.problems, file


def _misnamed(read: Folder, report: Report) -> None:
    """Reports parameters that are called as something else in the module is."""
    for id, item in read.maps[_SECTION.parameters].items():
        same = next((kind for section, kind in NAMED_IN.items() if id in read.maps.get(section, ())), "")
        if id in CHAIN_WORDS or id in FREE:
            report(item.key_place(), f"{shown(id)} is a reserved word; choose another name", Broken.NAME)
        elif same:
            text = f"{shown(id)} is a parameter and {a_kind(same)} of this module; choose another name"
            report(item.key_place(), text, Broken.CLASH)


def wrong_kind(kind: str, node: Node) -> str:
    """Why a value is not of its parameter's kind; empty when it is. Whether a name exists is not looked at."""
    value = node.value
    if kind == "list":
        return "" if not isinstance(value, str) else f"takes the form [one, another]; this is {kind_of(value)}"
    if not isinstance(value, str) or not value.strip():
        return f"should be {a_kind(kind)}, and is {kind_of(node.plain())}"
    if kind == "number" and not is_number(unmarked(value)):
        said = f"should be a number such as 12 or 0.5, and is {shown(unmarked(value))}"
        return said + with_a_point(unmarked(value))
    return ""


def a_kind(kind: str) -> str:
    """The kind with its article."""
    return kind if kind == Named.STORED else f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


@dataclass(frozen=True, slots=True)
class Asked:
    """A name that is given to a module, to be looked up once all names are there."""

    parameter: str
    kind: str
    word: str
    place: Place


def bind(
    module: str,
    parameters: Mapping[str, Parameter],
    use: Entry[Any],
    outer: Mapping[str, Argument],
    asked: list[Asked],
    report: Report,
) -> dict[str, Argument] | None:
    """What stands for each parameter, or None with the problems reported. Names are added to `asked`.

    `outer`: what was given to the module that the use stands in; its bare names may be handed on.
    """
    node = use.node.find([_USE.with_]) if _USE.with_ in use.keys else None
    given = node.value if node is not None and isinstance(node.value, dict) else {}
    before = len(report.problems)
    meant = {
        report.unknown(child.key_place(use.file), "parameter", name, parameters, of=module)
        for name, child in given.items()
        if name not in parameters
    }
    found = {}
    for name, parameter in parameters.items():
        value = given.get(name, parameter.default)
        if value is None and name in meant:
            continue
        if value is None:
            text = f"{shown(name)} is missing; the module {shown(module)} needs it: {parameter.what}"
            at = use.key_place(_USE.with_) if node is not None else use.place(_USE.module)
            report(at, text, Broken.MISSING)
            continue
        place = value.place(use.file)
        text = wrong_kind(parameter.kind, value) if name in given else ""
        if text:
            report(place, f"{shown(name)} {text}", Broken.KIND)
            continue
        if parameter.kind in NAME_KINDS:
            value = _handed_on(value, outer)
            asked.append(Asked(name, parameter.kind, str(value.value), place))
        found[name] = Argument(parameter.kind, value)
    return found if len(report.problems) == before else None


def _handed_on(value: Node, outer: Mapping[str, Argument]) -> Node:
    """A name as it is known at the level that gives it: its own, or, with a mark, one that was given to it."""
    word = value.value
    if isinstance(word, str) and word in outer and outer[word].names:
        return Node(f"{MARK}{outer[word].node.value}", value.line, value.column, file=value.file, used=value.used)
    return value


def settle(asked: list[Asked], names: Mapping[str, Collection[str]], found: Folder, report: Report) -> None:
    """Reports which of the given names do not exist, or are of something else. Those from further out were looked up
    there."""
    for item in asked:
        if item.word.startswith((MARK, *found.unmade)) or item.word in names[item.kind] or found.lost:
            continue
        found.told.add(item.word)
        word = unmarked(item.word)
        other = next((kind for kind, known in names.items() if word in known), "")
        if other:
            wanted, is_one = a_kind(item.kind), a_kind(other)
            text = f"{shown(item.parameter)} should be the name of {wanted}, and {shown(word)} is {is_one}"
            report(item.place, text, Broken.KIND)
        else:
            report.unknown(item.place, item.kind, word, names[item.kind], before=f"{shown(item.parameter)}: ")
