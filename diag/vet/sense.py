"""The table of rules that look at sense, and the run over one machine or several."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from diag.machine.find import listing
from diag.machine.gather import Folder
from diag.machine.load import in_order, load
from diag.machine.place import Place
from diag.machine.problem import Problem
from diag.vet import cases, causes, checks, dangers, kinds, panel, paths, people, remedies, site, texts, trees
from diag.vet.table import Finding, Rule, Vetted, some

RULES: Final = (
    site.no_points,
    site.unzoned,
    site.too_entangled,
    site.changed_since_approval,
    people.nobody_to_call,
    people.hidden_danger,
    people.operator_inside,
    dangers.beyond_danger,
    panel.unused,
    panel.no_source,
    panel.over_hundred,
    panel.not_found,
    panel.measured_by_nobody,
    panel.inside_look,
    kinds.no_glyph,
    kinds.two_meanings,
    kinds.coil,
    kinds.no_supply,
    causes.unfindable,
    causes.ambiguous,
    causes.unshown_state,
    causes.unconcluded,
    remedies.no_remedy,
    remedies.no_proof,
    remedies.proof_holds_anyway,
    remedies.live_remedy,
    remedies.live_proof,
    remedies.proof_without_power,
    remedies.unused_remedy,
    checks.idle_check,
    checks.bare_check,
    checks.needless_live,
    checks.wrong_energy,
    checks.live_hands,
    texts.physical,
    trees.loop,
    trees.unreached_tree,
    trees.no_branch,
    trees.dead_branch,
    trees.dead_end,
    paths.too_many_ways,
    paths.asked_again,
    paths.contradicted,
    paths.lockout_again,
    cases.example_fails,
    cases.no_example,
)
"""What is looked at when a machine's files could be read whole."""


def vet(paths: Iterable[Path]) -> tuple[Problem, ...]:
    """All problems of the machines at these paths: what the loader finds, then what makes no sense.

    A path is a machine's folder, a folder of machines, or a file of a machine (its own problems alone are told).
    Sense is looked at only where the loader finds no error, but for what one file alone can tell. Never raises for what
    stands in the files.
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
        return tuple(in_order([*loaded.problems, *_of_one_file(loaded.written)], loaded.written))
    vetted = Vetted(loaded.machine, loaded.written)
    made = [
        Problem.at(finding.place, finding.text, rule.name, level=rule.level)
        for rule in RULES
        if rule.find is not None
        for finding in _folded(rule, rule.find(vetted))
    ]
    return tuple(in_order([*loaded.problems, *made], loaded.written))


def _of_one_file(written: Folder) -> Iterator[Problem]:
    """What can be told of a file by itself, while others still have errors: who writes the panel is not to wait with
    the sources of its limits until the last file is whole."""
    rule = panel.no_source
    for finding in panel.without_source(written):
        yield Problem.at(finding.place, finding.text, rule.name, level=rule.level)


def _folded(rule: Rule, findings: Iterable[Finding]) -> Iterator[Finding]:
    """The findings, those infos in one that come out of one use of a module.

    Who uses a module cannot clear them, and who wrote it left them in for another machine: one line says that they are
    there, and that they may stay."""
    uses: dict[tuple[str, Place], list[Finding]] = {}
    for finding in findings:
        if rule.level != "info" or finding.place.used is None:
            yield finding
        else:
            uses.setdefault((finding.place.file, finding.place.used), []).append(finding)
    for first, *others in uses.values():
        same = f"; the same of {some([_subject(other) for other in others])}" if others else ""
        yield Finding(first.place, f"{first.text}{same}; of a module, it may stay")


def _subject(finding: Finding) -> str:
    """The name of a finding's entry: the first that its text has in quotes."""
    return next(iter(re.findall(r"'[^']+'", finding.text)), "others")


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
