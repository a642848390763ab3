"""`diag rank`: likely causes and next checks for some facts, without the app."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import click

from diag.cli import machines
from diag.cli.casebooks import existing
from diag.cli.columns import cells, wrap
from diag.cli.completing import ROLES, complete_asset, complete_fact, complete_machine, complete_role
from diag.cli.errors import WrongUsage, unknown
from diag.cli.json_output import say_object
from diag.cli.printing import Alarm, heading, say_lines, width, wrapped
from diag.cli.settings import Settings
from diag.machine.assets import NoSuchAsset
from diag.text import bar, one_line, percent

if TYPE_CHECKING:
    from diag.case.case import Case
    from diag.case.condition import MachineCondition
    from diag.case.snapshot import Action, Advice, CaseState
    from diag.machine.model import Machine

ASKS = "whoever asks"
"""In whose name the case is opened, who is never the one by whom the facts were found."""
BEFORE = "the command line"
"""By whom the facts were found: they are told, not done now, so the gate does not refuse what was read inside."""
BAR = 12
"""Columns of a bar."""
CAUSES_SHOWN = 8
CHECKS_SHOWN = 6
NEED = {"outside": "outside", "dead": "inside, locked out and proved dead", "live": "inside, live work"}


@click.command("rank")
@click.argument("machine", shell_complete=complete_machine)
@click.argument("facts", nargs=-1, metavar="[INDICATION=STATE]...", shell_complete=complete_fact)
@click.option(
    "--role",
    metavar="ROLE",
    default="operator",
    show_default=True,
    shell_complete=complete_role,
    help=f"Who asks: {', '.join(ROLES)}.",
)
@click.option(
    "--asset",
    metavar="NAME",
    default="",
    shell_complete=complete_asset,
    help="Which of the machines that share the file of MACHINE.",
)
@click.option("--two", is_flag=True, help="Also the likeliest two causes at once.")
@click.option("--json", "program", is_flag=True, help="Everything, as one JSON object.")
@click.pass_obj
def command(
    settings: Settings, machine: str, facts: tuple[str, ...], role: str, asset: str, two: bool, program: bool
) -> int:
    """Likely causes of a stop of MACHINE, and the next checks, best first.

    The machine is taken as energised. A reading is given as a number, with or without its unit; a display as its code.

    \b
    diag rank tray-stacker supply-lamp=dark
    diag rank tray-stacker "dc-supply=23.9 V" --role electrician
    """
    if role not in ROLES:
        raise unknown("role", role, ROLES)
    case = told(settings, machine, pairs(facts), role, asset)
    conditions, unknown_why = conditions_here(settings, case.machine)
    from diag.case.condition import as_object as condition_object
    from diag.case.condition import in_words as condition_words

    if program:
        found = as_object(case, role)
        told_of = {name: condition_object(one) for name, one in conditions.items()}
        found["machine_condition"] = told_of.get(case.machine.asset)
        if case.machine.assets and not case.machine.asset:
            found["asset_conditions"] = told_of
        if two:
            found["two"] = [{"ids": list(t.causes), "probability": t.probability} for t in case.two(CAUSES_SHOWN)]
        say_object(found)
    else:
        words = (
            f"At {name if name and not case.machine.asset else 'the machine'}: {line}"
            for name, one in conditions.items()
            for line in condition_words(one, case.machine)
        )
        say_lines(as_text(case, role, two, (*words, *unknown_why)))
    return 0


def pairs(facts: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """The facts as indication and what it shows. Raises `WrongUsage`."""
    found: dict[str, str] = {}
    for fact in facts:
        indication, equals, text = fact.partition("=")
        if not (indication and equals and text):
            raise WrongUsage(f"{fact!r} is no fact; write it as INDICATION=STATE, for example supply-lamp=dark")
        if found.setdefault(indication, text) != text:
            raise WrongUsage(f"{indication} is given twice, as {found[indication]!r} and as {text!r}")
    return tuple(found.items())


def told(settings: Settings, name: str, facts: Iterable[tuple[str, str]], role: str, asset: str = "") -> Case:
    """A case of its own, stored nowhere, in which these facts were found before. Where no asset is named, it is of all
    of the machine's.

    Raises `WrongUsage` for an asset, a name or a state that the machine does not have."""
    from diag.case.case import Case
    from diag.machine.load import read
    from diag.machine.model import Role
    from diag.machine.states.say import CannotRead
    from diag.safety.types import Person, Refused

    machine = read(machines.folder(settings.knowledge, name), examples=False)
    if asset:
        try:
            machine = machine.of_asset(asset)
        except NoSuchAsset as error:
            raise WrongUsage(str(error)) from None
    case = Case.open(machine, Person(ASKS, Role(role)))
    for indication, text in facts:
        if indication not in machine.indications:
            raise unknown("indication", indication, machine.indications)
        try:
            case.say(indication, text, before=BEFORE)
        except CannotRead as error:
            raise WrongUsage(f"{indication}: {error}") from None
        except Refused as error:
            raise WrongUsage(f"{indication}={text}: {error}") from None
    return case


def as_object(case: Case, role: str) -> dict[str, Any]:
    """What `--json` prints."""
    state, advice, approval = case.state, case.advice(), approval_of(case.machine)
    return {
        "machine": case.machine.id,
        "asset": case.machine.asset or None,
        "role": role,
        "facts": [{"indication": fact.indication, "state": fact.state} for fact in state.facts],
        "causes": [{"id": c.id, "title": c.title, "probability": c.probability} for c in advice.causes],
        "next": _next_of(advice),
        "checks": [
            {
                "id": check.id,
                "title": check.title,
                "gives": list(check.gives),
                "access": check.access.value,
                "who": [who.value for who in check.who],
                "minutes": check.minutes,
                "expected_minutes_saved": check.saved,
            }
            for check in advice.checks
        ],
        # Each of these two also stands under the word that was used for it before.
        "misfit": advice.surprise,
        "surprise": advice.surprise,
        "gate": advice.checks[0].access.value if advice.checks else "outside",
        "approval": approval,
        "standing": approval,
    }


def _next_of(advice: Advice) -> dict[str, Any] | None:
    """The one next thing, whatever it is; None while a danger stands."""
    best = advice.next
    if best is None:
        return None
    return {"kind": best.kind, "id": best.id, "title": best.title, "access": best.access.value, "by_tree": best.by_tree}


def approval_of(machine: Machine) -> dict[str, Any]:
    """How far the machine's file may be trusted: the word, whether it is approved as it stands, and who approved it."""
    a = machine.approval
    found = {"word": a.word, "approved": a.holds, "changed_since_approval": a.changed}
    return found | ({"by": a.by, "on": a.on, "digest": a.digest, "digest_now": a.now} if a.digest else {})


def conditions_here(settings: Settings, machine: Machine) -> tuple[dict[str, MachineCondition], tuple[str, ...]]:
    """What the casebook says of the machine now, by asset (of each where none was named; an empty name where it has
    none), or why that is not known, as at most one sentence. Without a casebook there is nothing to say, and none is
    made."""
    from diag.case.condition import condition_of
    from diag.record.errors import CasebookError

    if settings.no_casebook:
        return {}, ()
    every = (machine,) if machine.asset or not machine.assets else map(machine.of_asset, machine.assets)
    try:
        book = existing(settings)
        if book is None:
            return {}, ()
        with book:
            return {one.asset: condition_of(book, one, datetime.now(UTC)) for one in every}, ()
    except (CasebookError, WrongUsage) as error:
        return {}, (f"What is so at the machine is not known: {one_line(str(error))}",)


def as_text(case: Case, role: str, two: bool = False, condition: Iterable[str] = ()) -> Iterator[str]:
    """What a person reads: a short table of causes, then the checks with the reason for each. `condition`: what is so
    at the machine, in sentences that say where."""
    machine, state, advice = case.machine, case.state, case.advice()
    yield heading(f"{machine.name}, {machine.place} ({machine.approval.told}, {machine.revision})")
    yield from wrapped(machine.approval.warning)
    for line in condition:
        yield from wrapped(line)
    yield from wrapped("Found: " + ("; ".join(_found(state)) or "nothing yet"))
    if state.danger:
        yield from ("", *map(Alarm, wrapped(f"DANGER: {state.danger}")))
    yield from ("", heading("Likely causes"))
    yield from _causes(advice)
    if two:
        yield from ("", heading("Two causes at once"))
        for both in case.two():
            yield from wrapped(f"{percent(both.probability)}  {both.titles[0]}, and {both.titles[1]}", 2, 8)
    yield from _first(advice)
    yield from ("", heading(f"Next checks for the {role}, the machine energised"))
    if not advice.checks:
        yield from wrapped("None is worth its minutes." if not state.danger else "None while the danger stands.", 2)
    for number, check in enumerate(advice.checks[:CHECKS_SHOWN], start=1):
        yield from wrapped(f"{number}. {check.title}", 2, 5)
        yield from _needs(check)
    if len(advice.checks) > CHECKS_SHOWN:
        yield f"  and {len(advice.checks) - CHECKS_SHOWN} more that would save less"


def _found(state: CaseState) -> Iterator[str]:
    for fact in state.facts:
        said = f" ({fact.said})" if fact.said and fact.said != fact.state else ""
        yield f"{fact.title} {fact.state}{said}" + ("" if fact.counts else f", not counted: {fact.why}")


def _causes(advice: Advice) -> Iterator[str]:
    for cause in advice.causes[:CAUSES_SHOWN]:
        yield from _share(bar(cause.probability, BAR), cause.probability, cause.title)
    rest = advice.causes[CAUSES_SHOWN:]
    if rest:
        yield from _share(" " * BAR, sum(cause.probability for cause in rest), f"{len(rest)} more")


def _share(drawn: str, share: float, title: str) -> Iterator[str]:
    """A share as a bar and in percent, and whose it is, wrapped in its own column."""
    lead = f"  {drawn} {percent(share):>5}  "
    yield from wrap(one_line(title), width(), lead, " " * cells(lead))


def _first(advice: Advice) -> Iterator[str]:
    """The one next thing where it is not the first of the checks: what the trainer's tree asks for, a remedy, a call.
    Where no check is left, what else there is to do stands below it."""
    best = advice.next
    if best is None or (advice.checks and best.id == advice.checks[0].id):
        return
    yield from ("", heading("Next, as the trainer wrote" if best.by_tree else "Next"))
    for action in (best, *(advice.others if not advice.checks else ())):
        yield from wrapped(action.title, 2, 5)
        yield from _needs(action)


def _needs(action: Action) -> Iterator[str]:
    """Minutes, tool and access, then the reason; a call needs none of the former but its minutes."""
    facts = [f"{action.minutes:g} min"] if action.minutes else []
    if action.kind != "call":
        facts += [*filter(None, (action.tool,)), NEED[action.access.value]]
    if facts:
        yield from wrapped(", ".join(facts), 5)
    if action.why:
        yield from wrapped(action.why, 5)
