"""Small phrases that screens, sheets and messages share: lists, answers, states and titles in words."""

from __future__ import annotations

from collections.abc import Iterable

from diag.machine.model import Indication, Machine
from diag.text import one_line


def listed(items: Iterable[str], word: str = "and") -> str:
    """`a, b and c`."""
    all_ = [i for i in items if i]
    return f" {word} ".join(filter(None, (", ".join(all_[:-1]), all_[-1]))) if all_ else ""


def plain(name: str) -> str:
    """A name from a file as words: `back-at-once` becomes `back at once`."""
    return one_line(name.replace("-", " "))


def answered(title: str, state: str) -> str:
    """What was found, in one line: `SUPPLY: dark`, and after a question its answer alone."""
    return f"{title} {state}" if title.endswith("?") else f"{title}: {state}"


def shown_state(indication: Indication, state: str) -> str:
    """A state in words: its id, with what it means where the file says so."""
    try:
        means = indication.state(state).means
    except KeyError:
        return state
    return f"{state} ({means})" if means else state


def named(machine: Machine, id: str) -> str:
    """The title of anything that an entry names; its name where the machine no longer has it."""
    for all_of in (machine.zones, machine.points, machine.stored, machine.test_points, machine.checks, machine.resets):
        if id in all_of:
            return one_line(all_of[id].title)
    cause = machine.causes.get(id)
    return one_line(cause.title) if cause is not None else title_of(machine, id)


def title_of(machine: Machine, indication: str) -> str:
    """What to call an indication; its name where the machine no longer has it."""
    found = machine.indications.get(indication)
    return found.title if found else indication


def gone(machine: Machine) -> str:
    """What to say of a case whose asset the machine's file names no more; empty where it does."""
    if not machine.gone:
        return ""
    which = f"asset {one_line(machine.asset)}" if machine.asset else "machine without a named asset"
    named = f"It names {listed(machine.assets)}" if machine.assets else "It names none"
    return f"The file knows no {which} any more. {named}. What stands in this case stands until it is said to be over."
