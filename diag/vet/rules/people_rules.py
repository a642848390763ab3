"""Rules about who does what: nobody is sent where they may not go, and there is somebody to call."""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Access, Check, Remedy, Role
from diag.vet.vetted.rule import Finding, Vetted, rule
from diag.vet.vetted.sample import LEAST


@rule(
    "operator-inside",
    "error",
    "It sends people who are not trained for it to a dangerous place.",
    bad="""
checks:
  measure-wire: {who: [operator, electrician]}
""",
    mend=("[operator, electrician]", "electrician"),
)
def operator_inside(vetted: Vetted) -> Iterator[Finding]:
    """Operators are never sent past an enclosure (common practice; IEC 60050 195-04, ordinary persons): a check or a
    remedy for an operator has access outside."""
    actions: list[Check | Remedy] = [*vetted.machine.checks.values(), *vetted.machine.remedies.values()]
    for action in actions:
        if action.access is not Access.OUTSIDE and Role.OPERATOR in action.who:
            text = f"'{action.id}' needs access {action.access} and is offered to an operator; take 'operator' out"
            yield vetted.finding(action, text, "who")


@rule(
    "hidden-danger",
    "error",
    "A danger sign goes before everything, but one that nobody can be asked about protects nobody.",
    bad="""
dangers:
  - {when: {motor-wire: open}, stop: Keep away and call., call: engineer}
""",
    mend=("motor-wire: open", "smell: burning"),
)
def hidden_danger(vetted: Vetted) -> Iterator[Finding]:
    """A danger sign must be something that everybody can notice from outside."""
    machine = vetted.machine
    for danger, item in zip(machine.dangers, vetted.written.lists["dangers"], strict=True):
        for id, _ in danger.when:
            open_to_all = any(
                check.access is Access.OUTSIDE and set(Role) <= set(check.who) for check in machine.checks_for[id]
            )
            if not open_to_all:
                text = f"the danger sign '{id}' has no check from outside that everybody may do"
                yield Finding(item.place("when"), text)


@rule(
    "nobody-to-call",
    "warning",
    "The screens name the engineer on duty instead, but not how to reach one.",
    bad=f"""
# machine.yaml
{LEAST}
call: {{electrician: Shift electrician by the site radio}}
""",
    mend=("electrician: Shift electrician", "engineer: Duty engineer"),
)
def nobody_to_call(vetted: Vetted) -> Iterator[Finding]:
    """The screens name an engineer to call where nothing else helps; say under `call` how to reach one."""
    head = vetted.written.head
    if head is not None and head.node.find(["call", "engineer"]) in (head.node, head.node.find(["call"])):
        yield Finding(vetted.top, "'call' does not say how to reach an engineer")
