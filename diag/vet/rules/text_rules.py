"""The rule about words: physical work belongs where the gate sees it."""

from __future__ import annotations

from collections.abc import Iterator

from diag.machine.model import Access, Kind
from diag.machine.nodes import Do
from diag.vet.vetted import work_words as words
from diag.vet.vetted.rule import Finding, Vetted, rule


@rule(
    "physical",
    "error",
    "No gate stands before it, so whoever follows it goes inside with the power on. Where a word means something else "
    "here, another one says it.",
    bad="""
trees:
  - {tree: first-look, title: First look, do: Remove the grille and look behind it, then: {call: engineer}}
""",
    mend=("Remove the grille and look behind it", "Listen at the grille"),
)
def physical(vetted: Vetted) -> Iterator[Finding]:
    """A tree's own instructions, resets and questions are for outside only, and so are checks and remedies with access
    outside: no gate stands between them and the person. A text that says open, remove or reach there leads people past
    the gate. Make it a check or a remedy with the access that it needs."""
    machine = vetted.machine
    for node in vetted.nodes:
        word = words.told(node.text) if isinstance(node, Do) else ""
        if word:
            yield vetted.finding(node, f"'{word}' in a tree; physical work belongs in a check or a remedy")
    for id, reset in machine.resets.items():
        word = words.told(reset.do)
        if word:
            place = vetted.written.maps["resets"][id].place("do")
            yield Finding(place, f"'{word}' in a reset; physical work belongs in a check or a remedy")
    for indication in machine.indications.values():
        question = indication.kind is Kind.QUESTION and indication.id not in machine.resets
        word = words.asked(vetted.asked(indication)) if question else ""
        if word:
            text = f"'{word}' in a question; physical work belongs in a check or a remedy"
            yield vetted.finding(indication, text, "question")
    for check in machine.checks.values():
        word = words.at_work(check.do) if check.access is Access.OUTSIDE and not check.implied else ""
        if word:
            yield vetted.finding(check, f"'{check.id}' has access outside and says '{word}'", "do")
    for remedy in machine.remedies.values():
        word = words.at_work(remedy.do) if remedy.access is Access.OUTSIDE else ""
        if word:
            text = f"the remedy '{remedy.id}' has access outside and says '{word}'; give it the access that it needs"
            yield vetted.finding(remedy, text)
