"""Rules about who does what: nobody is sent where they may not go, and there is somebody to call."""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Access, Role
from diag.vet.sample import LEAST
from diag.vet.table import Finding, Vetted, rule


@rule(
    "operator-inside",
    "error",
    "It sends a person who is not trained for it to where it is dangerous.",
    bad="""
checks:
  measure-wire: {who: [operator, electrician]}
""",
    good="""
checks:
  measure-wire: {who: electrician}
""",
)
def operator_inside(vetted: Vetted) -> Iterator[Finding]:
    """An operator is never sent past an enclosure (common practice; IEC 60050 195-04, ordinary persons): a check or a
    remedy for an operator has the access outside."""
    for check in vetted.machine.checks.values():
        if check.access is not Access.OUTSIDE and Role.OPERATOR in check.who:
            place = vetted.place("checks", check.id, "who", otherwise=check.place)
            text = f"'{check.id}' needs access {check.access} and is offered to an operator; take 'operator' out"
            yield Finding(place, text)
    for remedy in vetted.machine.remedies.values():
        if remedy.access is not Access.OUTSIDE and Role.OPERATOR in remedy.who:
            text = f"'{remedy.id}' needs access {remedy.access} and is offered to an operator; take 'operator' out"
            yield Finding(vetted.in_remedy(remedy, "who"), text)


@rule(
    "hidden-danger",
    "error",
    "A danger sign goes before everything; one that nobody is asked for protects nobody.",
    bad="""
dangers:
  - {when: {motor-wire: open}, stop: Keep away and call., call: engineer}
""",
    good="""
dangers:
  - {when: {smell: burning}, stop: Keep away and call., call: engineer}
""",
)
def hidden_danger(vetted: Vetted) -> Iterator[Finding]:
    """A danger sign must be there to be seen from outside, by anybody."""
    machine = vetted.machine
    for danger, item in zip(machine.dangers, vetted.written.lists["dangers"], strict=True):
        for id, _ in danger.when:
            open_to_all = any(
                check.access is Access.OUTSIDE and set(Role) <= set(check.who) for check in machine.checks_for[id]
            )
            if not open_to_all:
                text = f"the danger sign '{id}' has no look from outside that anybody may take"
                yield Finding(item.place("when"), text)


@rule(
    "nobody-to-call",
    "warning",
    "There is a stand-in, the engineer on duty; it only does not say how to reach one.",
    bad=f"""
# machine.yaml
{LEAST}
call: {{electrician: Shift electrician by the site radio}}
""",
    good=f"""
# machine.yaml
{LEAST}
call: {{engineer: Duty engineer by the site radio}}
""",
)
def nobody_to_call(vetted: Vetted) -> Iterator[Finding]:
    """The screens name an engineer to call where nothing else helps; say under `call` how to reach one."""
    head = vetted.written.head
    if head is not None and head.node.find(["call", "engineer"]) in (head.node, head.node.find(["call"])):
        yield Finding(vetted.top, "'call' does not say how to reach an engineer")
