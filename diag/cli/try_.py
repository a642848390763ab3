"""`diag try`: replays the examples of machines; with `--simulate` measures their knowledge on simulated stops."""

from __future__ import annotations

import json
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from diag.cli import machines, simulated
from diag.cli.progress import progress
from diag.cli.settings import Settings
from diag.cli.text import percent, say, wrapped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from diag.machine.model import Machine
    from diag.reason.compile import Table
    from diag.vet.compared import Compared
    from diag.vet.examples import Replayed

FACTS_SHOWN = 3
"""Facts of a wrong example that are told: those that speak most, for or against."""


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
        name = "double" if double else "without"
        way = partial(_measured, name=name) if double or without else partial(_simulated, each=each)
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


class _Way(NamedTuple):
    """A measurement on simulated stops, one machine at a time."""

    simulate: Callable[[Table, int, int, Callable[[int], None]], Any]
    """Table, stops, seed, and what is told of the steps done."""
    shown: Callable[[str, Any, int], None]
    """Prints what was found of a machine, by its id and the seed."""
    as_object: Callable[[str, Any, int], dict[str, Any]]


def _way(name: str) -> _Way:
    """`double` or `without`, each with its room."""
    from diag.drill import double, unlisted

    ways = {
        "double": _Way(double.simulate, simulated.print_doubles, simulated.double_object),
        "without": _Way(unlisted.simulate, simulated.print_noticed, simulated.without_object),
    }
    return ways[name]


def _measured(
    chosen: Sequence[Machine], stops: int, seed: int, *, name: str, quiet: bool
) -> dict[str, list[dict[str, Any]]]:
    """One of the measurements of `_way`, over all machines."""
    from diag.reason.compile import compile

    way, found = _way(name), []
    for machine in chosen:
        with progress(stops, machine.id) as done:
            score = way.simulate(compile(machine), stops, seed, done)
        found.append(way.as_object(machine.id, score, seed))
        if not quiet:
            way.shown(machine.id, score, seed)
    return {name: found}


def _print(replayed: Sequence[Replayed]) -> None:
    for r in replayed:
        sign = "ok   " if r.fine else "WRONG"
        say(f"{sign} {r.machine}/{r.example.id}: {r.example.cause} {percent(r.probability).strip()}, place {r.place}")
        for line in _more(r):
            say(line)
    say(f"{len(replayed)} examples, {sum(not r.fine for r in replayed)} wrong")


def _more(r: Replayed) -> Iterator[str]:
    """What does not hold and why, below the line of an example."""
    for trouble in r.trouble:
        yield from wrapped(trouble, 6)
    if r.compared is not None:
        yield from _facts(r.compared)
    if r.danger is not None:
        yield from wrapped(f"on the screen this case ends at its danger sign: {r.danger.stop}", 6)


def _facts(c: Compared) -> Iterator[str]:
    """The facts that speak most, in their order, each with how likely it is under the one cause and the other."""
    yield from wrapped(f"how likely the facts are under {c.expected}, and under {c.first}:", 6)
    yield f"        {percent(c.before[0])}  {percent(c.before[1])}  before any fact"
    told = sorted((f for f in c.facts if f.speaks), key=lambda f: -abs(f.weight))[:FACTS_SHOWN]
    for fact in (f for f in c.facts if f in told):
        speaks = f"speaks for {c.expected if fact.weight > 0 else c.first}"
        lead = f"        {percent(fact.expected)}  {percent(fact.first)}  "
        first, *others = wrapped(f"{fact.text}; {speaks}", len(lead))
        yield from (lead + first.lstrip(), *others)
    if c.hint:
        yield from wrapped(c.hint, 6)


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
        "danger": r.danger.stop if r.danger is not None else None,
        "compared": _compared_object(r.compared) if r.compared is not None else None,
    }


def _compared_object(c: Compared) -> dict[str, Any]:
    """Probabilities under the expected cause and under the first, as pairs."""
    return {
        "causes": [c.expected, c.first],
        "before": list(c.before),
        "facts": [{"indication": f.indication, "state": f.state, "under": [f.expected, f.first]} for f in c.facts],
        "hint": c.hint,
    }
