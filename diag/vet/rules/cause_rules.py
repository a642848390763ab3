"""Rules about causes: can each be found, and told from the others?"""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import OTHER, Kind
from diag.machine.nodes import Conclude
from diag.machine.place import Place
from diag.vet.vetted.rule import Finding, Vetted, rule, some


@rule(
    "unfindable",
    "error",
    "No case could ever end at this cause; it might as well not have been written.",
    bad="""
causes:
  belt-worn: {title: Belt worn, part: belt, often: rare, shows: {ready-lamp: {lit: always}}, remedy: let-cool}
""",
    mend=("lit: always", "dark: usually"),
)
def unfindable(vetted: Vetted) -> Iterator[Finding]:
    """No fact can raise a cause that shows what the healthy machine shows. Say which indications it changes, or write
    the indication on which it can be seen."""
    for id in vetted.numbers.unseen():
        text = f"no fact can raise '{id}': it shows what a healthy machine shows; write under 'shows' what it changes"
        yield vetted.finding(vetted.machine.causes[id], text)


@rule(
    "ambiguous",
    "warning",
    "The machine can be used as it is, but a person who ends there has to try one remedy after the other.",
    bad="""
causes:
  lamp-loose:
    title: Supply lamp loose
    part: lamp
    often: rare
    shows: {supply-lamp: dark, test-key: supply}
    remedy: {do: Seat the lamp, minutes: 5, access: dead, zone: box, who: electrician}
""",
    mend=("test-key: supply", 'test-key: supply, tapped: "yes"'),
    more="""
indications:
  tapped: {question: Does the lamp light when its cap is tapped?, usual: {"no": 99, "yes": 1}}
""",
)
def ambiguous(vetted: Vetted) -> Iterator[Finding]:
    """Causes that look the same to every check form an ambiguity group (IEEE Std 1522): no check tells
    them apart. Write a check that does, or give them one remedy that cures them all."""
    causes = vetted.machine.causes
    for group in vetted.numbers.alike():
        remedies = {remedy.id if (remedy := causes[id].remedy) else f"none for {id}" for id in group}
        if len(remedies) > 1 and group[0] not in vetted.numbers.unseen():
            names = ", ".join(group[:-1])
            text = f"no check tells {names} and {group[-1]} apart; write one that does, or one remedy for all"
            yield vetted.finding(causes[group[1]], text)


@rule(
    "unconcluded",
    "info",
    "A tree need not know every cause: where it ends, the ranking goes on, and that knows them all.",
    bad="""
causes:
  belt-torn:
    title: Belt torn
    part: belt
    often: rare
    shows: {air: {weak: usually}, ready-lamp: dark}
    proof: {air: strong}
    remedy: let-cool
""",
    more="""
trees:
  - tree: first-look
    title: First look
    look: ready-lamp
    when:
      dark: {conclude: belt-torn}
      lit:
        conclude:
          [switched-off, supply-lost, voltage-high, lamp-failed, lamp-board-loose, motor-hot, filter-full, wire-broken]
""",
)
def unconcluded(vetted: Vetted) -> Iterator[Finding]:
    """A cause that no way through the trees concludes is found by the ranking alone, never by the tree that a trainer
    trusts. Add it to a conclusion, or leave it to the ranking on purpose."""
    routes = vetted.routes
    if not vetted.machine.trees or not routes.whole:
        return
    named = {id for route in routes.ways if isinstance(route.end, Conclude) for id in route.end.causes}
    for cause in vetted.machine.causes.values():
        if cause.id not in named:
            yield vetted.finding(cause, f"no tree concludes '{cause.id}'; only the ranking can find it")


@rule(
    "unshown-state",
    "info",
    "A question may have answers, and a lamp may have states, that only rule causes out.",
    bad="""
indications:
  hum: {question: How does the motor sound?, usual: {quiet: 9, hums: 1, rattles: 1}}
causes:
  bearing: {title: Bearing dry, part: motor, often: rare, shows: {hum: rattles}, remedy: let-cool}
""",
    mend=("quiet: 9, hums: 1", "quiet: 10"),
)
def unshown_state(vetted: Vetted) -> Iterator[Finding]:
    """A state that no cause shows either does not belong to this machine or is the sign of a cause that nobody wrote
    down. Write the cause, or take the state out. The bands of a reading are exempt, since they must cover every
    value."""
    machine = vetted.machine
    shown: dict[str, set[str]] = {id: {ind.normal, OTHER} for id, ind in machine.indications.items()}
    for cause in machine.causes.values():
        for id, row in cause.shows.items():
            shown[id].update(state for state, chance in row.items() if chance > 0.0)
    for indication in machine.indications.values():
        shown[indication.id].update(follow.shows for follow in indication.follows)
        for id, states in indication.lamp_test:
            shown[id].update(states)
    for danger in machine.dangers:
        for id, states in danger.when:
            shown[id].update(states)
    for indication in machine.indications.values():
        missing = [state for state in indication.state_ids if state not in shown[indication.id]]
        if missing and indication.kind is not Kind.READING and indication.id not in machine.resets:
            place = _state_place(vetted, indication.id, missing[0])
            yield Finding(place, f"no cause shows {some(missing)} of '{indication.id}'; is a cause missing?")


def _state_place(vetted: Vetted, id: str, state: str) -> Place:
    """Where a state of an indication is written; the indication's own key where it is written nowhere."""
    indication = vetted.machine.indications[id]
    item = vetted.written.maps["indications"].get(id)
    if item is None:
        return vetted.place(indication)
    for field in ("states", "bands", "usual", "answers"):
        value = item.node.find([field]).value
        if isinstance(value, dict) and state in value:
            return item.key_place(field, state)
        for child in value if isinstance(value, list) else ():
            if child.value == state:
                return child.place(item.file)
    code = next((code.pattern for code in indication.codes if code.state == state), None)
    return item.key_place("codes", code) if code is not None else item.key_place()
