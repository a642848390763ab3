"""The next thing to do, looked at further ahead than one step, for the time that the person takes to read.

First the best few moves are followed to the end by the one-step rule (rollout), then, where few causes are left and it
comes to an end in time, by dynamic programming over the best few looks at each step. What was advised at first stays
first unless something else ends the case sooner by more than the figures are good for.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf

from diag.machine.model import Role
from diag.reason import constants as k
from diag.reason.advise import Choice, Plan, choices
from diag.reason.ahead import Ahead, Halted
from diag.reason.belief import Belief
from diag.reason.outlook import Outlook, Remedies, outlook
from diag.reason.situation import Situation
from diag.reason.step import Move

Name = tuple[str, str]
"""Kind and id, as in a `Choice`."""


def deepen(
    belief: Belief, situation: Situation, plan: Plan, off: Callable[[], bool], late: Callable[[], bool] = bool
) -> Plan | None:
    """The plan with what looking further ahead says; None when it was called off, or there was no time to compare.

    `plan`: what one step ahead says of the same. Asked every few milliseconds: `off`, true when nobody wants to know
    any more; `late`, true when what was found by then is to count."""
    seen = outlook(belief, situation)
    ahead = Ahead(seen, share=k.AHEAD_SHARE, worth=k.AHEAD_WORTH, cut=k.AHEAD_CUT, halt=lambda: off() or late())
    minutes, finish = _minutes(ahead)
    now = (plan.best.kind, plan.best.id)
    if off() or now not in minutes or len(minutes) < 2:
        return None
    saved = {name: finish - m for name, m in minutes.items()}
    good = (name for name in minutes if name[0] != "check" or saved[name] > 0.0 or name == now)
    best = min(good, key=lambda name: (minutes[name], name != now))
    sooner = minutes[now] - minutes[best]
    if sooner < max(k.AHEAD_GAIN[0], k.AHEAD_GAIN[1] * minutes[now]):
        best, sooner = now, 0.0
    return _plan(seen, belief, plan, saved, best, sooner)


def _minutes(ahead: Ahead) -> tuple[dict[Name, float], float]:
    """Expected minutes to the end with each move that was followed, and without a further look."""
    found: dict[Name, float] = {}
    try:
        finish = ahead.finish(ahead.start)
        for ranked in ahead.weigh(ahead.start, k.AHEAD_FIRST, 1):
            found[_name(ahead.outlook, ranked.move)] = ranked.minutes
        closer = {_name(ahead.outlook, r.move): r.minutes for r in ahead.weigh(ahead.start, k.AHEAD_FEW, k.AHEAD_FEW)}
    except Halted:
        return found, finish if found else 0.0
    return found | closer, finish


def _plan(seen: Outlook, belief: Belief, plan: Plan, saved: dict[Name, float], best: Name, sooner: float) -> Plan:
    table = belief.table
    loss = Remedies(seen.fixes, table, table.call, len(table.causes))
    found = (replace(c, saved=saved.get(("check", c.id), c.saved)) for c in choices(seen, table, loss, plan.left, -inf))
    checks = sorted(
        (c for c in found if c.saved > 0.0 or c.id == best[1]), key=lambda c: (("check", c.id) != best, -c.saved)
    )
    remedies = list(plan.remedies)
    match best:
        case "check", id:
            first = next(c for c in checks if c.id == id)
        case "remedy", id:
            first = next((c for c in remedies if c.id == id), None) or _remedy(seen, id)
            remedies = [first, *(c for c in remedies if c.id != id)]
        case _:
            first = Choice("call", Role.ENGINEER, table.call, 0.0, 0.0)
    return Plan(tuple(checks), tuple(remedies), first, plan.left, plan.best if sooner else None, sooner)


def _remedy(seen: Outlook, id: str) -> Choice:
    fix = next(x for x in seen.fixes if x.id == id)
    return Choice("remedy", id, fix.minutes, seen.situation.setup(seen.times, fix.place), 0.0)


def _name(seen: Outlook, move: Move) -> Name:
    match move.kind:
        case "look":
            return "check", seen.looks[move.number].id
        case "fix":
            return "remedy", seen.fixes[move.number].id
    return "call", Role.ENGINEER
