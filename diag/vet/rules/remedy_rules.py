"""Rules about remedies and their proofs: is there something to do, and would it show that it was done?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.machine.model import Access, Cause, Energy, Indication, Kind, Machine
from diag.machine.place import Place
from diag.vet.vetted import work_words as words
from diag.vet.vetted.rule import Finding, Vetted, rule

HOLDS_ANYWAY: Final = 0.5
"""A proof that more likely holds than not while the cause still stands proves nothing: most of the time the machine
would go back to work with its fault. An intermittent cause is taken while it shows itself."""


@rule(
    "no-remedy",
    "warning",
    "A cause may be written down before anybody knows what to do about it.",
    bad="""
causes:
  belt-worn: {title: Belt worn, part: belt, often: rare, shows: {air: {weak: usually}}}
""",
    mend=("usually}}", "usually}}, remedy: let-cool"),
)
def no_remedy(vetted: Vetted) -> Iterator[Finding]:
    """Finding a cause helps nobody when nothing is known that cures it."""
    for cause in vetted.machine.causes.values():
        if cause.remedy is None:
            yield vetted.finding(cause, f"'{cause.id}' has no remedy; write what to do, if only whom to call")


@rule(
    "no-proof",
    "warning",
    "The case can still be closed as running, but never as cured.",
    bad="""
causes:
  belt-worn:
    {title: Belt worn, part: belt, often: rare, shows: {air: {weak: usually}}, remedy: let-cool}
""",
    mend=("let-cool", "let-cool, proof: {air: strong}"),
)
def no_proof(vetted: Vetted) -> Iterator[Finding]:
    """Without a proof nobody can say that the cause is cured. Where no proof is written, the indications that the cause
    usually changes must be back to normal; where it changes none so surely, or only answers of people, write one. A
    stop by design ends when the machine runs."""
    for cause in vetted.machine.causes.values():
        if cause.remedy is not None and not cause.proof and not cause.by_design:
            yield vetted.finding(cause, f"nothing proves that '{cause.id}' is cured; write 'proof'")


@rule(
    "proof-holds-anyway",
    "error",
    "The machine would be handed back as cured, with the fault still in it.",
    bad="""
causes:
  lamp-failed: {proof: {supply-lamp: [dim, dark]}}
""",
    mend=("[dim, dark]", "lit"),
)
def proof_holds_anyway(vetted: Vetted) -> Iterator[Finding]:
    """A proof must fail while its cause is there. Where the cause itself, more often than not, shows all that the proof
    asks for, the proof says nothing: use states that only the cured machine shows."""
    for cause in vetted.machine.causes.values():
        proof = {id: frozenset(states) for id, states in cause.proof.items()}
        if proof and (chance := vetted.numbers.chance(cause.id, proof)) > HOLDS_ANYWAY:
            text = (
                f"the proof that '{cause.id}' is cured holds in {chance:.0%} of its own stops; "
                "use what only the cured machine shows"
            )
            yield Finding(_proof_place(vetted, cause, next(iter(cause.proof))), text)


@rule(
    "no-function-test",
    "error",
    "A guard or a stop that was put right and never tried may be bridged, and everybody trusts it.",
    bad="""
causes:
  lamp-failed: {safety: true}
""",
    mend=("safety: true", "safety: true, function-test: {supply-lamp: lit}"),
)
def no_function_test(vetted: Vetted) -> Iterator[Finding]:
    """A cause that is a fault of a safety function is cured only once the function was tried: it is actuated, and the
    machine refuses (IEC 60204-1, clause 18). Write `function-test` with what that test must show."""
    for cause in vetted.machine.causes.values():
        if cause.safety and cause.remedy is not None and not cause.function_test:
            text = f"'{cause.id}' is a fault of a safety function; write 'function-test', what a test of it must show"
            yield vetted.finding(cause, text)


@rule(
    "live-proof",
    "warning",
    "For some faults only a meter on a live part can show the cure; most show it on a lamp or by running.",
    bad="""
causes:
  supply-lost: {proof: {supply: good}}
""",
    mend=("supply: good", "supply-lamp: lit"),
)
def live_proof(vetted: Vetted) -> Iterator[Finding]:
    """A proof is checked after every repair, by the person who did it. A proof on live parts makes the most dangerous
    kind of work routine; use one that can be seen from outside, or with the zone dead."""
    machine = vetted.machine
    for cause in machine.causes.values():
        for id in cause.proof:
            checks = machine.checks_for[id]
            if checks and all(check.access is Access.LIVE for check in checks):
                place = _proof_place(vetted, cause, id)
                unsaid = " (without 'proof:' it is what 'shows' names, back to normal)" if place == cause.place else ""
                text = (
                    f"the proof that '{cause.id}' is cured{unsaid} needs live work for '{id}'; "
                    "prove it on what is seen from outside"
                )
                yield Finding(place, text)


@rule(
    "proof-without-power",
    "warning",
    "A case is closed only with the locks off, and it asks again then; but nobody has to try the machine for that.",
    bad="""
indications:
  wheel: {question: Does the wheel turn when START is pressed?, usual: {"yes": 97, "no": 3}}
causes:
  wire-broken: {shows: {wheel: "no"}, proof: {motor-wire: closed, wheel: "yes"}}
""",
    mend=('"no": 3}', '"no": 3}, energy: on'),
)
def proof_without_power(vetted: Vetted) -> Iterator[Finding]:
    """After work done dead, a machine must be tried before it is called cured. A question may be answered with the
    power off unless it says otherwise. Where nothing else in the proof needs power, a question that asks what runs or
    moves, or an indication that shows the same when power is missing, proves nothing then: give it 'energy: on'.
    Neither does a protective device that was put back by hand: add something that shows that the machine runs.
    Something mechanical that was looked at, or a measurement done dead, is proof enough. If a word that the rule looks
    for means something else here, write 'energy: any'."""
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
    if by_hand and any(state.protective for state in ind.states if state.id not in states):
        return (
            f"the proof that '{cause.id}' is cured needs no power: '{ind.id}' can be put back by hand; "
            "add what shows that the machine runs"
        )
    return ""


def _for_want_of_power(machine: Machine, ind: Indication, states: tuple[str, ...]) -> bool:
    """Whether one of these states is shown because something else that needs power is not in its normal state."""
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
        return vetted.place(cause)
    return item.key_place("proof", id)


@rule(
    "outside-parts",
    "error",
    "No gate stands before it, and most parts sit behind a cover or a guard.",
    bad="""
causes:
  filter-full: {remedy: {do: Have the filter renewed, minutes: 10, access: outside, parts: filter mat}}
""",
    mend=("filter mat}", "filter mat, from-outside: in a frame on the outside of the grille}"),
)
def outside_parts(vetted: Vetted) -> Iterator[Finding]:
    """A part is exchanged where it sits, and most sit inside. So a remedy that brings parts has access dead and a zone.
    Where the part truly sits outside, and is exchanged with every enclosure and guard closed, `from-outside` says
    where; whoever approves the file reads it. Parts for later work belong to the remedy that does that work."""
    for remedy in vetted.machine.remedies.values():
        if remedy.access is Access.OUTSIDE and remedy.parts and not remedy.from_outside:
            text = (
                f"the remedy '{remedy.id}' has access outside and brings parts; make its access dead, "
                "or say in 'from-outside' where the part sits"
            )
            yield vetted.finding(remedy, text)
        elif remedy.access is not Access.OUTSIDE and remedy.from_outside:
            text = f"the remedy '{remedy.id}' has access {remedy.access} and says 'from-outside'; take one of them out"
            yield vetted.finding(remedy, text, "from-outside")


@rule(
    "unused-remedy",
    "warning",
    "It does no harm, but it is never offered.",
    bad="""
remedies:
  turn-fan: {do: Turn the fan by hand, minutes: 5, access: dead, zone: box}
""",
    more="""
causes:
  filter-full: {remedy: turn-fan}
""",
)
def unused_remedy(vetted: Vetted) -> Iterator[Finding]:
    """A remedy that no cause names is never offered. Name it in a cause, or take it out."""
    for id, causes in vetted.machine.causes_of.items():
        if not causes:
            text = f"no cause names the remedy '{id}'; name it in one, or take it out"
            yield vetted.finding(vetted.machine.remedies[id], text)


@rule(
    "live-remedy",
    "error",
    "People who follow it work on live parts with both hands, every time this cause is met.",
    bad="""
causes:
  wire-broken:
    remedy: {do: Tighten the terminals of the wire, minutes: 5, access: live, zone: box, who: electrician}
""",
    mend=("live", "dead"),
)
def live_remedy(vetted: Vetted) -> Iterator[Finding]:
    """A measurement may need the voltage; a repair does not (29 CFR 1910.333(a)(1): live parts are de-energized before
    work on or near them). So a remedy has access dead or outside. A value that is set with the power on is set from
    outside; otherwise the measuring is a check and the setting a remedy."""
    for remedy in vetted.machine.remedies.values():
        if remedy.access is Access.LIVE:
            text = f"the remedy '{remedy.id}' is done on live parts; make its access dead"
            yield vetted.finding(remedy, text, "access")
