"""Machines by name or by path: which there are, and reading one."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diag.cli.errors import WrongUsage, unknown

if TYPE_CHECKING:
    from diag.machine.model import Example, Machine

HEAD = "machine.yaml"


def names(knowledge: Path) -> tuple[str, ...]:
    """The machines of a folder: its folders that hold a `machine.yaml`."""
    return tuple(sorted(path.parent.name for path in knowledge.glob(f"*/{HEAD}")))


def folder(knowledge: Path, name: str) -> Path:
    """The folder of a machine. Raises `WrongUsage`, with the nearest names, when there is none of that name."""
    known = names(knowledge)
    if not known:
        raise WrongUsage(f"no machines in {knowledge} (a machine is a folder with a {HEAD})")
    if name not in known:
        raise unknown("machine", name, known)
    return knowledge / name


def folders(knowledge: Path, paths: Iterable[str]) -> tuple[tuple[Path, Path | None], ...]:
    """For each path the machine's folder, and the file in it that was meant, or None for all of it.

    A path is a machine by name, its folder, or a file in it. Without paths: every machine. Raises `WrongUsage`."""
    wanted = tuple(paths)
    if not wanted:
        known = names(knowledge)
        if not known:
            folder(knowledge, "")
        return tuple((knowledge / name, None) for name in known)
    return tuple(_folder(knowledge, path) for path in wanted)


def _folder(knowledge: Path, word: str) -> tuple[Path, Path | None]:
    path = Path(word)
    if word in names(knowledge):
        return knowledge / word, None
    if (path / HEAD).exists():
        return path, None
    if path.is_dir():
        raise WrongUsage(f"{word} is no machine: it holds no {HEAD}")
    for parent in path.parents[:3] if path.exists() else ():
        if (parent / HEAD).exists():
            return parent, path
    if path.exists():
        raise WrongUsage(f"{word} belongs to no machine: no {HEAD} beside it or above it")
    if len(path.parts) > 1:
        raise WrongUsage(f"{word}: no such file or folder")
    return folder(knowledge, word), None


def read(where: Path) -> Machine:
    """The machine of a folder. Raises `click.ClickException` with the first problem when its files have errors."""
    from diag.machine.load import NotAMachine, load

    try:
        loaded = load(where)
    except NotAMachine as error:
        raise click.ClickException(str(error)) from None
    if loaded.machine is None:
        errors = [p for p in loaded.problems if p.level == "error"]
        more = f" and {len(errors) - 1} more" if errors[1:] else ""
        raise click.ClickException(f"{errors[0]}{more}; `diag vet {where.name}` lists what is wrong")
    return loaded.machine


def with_examples(knowledge: Path, paths: Iterable[str]) -> tuple[tuple[Machine, tuple[Example, ...]], ...]:
    """Machines with the examples that the paths mean: all of a machine's, or those of one file."""
    found = []
    for where, file in folders(knowledge, paths):
        machine = read(where)
        meant = [
            example
            for example in machine.examples
            if file is None or (example.place and same_file(example.place.file, file))
        ]
        if file is not None and not meant:
            raise WrongUsage(f"{file} holds no example")
        found.append((machine, tuple(meant)))
    return tuple(found)


def same_file(named: str, file: Path) -> bool:
    """Whether a problem or a place names this file."""
    return Path(named).resolve() == file.resolve()
