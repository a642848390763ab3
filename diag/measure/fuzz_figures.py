"""What became of hostile text: taken, refused, or misread."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict

from diag.measure import panel_fuzz
from diag.measure.measurement import Measurement, listed, stopped_early


def measure(count: int, seed: int, done: Callable[[int], None] = lambda inputs: None) -> Measurement:
    """Good when no input was misread and none failed."""
    report = panel_fuzz.run(count, seed, done=done)
    lines = [
        f"{report.tried:,} inputs, seed {seed}: {report.taken:,} taken, {report.refused:,} refused, "
        f"{len(report.wrong):,} wrong",
        *listed(report.wrong),
        *stopped_early(report.tried, count),
    ]
    figures = {
        "tried": report.tried,
        "taken": report.taken,
        "refused": report.refused,
        "wrong": len(report.wrong),
    }
    return Measurement("fuzz", not report.wrong, figures, lines, {"count": count, "seed": seed, **asdict(report)})
