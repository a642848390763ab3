"""Machines by name or by path, as arguments give them."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from diag.cli.errors import WrongUsage

if TYPE_CHECKING:
    from diag.machine.find import Folders
    from diag.machine.model import Example, Machine

HEAD = "machine.yaml"


def folder(knowledge: Folders, name: str) -> Path:
    """The folder of a machine, by name or by path. Raises `WrongUsage`, with the nearest names."""
    from diag.machine.find import NoSuchMachine, find

    try:
        return find(name, knowledge)
    except NoSuchMachine as error:
        raise WrongUsage(f"{error}{_away(knowledge)}") from None


def asset_of(folder: Path, name: str) -> str:
    """The asset of that name as the machine's file spells it, found without reading the machine whole. Raises
    `WrongUsage` with the nearest name."""
    from diag.machine.assets import no_asset, spelled
    from diag.machine.find import listed_in

    found = spelled(assets := listed_in(folder).assets, name)
    if found not in assets:
        raise WrongUsage(no_asset(folder.name, name, assets))
    return found


def of_record(knowledge: Folders, recorded: str) -> Machine:
    """The machine that the record knows by that name, read without its examples. Raises `WrongUsage` and
    `diag.machine.load.NotAMachine`."""
    from diag.machine.assets import parted
    from diag.machine.load import read

    id, asset = parted(recorded)
    return read(folder(knowledge, id), examples=False).as_recorded(asset)


def _away(knowledge: Folders) -> str:
    """Names the folders that are not there, as one on another computer may be: their machines cannot be found."""
    folders = (knowledge,) if isinstance(knowledge, Path) else knowledge
    gone = [str(folder) for folder in folders if not folder.is_dir()]
    return f"; not there: the folder {' and the folder '.join(gone)}" if gone else ""


def folders(knowledge: Folders, paths: Iterable[str]) -> tuple[tuple[Path, Path | None], ...]:
    """For each path the machine's folder, and the file in it that was meant, or None for all of it.

    A path is a machine by name, its folder, or a file in it. Without paths: every machine. Raises `WrongUsage`."""
    from diag.machine.find import listing, places

    wanted = tuple(paths)
    if wanted:
        return tuple(_folder(knowledge, path) for path in wanted)
    known = listing(knowledge)
    if not known:
        raise WrongUsage(f"there are no machines in {places(knowledge)} (a machine is a folder with a {HEAD})")
    return tuple((machine.folder, None) for machine in known)


def _folder(knowledge: Folders, word: str) -> tuple[Path, Path | None]:
    from diag.machine.find import MODULES

    path = Path(word)
    if path.is_file():
        for parent in path.absolute().parents[:3]:
            if (parent / HEAD).exists():
                return parent, path
        module = "; a module is looked at through a machine that uses it" if path.parent.name == MODULES else ""
        raise WrongUsage(f"{word} belongs to no machine: no {HEAD} beside it or above it{module}")
    if not path.exists() and (path.suffix in (".yaml", ".yml") or len(path.parts) > 1):
        raise WrongUsage(no_file(path))
    return folder(knowledge, word), None


def no_file(path: Path) -> str:
    """What to say of a path that is not there: from where on, and what is like it."""
    from diag.machine.names import nearest
    from diag.machine.problem import shown

    there = next(parent for parent in path.parents if parent.is_dir() or parent == parent.parent)
    missing = path.relative_to(there).parts[0]
    beside: list[str] = []
    with contextlib.suppress(OSError):  # a folder that may not be looked into
        beside = [found.name for found in there.iterdir()]
    near = nearest(missing, beside)
    text = f"no file or folder {shown(str(path))}: no {shown(missing)} {'here' if there == Path() else f'in {there}'}"
    return f"{text}; nearest: {shown(near)}" if near else text


def with_examples(knowledge: Folders, paths: Iterable[str]) -> tuple[tuple[Machine, tuple[Example, ...]], ...]:
    """Machines with the examples that the paths mean: all of a machine's, or those of one file.

    Raises `WrongUsage`, and `diag.machine.load.NotAMachine` for files with errors."""
    from diag.machine.load import read

    found = []
    for where, file in folders(knowledge, paths):
        machine = read(where)
        meant = [e for e in machine.examples if file is None or (e.place and same_file(e.place.file, file))]
        if file is not None and not meant:
            raise WrongUsage(f"{file} holds no example")
        found.append((machine, tuple(meant)))
    return tuple(found)


def same_file(named: str, file: Path) -> bool:
    """Whether a problem or a place names this file."""
    return Path(named).resolve() == file.resolve()
