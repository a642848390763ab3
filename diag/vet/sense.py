"""The table of rules that look at sense, and the run over one machine or several."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Final

from diag.machine.find import listing
from diag.machine.load import in_order, load
from diag.machine.problem import Problem
from diag.vet import actions, causes, trees
from diag.vet.table import Rule, Vetted

RULES: Final = (
    Rule("unfindable", "error", causes.unseen),
    Rule("no-remedy", "warning", causes.no_remedy),
    Rule("no-proof", "warning", causes.no_proof),
    Rule("twins", "warning", causes.twins),
    Rule("unused-remedy", "warning", causes.unused_remedy),
    Rule("operator-inside", "error", causes.operator_inside),
    Rule("no-example", "info", causes.no_example),
    Rule("idle-check", "warning", actions.idle_check),
    Rule("unused", "warning", actions.unused),
    Rule("no-source", "error", actions.no_source),
    Rule("bare-check", "warning", actions.bare_check),
    Rule("hidden-danger", "error", actions.hidden_danger),
    Rule("not-found", "warning", actions.not_found),
    Rule("measured-by-nobody", "error", actions.measured_by_nobody),
    Rule("inside-look", "warning", actions.inside_look),
    Rule("physical", "warning", actions.physical),
    Rule("physical", "warning", trees.physical),
    Rule("no-glyph", "warning", actions.no_glyph),
    Rule("two-meanings", "warning", actions.two_meanings),
    Rule("coil", "error", actions.coil),
    Rule("no-supply", "warning", actions.no_supply),
    Rule("nobody-to-call", "warning", actions.nobody_to_call),
    Rule("tree-loop", "error", trees.loop),
    Rule("unreached-tree", "warning", trees.unreached_tree),
    Rule("no-branch", "warning", trees.no_branch),
    Rule("dead-branch", "warning", trees.dead_branch),
)


def vet(paths: Iterable[Path]) -> tuple[Problem, ...]:
    """All problems of the machines at these paths: what the loader finds, then what makes no sense.

    A path is a machine's folder, a folder of machines, or a file of a machine (its own problems alone are told).
    Sense is looked at only where the loader finds no error. Never raises for what stands in the files.
    """
    found: dict[Problem, None] = {}
    for path in paths:
        for folder, only in _machines(path):
            for problem in vet_machine(folder):
                if only is None or Path(problem.file).resolve() == only.resolve():
                    found[problem] = None
    return tuple(found)


def vet_machine(folder: Path) -> tuple[Problem, ...]:
    """The problems of one machine, in the order of its files and lines."""
    loaded = load(folder)
    if loaded.machine is None:
        return loaded.problems
    vetted = Vetted(loaded.machine, loaded.written)
    made = [
        Problem.at(finding.place, finding.text, rule.name, level=rule.level)
        for rule in RULES
        for finding in rule.find(vetted)
    ]
    return tuple(in_order([*loaded.problems, *made], loaded.written))


def _machines(path: Path) -> list[tuple[Path, Path | None]]:
    """The machines' folders that a path means, each with the one file that is meant, or None for all of it."""
    if path.is_dir() and not (path / "machine.yaml").exists():
        machines = listing(path)
        if machines:
            return [(machine.folder, None) for machine in machines]
    if path.is_file():
        for parent in (path.parent, path.parent.parent):
            if (parent / "machine.yaml").exists():
                return [(parent, path)]
    return [(path, None)]
