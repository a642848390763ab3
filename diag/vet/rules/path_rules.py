"""Rules about whole ways through the trees: what is asked, concluded and locked out from the first look to the end."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from diag.machine.model import Access, Check, Energy, Machine
from diag.machine.nodes import Conclude, Look
from diag.tree.routes import MOST_STEPS, Passed, Route
from diag.vet.vetted.rule import Finding, Vetted, rule

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
    "Nothing is wrong with the trees; part of them was not looked at.",
    bad=_maze(14),
    good=_maze(2),
)
def too_many_ways(vetted: Vetted) -> Iterator[Finding]:
    """Trees that lead into one another at every step have countless ways, which no person could check either. What is
    said about every way is then said about the first ones only."""
    if not vetted.routes.whole:
        tree = vetted.machine.trees.get(vetted.machine.start) or next(iter(vetted.machine.trees.values()))
        text = f"the ways through the trees pass more than {MOST_STEPS:,} nodes; only the first of them were looked at"
        yield vetted.finding(tree, text)


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
    mend=("look: air, otherwise: {conclude: filter-full}", "conclude: filter-full"),
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
            yield vetted.finding(look, text)


@rule(
    "contradicted",
    "warning",
    "It is the trainer's word against the file's own figures, and either may be wrong.",
    bad="""
trees:
  - tree: first-look
    title: First look
    look: display
    when: {filter: {look: air, when: {weak: {conclude: switched-off}, strong: {call: engineer}}}}
    otherwise: {call: engineer}
""",
    mend=("switched-off", "filter-full"),
)
def contradicted(vetted: Vetted) -> Iterator[Finding]:
    """A conclusion is held against the facts on the ways that lead to it, each way weighted by how often it comes. The
    facts speak against the concluded causes where they are less likely than as many causes drawn at random (their
    number out of all causes, `unlisted` among them): drawing lots would do better. Correct the conclusion, or what the
    causes show."""
    numbers = vetted.numbers
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
        if belief < len(meant) / len(numbers.table.causes):
            likeliest = max(zip(chances, routes, strict=True), key=lambda pair: float(pair[0].sum()))[1]
            text = (
                f"the facts on the way here ({_last(likeliest.facts)}) speak against {' and '.join(end.causes)}: "
                f"they leave {belief:.2%}, and {total[top]:.0%} for {numbers.table.causes[top]}; correct the "
                "conclusion, or what they show"
            )
            yield vetted.finding(end, text)


def _last(facts: Mapping[str, frozenset[str]]) -> str:
    """The last facts of a way, in words."""
    last = [f"{id} {'|'.join(sorted(states))}" for id, states in facts.items()][-LAST_FACTS:]
    return ("... " if len(facts) > LAST_FACTS else "") + ", ".join(last)


_MEASURED_INSIDE: Final = """\
checks:
  measure-air: {gives: air, do: Measure behind the grille, with: flow meter, minutes: 5, access: dead, zone: box,
    caution: The wheel may still turn.}"""


@rule(
    "lockout-again",
    "warning",
    "It is slow, not dangerous: each time people go through the whole lockout.",
    bad=_MEASURED_INSIDE
    + """
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
    good=_MEASURED_INSIDE
    + """
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
    """A way that locks a zone out, turns the power on again for a look, and locks the same zone out once more goes
    through the gate more often than it must. Put the look that needs power before the lockout; a look that depends on
    what was found inside may stay where it is."""
    told: set[int] = set()
    for route in vetted.routes.ways:
        for step, zone, between in _again(vetted.machine, route):
            if id(step.look) not in told:
                told.add(id(step.look))
                text = (
                    f"'{step.look.indication}' locks out '{zone}' a second time on this way, since '{between}' needs "
                    "power; look at that first"
                )
                yield vetted.finding(step.look, text)


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
