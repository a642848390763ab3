"""Rules about remedies and their proofs: is there something to do, and would it show that it was done?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.machine.model import Access, Cause
from diag.machine.place import Place
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
                text = (
                    f"the proof that '{cause.id}' is cured needs live work for '{id}'; prove it on what is seen outside"
                )
                yield Finding(_proof_place(vetted, cause, id), text)


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
