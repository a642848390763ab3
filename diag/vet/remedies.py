"""Rules about remedies and their proofs: is there something to do, and would it show that it was done?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.machine.model import Access, Cause, Energy, Indication, Kind, Machine
from diag.machine.place import Place
from diag.vet import words
from diag.vet.table import Finding, Vetted, rule

HOLDS_ANYWAY: Final = 0.5
"""A proof that more likely holds than not while the cause still stands proves nothing: most of the times it is looked
at, the machine would go back to work with its fault. A cause that comes and goes is taken while it shows itself."""


@rule(
    "no-remedy",
    "warning",
    "A cause may be written before anybody knows what to do about it.",
    bad="""
causes:
  belt-worn: {title: Belt worn, part: belt, often: rare, shows: {air: {weak: usually}}}
""",
    good="""
causes:
  belt-worn:
    {title: Belt worn, part: belt, often: rare, shows: {air: {weak: usually}}, remedy: let-cool}
""",
)
def no_remedy(vetted: Vetted) -> Iterator[Finding]:
    """Finding a cause that nothing is known against helps nobody."""
    for cause in vetted.machine.causes.values():
        if cause.remedy is None:
            yield Finding(
                vetted.where(cause.place), f"'{cause.id}' has no remedy; write what to do, if only whom to call"
            )


@rule(
    "no-proof",
    "warning",
    "The case can still be closed as running; it is only never shown as cured.",
    bad="""
causes:
  belt-worn: {title: Belt worn, part: belt, often: rare, shows: {air: {weak: usually}}, remedy: let-cool}
""",
    good="""
causes:
  belt-worn:
    title: Belt worn
    part: belt
    often: rare
    shows: {air: {weak: usually}}
    remedy: let-cool
    proof: {air: strong}
""",
)
def no_proof(vetted: Vetted) -> Iterator[Finding]:
    """Without a proof nobody can say that it is cured. What a cause usually turns off normal is its proof without being
    written; where it shows nothing so surely, or only answers, write one. A stop by design ends when the machine
    runs."""
    for cause in vetted.machine.causes.values():
        if cause.remedy is not None and not cause.proof and not cause.by_design:
            yield Finding(vetted.where(cause.place), f"nothing proves that '{cause.id}' is cured; write 'proof'")


@rule(
    "proof-holds-anyway",
    "error",
    "The machine would be handed back as cured with its fault in it.",
    bad="""
causes:
  lamp-failed: {proof: {supply-lamp: [dim, dark]}}
""",
    good="""
causes:
  lamp-failed: {proof: {supply-lamp: lit}}
""",
)
def proof_holds_anyway(vetted: Vetted) -> Iterator[Finding]:
    """A proof must fail while its cause stands. Where the cause itself shows all that the proof asks for more often
    than not, the proof says nothing: take the states that only the cured machine shows."""
    numbers = vetted.numbers
    for cause in vetted.machine.causes.values() if numbers is not None else ():
        if not cause.proof or numbers is None:
            continue
        chance = numbers.chance(cause.id, {id: frozenset(states) for id, states in cause.proof.items()})
        if chance > HOLDS_ANYWAY:
            text = (
                f"the proof that '{cause.id}' is cured holds in {chance:.0%} of its own stops; "
                "take what only the cured machine shows"
            )
            yield Finding(_proof_place(vetted, cause, next(iter(cause.proof))), text)


@rule(
    "live-proof",
    "warning",
    "There are faults that only a meter on a live part shows cured; most show it on a lamp or by running.",
    bad="""
causes:
  supply-lost: {proof: {supply: good}}
""",
    good="""
causes:
  supply-lost: {proof: {supply-lamp: lit}}
""",
)
def live_proof(vetted: Vetted) -> Iterator[Finding]:
    """A proof is looked at after every repair, by whoever repaired. One that takes work on live parts makes the most
    dangerous work a matter of routine; prove it on what is seen from outside, or dead."""
    machine = vetted.machine
    for cause in machine.causes.values():
        for id in cause.proof:
            checks = machine.checks_for[id]
            if checks and all(check.access is Access.LIVE for check in checks):
                place = _proof_place(vetted, cause, id)
                unsaid = " (without 'proof:' it is what 'shows' names, back to normal)" if place == cause.place else ""
                text = (
                    f"the proof that '{cause.id}' is cured{unsaid} needs live work for '{id}'; "
                    "prove it on what is seen outside"
                )
                yield Finding(place, text)


@rule(
    "proof-without-power",
    "warning",
    "The case is closed only with the locks off, and asks once more then; nobody is bound to try the machine for it.",
    bad="""
indications:
  wheel: {question: Does the wheel turn when START is pressed?, usual: {"yes": 97, "no": 3}}
causes:
  wire-broken: {shows: {wheel: "no"}, proof: {motor-wire: closed, wheel: "yes"}}
""",
    good="""
indications:
  wheel:
    question: Does the wheel turn when START is pressed?
    usual: {"yes": 97, "no": 3}
    energy: on
causes:
  wire-broken: {shows: {wheel: "no"}, proof: {motor-wire: closed, wheel: "yes"}}
""",
)
def proof_without_power(vetted: Vetted) -> Iterator[Finding]:
    """After work done dead the machine is tried before it is called cured. A question may be answered with the power
    off, unless it says otherwise. Where nothing else in the proof needs power, one that asks what runs or moves, or
    that shows the same for want of power, proves nothing then: give it 'energy: on'. So does a protective device that
    was put in again by hand: add what shows that the machine runs. A look at something mechanical, and a measurement
    done dead, are proof enough; a word of the list that means something else here is answered by 'energy: any'."""
    machine = vetted.machine
    for cause in machine.causes.values():
        proof = [machine.indications[id] for id in cause.proof]
        dead = cause.remedy is not None and cause.remedy.access is Access.DEAD
        if not dead or any(ind.energy is Energy.ON for ind in proof):
            continue
        by_hand = all(ind.energy is Energy.ANY for ind in proof)
        for ind in proof:
            text = _hollow(vetted, cause, ind, by_hand)
            if text:
                yield Finding(_proof_place(vetted, cause, ind.id), text)
                break


def _hollow(vetted: Vetted, cause: Cause, ind: Indication, by_hand: bool) -> str:
    """Why this part of a proof proves nothing with the power off; empty where it does."""
    if ind.energy is not Energy.ANY:
        return ""
    item, states = vetted.written.maps["indications"].get(ind.id), cause.proof[ind.id]
    if item is None or "energy" not in item.keys:
        tried = ind.kind is Kind.QUESTION and ind.id not in vetted.machine.resets and words.tried(vetted.asked(ind))
        if tried or _for_want_of_power(vetted.machine, ind, states):
            return f"seen with the power off '{ind.id}' does not prove that '{cause.id}' is cured; give it 'energy: on'"
    if by_hand and any(ind.state(state).protective for state in ind.state_ids if state not in states):
        return (
            f"the proof that '{cause.id}' is cured needs no power: '{ind.id}' can be put back by hand; "
            "add what shows that the machine runs"
        )
    return ""


def _for_want_of_power(machine: Machine, ind: Indication, states: tuple[str, ...]) -> bool:
    """Whether one of these states is shown because something else that needs power is off its normal state."""
    return any(
        machine.indications[id].energy is Energy.ON and machine.indications[id].normal not in when
        for follow in ind.follows
        if follow.shows in states
        for id, when in follow.when
    )


def _proof_place(vetted: Vetted, cause: Cause, id: str) -> Place:
    """Where the proof by an indication is written; the cause's key where it is not, or by a group."""
    item = vetted.written.maps["causes"].get(cause.id)
    if item is None or "proof" not in item.keys:
        return vetted.where(cause.place)
    return item.key_place("proof", id)


@rule(
    "unused-remedy",
    "warning",
    "Nothing goes wrong by it; it is only never offered.",
    bad="""
remedies:
  turn-fan: {do: Turn the fan by hand, minutes: 5, access: dead, zone: box}
""",
    good="""
remedies:
  turn-fan: {do: Turn the fan by hand, minutes: 5, access: dead, zone: box}
causes:
  filter-full: {remedy: turn-fan}
""",
)
def unused_remedy(vetted: Vetted) -> Iterator[Finding]:
    """A remedy that no cause names is never offered: name it in a cause, or take it out."""
    for id, causes in vetted.machine.causes_of.items():
        if not causes:
            place = vetted.key("remedies", id, otherwise=vetted.machine.remedies[id].place)
            yield Finding(place, f"no cause names the remedy '{id}'; name it in one, or take it out")


@rule(
    "live-remedy",
    "error",
    "Whoever follows it works on live parts with both hands, each time that this cause is met.",
    bad="""
causes:
  wire-broken:
    remedy: {do: Tighten the terminals of the wire, minutes: 5, access: live, zone: box, who: electrician}
""",
    good="""
causes:
  wire-broken:
    remedy: {do: Tighten the terminals of the wire, minutes: 5, access: dead, zone: box, who: electrician}
""",
)
def live_remedy(vetted: Vetted) -> Iterator[Finding]:
    """What has to be measured may need its voltage; what is mended does not (29 CFR 1910.333(a)(1): live parts are
    de-energized before work on or near them). A remedy has the access dead, or outside: a value that is set with the
    power on is set from outside, or its measuring is a check and its setting a remedy."""
    for remedy in vetted.machine.remedies.values():
        if remedy.access is Access.LIVE:
            text = f"the remedy '{remedy.id}' is done on live parts; make its access dead"
            yield Finding(vetted.in_remedy(remedy, "access"), text)
