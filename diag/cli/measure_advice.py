"""`diag measure advice`: how far what is advised is from the best that could be done."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

import click

from diag.cli.progress import met, progress
from diag.cli.text import say

if TYPE_CHECKING:
    from diag.drill.advice_trials import Trial

TARGETS = {
    False: {"rollout": (0.03, 0.10), "dynamic programming": (0.005, 0.03)},
    True: {"rollout": (0.05, 0.20), "dynamic programming": (0.005, 0.03)},
}
"""Mean and worst above the best, without and with shared set-ups."""


@click.command("advice", short_help="Advised checks against the best that could be done.")
@click.option(
    "--models", metavar="N", type=click.IntRange(2, 10_000), default=200, show_default=True, help="Of each kind."
)
@click.option("--first", metavar="S", type=click.IntRange(0), default=0, show_default=True, help="The first model.")
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
def advice(models: int, first: int, as_json: bool) -> int:
    """Random models of up to 16 causes, small enough for the best to be known: how far above it each way is.

    The models are without set-ups and with cabinets to lock out; half of each have answers that are sure. Expected
    minutes to the end of the case are exact: every way is followed through all that can come about.
    200 of each take some ten minutes.
    """
    from diag.drill import advice_trials as trials

    found: dict[bool, list[Trial]] = {}
    with progress(2 * models) as done:
        for setups in TARGETS:
            found[setups] = []
            for trial in trials.trials(models, setups=setups, first=first):
                found[setups].append(trial)
                done(1)
    summaries = {setups: {way: _summary(made, way) for way in trials.WAYS} for setups, made in found.items()}
    good = all(
        summaries[setups][way]["mean"] <= mean and summaries[setups][way]["worst"] <= worst
        for setups, targets in TARGETS.items()
        for way, (mean, worst) in targets.items()
    )
    if as_json:
        named = {"set_ups" if setups else "without_set_ups": summary for setups, summary in summaries.items()}
        click.echo(json.dumps({"models": models, "first": first, "met": good, **named}, indent=2))
    else:
        for setups, summary in summaries.items():
            _print(models, setups, summary)
    sys.stdout.flush()
    return 0 if good else 1


def _summary(made: list[Trial], way: str) -> dict[str, float]:
    """Mean, 95th in a hundred, and worst share above the best."""
    above = sorted(trial.above(way) for trial in made)
    at = min(len(above) - 1, round(0.95 * (len(above) - 1)))
    return {"mean": sum(above) / len(above), "p95": above[at], "worst": above[-1]}


def _print(models: int, setups: bool, summary: dict[str, dict[str, float]]) -> None:
    say(f"{models} models {'with cabinets to lock out' if setups else 'without set-ups'}: percent above the best")
    say(f"  {'':<24}{'mean':>8}{'95 %':>8}{'worst':>8}")
    for way, shares in summary.items():
        line = f"  {way:<24}" + "".join(f"{100 * max(shares[k], 0.0):>8.2f}" for k in ("mean", "p95", "worst"))
        if way in TARGETS[setups]:
            mean, worst = TARGETS[setups][way]
            good = shares["mean"] <= mean and shares["worst"] <= worst
            line += f"   target {100 * mean:g} and {100 * worst:g}: {met(good)}"
        say(line)
    say()
