"""How the time for a machine grows with its size: vetting it, ranking it, and advice on one fact more."""

from __future__ import annotations

import random
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Final

from diag.case.case import Case
from diag.machine.load import read
from diag.machine.model import Machine, Role
from diag.measure import growth_machine
from diag.measure.measurement import Measurement, verdict
from diag.safety.types import Person
from diag.vet.run import vet_machine

SIZES: Final = (200, 600, 1500)
"""Causes: a large machine, and what a line of machines in one file would have."""
STEEPEST: Final = 8 / 7.5
"""Advice on a new fact may grow by at most this much more than the causes: 8 times the time at 7.5 times the causes."""
TIMED: Final = ("vet", "rank", "fact")
FACTS: Final = 6
"""Facts of one case: the fewest that most stops take."""
WHO: Final = Person("diag measure", Role.ELECTRICIAN)


@dataclass(frozen=True, slots=True)
class Grown:
    """What a machine of one size takes, in seconds of processor time."""

    causes: int
    vet: float
    rank: float
    """Reading the file, then the advice on the first fact."""
    fact: float
    """The median over the facts that follow."""


def measure(
    sizes: Sequence[int], cases: int, seed: int, done: Callable[[int], None] = lambda steps: None
) -> Measurement:
    """Machines of these sizes in rising order, written for the purpose, with so many cases in each.

    The target holds for the largest one: between near sizes the ratio says more of the computer than of the program.
    """
    found = []
    with tempfile.TemporaryDirectory() as folder:
        for causes in sizes:
            place = Path(folder) / f"causes-{causes}"
            place.mkdir()
            (place / "machine.yaml").write_text(growth_machine.machine(causes, seed), encoding="utf-8")
            found.append(_grown(place, cases, seed))
            done(1)
    first, last = found[0], found[-1]
    good = last.fact / first.fact <= STEEPEST * last.causes / first.causes
    figures: dict[str, float | int] = {}
    for g in found:
        figures |= {f"{what}_seconds_{g.causes}": getattr(g, what) for what in TIMED}
        if g is not first:
            figures |= {f"{what}_ratio_{g.causes}": getattr(g, what) / getattr(first, what) for what in TIMED}
    return Measurement("growth", good, figures, list(_lines(found, good)), {"cases": cases, "seed": seed})


def _grown(folder: Path, cases: int, seed: int) -> Grown:
    begin = time.process_time()
    vet_machine(folder)
    vetted = time.process_time()
    machine = read(folder, examples=False)
    case = Case.open(machine, WHO)
    facts = list(_facts(machine, seed))
    case.say(*facts[0], before=WHO.name)
    case.advice()
    ranked = time.process_time()
    taken = []
    for number in range(cases):
        case = Case.open(machine, WHO)
        for indication, state in _facts(machine, seed + number):
            start = time.process_time()
            case.say(indication, state, before=WHO.name)
            case.advice()
            taken.append(time.process_time() - start)
    return Grown(len(machine.causes), vetted - begin, ranked - vetted, median(taken))


def _facts(machine: Machine, seed: int) -> Iterator[tuple[str, str]]:
    """What one of the causes shows most, then what has nothing to do with it and is as it should be."""
    rng = random.Random(f"facts {seed}")
    shows = machine.causes[rng.choice(sorted(machine.causes))].shows
    told = [(id, max(row, key=row.__getitem__)) for id, row in shows.items() if id in machine.indications][:FACTS]
    others = [id for id in sorted(machine.indications) if id not in shows]
    yield from told
    for id in rng.sample(others, FACTS - len(told)):
        yield id, machine.indications[id].normal


def _lines(found: Sequence[Grown], good: bool) -> Iterator[str]:
    first = found[0]
    yield "seconds of processor time, and how many times those of the smallest machine"
    yield f"  {'causes':>8}{'vet':>18}{'rank, first fact':>20}{'one fact more':>20}"
    for g in found:
        cells = (
            f"{a:9.3f} ({a / b:5.1f})" for a, b in ((g.vet, first.vet), (g.rank, first.rank), (g.fact, first.fact))
        )
        yield f"  {g.causes:>8}" + "  ".join(f"{cell:>18}" for cell in cells)
    yield ""
    yield f"one fact more in the largest grows at most {STEEPEST:.2f} times as much as the causes: {verdict(good)}"
