"""What became of faulty machine files: problems found, machines that could still be read, and promises broken."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from diag.measure import faulty_files
from diag.measure.measurement import Measurement, listed, stopped_early


def measure(
    folder: Path | None, named: str | None, count: int, seed: int, done: Callable[[int], None] = lambda inputs: None
) -> Measurement:
    """The files of a machine (of the sample where `folder` is None), mutated so many times. Good when no promise was
    broken. Raises OSError for a folder that cannot be read."""
    report = faulty_files.run(folder, count, seed, done=done)
    lines = [
        f"{report.tried:,} faulty files, seed {seed}: {report.problems:,} problems "
        f"under {len(report.rules)} rules, {len(report.wrong):,} wrong",
        f"  {report.machines:,} could still be read as a machine, and were vetted for sense",
        f"  the slowest took {report.slowest:.2f} s",
        *listed(report.wrong, "WRONG "),
        *stopped_early(report.tried, count),
    ]
    figures = {
        "tried": report.tried,
        "problems": report.problems,
        "rules_broken": len(report.rules),
        "readable": report.machines,
        "slowest_seconds": report.slowest,
        "wrong": len(report.wrong),
    }
    details = {
        "machine": named,
        "count": count,
        "seed": seed,
        "tried": report.tried,
        "machines": report.machines,
        "problems": report.problems,
        "rules": dict(report.rules.most_common()),
        "slowest_seconds": report.slowest,
        "wrong": report.wrong,
    }
    return Measurement("files", not report.wrong, figures, lines, details)
