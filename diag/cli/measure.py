"""`diag measure`: how well what is read off a machine is understood and what is advised, with the figures behind it.

One command for each measure; each prints what it counted, beside its target or its worked values.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from diag.cli import machines
from diag.cli.errors import WrongUsage, unknown
from diag.cli.measure_advice import advice
from diag.cli.measure_files import files
from diag.cli.progress import met, progress
from diag.cli.settings import Settings
from diag.cli.text import say, wrapped

if TYPE_CHECKING:
    from diag.machine.model import Indication
    from diag.panel.decode_trials import Taken
    from diag.panel.worked import Outcome

WHAT = ("taps", "codes", "readings", "fuzz", "files", "advice")
BLANK = "blank"
MACHINE = "tray-stacker"
WRONG_SHOWN = 5
MISTAKES_SHOWN = 3


class Measures(click.Group):
    """A group that names the nearest measure where a word is wrong."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args[0] not in WHAT and not args[0].startswith("-"):
            raise unknown("measure", args[0], WHAT)
        return super().resolve_command(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(WHAT)


@click.group("measure", cls=Measures, invoke_without_command=True)
@click.pass_context
def command(ctx: click.Context) -> int:
    """Measure how well what is read off a machine is understood, and how good the advice is.

    The exit code is 1 when a figure misses its target or a value is wrong.

    \b
    diag measure taps --hold
    diag measure codes tray-stacker
    diag measure fuzz --count 1000000
    """
    if ctx.invoked_subcommand is None:
        raise WrongUsage(f"say what to measure: {', '.join(WHAT)}")
    return 0


@command.command("taps", short_help="Flash patterns from simulated taps.")
@click.option(
    "--runs", metavar="N", type=click.IntRange(1, 100_000), default=200, show_default=True, help="For each pattern."
)
@click.option("--seed", metavar="S", type=click.IntRange(0), default=1, show_default=True, help="Which taps.")
@click.option("--hold", is_flag=True, help="A key held while the lamp is lit, in place of taps.")
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
def taps(runs: int, seed: int, hold: bool, as_json: bool) -> int:
    """Simulated taps along each flash pattern, and which pattern they are taken for.

    The patterns are those of CiA 303-3 but flicker, which is too fast to tap.
    """
    from diag.panel import tap_trials as trials
    from diag.panel.taps import NEEDED

    with progress(runs * len(trials.WITHOUT_FLICKER)) as done:
        table = trials.confusion(trials=runs, seed=seed, hold=hold, done=done)
    style = "holding a key while the lamp is lit" if hold else "tapping each time the lamp lights"
    if as_json:
        found = {
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
        click.echo(json.dumps(found, indent=2))
    else:
        say(f"{runs} runs of each pattern, seed {seed}: {style},")
        say(f"{NEEDED} periods, jitter {trials.JITTER:g} ms, {trials.MISSED:.0%} missed, {trials.DOUBLED:.0%} doubled")
        say("rows: what the lamp did; columns: what it was taken for, in percent")
        say()
        for line in table.lines():
            say(line)
        say()
        say(f"told right {table.rate:.2%}, target {trials.TARGET:.0%}: {met(table.rate >= trials.TARGET)}")
    return 0 if table.rate >= trials.TARGET else 1


@command.command("codes", short_help="Codes on a display with dark or stuck segments.")
@click.argument("machine", default=MACHINE)
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object, with the whole table.")
@click.pass_obj
def codes(settings: Settings, machine: str, as_json: bool) -> int:
    """The codes of every display of MACHINE, and what each is taken for when segments are dark or stuck.

    Before that, the decoder against the best rate that there can be on the LED display domain. The exit code is 1
    when it is less, or when a code is taken for another one on a healthy display.
    """
    from diag.machine.load import read
    from diag.panel import decode_trials as trials
    from diag.panel.decode import Reading
    from diag.panel.segments import glyph

    chosen = read(machines.folder(settings.knowledge, machine))
    digits, flip = trials.LED_DIGITS, trials.LED_FLIP
    best = trials.bayes_rate([glyph(c) for c in digits], flip, flip)
    told = trials.decoder_rate(digits, flip, flip, Reading(toggled=float(flip)))
    as_is = trials.decoder_rate(digits, flip, flip)
    displays = [i for i in chosen.indications.values() if i.codes]
    with progress(sum(len(d.codes) for d in displays)) as done:
        tables = {d.id: _table(d, done) for d in displays}
    fine = best == told == trials.LED_BEST
    wrong = [t for table in tables.values() for t in table or () if _mistaken(t)]
    if as_json:
        found = {
            "led_domain": {
                "published": trials.LED_PUBLISHED,
                "best": float(best),
                "decoder_told": float(told),
                "decoder": float(as_is),
            },
            "machine": chosen.id,
            "displays": [_display(id, table) for id, table in tables.items()],
        }
        click.echo(json.dumps(found, indent=2))
    else:
        say("LED display domain: ten digits, each segment inverted with chance 0.1")
        say("(Breiman, Friedman, Olshen and Stone 1984, pp. 43-49)")
        say(f"  best rate that can be, as published              {trials.LED_PUBLISHED:.2f}")
        say(f"  the same by enumeration                          {float(best):.8f}")
        say(f"  the decoder, told the chance of an inversion     {float(told):.8f}")
        say(f"  the decoder as it is, with its own chances       {float(as_is):.8f}")
        for id, table in tables.items():
            _print_display(chosen.id, id, table)
        if not tables:
            say()
            say(f"{chosen.id} has no display")
        for t in wrong:
            share = f"{t.healthy.get(t.state, 0.0):.1%}"
            for line in wrapped(f"WRONG on a healthy display {_shown(t)} is taken for {t.state} in {share} only", 0, 6):
                say(line)
    return 0 if fine and not wrong else 1


def _table(display: Indication, done: Callable[[int], None]) -> list[Taken] | None:
    """None where a code has no shape on seven segments."""
    from diag.panel.decode_trials import confusion, step_confusion
    from diag.panel.segments import NoGlyph

    codes = [(c.pattern, c.state) for c in display.codes]
    rows = []
    try:
        for row in step_confusion(codes) if display.scrolls else confusion(codes, digits=display.characters):
            rows.append(row)
            done(1)
    except NoGlyph:
        return None
    return rows


def _mistaken(taken: Taken) -> bool:
    """Whether a healthy display leaves a doubt; not with `?`, which may look like a character of another code."""
    return "?" not in taken.pattern and taken.healthy.get(taken.state, 0.0) < 0.999


def _shown(taken: Taken) -> str:
    return taken.pattern if taken.pattern.strip() else BLANK


def _rates(table: list[Taken]) -> tuple[float, float, float]:
    """Shares taken right, each code as often: over all displays, over healthy ones, over those with a fault."""
    n = len(table)
    return (
        sum(t.right for t in table) / n,
        sum(t.healthy.get(t.state, 0.0) for t in table) / n,
        sum(t.faulty.get(t.state, 0.0) for t in table) / n,
    )


def _print_display(machine: str, id: str, table: list[Taken] | None) -> None:
    say()
    if table is None:
        say(f"{machine}, {id}: not measured; its codes have no shape on seven segments")
        return
    right, healthy, faulty = _rates(table)
    say(f"{machine}, {id}: {len(table)} codes, each as often; taken right in percent")
    say(f"  over all displays {right:.2%}, healthy {healthy:.2%}, with one fault {faulty:.1%}")
    say(f"  a display has a fault with chance {table[0].fault:.1%}, which is an assumption")
    say()
    wide = max(len("state"), *(len(t.state) for t in table))
    code = max(len("code"), *(len(_shown(t)) for t in table))
    say(f"{'code':<{code}}  {'state':<{wide}} {'all':>6} {'fault':>6}  with a fault taken for")
    room = 80 - (code + wide + 19)
    for t in table:
        first, *more = _fitting(_mistakes(t), room)
        say(
            f"{_shown(t):<{code}}  {t.state:<{wide}} {100 * t.right:6.2f} {100 * t.faulty.get(t.state, 0.0):6.1f}  "
            f"{first}".rstrip()
        )
        for line in more:
            say(" " * (80 - room) + line)


def _mistakes(taken: Taken) -> list[str]:
    others = sorted((-share, state) for state, share in taken.faulty.items() if state != taken.state)
    shown = [f"{state} {-100 * share:.1f}" for share, state in others[:MISTAKES_SHOWN]]
    return shown + ([f"{len(others) - MISTAKES_SHOWN} more"] if len(others) > MISTAKES_SHOWN else [])


def _fitting(words: list[str], room: int) -> list[str]:
    """Joined by commas into lines of that width; one line at least."""
    lines = [""]
    for word in words:
        longer = f"{lines[-1]}, {word}" if lines[-1] else word
        if len(longer) < room or not lines[-1]:
            lines[-1] = longer
        else:
            lines[-1] += ","
            lines.append(word)
    return lines


def _display(id: str, table: list[Taken] | None) -> dict[str, Any]:
    if table is None:
        return {"display": id, "measured": False, "codes": []}
    right, healthy, faulty = _rates(table)
    return {
        "display": id,
        "measured": True,
        "fault": table[0].fault,
        "right": right,
        "right_healthy": healthy,
        "right_with_fault": faulty,
        "codes": [
            {"pattern": t.pattern, "state": t.state, "right": t.right, "healthy": t.healthy, "with_fault": t.faulty}
            for t in table
        ],
    }


@command.command("readings", short_help="Derived readings against worked values.")
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
def readings(as_json: bool) -> int:
    """Every derived reading against its worked values, from what is typed to the result."""
    from diag.panel import worked

    outcomes = [worked.check(w) for w in worked.WORKED]
    bare = worked.without()
    wrong = sum(not o.right for o in outcomes)
    if as_json:
        found = {
            "readings": [
                {**asdict(o.worked), "result": o.result, "refusal": o.refusal, "right": o.right} for o in outcomes
            ],
            "without": list(bare),
        }
        click.echo(json.dumps(found, indent=2))
    else:
        _print_readings(outcomes)
        for name in bare:
            say(f"WRONG {name}: no worked value")
        say(f"{len(outcomes)} worked values, {wrong} wrong")
    return 1 if wrong or bare else 0


def _print_readings(outcomes: list[Outcome]) -> None:
    from diag.panel.formulas import FORMULAS

    formula = said = ""
    for o in outcomes:
        w = o.worked
        if w.formula != formula:
            if formula:
                say()
            formula, said = w.formula, ""
            unit = FORMULAS[formula].unit
            title = f"{formula}, in {unit}" if unit else formula
            say(f"{title:<36}{'result':>13}{'worked':>13}{'within':>10}")
        source = f"{w.source} ({w.found})"
        if source != said:
            for line in wrapped(source, 2):
                say(line)
            said = source
        result, value, within = (
            "refused" if o.result is None else f"{o.result:.7g}",
            "refused" if w.value is None else f"{w.value:.7g}",
            "" if w.value is None else f"{w.tolerance:g}" if w.tolerance else "exact",
        )
        typed = ", ".join(w.typed)
        say(f"    {typed:<32}{result:>13}{value:>13}{within:>10}  {'ok' if o.right else 'WRONG'}")
        if not o.right and o.refusal:
            for line in wrapped(o.refusal, 6):
                say(line)
    say()


@command.command("fuzz", short_help="Hostile text for every parser.")
@click.option(
    "--count", metavar="N", type=click.IntRange(1, 100_000_000), default=20_000, show_default=True, help="Inputs."
)
@click.option("--seed", metavar="S", type=click.IntRange(0), default=1, show_default=True, help="Which inputs.")
@click.option("--json", "as_json", is_flag=True, help="As one JSON object.")
def fuzz(count: int, seed: int, as_json: bool) -> int:
    """Invented and mutated text for readings, flash patterns, accuracies and codes: none may be misread or fail."""
    from diag.panel import fuzz as trials

    with progress(count) as done:
        report = trials.run(count, seed, done=done)
    if as_json:
        click.echo(json.dumps({"count": count, "seed": seed, **asdict(report)}, indent=2))
    else:
        say(
            f"{report.tried:,} inputs, seed {seed}: {report.taken:,} taken, {report.refused:,} refused, "
            f"{len(report.wrong):,} wrong"
        )
        for text in report.wrong[:WRONG_SHOWN]:
            for line in wrapped(text, 2, 4):
                say(line)
        if len(report.wrong) > WRONG_SHOWN:
            say(f"  and {len(report.wrong) - WRONG_SHOWN} more (--json lists them)")
        if report.tried < count:
            say(f"stopped after {report.tried:,} of {count:,}: enough are wrong")
    return 1 if report.wrong else 0


command.add_command(files)
command.add_command(advice)
