"""The next thing to do, looked at further ahead than one step, for the time that the person takes to read.

First the best few actions are followed to the end by the one-step rule (rollout). Then, as far as time allows, dynamic
programming follows the best few checks at each step. What was advised at first stays first unless something else ends
the case sooner by more than the error of the figures.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import inf

from diag.reason import constants as k
from diag.reason.advice.ahead_search import AheadSearch, Halted
from diag.reason.advice.decision_model import ActionRef, DecisionModel, decision_model
from diag.reason.advice.one_step import Plan, PlannedAction, planned_checks
from diag.reason.advice.remedy_loss import RemedyLoss
from diag.reason.belief.belief import Belief
from diag.reason.table.situation import Role, Situation

Name = tuple[str, str]
"""Kind and id, as in a `PlannedAction`."""


def look_ahead(
    belief: Belief,
    situation: Situation,
    plan: Plan,
    off: Callable[[], bool] = bool,
    late: Callable[[], bool] = bool,
    nodes: int | None = None,
) -> Plan | None:
    """The plan with what looking further ahead says. None if it was called off, or halted before anything was compared.

    `plan` is what one step ahead says of the same. `off` and `late` are asked at each node, every few milliseconds:
    `off` is true when nobody wants the answer any more, `late` when what was found by then has to do. After `nodes`
    nodes the same holds as after `late`; a count, unlike a clock, halts every run at the same place."""
    seen = decision_model(belief, situation)
    limits = {"share": k.AHEAD_SHARE, "worth": k.AHEAD_WORTH, "cut": k.AHEAD_CUT}
    minutes, finish = _minutes(AheadSearch(seen, **limits, halt=lambda: off() or late(), nodes=nodes))
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


def _minutes(ahead: AheadSearch) -> tuple[dict[Name, float], float]:
    """Expected minutes to the end with each action that was followed, and without a further look."""
    found: dict[Name, float] = {}
    try:
        finish = ahead.step(ahead.start).finish
        for ranked in ahead.weigh(ahead.start, k.AHEAD_FIRST, 1):
            found[_name(ahead.model, ranked.action)] = ranked.minutes
        closer = {_name(ahead.model, r.action): r.minutes for r in ahead.weigh(ahead.start, k.AHEAD_FEW, k.AHEAD_FEW)}
    except Halted:
        return found, finish if found else 0.0
    return found | closer, finish


def _plan(seen: DecisionModel, belief: Belief, plan: Plan, saved: dict[Name, float], best: Name, sooner: float) -> Plan:
    table = belief.table
    loss = RemedyLoss(seen.remedies, table.times, table.times.call, len(table.causes))
    found = planned_checks(seen, table, loss, plan.left, -inf)
    weighed = (replace(c, saved=saved.get(("check", c.id), c.saved)) for c in found)
    kept = (c for c in weighed if c.saved > 0.0 or ("check", c.id) == best)
    checks = tuple(sorted(kept, key=lambda c: (("check", c.id) != best, -c.saved)))
    remedies = plan.remedies
    match best:
        case "check", _:
            first = checks[0]
        case "remedy", id:
            first = next((c for c in remedies if c.id == id), None) or _remedy(seen, id)
            remedies = (first, *(c for c in remedies if c.id != id))
        case _:
            first = PlannedAction("call", Role.ENGINEER, table.times.call, 0.0, 0.0)
    return Plan(checks, remedies, first, plan.left, plan.best if sooner else None, sooner)


def _remedy(seen: DecisionModel, id: str) -> PlannedAction:
    remedy = next(x for x in seen.remedies if x.id == id)
    return PlannedAction("remedy", id, remedy.minutes, seen.situation.setup(seen.times, remedy.place), 0.0)


def _name(seen: DecisionModel, action: ActionRef) -> Name:
    option = seen.option(action)
    return action.kind, option.id if option is not None else Role.ENGINEER
