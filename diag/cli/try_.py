"""`diag try`: replays the examples of machines; with `--simulate` measures their knowledge on simulated stops."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from diag.cli import machines
from diag.cli.settings import Settings
from diag.cli.text import percent, say, wrapped

if TYPE_CHECKING:
    from diag.drill.double import Doubles
    from diag.drill.simulate import Score
    from diag.drill.unlisted import Noticed
    from diag.machine.model import Machine
    from diag.vet.examples import Replayed

MISSES_SHOWN = 12


@click.command("try")
@click.argument("paths", nargs=-1, metavar="[PATH]...")
@click.option("--simulate", "stops", metavar="N", type=click.IntRange(1, 100_000), help="Simulate N stops as well.")
@click.option("--seed", metavar="S", type=click.IntRange(0), default=0, show_default=True, help="Which stops.")
@click.option("--double", is_flag=True, help="Simulate stops with two causes: are both named?")
@click.option("--without", is_flag=True, help="Simulate stops whose cause is taken out of the file: is that noticed?")
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
@click.pass_obj
def command(
    settings: Settings,
    paths: tuple[str, ...],
    stops: int | None,
    seed: int,
    double: bool,
    without: bool,
    as_json: bool,
) -> int:
    """Replay worked examples: at the end the cause must rank first, or within the place that the example states, and
    the authored tree must lead to it.

    PATH is a machine by name, a machine's folder, or one of its example files; without any, all machines.

    A simulated stop is drawn from the file's own weights, some answers lost or wrong, and the advice is followed to the
    end. With --double it has two causes, and counts when both are named in the first two pairs. With --without its
    cause is taken out of the file, and it counts when "something that is not in this file" comes first or second.

    \b
    diag try
    diag try tray-stacker --simulate 500
    diag try tray-stacker --simulate 200 --double
    diag try tray-stacker --simulate 500 --without
    """
    if (double or without) and not stops:
        raise click.UsageError("--double and --without go with --simulate N.")
    if double and without:
        raise click.UsageError("--double and --without are two measurements: ask for one.")
    from diag.vet.examples import replay

    chosen = machines.with_examples(settings.knowledge, paths)
    replayed = [replay(machine, example) for machine, examples in chosen for example in examples]
    scores: dict[str, Score] = {}
    doubles: dict[str, Doubles] = {}
    noticed: dict[str, Noticed] = {}
    for machine, _ in chosen if stops else ():
        if double:
            doubles[machine.id] = _doubles(machine, stops or 0, seed)
        elif without:
            noticed[machine.id] = _noticed(machine, stops or 0, seed)
        else:
            scores[machine.id] = _score(machine, stops or 0, seed)
    if as_json:
        found = _object(replayed, scores, seed)
        if double:
            found["double"] = [_double_object(id, found_, seed) for id, found_ in doubles.items()]
        if without:
            found["without"] = [_without_object(id, found_, seed) for id, found_ in noticed.items()]
        click.echo(json.dumps(found, indent=2))
    else:
        _print(replayed, scores, seed)
        for id, two in doubles.items():
            _print_doubles(id, two, seed)
        for id, unwritten in noticed.items():
            _print_noticed(id, unwritten, seed)
    return 0 if all(r.fine for r in replayed) else 1


def _score(machine: Machine, stops: int, seed: int) -> Score:
    from diag.drill.simulate import simulate
    from diag.reason.compile import compile

    return simulate(compile(machine), stops, seed)


def _doubles(machine: Machine, stops: int, seed: int) -> Doubles:
    from diag.drill.double import simulate
    from diag.reason.compile import compile

    return simulate(compile(machine), stops, seed)


def _noticed(machine: Machine, stops: int, seed: int) -> Noticed:
    from diag.drill.unlisted import simulate
    from diag.reason.compile import compile

    return simulate(compile(machine), stops, seed)


def _print_doubles(id: str, found: Doubles, seed: int) -> None:
    n = len(found.stops)
    say()
    say(f"{id}: {n} simulated stops with two causes, seed {seed}")
    if not n:
        say("  fewer than two causes: nothing to draw")
        return
    say(f"  both named in the first two pairs     {found.named:.1%}, {sum(s.named for s in found.stops)} of {n}")
    say(f"  their pair first, in the first two    {found.within(1):.1%}, {found.within(2):.1%}")
    say(f"  one of them first as a single cause   {sum(s.single for s in found.stops) / n:.1%}")
    say(f"  odd for one cause before two were asked for  {sum(s.odd for s in found.stops) / n:.1%}")
    asked = sum(s.asked for s in found.stops) / n
    say(f"  checks and minutes a stop             {asked:.1f} and {sum(s.minutes for s in found.stops) / n:.0f} min")
    missed = [s for s in found.stops if not s.named]
    for stop in missed[:MISSES_SHOWN]:
        say(f"    not named: {stop.causes[0]}, {stop.causes[1]}")


def _print_noticed(id: str, found: Noticed, seed: int) -> None:
    n = len(found.stops)
    say()
    say(f"{id}: {n} simulated stops whose cause is taken out of the file, seed {seed}")
    if n:
        say(f"  not in the file: first, in the first two      {found.within(1):.1%}, {found.within(2):.1%}")
        say(f"  first wrongly, with the cause in the file     {found.taken:.1%}")
        for cause, top, times in found.misses[:MISSES_SHOWN]:
            say(f"    {times} x {cause}, taken for {top}")
    if found.twins:
        say(f"  not drawn, since another cause shows nearly the same: {len(found.twins)}")
        for cause, twin, bits in found.twins:
            say(f"    {cause}, like {twin} ({bits:.1f} bits)")


def _double_object(id: str, found: Doubles, seed: int) -> dict[str, Any]:
    return {
        "machine": id,
        "stops": len(found.stops),
        "seed": seed,
        "both_named_in_two": found.named if found.stops else None,
        "pair_first": found.within(1) if found.stops else None,
        "pair_in_two": found.within(2) if found.stops else None,
    }


def _without_object(id: str, found: Noticed, seed: int) -> dict[str, Any]:
    return {
        "machine": id,
        "stops": len(found.stops),
        "seed": seed,
        "unlisted_first": found.within(1) if found.stops else None,
        "unlisted_in_two": found.within(2) if found.stops else None,
        "taken_wrongly": found.taken if found.stops else None,
        "twins": [{"cause": cause, "twin": twin, "bits": bits} for cause, twin, bits in found.twins],
    }


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
