"""`diag measure`: how well readings from a machine are understood and how good the advice is, with the figures.

One command for each measure. The work is done in `diag.measure`, which no other command loads.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar

import click

from diag.cli import machines
from diag.cli.completing import complete_machine
from diag.cli.errors import WrongUsage
from diag.cli.group import Nearest
from diag.cli.printing import answer, width, wrapped
from diag.cli.progress import progress
from diag.cli.settings import Settings

if TYPE_CHECKING:
    from diag.measure.measurement import Measurement

MACHINE = "tray-stacker"
F = TypeVar("F", bound=Callable[..., Any])


class Measures(Nearest):
    """The measures, in the order in which the help lists them."""

    called = "measure"


def _number(name: str, least: int, most: int | None, default: int, help: str) -> Callable[[F], F]:
    """An option that takes a whole number within these bounds."""
    kind = click.IntRange(least, most)
    metavar = "S" if most is None else "N"
    return click.option(name, metavar=metavar, type=kind, default=default, show_default=True, help=help)


@click.group("measure", cls=Measures, invoke_without_command=True)
@click.pass_context
def command(ctx: click.Context) -> int:
    """Measure how well readings from a machine are understood, and how good the advice is.

    Each measure ends with its figures, one to a line, under names that stay the same; --json has them under
    "figures". The exit code is 1 when a figure misses its target or a value is wrong.

    \b
    diag measure taps --hold
    diag measure codes tray-stacker
    diag measure fuzz --count 1000000
    """
    if ctx.invoked_subcommand is None:
        raise WrongUsage(f"say what to measure: {', '.join(command.commands)}")
    return 0


def measured(measure: Callable[..., Measurement]) -> Callable[..., int]:
    """Prints what a measure found. The exit code is 1 when a target was missed or something was wrong."""

    @click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
    @wraps(measure)
    def run(*given: Any, as_json: bool, **named: Any) -> int:
        found = measure(*given, **named)
        answer(found.as_object(), _lines(found), as_json)
        return 0 if found.good else 1

    return run


def _lines(found: Measurement) -> Iterator[str]:
    for line in found.lines:
        indent = len(line) - len(line.lstrip())
        yield from wrapped(line, indent, indent + 2) if len(line) > width() else (line,)
    yield from ("", "figures, as --json names them", *found.figure_lines())


@command.command("taps", short_help="Flash patterns from simulated taps.")
@_number("--runs", 1, 100_000, 200, "For each pattern.")
@_number("--seed", 0, None, 1, "Which taps.")
@click.option("--hold", is_flag=True, help="A key held while the lamp is lit, in place of taps.")
@measured
def taps(runs: int, seed: int, hold: bool) -> Measurement:
    """Simulated taps along each flash pattern, and which pattern they are taken for.

    The patterns are those of CiA 303-3 except flicker, which is too fast to tap.
    """
    from diag.measure.tap_figures import TRIALS, measure

    with progress(runs * TRIALS) as done:
        return measure(runs, seed, hold=hold, done=done)


@command.command("codes", short_help="Codes on a display with dark or stuck segments.")
@click.argument("machine", default=MACHINE, shell_complete=complete_machine)
@measured
@click.pass_obj
def codes(settings: Settings, machine: str) -> Measurement:
    """The codes of every display of MACHINE, and what each is taken for when segments are dark or stuck.

    Before that, the decoder against the best possible rate on the LED display domain. The exit code is 1 when the
    decoder falls short of it, or when a code is taken for another one on a healthy display.
    """
    from diag.machine.load import read
    from diag.measure.code_figures import displays, measure

    chosen = read(machines.folder(settings.knowledge, machine))
    with progress(sum(len(display.codes) for display in displays(chosen))) as done:
        return measure(chosen, done)


@command.command("readings", short_help="Derived readings against worked values.")
@measured
def readings() -> Measurement:
    """Every derived reading against its worked values, from what is typed to the result."""
    from diag.measure.reading_figures import measure

    return measure()


@command.command("fuzz", short_help="Hostile text for every parser.")
@_number("--count", 1, 100_000_000, 20_000, "Inputs.")
@_number("--seed", 0, None, 1, "Which inputs.")
@measured
def fuzz(count: int, seed: int) -> Measurement:
    """Invented and mutated text for readings, flash patterns, accuracies and codes: none may be misread or fail."""
    from diag.measure.fuzz_figures import measure

    with progress(count) as done:
        return measure(count, seed, done)


@command.command("files", short_help="Faulty machine files.")
@click.argument("machine", required=False, shell_complete=complete_machine)
@_number("--count", 1, 10_000_000, 2_000, "Faulty files.")
@_number("--seed", 0, None, 1, "Which mistakes.")
@measured
@click.pass_obj
def files(settings: Settings, machine: str | None, count: int, seed: int) -> Measurement:
    """The files of MACHINE with mistakes put into them, each read and vetted; those of a small one if none is named.

    Bytes, letters, words, lines, indents and values are changed, keys and files cut off, aliases and odd characters put
    in. No file may make the program fail, every problem must be told at a place inside its file, and each folder must
    be done in bounded time. The exit code is 1 when that is broken. 2000 files take about half a minute.
    """
    from diag.measure.file_figures import measure

    folder = machines.folder(settings.knowledge, machine) if machine is not None else None
    with progress(count) as done:
        return measure(folder, machine, count, seed, done)


@command.command("advice", short_help="Advised checks against the best that could be done.")
@_number("--models", 2, 10_000, 200, "Of each kind.")
@_number("--first", 0, None, 0, "The first model.")
@measured
def advice(models: int, first: int) -> Measurement:
    """Random models of up to 16 causes, small enough for the best to be known: how far above it each way is.

    Half of the models have cabinets to lock out, half have none; half of each have answers that are certain. Expected
    minutes to the end of the case are exact: every way is followed through everything that can happen.
    200 of each take about ten minutes.
    """
    from diag.measure.advice_figures import measure

    with progress(2 * models) as done:
        return measure(models, first, done)


@command.command("growth", short_help="How time grows with the size of a machine.")
@click.option(
    "--causes", metavar="N", type=click.IntRange(20, 5_000), multiple=True, help="A size; 200, 600 and 1500 if none."
)
@_number("--cases", 1, 1_000, 3, "In each.")
@_number("--seed", 0, None, 1, "Which machines.")
@measured
def growth(causes: tuple[int, ...], cases: int, seed: int) -> Measurement:
    """Machines of some hundred causes: the time to vet one, to rank its causes, and to advise on one fact more.

    The machines are written for the purpose and thrown away. Times are of the processor, and are to be read as ratios
    to the smallest machine. The exit code is 1 when the advice on one fact more grows faster than the causes do.
    """
    from diag.measure.growth_figures import SIZES, measure

    sizes = sorted(set(causes)) or SIZES
    with progress(len(sizes)) as done:
        return measure(sizes, cases, seed, done)
