"""Rules about whole ways through the trees: what is asked, concluded and locked out from the first look to the end."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.machine.model import Access, Check, Energy, Machine
from diag.machine.nodes import Conclude, Look
from diag.vet.routes import MOST_STEPS, Passed, Route
from diag.vet.table import Finding, Vetted, rule

LAST_FACTS: Final = 3
"""Facts of a way that a message names, the last ones: they are nearest to its end."""


def _maze(deep: int) -> str:
    """Trees of two branches that both lead to the next one: 2 ** deep ways."""
    to_next = "{{a: {{go: t{n}}}, b: {{do: Wait, then: {{go: t{n}}}}}}}"
    trees = [f"  - {{tree: t{n}, title: T, look: q{n}, when: {to_next.format(n=n + 1)}}}" for n in range(deep)]
    asked = [f"  q{n}: {{question: Question {n}?, answers: [a, b]}}" for n in range(deep)]
    last = f"  - {{tree: t{deep}, title: Last, call: engineer}}"
    return "\n".join(["start: t0", "trees:", *trees, last, "indications:", *asked])


@rule(
    "too-many-ways",
    "info",
    "Nothing is wrong with it; a part is only not looked at.",
    bad=_maze(14),
    good="""
trees:
  - {tree: first-look, title: First look, look: air, when: {weak: {conclude: filter-full}, strong: {call: engineer}}}
""",
)
def too_many_ways(vetted: Vetted) -> Iterator[Finding]:
    """Trees that lead into one another at every step have ways without number, which no person could check either. What
    holds of every way is then told of the first ones only."""
    if not vetted.routes.whole:
        tree = vetted.machine.trees.get(vetted.machine.start) or next(iter(vetted.machine.trees.values()))
        text = f"the ways through the trees pass more than {MOST_STEPS:,} nodes; only the first of them were looked at"
        yield Finding(vetted.where(tree.place), text)


@rule(
    "asked-again",
    "warning",
    "Nobody is asked twice, as the answer is known; the look only does nothing.",
    bad="""
trees:
  - tree: first-look
    title: First look
    look: air
    when:
      strong: {call: engineer}
      weak: {look: smell, when: {burning: {call: engineer}, none: {look: air, otherwise: {conclude: filter-full}}}}
""",
    good="""
trees:
  - tree: first-look
    title: First look
    look: air
    when:
      strong: {call: engineer}
      weak: {look: smell, when: {burning: {call: engineer}, none: {conclude: filter-full}}}
""",
)
def asked_again(vetted: Vetted) -> Iterator[Finding]:
    """A look at what every way here has looked at already, and that sends all of them on alike, decides nothing. Write
    what follows it in its place. A second look that splits what the first one took together is fine."""
    if not vetted.routes.whole:
        return
    seen: dict[int, tuple[Look, bool, set[int]]] = {}
    for route in vetted.routes.ways:
        for step in route.passed:
            look, again, branches = seen.setdefault(id(step.look), (step.look, True, set()))
            state = next(iter(step.states))
            branches.add(id(look.when.get(state, look.otherwise)))
            seen[id(look)] = (look, again and step.before is not None, branches)
    for look, again, branches in seen.values():
        if again and len(branches) == 1:
            text = f"'{look.indication}' is known here on every way, and this look decides nothing; take it out"
            yield Finding(vetted.where(look.place), text)


@rule(
    "contradicted",
    "warning",
    "The tree is a trainer's word against the file's own figures, and either may be wrong.",
    bad="""
trees:
  - tree: first-look
    title: First look
    look: display
    when: {filter: {look: air, when: {weak: {conclude: switched-off}, strong: {call: engineer}}}}
    otherwise: {call: engineer}
""",
    good="""
trees:
  - tree: first-look
    title: First look
    look: display
    when: {filter: {look: air, when: {weak: {conclude: filter-full}, strong: {call: engineer}}}}
    otherwise: {call: engineer}
""",
)
def contradicted(vetted: Vetted) -> Iterator[Finding]:
    """What is concluded is set against the facts on the ways that lead there, each way as often as it comes. Where the
    belief in the concluded causes is below the share that as many causes drawn from a hat would have (their number out
    of all, `unlisted` among them), the facts speak against them: whoever drew lots would do better. Correct the
    conclusion, or what the causes show."""
    numbers = vetted.numbers
    if numbers is None:
        return
    arrivals: dict[int, list[Route]] = {}
    for route in vetted.routes.ways:
        if isinstance(route.end, Conclude) and route.passed:
            arrivals.setdefault(id(route.end), []).append(route)
    for routes in arrivals.values():
        end = routes[0].end
        assert isinstance(end, Conclude)
        meant = [numbers.table.cause_index[cause] for cause in dict.fromkeys(end.causes)]
        chances = [numbers.joint(route.facts) for route in routes]
        total = sum(chances[1:], chances[0]) / sum(float(p.sum()) for p in chances)
        belief, top = float(total[meant].sum()), int(total.argmax())
        share = len(meant) / len(numbers.table.causes)
        if belief < share:
            likeliest = max(zip(chances, routes, strict=True), key=lambda pair: float(pair[0].sum()))[1]
            text = (
                f"the facts on the way here ({_last(likeliest.passed)}) speak against {' and '.join(end.causes)}: "
                f"they leave {belief:.2%}, and {total[top]:.0%} for {numbers.table.causes[top]}; correct the "
                "conclusion, or what they show"
            )
            yield Finding(vetted.where(end.place), text)


def _last(passed: tuple[Passed, ...]) -> str:
    """The last facts of a way, in words."""
    known: dict[str, frozenset[str]] = {step.look.indication: step.states for step in passed}
    last = list(known.items())[-LAST_FACTS:]
    return ("... " if len(known) > LAST_FACTS else "") + ", ".join(f"{id} {'|'.join(sorted(s))}" for id, s in last)


@rule(
    "lockout-again",
    "warning",
    "It is slow and not dangerous: each time the whole lockout is gone through.",
    bad="""
checks:
  measure-air:
    gives: air
    do: Measure behind the grille
    with: flow meter
    access: dead
    zone: box
    minutes: 5
    caution: The wheel may still turn.
trees:
  - tree: first-look
    title: First look
    look: motor-wire
    when:
      open: {conclude: wire-broken}
      closed:
        look: ready-lamp
        when:
          lit: {look: air, when: {weak: {conclude: filter-full}, strong: {call: engineer}}}
          dark: {call: engineer}
""",
    good="""
checks:
  measure-air:
    gives: air
    do: Measure behind the grille
    with: flow meter
    access: dead
    zone: box
    minutes: 5
    caution: The wheel may still turn.
trees:
  - tree: first-look
    title: First look
    look: ready-lamp
    when:
      lit:
        look: motor-wire
        when:
          open: {conclude: wire-broken}
          closed: {look: air, when: {weak: {conclude: filter-full}, strong: {call: engineer}}}
      dark: {call: engineer}
""",
)
def lockout_again(vetted: Vetted) -> Iterator[Finding]:
    """A way that locks a zone out, takes power on again for a look, and locks the same zone out once more goes through
    the gate more often than it must. Put the look that needs power before the lockout; a look that hangs on what was
    found inside may stay where it is."""
    told: set[int] = set()
    for route in vetted.routes.ways:
        for step, zone, between in _again(vetted.machine, route):
            if id(step.look) not in told:
                told.add(id(step.look))
                text = (
                    f"'{step.look.indication}' locks out '{zone}' a second time on this way, since '{between}' needs "
                    "power; look at that first"
                )
                yield Finding(vetted.where(step.look.place), text)


def _again(machine: Machine, route: Route) -> Iterator[tuple[Passed, str, str]]:
    """Looks that lock out a zone that was locked out before, with what the power came back for."""
    locked: set[str] = set()
    left: dict[str, str] = {}
    """Zones that were locked out, and the look that ended it."""
    inside: set[str] = set()
    """What was found in a lockout."""
    for step in route.passed:
        if step.before is not None:
            continue
        id = step.look.indication
        check = _easiest(machine, id)
        if check is None:
            continue
        powered = check.access is Access.LIVE or (check.access is Access.OUTSIDE and check.energy is Energy.ON)
        if check.access is Access.DEAD:
            if check.zone in left and check.zone not in locked and left[check.zone]:
                yield step, check.zone, left[check.zone]
            locked.add(check.zone)
            inside.add(id)
        elif powered and locked:
            hangs = inside & set(check.needs)
            left.update(dict.fromkeys(locked, "" if hangs else id))
            locked.clear()


def _easiest(machine: Machine, id: str) -> Check | None:
    """The check by which an indication is found with the least access; None for a reset's outcome."""
    order = (Access.OUTSIDE, Access.DEAD, Access.LIVE)
    return min(machine.checks_for[id], key=lambda check: order.index(check.access), default=None)
