"""`diag try`: replays the examples of machines; with `--simulate` measures their knowledge on simulated stops."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from diag.cli import machines
from diag.cli.settings import Settings
from diag.cli.text import percent, say, wrapped

if TYPE_CHECKING:
    from diag.drill.simulate import Score
    from diag.machine.model import Machine
    from diag.vet.examples import Replayed

MISSES_SHOWN = 12


@click.command("try")
@click.argument("paths", nargs=-1, metavar="[PATH]...")
@click.option("--simulate", "stops", metavar="N", type=click.IntRange(1, 100_000), help="Simulate N stops as well.")
@click.option("--seed", metavar="S", type=click.IntRange(0), default=0, show_default=True, help="Which stops.")
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
@click.pass_obj
def command(settings: Settings, paths: tuple[str, ...], stops: int | None, seed: int, as_json: bool) -> int:
    """Replay worked examples: at the end the cause must rank first, or within the place that the example states, and
    the authored tree must lead to it.

    PATH is a machine by name, a machine's folder, or one of its example files; without any, all machines.

    \b
    diag try
    diag try tray-stacker --simulate 500
    """
    from diag.vet.examples import replay

    chosen = machines.with_examples(settings.knowledge, paths)
    replayed = [replay(machine, example) for machine, examples in chosen for example in examples]
    scores = {machine.id: _score(machine, stops, seed) for machine, _ in chosen} if stops else {}
    if as_json:
        click.echo(json.dumps(_object(replayed, scores, seed), indent=2))
    else:
        _print(replayed, scores, seed)
    return 0 if all(r.fine for r in replayed) else 1


def _score(machine: Machine, stops: int, seed: int) -> Score:
    from diag.drill.simulate import simulate
    from diag.reason.compile import compile

    return simulate(compile(machine), stops, seed)


def _print(replayed: list[Replayed], scores: dict[str, Score], seed: int) -> None:
    for r in replayed:
        sign = "ok   " if r.fine else "WRONG"
        say(f"{sign} {r.machine}/{r.example.id}: {r.example.cause} {percent(r.probability).strip()}, place {r.place}")
        for trouble in r.trouble:
            for line in wrapped(trouble, 6):
                say(line)
    wrong = sum(not r.fine for r in replayed)
    say(f"{len(replayed)} examples, {wrong} wrong")
    for id, score in scores.items():
        say()
        n = len(score.stops)
        say(f"{id}: {n} simulated stops, seed {seed}")
        say(f"  cause ranked first at the end   {score.within(1):.1%}")
        say(f"  cause among the first three     {score.within(3):.1%}")
        say(f"  calibration error, top cause    {score.calibration:.1%}")
        asked = sum(s.asked for s in score.stops) / n
        say(f"  checks and minutes a stop       {asked:.1f} and {sum(s.minutes for s in score.stops) / n:.0f} min")
        say(f"  stops with a lost or wrong answer among those asked  {sum(s.spoiled > 0 for s in score.stops) / n:.1%}")
        missed = [s for s in score.stops if s.place > 1]
        if missed:
            spoiled = sum(s.spoiled > 0 for s in missed)
            say(f"  not first: {len(missed)}, of them {spoiled} with a lost or wrong answer; cause, taken for:")
            for true, taken, times in score.misses[:MISSES_SHOWN]:
                say(f"    {times} x {true}, {taken}")
            if len(score.misses) > MISSES_SHOWN:
                say(f"    and {len(score.misses) - MISSES_SHOWN} other pairs")


def _object(replayed: list[Replayed], scores: dict[str, Score], seed: int) -> dict[str, Any]:
    return {
        "examples": [
            {
                "machine": r.machine,
                "example": r.example.id,
                "cause": r.example.cause,
                "place": r.place,
                "within": r.example.within,
                "probability": r.probability,
                "fine": r.fine,
                "trouble": list(r.trouble),
            }
            for r in replayed
        ],
        "simulated": [
            {
                "machine": id,
                "stops": len(score.stops),
                "seed": seed,
                "first": score.within(1),
                "in_three": score.within(3),
                "calibration": score.calibration,
                "misses": [{"cause": true, "taken": taken, "times": n} for true, taken, n in score.misses],
            }
            for id, score in scores.items()
        ],
    }
