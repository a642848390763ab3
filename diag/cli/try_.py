"""`diag try`: replays the examples of machines; with `--simulate` measures their knowledge on simulated stops."""

from __future__ import annotations

import json
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from diag.cli import machines, simulated
from diag.cli.progress import progress
from diag.cli.settings import Settings
from diag.cli.text import percent, say, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from diag.machine.model import Machine
    from diag.vet.examples import Replayed


@click.command("try")
@click.argument("paths", nargs=-1, metavar="[PATH]...")
@click.option("--simulate", "stops", metavar="N", type=click.IntRange(1, 100_000), help="Simulate N stops as well.")
@click.option("--seed", metavar="S", type=click.IntRange(0), default=0, show_default=True, help="Which stops.")
@click.option("--each", is_flag=True, help="Simulate N stops of every cause, rare ones too; each gets its line.")
@click.option("--double", is_flag=True, help="Simulate stops with two causes: are both named?")
@click.option("--without", is_flag=True, help="Simulate stops whose cause is taken out of the file: is that noticed?")
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
@click.pass_obj
def command(
    settings: Settings,
    paths: tuple[str, ...],
    stops: int | None,
    seed: int,
    each: bool,
    double: bool,
    without: bool,
    as_json: bool,
) -> int:
    """Replay worked examples: at the end the cause must rank first, or within the place that the example states, and
    the authored tree must lead to it.

    PATH is a machine by name, a machine's folder, or one of its example files; without any, all machines.

    A simulated stop is drawn from the file's own weights, some answers lost or wrong, and the advice is followed to the
    end. Told are how often its cause then ranks first, how good the probabilities are, and what looks can tell apart at
    all; for several machines a table comes last. With --each every cause is drawn N times. With --double a stop has two
    causes, and counts when both are named in the first two pairs. With --without its cause is taken out of the file,
    and it counts when "something that is not in this file" comes first or second.

    \b
    diag try
    diag try --simulate 500
    diag try tray-stacker --simulate 20 --each
    diag try tray-stacker --simulate 200 --double
    diag try tray-stacker --simulate 500 --without
    """
    if (each or double or without) and not stops:
        raise click.UsageError("--each, --double and --without go with --simulate N.")
    if each + double + without > 1:
        raise click.UsageError("--each, --double and --without are three measurements: ask for one.")
    from diag.vet.examples import replay

    chosen = machines.with_examples(settings.knowledge, paths)
    replayed = [replay(machine, example) for machine, examples in chosen for example in examples]
    found: dict[str, list[dict[str, Any]]] = {"examples": [_object(r) for r in replayed], "simulated": []}
    if not as_json:
        _print(replayed)
    if stops:
        way = _doubles if double else _without if without else partial(_simulated, each=each)
        found |= way([machine for machine, _ in chosen], stops, seed, quiet=as_json)
    if as_json:
        click.echo(json.dumps(found, indent=2))
    return 0 if all(r.fine for r in replayed) else 1


def _simulated(
    chosen: Sequence[Machine], stops: int, seed: int, *, each: bool, quiet: bool
) -> dict[str, list[dict[str, Any]]]:
    from diag.drill.isolability import every, isolability, outside
    from diag.drill.simulate import simulate, simulate_each
    from diag.reason.compile import compile

    found = []
    for machine in chosen:
        table = compile(machine)
        listed = tuple(machine.causes)
        with progress(stops * len(listed) if each else stops, machine.id) as done:
            score = (simulate_each if each else simulate)(table, stops, seed, done)
        looks = (isolability(table, which(table)) for which in (every, outside))
        found.append(simulated.Simulated(machine.id, listed, score, *looks))
        if not quiet:
            simulated.print_simulated(found[-1], seed, each)
    if len(found) > 1 and not quiet:
        simulated.print_table(found)
    return {"simulated": [simulated.simulated_object(one, seed) for one in found]}


def _doubles(chosen: Sequence[Machine], stops: int, seed: int, *, quiet: bool) -> dict[str, list[dict[str, Any]]]:
    from diag.drill.double import simulate
    from diag.reason.compile import compile

    found = []
    for machine in chosen:
        with progress(stops, machine.id) as done:
            two = simulate(compile(machine), stops, seed, done)
        found.append(simulated.double_object(machine.id, two, seed))
        if not quiet:
            simulated.print_doubles(machine.id, two, seed)
    return {"double": found}


def _without(chosen: Sequence[Machine], stops: int, seed: int, *, quiet: bool) -> dict[str, list[dict[str, Any]]]:
    from diag.drill.unlisted import simulate
    from diag.reason.compile import compile

    found = []
    for machine in chosen:
        with progress(stops, machine.id) as done:
            noticed = simulate(compile(machine), stops, seed, done)
        found.append(simulated.without_object(machine.id, noticed, seed))
        if not quiet:
            simulated.print_noticed(machine.id, noticed, seed)
    return {"without": found}


def _print(replayed: Sequence[Replayed]) -> None:
    for r in replayed:
        sign = "ok   " if r.fine else "WRONG"
        say(f"{sign} {r.machine}/{r.example.id}: {r.example.cause} {percent(r.probability).strip()}, place {r.place}")
        for trouble in r.trouble:
            for line in wrapped(trouble, 6):
                say(line)
    say(f"{len(replayed)} examples, {sum(not r.fine for r in replayed)} wrong")


def _object(r: Replayed) -> dict[str, Any]:
    return {
        "machine": r.machine,
        "example": r.example.id,
        "cause": r.example.cause,
        "place": r.place,
        "within": r.example.within,
        "probability": r.probability,
        "fine": r.fine,
        "trouble": list(r.trouble),
    }
