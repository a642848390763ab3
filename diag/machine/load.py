"""A machine's folder read, checked and resolved.

`load(folder)` tells every problem of every file in one run; `read(folder)` gives the machine or raises.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from diag.machine.curly import with_spaces_told
from diag.machine.gather import Folder, gather
from diag.machine.model import Machine
from diag.machine.problem import Problem, clean
from diag.machine.resolve import resolve
from diag.machine.resolve_standing import resolve_standing
from diag.machine.scope import Scope
from diag.machine.standing import Standing
from diag.machine.text import shown_path
from diag.machine.words import SHORT


class NotAMachine(ValueError):
    """A folder that holds no machine, or one with errors. The message is one line."""


@dataclass(frozen=True, slots=True)
class Loaded:
    """What a folder holds."""

    machine: Machine | None
    """None when a problem is an error."""
    problems: tuple[Problem, ...]
    """In the order of the files, and of the lines in each."""
    written: Folder = field(default_factory=Folder, repr=False, compare=False)
    """The files as trees of words with their places."""


def load(folder: Path, examples: bool = True) -> Loaded:
    """Reads a machine's folder (or the folder of the `machine.yaml` given). Never raises for what it finds there.

    Who only works with the machine needs no `examples`, and is not kept from it by a broken one."""
    if folder.name == "machine.yaml" and not folder.is_dir():
        folder = folder.parent
    text = _not_a_machine(folder)
    if text:
        return Loaded(None, (Problem(shown_path(folder), 1, 1, "error", text, "machine"),))
    found = gather(folder, examples)
    if found.lists["uses"] or found.maps["chains"]:
        # Most machines have none; a machine without them need not load this.
        from diag.machine.modules import expand

        expand(found, folder)
    machine, scope = resolve(found, folder.absolute().name)
    slips = {(problem.file, problem.line) for problem in found.problems if problem.rule == "yaml"}
    told = {
        with_spaces_told(problem) if (problem.file, problem.line) in found.hard else problem
        for problem in (*found.problems, *scope.problems)
        if problem.rule == "yaml" or (problem.file, problem.line) not in slips
    }
    problems = in_order(told, found)
    sound = all(problem.level != "error" for problem in problems)
    return Loaded(machine if sound else None, tuple(problems), found)


def standing(folder: Path) -> Standing:
    """How far the machine of a folder may be trusted, without looking at what its entries say. A draft where that
    cannot be told. Never raises for what it finds there."""
    if _not_a_machine(folder):
        return Standing()
    found = gather(folder, examples=False)
    if found.lists["uses"] or found.maps["chains"]:
        from diag.machine.modules import expand

        expand(found, folder)
    if any(problem.level == "error" for problem in found.problems):
        return Standing()  # what was meant may be what was approved, and is no machine until it is written so
    return resolve_standing(Scope(), found)


def in_order(problems: Iterable[Problem], written: Folder) -> list[Problem]:
    """In the order in which the files were read, then by line and column."""
    order = {file: i for i, file in enumerate(written.files)}
    return sorted(
        problems, key=lambda problem: (order.get(problem.file, len(order)), problem.line, problem.column, problem.text)
    )


def read(folder: Path, examples: bool = True) -> Machine:
    """The machine of a folder. Raises NotAMachine with the first error in its message."""
    loaded = load(folder, examples)
    if loaded.machine is not None:
        return loaded.machine
    errors = [problem for problem in loaded.problems if problem.level == "error"]
    if not errors:
        raise NotAMachine(f"{clean(shown_path(folder))} holds no machine")
    more = f" (and {len(errors) - 1} more; see diag vet)" if len(errors) > 1 else ""
    raise NotAMachine(f"{errors[0]}{more}")


def _not_a_machine(folder: Path) -> str:
    """Why the folder cannot be a machine; empty when it can."""
    try:
        if not folder.exists():
            return "no such folder"
        if not folder.is_dir():
            return "a file; a machine is a folder that holds a machine.yaml"
        if not (folder / "machine.yaml").is_symlink() and not (folder / "machine.yaml").exists():
            return "no machine.yaml in it; a machine is a folder that holds one"
        if len(folder.absolute().name) > SHORT:
            return f"its name is longer than {SHORT} characters; a case could not record it"
    except OSError as error:
        return f"cannot be read: {(error.strerror or 'the system refused it').lower()}"
    return ""
