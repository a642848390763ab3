"""Two things measured by turns, so that a busy machine slows both: medians, and the ratio that outlasts the machine."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median, quantiles

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT)]

Measure = Callable[[], float]


@dataclass(frozen=True)
class Pair:
    """What is measured, and the peer that it is measured against."""

    name: str
    ours: Measure
    peer_name: str
    peer: Measure
    unit: str = "s"
    limit: float | None = None
    """What the project promises, in the same unit."""
    limit_of_ratio: bool = False
    """The promise is one of the ratio."""


def arguments(doc: str | None, runs: int, machine: Path | None = None) -> argparse.Namespace:
    """`--runs N` for a benchmark whose docstring is its help; with a `machine` also `--machine FOLDER`."""
    parser = argparse.ArgumentParser(description=doc, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=runs, help="how often each is measured (default: %(default)s)")
    if machine is not None:
        parser.add_argument("--machine", type=Path, default=machine, help="the folder of a machine")
    return parser.parse_args()


def report(pairs: Sequence[Pair], runs: int) -> None:
    """Measure each pair `runs` times by turns and print a line for each."""
    for pair in pairs:
        pair.ours(), pair.peer()  # once for the disk's sake
        taken = [(pair.ours(), pair.peer()) for _ in range(runs)]
        ours, peers = (sorted(column) for column in zip(*taken, strict=True))
        ratio = median(a / b for a, b in taken)
        unit = "" if pair.limit_of_ratio else f" {pair.unit}"
        limit = f", promised {pair.limit:g}{unit}" if pair.limit is not None else ""
        first, second = ("", limit) if pair.limit_of_ratio else (limit, "")
        print(f"{pair.name}: {_said(ours, pair.unit)}{first}")
        print(f"    peer, {pair.peer_name}: {_said(peers, pair.unit)}; ratio {ratio:.2f}{second}; {runs} runs each")


def _said(values: Sequence[float], unit: str) -> str:
    middle = median(values)
    digits = 3 if unit == "s" else 1
    if len(values) < 4:
        return f"{middle:.{digits}f} {unit}"
    low, _, high = quantiles(values, n=4)
    return f"median {middle:.{digits}f} {unit} (quartiles {low:.{digits}f} to {high:.{digits}f})"
