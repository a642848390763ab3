"""The files of one machine's folder, read and sorted into sections. Names are not looked up here."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from diag.machine.language import forms
from diag.machine.language.fields.base_source import first_field, names
from diag.machine.language.fields.field_types import as_name, is_name, no_name
from diag.machine.language.fields.module_fields import CHAINS, UseSource
from diag.machine.language.fields.sections import FILES, FOLDERS, LISTS, MACHINE_FILE, MAPS, MODULE, Sections
from diag.machine.language.spellings import RENAMED, hint
from diag.machine.language.validate import Written
from diag.machine.names import nearest, unknown
from diag.machine.place import Place
from diag.machine.problem import Broken, Level, Problem, shown
from diag.machine.reader.compose import compose
from diag.machine.reader.file_text import read_text, reason, shown_path, unfinished
from diag.machine.repair.curly import lines_with_hard_spaces
from diag.machine.repair.layout import at_the_edge, meant_as
from diag.machine.span import Node

_SECTION: Final = names(Sections)
MOST_FILES: Final = 500
"""In one of these folders."""
_FIRST: Final = re.compile(r"^[^\w#\n]{0,8}([a-zA-Z-]{2,40})", re.MULTILINE)
_MAKERS: Final = {_SECTION.uses: {first_field(UseSource)}, _SECTION.chains: set(CHAINS)}
"""Sections that make entries of others, and words that tell of them."""
MOST_WORDS: Final = 1_000
"""Different words at the beginnings of lines that are compared with a heading."""


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
    """Sections that may be incomplete because a file could not be read; names of theirs are not reported as unknown."""
    unmade: set[str] = field(default_factory=set)
    """How names begin that a use or a chain would have made, had it not been wrong; they are not reported as
    unknown."""
    told: set[str] = field(default_factory=set)
    """Names that were reported as unknown where they are given to a module."""
    hard: set[tuple[str, int]] = field(default_factory=set)
    """Files and lines that hold a space that only looks like one; a word with it is another than the one that it looks
    like."""
    files: list[str] = field(default_factory=list)
    """In the order in which they were read; problems are reported in this order."""

    @property
    def writes_out(self) -> bool:
        """Whether it uses modules or has chains, which stand for entries of other sections."""
        return bool(self.lists[_SECTION.uses] or self.maps[_SECTION.chains])


def gather(folder: Path, examples: bool = True) -> Folder:
    """Reads every file of a machine's folder; without `examples` not those in the folder of that name. Never raises for
    what the files hold or are."""
    found = Folder()
    for name, sections in FILES.items():
        path = folder / name
        if os.path.lexists(path):
            _file(found, path, sections)
    for name, (section, key) in FOLDERS.items():
        if not examples and section == _SECTION.examples:
            continue
        for path in _yaml_files(found, folder / name):
            _entries(found, path, section, key)
    _strangers(found, folder)
    if found.lost & {_SECTION.chains, _SECTION.uses}:
        found.lost.update((*MAPS, *LISTS))
    return found


def gather_module(path: Path) -> Folder:
    """Reads the one file of a module into its sections. Never raises because of what the file holds or is."""
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
    found.problems.extend(unfinished(text, file))
    found.hard.update((file, line) for line in lines_with_hard_spaces(text))
    if node is None and not problems:
        found.problems.append(Problem(file, 1, 1, "error", "the file is empty", Broken.EMPTY))
    return file, node


def _file(found: Folder, path: Path, sections: tuple[str, ...]) -> None:
    file, root = _tree_of(found, path)
    if root is None or not isinstance(root.value, dict):
        found.lost.update(name for name in sections if _may_hold(path, name))
        if root is not None:
            _wrong(found, root, file, forms.file(sections, root.plain()))
        return
    root.value = dict(_headings(found, root.value, file, sections))
    if path.name == MACHINE_FILE or sections is MODULE:
        found.head = Written(path.parent.name, file, root)
    for name, node in root.value.items():
        if name in MAPS or name in LISTS:
            _section(found, name, node, file)


def _may_hold(path: Path, section: str) -> bool:
    """Whether a file that cannot be made out may have a section in it, by the words that its lines begin with. What
    has a file of its own stands in no second one, unless a line begins with its name; nor do modules or chains stand
    where no line tells of one."""
    text = read_text(path)
    if isinstance(text, Problem):
        return True
    homes = [name for name, held in FILES.items() if section in held and name != MACHINE_FILE]
    homes += [name for name, (held, _) in FOLDERS.items() if held == section]
    elsewhere = path.name == MACHINE_FILE and any((path.parent / home).exists() for home in homes)
    if section not in _MAKERS and not elsewhere:
        return True
    words = set(_FIRST.findall(text))
    tells = _MAKERS.get(section, set()) & words
    return not 0 < len(words) <= MOST_WORDS or bool(tells) or bool(nearest(section, words))


def _headings(
    found: Folder, written: dict[str, Node], file: str, sections: tuple[str, ...]
) -> Iterator[tuple[str, Node]]:
    """What stands in a file under its headings. A wrong heading is reported, and what stands below it is read as what
    it was meant as, so that nothing that merely follows from it is reported too; where that cannot be made out, names
    that it may hold are not reported as unknown."""
    free = [name for name in sections if name not in written]
    for name, node in written.items():
        if name in sections:
            yield name, node
            continue
        new = RENAMED.get(name)
        if new in sections:
            if new in written:
                text = f"{shown(name)} is the old name of {shown(new)}, which is written too; take one of them out"
                found.problems.append(Problem.at(node.key_place(file), text, Broken.TWICE))
            else:
                text = f"{shown(name)} {hint(name)}"
                found.problems.append(Problem.at(node.key_place(file), text, Broken.SPELLING, new, "info"))
                yield new, node
            continue
        section, text, whole = at_the_edge(name, node, sections)
        if section and name not in (*MAPS, *LISTS):
            found.problems.append(Problem.at(node.key_place(file), text, Broken.FIELD))
            if whole:
                _section(found, section, Node({name: node}, node.line, node.column), file)
            else:
                found.lost.update(sections)
            continue
        meant = meant_as(name, node, free, MAPS, LISTS)
        elsewhere = [other for other, names in FILES.items() if name in names]
        text, near = unknown("field", name, sections)
        if elsewhere:
            text, near, meant = f"{shown(name)} belongs in {' or '.join(elsewhere[::-1])}", "", ""
            found.lost.add(name)
        elif any(name == key for _, key in FOLDERS.values()):
            text, near = forms.alone(name), ""
        elif meant:
            text, near = f"unknown field {shown(name)}; nearest: {shown(meant)}", meant
        found.problems.append(Problem.at(node.key_place(file), text, Broken.FIELD, near))
        if meant:
            free = [other for other in free if other != meant]
            yield meant, node
        elif not isinstance(node.value, str):
            found.lost.update(free)


def _section(found: Folder, name: str, node: Node, file: str) -> None:
    """Takes in the entries that stand below a section's heading."""
    if isinstance(node.value, dict) and name in MAPS:
        for id, child in node.value.items():
            _named_entry(found, name, id, child, file)
    elif isinstance(node.value, list) and name in LISTS:
        key = next((key for section, key in FOLDERS.values() if section == name), "")
        for child in node.value:
            if isinstance(child.value, dict):
                _entry(found, name, key, child, file)
            else:
                _wrong(found, child, file, forms.section(name, child.plain()))
    elif node.value != "":
        found.lost.add(name)
        _wrong(found, node, file, forms.section(name, node.plain()))


def _named_entry(found: Folder, name: str, id: str, node: Node, file: str) -> None:
    section = found.maps[name]
    if name != _SECTION.face and not is_name(id):
        text = f"{shown(id)} {no_name(id)}"
        found.problems.append(Problem.at(node.key_place(file), text, Broken.NAME))
        if as_name(id):
            section.setdefault(as_name(id), Written(as_name(id), file, node))
        else:
            found.lost.add(name)
    elif id in section:
        _twice(found, id, node.key_place(file), section[id].key_place())
    else:
        section[id] = Written(id, file, node)


def _twice(found: Folder, id: str, place: Place, first: Place) -> None:
    text = f"{shown(id)} is written twice; first in {first.file}, line {first.line}"
    found.problems.append(Problem.at(place, text, Broken.TWICE))


def _entry(found: Folder, section: str, key: str, node: Node, file: str) -> None:
    value = node.value
    assert isinstance(value, dict)
    named = value.get(key)
    id = named.value if named is not None and isinstance(named.value, str) else ""
    if key and not is_name(id):
        found.lost.add(section)
    twice = found.named.get((section, id)) if id else None
    if twice is not None and named is not None:
        _twice(found, id, named.place(file), twice.place(key))
    else:
        written = Written(id, file, node)
        found.lists[section].append(written)
        found.named[section, id] = written


def _entries(found: Folder, path: Path, section: str, key: str) -> None:
    """One file of `trees/` or `examples/`."""
    file, root = _tree_of(found, path)
    if root is not None and isinstance(root.value, list) and root.value and isinstance(root.value[0].value, dict):
        text = f"the line {shown(section + ':')} is missing above the first {shown('- ' + key + ':')}"
        found.problems.append(Problem.at(Place(file, root.line, root.column), text, Broken.FIELD))
        _section(found, section, root, file)
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
        found.problems.append(Problem.at(one.key_place(file), text, Broken.FIELD))
        found.lost.add(section)
        if isinstance(one.value, list):
            _section(found, section, one, file)
    elif several is not None and isinstance(several.value, str) and len(value) > 1:
        text = f"{shown(section + ':')} is the line above a list; the name of one stands behind {shown(key + ':')}"
        found.problems.append(Problem.at(several.key_place(file), text, Broken.FIELD))
        root.value = {key if name == section else name: node for name, node in value.items()}
        _entry(found, section, key, root, file)
    elif several is not None:
        for name, node in value.items():
            if name == section:
                _section(found, section, node, file)
            else:
                text, near = unknown("field", name, (section,))
                found.problems.append(Problem.at(node.key_place(file), text, Broken.FIELD, near))
    else:
        meant = next(
            (name for name, node in value.items() if type(node.value) is list and nearest(name, (section,))), ""
        )
        if meant:
            text = f"unknown field {shown(meant)}; nearest: {shown(section)}"
            found.problems.append(Problem.at(value[meant].key_place(file), text, Broken.FIELD, section))
            _section(found, section, value[meant], file)
        else:
            _entry(found, section, key, root, file)


def _yaml_files(found: Folder, folder: Path) -> list[Path]:
    if not os.path.lexists(folder):
        return []
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix == ".yaml")
    except OSError as error:
        _odd(found, folder, f"cannot be read: {reason(error)}", Broken.FILE)
        return []
    if len(paths) > MOST_FILES:
        _odd(found, folder, f"{len(paths)} files; {MOST_FILES} at most", Broken.SIZE)
    return paths[:MOST_FILES]


def _strangers(found: Folder, folder: Path) -> None:
    """Files and folders that look like the machine's own, and are not read because of their name."""
    try:
        paths = sorted(folder.iterdir())
    except OSError:
        return
    for path in paths:
        if path.name in (*FILES, *FOLDERS) or path.name.startswith("."):
            continue
        yaml_like = path.name.endswith((".yaml", ".yml"))
        near = _near(path.name, FILES) if yaml_like else _near(path.name, FOLDERS) if path.is_dir() else ""
        if yaml_like or near:
            text = "is not read; no file or folder of a machine has this name"
            _odd(found, path, f"{text}; nearest: {shown(near)}" if near else text, Broken.STRAY, near, "warning")


def _odd(found: Folder, path: Path, text: str, rule: str, hint: str = "", level: Level = "error") -> None:
    """Reports what is wrong with a file or a folder as a whole."""
    file = shown_path(path)
    found.files.append(file)
    found.problems.append(Problem(file, 1, 1, level, text, rule, hint))


def _near(name: str, right: Iterable[str]) -> str:
    """The right name that is like this one apart from the ending."""
    stems = {known.partition(".")[0]: known for known in right}
    return stems.get(nearest(name.partition(".")[0], stems), "")


def _wrong(found: Folder, node: Node, file: str, text: str) -> None:
    found.problems.append(Problem.at(Place(file, node.line, node.column), text, Broken.KIND))
