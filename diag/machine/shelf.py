"""The files of the modules: which there are, and what one of them holds."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from diag.machine.find import MODULES, shipped_folder
from diag.machine.gather import MAPS, Folder, gather_module
from diag.machine.names_in import FREE, NAMED_IN
from diag.machine.parameters import Parameter, a_kind, declared, unquoted
from diag.machine.problem import Problem, shown
from diag.machine.validate import Written

CHAIN_WORDS: Final = frozenset({"member", "before", "after", "chain"})
"""What a chain fills in by itself; no parameter may be called so."""


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
        for name in _yaml_names(shelf):
            found.setdefault(name, shelf / f"{name}.yaml")
    return found


def _yaml_names(shelf: Path) -> list[str]:
    try:
        return sorted(path.stem for path in shelf.iterdir() if path.suffix == ".yaml")
    except OSError:
        return []


def read_module(name: str, path: Path) -> tuple[Template | None, list[Problem], str]:
    """A module, or None when it cannot be made out; what is wrong with its file; and the file as problems name it."""
    read = gather_module(path)
    parameters = declared(read.maps["parameters"], read.problems)
    read.problems.extend(_misnamed(read, parameters))
    if read.head is not None and "title" not in read.head.keys:
        read.problems.append(Problem.at(read.head.place(), "'title' is missing", "missing"))
    file = read.files[0]
    if read.head is None or read.lost:
        return None, read.problems, file
    return Template(name, file, parameters, _unquoted(read)), read.problems, file


def _misnamed(read: Folder, parameters: Mapping[str, Parameter]) -> list[Problem]:
    """Parameters that are called as something else in the module is."""
    found = []
    for id in parameters:
        place = read.maps["parameters"][id].key_place()
        same = next((kind for section, kind in NAMED_IN.items() if id in read.maps.get(section, ())), "")
        if id in CHAIN_WORDS or id in FREE:
            found.append(Problem.at(place, f"{shown(id)} is a reserved word; choose another name", "name"))
        elif same:
            text = f"{shown(id)} is a parameter and {a_kind(same)} of this module; choose another name"
            found.append(Problem.at(place, text, "clash"))
    return found


def _unquoted(read: Folder) -> Folder:
    def each(item: Written) -> Written:
        return Written(item.id, item.file, unquoted(item.node))

    maps = {section: {id: each(item) for id, item in read.maps[section].items()} for section in MAPS}
    lists = {section: [each(item) for item in read.lists[section]] for section in read.lists}
    return Folder(maps=maps, lists=lists)
