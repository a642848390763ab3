"""The rule about words: physical work belongs where the gate sees it."""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Access, Kind
from diag.machine.nodes import Do
from diag.vet import words
from diag.vet.table import Finding, Vetted, rule


@rule(
    "physical",
    "warning",
    "It goes by words, and a word may mean something else here; the proof over the lockout trusts the declared access.",
    bad="""
trees:
  - {tree: first-look, title: First look, do: Remove the grille and look behind it, then: {call: engineer}}
""",
    good="""
trees:
  - {tree: first-look, title: First look, look: air, when: {weak: {conclude: filter-full}, strong: {call: engineer}}}
""",
)
def physical(vetted: Vetted) -> Iterator[Finding]:
    """A tree's own instructions, resets and questions are for outside only, and so is a check or a remedy of access
    outside: nothing stands between them and the person. Whoever writes open, remove or reach there leads a person past
    the gate. Make it a check or a remedy with the access that it needs."""
    machine = vetted.machine
    for _, node in vetted.nodes:
        word = words.told(node.text) if isinstance(node, Do) else ""
        if word:
            yield Finding(vetted.where(node.place), f"'{word}' in a tree; physical work belongs in a check or a remedy")
    for id, reset in machine.resets.items():
        word = words.told(reset.do)
        if word:
            place = vetted.place("resets", id, "do")
            yield Finding(place, f"'{word}' in a reset; physical work belongs in a check or a remedy")
    yield from _questions(vetted)
    yield from _outside(vetted)


def _questions(vetted: Vetted) -> Iterator[Finding]:
    for indication in vetted.machine.indications.values():
        if indication.kind is not Kind.QUESTION or indication.id in vetted.machine.resets:
            continue
        word = words.asked(vetted.asked(indication))
        if word:
            place = vetted.place("indications", indication.id, "question", otherwise=indication.place)
            yield Finding(place, f"'{word}' in a question; physical work belongs in a check or a remedy")


def _outside(vetted: Vetted) -> Iterator[Finding]:
    for check in vetted.machine.checks.values():
        word = _at_work(check.do) if check.access is Access.OUTSIDE and not check.implied else ""
        if word:
            place = vetted.place("checks", check.id, "do", otherwise=check.place)
            yield Finding(place, f"'{check.id}' has access outside and says '{word}'")
    for remedy in vetted.machine.remedies.values():
        word = _at_work(remedy.do) if remedy.access is Access.OUTSIDE else ""
        if word:
            text = f"the remedy '{remedy.id}' has access outside and says '{word}'; give it the access that it needs"
            yield Finding(vetted.where(remedy.place), text)


def _at_work(text: str) -> str:
    return words.at_housing(text) or words.works(text)
