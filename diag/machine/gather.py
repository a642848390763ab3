"""The files of one machine's folder, read and sorted into sections. Names are not looked up here."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from diag.machine import forms
from diag.machine.compose import compose
from diag.machine.curly import lines_with_hard_spaces
from diag.machine.layout import at_the_edge, meant_as
from diag.machine.lost import may_hold
from diag.machine.names import nearest, unknown
from diag.machine.place import Place
from diag.machine.problem import Problem, shown
from diag.machine.source import HeadSource
from diag.machine.span import Node
from diag.machine.text import read_text, shown_path
from diag.machine.validate import Written, fields
from diag.machine.words import as_name, is_name, no_name

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
    hard: set[tuple[str, int]] = field(default_factory=set)
    """Files and lines that hold a space that only looks like one; a word with it is another than the one that it looks
    like."""
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
    if found.lost & {"chains", "uses"}:
        found.lost.update((*MAPS, *LISTS))
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
    found.hard.update((file, line) for line in lines_with_hard_spaces(text))
    if node is None and not problems:
        found.problems.append(Problem(file, 1, 1, "error", "the file is empty", "empty"))
    return file, node


def _file(found: Folder, path: Path, sections: tuple[str, ...]) -> None:
    file, root = _tree_of(found, path)
    if root is None or not isinstance(root.value, dict):
        found.lost.update(name for name in sections if _may_hold(path, name))
        if root is not None:
            _wrong(found, root, file, forms.file(sections, root.plain()))
        return
    root.value = dict(_headings(found, root.value, file, sections))
    if path.name == "machine.yaml" or sections is MODULE:
        found.head = Written(path.parent.name, file, root)
    for name, node in root.value.items():
        if name in HEAD and name in sections:
            continue
        if name in MAPS:
            _map(found, name, node, file)
        elif name in LISTS:
            _list(found, name, node, file)


def _may_hold(path: Path, section: str) -> bool:
    """Whether a file that cannot be made out may have a section."""
    text = read_text(path)
    if isinstance(text, Problem):
        return True
    homes = [name for name, held in FILES.items() if section in held and name != "machine.yaml"]
    homes += [name for name, (held, _) in FOLDERS.items() if held == section]
    return may_hold(text, section, path.name == "machine.yaml" and any((path.parent / home).exists() for home in homes))


def _headings(
    found: Folder, written: dict[str, Node], file: str, sections: tuple[str, ...]
) -> Iterator[tuple[str, Node]]:
    """What stands in a file under its headings. A wrong heading is told, and what stands below it is read as what it
    was meant as, so that nothing that merely follows from it is told too; where that cannot be made out, names that it
    may hold are not told as unknown."""
    free = [name for name in sections if name not in written]
    for name, node in written.items():
        if name in sections:
            yield name, node
            continue
        section, text, whole = at_the_edge(name, node, sections)
        if section and name not in (*MAPS, *LISTS):
            found.problems.append(Problem.at(node.key_place(file), text, "field"))
            if whole:
                _map(found, section, Node({name: node}, node.line, node.column), file)
            else:
                found.lost.update(sections)
            continue
        meant = meant_as(name, node, free, MAPS, LISTS)
        elsewhere = [other for other, names in FILES.items() if name in names]
        text, near = unknown("field", name, sections)
        if elsewhere:
            text, near, meant = f"{shown(name)} belongs in {' or '.join(elsewhere[::-1])}", "", ""
            found.lost.add(name)
        elif name in ("tree", "example"):
            text, near = forms.alone(name), ""
        elif meant:
            text, near = f"unknown field {shown(name)}; nearest: {shown(meant)}", meant
        found.problems.append(Problem.at(node.key_place(file), text, "field", near))
        if meant:
            free = [other for other in free if other != meant]
            yield meant, node
        elif not isinstance(node.value, str):
            found.lost.update(free)


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
            if as_name(id):
                section.setdefault(as_name(id), Written(as_name(id), file, child))
            else:
                found.lost.add(name)
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
    if key and not is_name(id):
        found.lost.add(section)
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
    if root is not None and isinstance(root.value, list) and root.value and isinstance(root.value[0].value, dict):
        text = f"the line {shown(section + ':')} is missing above the first {shown('- ' + key + ':')}"
        found.problems.append(Problem.at(Place(file, root.line, root.column), text, "field"))
        _list(found, section, root, file)
    elif root is None or not isinstance(root.value, dict):
        found.lost.add(section)
        if root is not None:
            _wrong(found, root, file, forms.file((key, section), root.plain()))
    else:
        _one_or_many(found, root, root.value, file, section, key)


def _one_or_many(found: Folder, root: Node, value: dict[str, Node], file: str, section: str, key: str) -> None:
    """The entry that a file of `trees/` or `examples/` is, or the list of them below the section's name."""
    several, one = value.get(section), value.get(key)
    if several is None and one is not None and not isinstance(one.value, str):
        text = f"{shown(key + ':')} is followed by one name; a list of them stands below {shown(section + ':')}"
        found.problems.append(Problem.at(one.key_place(file), text, "field"))
        found.lost.add(section)
        if isinstance(one.value, list):
            _list(found, section, one, file)
    elif several is not None and isinstance(several.value, str) and len(value) > 1:
        text = f"{shown(section + ':')} is the line above a list; the name of one stands behind {shown(key + ':')}"
        found.problems.append(Problem.at(several.key_place(file), text, "field"))
        root.value = {key if name == section else name: node for name, node in value.items()}
        _entry(found, section, key, root, file)
    elif several is not None:
        for name, node in value.items():
            if name == section:
                _list(found, section, node, file)
            else:
                text, near = unknown("field", name, (section,))
                found.problems.append(Problem.at(node.key_place(file), text, "field", near))
    else:
        meant = next((name for name, node in value.items() if nearest(name, (section,)) and _is_row(node)), "")
        if meant:
            text = f"unknown field {shown(meant)}; nearest: {shown(section)}"
            found.problems.append(Problem.at(value[meant].key_place(file), text, "field", section))
            _list(found, section, value[meant], file)
        else:
            _entry(found, section, key, root, file)


def _is_row(node: Node) -> bool:
    return isinstance(node.value, list)


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
