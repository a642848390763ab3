"""A machine's folder read, checked and resolved: `load` tells every problem in one run, `read` raises the first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

from diag.machine.approval.approval import Approval
from diag.machine.approval.digest import digest
from diag.machine.language.fields.field_types import SHORT
from diag.machine.model import Machine
from diag.machine.problem import Broken, Problem
from diag.machine.reader.compose import compose
from diag.machine.reader.file_text import read_text, reason, shown_path
from diag.machine.reader.gather import Folder, gather
from diag.machine.repair.curly import with_spaces_told
from diag.machine.resolve.resolve import resolve
from diag.machine.resolve.resolve_approval import resolve_approval
from diag.machine.resolve.scope import Scope
from diag.text import one_line


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
    """Reads a machine's folder (or the folder of the `machine.yaml` given). Never raises because of what it finds
    there. Pass `examples=False` to work with the machine where a broken example should stop nobody."""
    if folder.name == "machine.yaml" and not folder.is_dir():
        folder = folder.parent
    text = _not_a_machine(folder)
    if text:
        return Loaded(None, (Problem(shown_path(folder), 1, 1, "error", text, Broken.MACHINE),))
    found = _gathered(folder, examples)
    machine, scope = resolve(found, folder.absolute().name)
    slips = {(problem.file, problem.line) for problem in found.problems if problem.rule == Broken.YAML}
    told = {
        with_spaces_told(problem) if (problem.file, problem.line) in found.hard else problem
        for problem in (*found.problems, *scope.problems)
        if problem.rule == Broken.YAML or (problem.file, problem.line) not in slips
    }
    problems = in_order(told, found)
    sound = all(problem.level != "error" for problem in problems)
    return Loaded(machine if sound else None, tuple(problems), found)


def approval_of(folder: Path) -> Approval:
    """How far the machine of a folder may be trusted, without looking at what its entries say. A draft where that
    cannot be reported. Never raises because of what it finds there."""
    if _not_a_machine(folder):
        return Approval()
    found = _gathered(folder, examples=False)
    if any(problem.level == "error" for problem in found.problems):
        return Approval()  # what was meant may be what was approved, and is no machine until it is written so
    return resolve_approval(Scope(found))


def _gathered(folder: Path, examples: bool) -> Folder:
    """The files of a folder, their modules and chains written out."""
    found = gather(folder, examples)
    if found.writes_out:
        # Most machines have none; a machine without them need not load this.
        from diag.machine.expand.modules import expand

        expand(found, folder)
    return found


def head_problem(folder: Path) -> str:
    """Why nothing can be done with a machine whose machine.yaml is not even YAML as it should be; empty where it is.
    Its other files are not looked at."""
    text = read_text(folder / "machine.yaml")
    problems = [text] if isinstance(text, Problem) else compose(text, "machine.yaml")[1]
    first = next((problem for problem in problems if problem.level == "error"), None)
    if first is None:
        return ""
    return f"its machine.yaml cannot be used: line {first.line}: {one_line(first.text)}"


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
        return replace(loaded.machine, files=loaded.machine.approval.now or digest(loaded.written))
    errors = [problem for problem in loaded.problems if problem.level == "error"]
    if not errors:
        raise NotAMachine(f"{one_line(shown_path(folder))} holds no machine")
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
        return f"cannot be read: {reason(error)}"
    return ""
