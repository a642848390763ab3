"""How far the advice is from the best that could be done, beside its targets."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

from diag.measure import advice_trials as trials
from diag.measure.advice_trials import Trial
from diag.measure.measurement import Measurement, verdict

TARGETS: Final = {
    False: {"rollout": (0.03, 0.10), "dynamic programming": (0.005, 0.03)},
    True: {"rollout": (0.05, 0.20), "dynamic programming": (0.005, 0.03)},
}
"""Mean and worst share above the best, without and with shared set-ups."""

Summary = dict[str, dict[str, float]]
"""For each way of choosing: mean, 95th in a hundred, and worst share above the best."""


def measure(models: int, first: int, done: Callable[[int], None] = lambda models: None) -> Measurement:
    """So many random models without set-ups and as many with them; `first` is the number of the first model."""
    summaries: dict[bool, Summary] = {}
    for setups in TARGETS:
        made: list[Trial] = []
        for trial in trials.trials(models, setups=setups, first=first):
            made.append(trial)
            done(1)
        summaries[setups] = {way: _summary(made, way) for way in trials.WAYS}
    good = all(
        _meets(summaries[setups][way], target) for setups, targets in TARGETS.items() for way, target in targets.items()
    )
    named = {"set_ups" if setups else "without_set_ups": summary for setups, summary in summaries.items()}
    figures = {
        f"{kind}_{way.replace(' ', '_')}_{which}": share
        for kind, summary in named.items()
        for way, shares in summary.items()
        for which, share in shares.items()
    }
    lines = [line for setups, summary in summaries.items() for line in _lines(models, setups, summary)]
    return Measurement("advice", good, figures, lines, {"models": models, "first": first, **named})


def _summary(made: list[Trial], way: str) -> dict[str, float]:
    above = sorted(trial.above(way) for trial in made)
    at = min(len(above) - 1, round(0.95 * (len(above) - 1)))
    return {"mean": sum(above) / len(above), "p95": above[at], "worst": above[-1]}


def _meets(shares: dict[str, float], target: tuple[float, float]) -> bool:
    mean, worst = target
    return shares["mean"] <= mean and shares["worst"] <= worst


def _lines(models: int, setups: bool, summary: Summary) -> Iterator[str]:
    yield f"{models} models {'with cabinets to lock out' if setups else 'without set-ups'}: percent above the best"
    yield f"  {'':<24}{'mean':>8}{'95 %':>8}{'worst':>8}"
    for way, shares in summary.items():
        line = f"  {way:<24}" + "".join(f"{100 * max(shares[k], 0.0):>8.2f}" for k in ("mean", "p95", "worst"))
        if target := TARGETS[setups].get(way):
            line += f"   target {100 * target[0]:g} and {100 * target[1]:g}: {verdict(_meets(shares, target))}"
        yield line
    yield ""
