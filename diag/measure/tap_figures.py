"""How often a flash pattern is told right from simulated taps, beside its target."""

from __future__ import annotations

from collections.abc import Callable

from diag.measure import tap_trials as trials
from diag.measure.measurement import Measurement, verdict
from diag.panel.lamps.taps import NEEDED

TRIALS = len(trials.WITHOUT_FLICKER)
"""Steps of progress for each run: one for each pattern."""


def measure(runs: int, seed: int, *, hold: bool, done: Callable[[int], None] = lambda trials: None) -> Measurement:
    """So many runs of each pattern; with `hold` a key is held while the lamp is lit, else tapped as it lights."""
    table = trials.confusion(trials=runs, seed=seed, hold=hold, done=done)
    good = table.rate >= trials.TARGET
    style = "holding a key while the lamp is lit" if hold else "tapping each time the lamp lights"
    lines = [
        f"{runs} runs of each pattern, seed {seed}: {style},",
        f"{NEEDED} periods, jitter {trials.JITTER:g} ms, {trials.MISSED:.0%} missed, {trials.DOUBLED:.0%} doubled",
        "rows: what the lamp did; columns: what it was taken for, in percent",
        "",
        *table.lines(),
        "",
        f"told right {table.rate:.2%}, target {trials.TARGET:.0%}: {verdict(good)}",
    ]
    details = {
        "style": "hold" if hold else "tap",
        "runs": runs,
        "seed": seed,
        "periods": NEEDED,
        "jitter_ms": trials.JITTER,
        "missed": trials.MISSED,
        "doubled": trials.DOUBLED,
        "rate": table.rate,
        "target": trials.TARGET,
        "patterns": list(table.names),
        "counts": [list(row) for row in table.counts],
    }
    return Measurement("taps", good, {"told_right": table.rate, "target": trials.TARGET}, lines, details)
