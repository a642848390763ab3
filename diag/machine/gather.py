"""The files of one machine's folder, read and sorted into sections. Names are not looked up here."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from diag.machine import forms
from diag.machine.compose import compose
from diag.machine.names import nearest, unknown
from diag.machine.place import Place
from diag.machine.problem import Problem, shown
from diag.machine.source import HeadSource
from diag.machine.span import Node
from diag.machine.text import read_text, shown_path
from diag.machine.validate import Written, fields
from diag.machine.words import is_name, no_name

HEAD: Final = fields(HeadSource)
MAPS: Final = (
    "points",
    "stored",
    "test-points",
    "zones",
    "resets",
    "groups",
    "indications",
    "face",
    "remedies",
    "causes",
    "checks",
    "chains",
    "parameters",
)
LISTS: Final = ("uses", "dangers", "trees", "examples")

FILES: Final = {
    "machine.yaml": (*HEAD, *(name for name in MAPS if name != "parameters"), *LISTS),
    "panel.yaml": ("groups", "indications", "face"),
    "causes.yaml": ("causes", "remedies", "chains"),
    "checks.yaml": ("checks",),
}
"""What each file may hold; any of it may stand in `machine.yaml` instead."""
MODULE: Final = (
    "title",
    "parameters",
    "uses",
    *(name for name in MAPS if name not in ("face", "parameters")),
    "trees",
)
"""What a module's file may hold."""
FOLDERS: Final = {"trees": ("trees", "tree"), "examples": ("examples", "example")}
"""Folders of files that hold one entry each, or a list of them: the list's name, and the key that names an entry."""
MOST_FILES: Final = 500
"""In one of these folders."""


@dataclass(slots=True)
class Folder:
    """What was found in a machine's folder."""

    head: Written | None = None
    """The whole of machine.yaml or of a module; its header fields are looked at by the one who resolves them."""
    maps: dict[str, dict[str, Written]] = field(default_factory=lambda: {name: {} for name in MAPS})
    lists: dict[str, list[Written]] = field(default_factory=lambda: {name: [] for name in LISTS})
    named: dict[tuple[str, str], Written] = field(default_factory=dict)
    """The entries of the lists by section and name."""
    problems: list[Problem] = field(default_factory=list)
    lost: set[str] = field(default_factory=set)
    """Sections that may be incomplete because a file could not be read; names of theirs are not told as unknown."""
    unmade: set[str] = field(default_factory=set)
    """How names begin that a use or a chain would have made, had it not been wrong; they are not told as unknown."""
    told: set[str] = field(default_factory=set)
    """Names that were told as unknown where they are given to a module."""
    files: list[str] = field(default_factory=list)
    """In the order in which they were read; problems are told in this order."""


def gather(folder: Path, examples: bool = True) -> Folder:
    """Reads every file of a machine's folder; without `examples` not those in the folder of that name. Never raises for
    what the files hold or are."""
    found = Folder()
    for name, sections in FILES.items():
        path = folder / name
        if os.path.lexists(path):
            _file(found, path, sections)
    for name, (section, key) in FOLDERS.items():
        if not examples and section == "examples":
            continue
        for path in _yaml_files(found, folder / name):
            _entries(found, path, section, key)
    _strangers(found, folder)
    return found


def gather_module(path: Path) -> Folder:
    """Reads the one file of a module into its sections. Never raises for what the file holds or is."""
    found = Folder()
    _file(found, path, MODULE)
    return found


def _tree_of(found: Folder, path: Path) -> tuple[str, Node | None]:
    file = shown_path(path)
    found.files.append(file)
    text = read_text(path)
    if isinstance(text, Problem):
        found.problems.append(text)
        return file, None
    node, problems = compose(text, file)
    found.problems.extend(problems)
    if node is None and not problems:
        found.problems.append(Problem(file, 1, 1, "error", "the file is empty", "empty"))
    return file, node


def _file(found: Folder, path: Path, sections: tuple[str, ...]) -> None:
    file, root = _tree_of(found, path)
    if root is None or not isinstance(root.value, dict):
        found.lost.update(sections)
        if root is not None:
            _wrong(found, root, file, forms.file(sections, root.plain()))
        return
    if path.name == "machine.yaml" or sections is MODULE:
        found.head = Written(path.parent.name, file, root)
    for name, node in root.value.items():
        if name in HEAD and name in sections:
            continue
        if name not in sections:
            _stray(found, name, node, file, sections)
        elif name in MAPS:
            _map(found, name, node, file)
        else:
            _list(found, name, node, file)


def _stray(found: Folder, name: str, node: Node, file: str, sections: tuple[str, ...]) -> None:
    elsewhere = [other for other, names in FILES.items() if name in names]
    text, near = unknown("field", name, sections)
    if elsewhere:
        text, near = f"{shown(name)} belongs in {' or '.join(elsewhere[::-1])}", ""
    found.problems.append(Problem.at(node.key_place(file), text, "field", near))


def _map(found: Folder, name: str, node: Node, file: str) -> None:
    if node.value == "":
        return
    if not isinstance(node.value, dict):
        found.lost.add(name)
        _wrong(found, node, file, forms.section(name, node.plain()))
        return
    section = found.maps[name]
    for id, child in node.value.items():
        if name != "face" and not is_name(id):
            text = f"{shown(id)} {no_name(id)}"
            found.problems.append(Problem.at(child.key_place(file), text, "name"))
        elif id in section:
            first = section[id].key_place()
            text = f"{shown(id)} is written twice; first in {first.file}, line {first.line}"
            found.problems.append(Problem.at(child.key_place(file), text, "twice"))
        else:
            section[id] = Written(id, file, child)


def _list(found: Folder, name: str, node: Node, file: str) -> None:
    if node.value == "":
        return
    if not isinstance(node.value, list):
        found.lost.add(name)
        _wrong(found, node, file, forms.section(name, node.plain()))
        return
    key = next((key for section, key in FOLDERS.values() if section == name), "")
    for child in node.value:
        if isinstance(child.value, dict):
            _entry(found, name, key, child, file)
        else:
            _wrong(found, child, file, forms.section(name, child.plain()))


def _entry(found: Folder, section: str, key: str, node: Node, file: str) -> None:
    value = node.value
    assert isinstance(value, dict)
    named = value.get(key)
    id = named.value if named is not None and isinstance(named.value, str) else ""
    twice = found.named.get((section, id)) if id else None
    if twice is not None and named is not None:
        first = twice.place(key)
        text = f"{shown(id)} is written twice; first in {first.file}, line {first.line}"
        found.problems.append(Problem.at(named.place(file), text, "twice"))
    else:
        written = Written(id, file, node)
        found.lists[section].append(written)
        found.named[section, id] = written


def _entries(found: Folder, path: Path, section: str, key: str) -> None:
    """One file of `trees/` or `examples/`."""
    file, root = _tree_of(found, path)
    if root is None or not isinstance(root.value, dict):
        found.lost.add(section)
        if root is not None:
            _wrong(found, root, file, forms.file((key, section), root.plain()))
    elif section in root.value:
        for name, node in root.value.items():
            if name == section:
                _list(found, section, node, file)
            else:
                text, near = unknown("field", name, (section,))
                found.problems.append(Problem.at(node.key_place(file), text, "field", near))
    else:
        _entry(found, section, key, root, file)


def _yaml_files(found: Folder, folder: Path) -> list[Path]:
    if not os.path.lexists(folder):
        return []
    try:
        names = sorted(path.name for path in folder.iterdir() if path.suffix == ".yaml")
    except OSError as error:
        reason = os.strerror(error.errno).lower() if error.errno else "the system refused it"
        file = shown_path(folder)
        found.files.append(file)
        found.problems.append(Problem(file, 1, 1, "error", f"cannot be read: {reason}", "file"))
        return []
    if len(names) > MOST_FILES:
        file = shown_path(folder)
        found.files.append(file)
        text = f"{len(names)} files; {MOST_FILES} at most"
        found.problems.append(Problem(file, 1, 1, "error", text, "size"))
    return [folder / name for name in names[:MOST_FILES]]


def _strangers(found: Folder, folder: Path) -> None:
    """Files and folders that look like the machine's own, and are not read because of their name."""
    known = (*FILES, *FOLDERS)
    try:
        names = sorted(path.name for path in folder.iterdir())
    except OSError:
        return
    for name in names:
        if name in known or name.startswith("."):
            continue
        yaml_like = name.endswith((".yaml", ".yml"))
        near = _near(name, FILES) if yaml_like else _near(name, FOLDERS) if (folder / name).is_dir() else ""
        if not yaml_like and not near:
            continue
        text = "is not read; its name is none of a machine's" + (f"; nearest: {shown(near)}" if near else "")
        file = shown_path(folder / name)
        found.files.append(file)
        found.problems.append(Problem(file, 1, 1, "warning", text, "stray", near))


def _near(name: str, right: Iterable[str]) -> str:
    """The right name that is like this one apart from the ending."""
    stems = {known.partition(".")[0]: known for known in right}
    return stems.get(nearest(name.partition(".")[0], stems), "")


def _wrong(found: Folder, node: Node, file: str, text: str) -> None:
    found.problems.append(Problem.at(Place(file, node.line, node.column), text, "kind"))
