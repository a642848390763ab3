"""The run over one machine: what keeps its files from being read, then what makes no sense in them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from diag.machine.load import in_order, load
from diag.machine.place import Place
from diag.machine.problem import Problem
from diag.vet.rules import panel_rules
from diag.vet.rules.catalogue import SENSE
from diag.vet.vetted.rule import Finding, Rule, Vetted, some


def vet_machine(folder: Path, only: Path | None = None) -> tuple[Problem, ...]:
    """The problems of the machine in a folder, in the order of its files and lines; with `only` those of that file.

    Sense is looked at only where the loader finds no error, except for what a single file can tell. Never raises for
    anything that stands in the files.
    """
    loaded = load(folder)
    if loaded.machine is None:
        # This can be told of a file by itself: the author of the panel need not wait until the last file is whole.
        made = [_problem(panel_rules.no_source, found) for found in panel_rules.without_source(loaded.written)]
    else:
        vetted = Vetted(loaded.machine, loaded.written)
        made = [problem for rule in SENSE for problem in _told(rule, vetted)]
    problems = in_order([*loaded.problems, *made], loaded.written)
    return tuple(p for p in problems if only is None or Path(p.file).resolve() == only.resolve())


def _told(rule: Rule, vetted: Vetted) -> Iterator[Problem]:
    """What a rule has to say. One that needs figures has nothing to say of a machine that is too entangled for them:
    that is an error of its own."""
    from diag.reason.table.compile import CannotCompile

    with suppress(CannotCompile):
        for finding in _once_for_each_use(rule, rule.find(vetted)):
            yield _problem(rule, finding)


def _problem(rule: Rule, finding: Finding) -> Problem:
    return Problem.at(finding.place, finding.text, rule.name, level=rule.level)


def _once_for_each_use(rule: Rule, findings: Iterable[Finding]) -> Iterator[Finding]:
    """The findings, with the infos that come out of one use of a module joined into one.

    The user of a module cannot clear them, and its author left them in for another machine: one line says that they
    are there, and that they may stay."""
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
