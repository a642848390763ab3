"""Rules about indications: can each be found, is it used, and have its limits a source?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.machine.model import Indication, Kind
from diag.machine.nodes import Look
from diag.machine.reader.gather import Folder
from diag.vet.vetted import work_words as words
from diag.vet.vetted.rule import Finding, Vetted, joined, rule

LITTLE_OVER: Final = 150.0
"""Up to this a sum over 100 looks like percent with a slip in it."""


@rule(
    "unused",
    "warning",
    "It costs time and says nothing, but it leads nobody astray.",
    bad="""
indications:
  lid: {question: Is the lid on?, usual: {"yes": 9, "no": 1}}
""",
    more="""
causes:
  filter-full: {shows: {lid: {"no": sometimes}}}
""",
)
def unused(vetted: Vetted) -> Iterator[Finding]:
    """An indication that no cause, danger sign, tree, need, proof or lamp test uses only makes the list longer. Use it
    or take it out."""
    machine = vetted.machine
    used = set(machine.resets)
    used.update(id for cause in machine.causes.values() for id in (*cause.shows, *cause.proof))
    used.update(id for danger in machine.dangers for id, _ in danger.when)
    used.update(on for ind in machine.indications.values() for rule in ind.follows for on, _ in rule.when)
    used.update(ind.id for ind in machine.indications.values() if ind.follows)
    used.update(id for check in machine.checks.values() for id in check.needs)
    used.update(joined(vetted))
    used.update(id for reset in machine.resets.values() for id in reset.note_first)
    used.update(node.indication for node in vetted.nodes if isinstance(node, Look))
    for indication in machine.indications.values():
        if indication.id not in used:
            yield vetted.finding(indication, f"nothing uses '{indication.id}'; use it, or take it out")


@rule(
    "no-source",
    "error",
    "A limit decides what is called a fault, and a wrong one that nobody can look up stays wrong.",
    bad="""
indications:
  current: {reading: A, nominal: 4, bands: {good: "< 5", high: "> 5"}}
""",
    mend=('"> 5"}', '"> 5"}, source: motor plate'),
)
def no_source(vetted: Vetted) -> Iterator[Finding]:
    """Nobody can check limits that have no source. Write under `source` where they come from: a standard, the plate of
    the machine, or common practice."""
    yield from without_source(vetted.written)


def without_source(written: Folder) -> Iterator[Finding]:
    """The readings that name no source, in a machine that may have errors elsewhere."""
    for item in written.maps["indications"].values():
        if "reading" in item.keys and "bands" in item.keys and "source" not in item.keys:
            yield Finding(item.key_place(), f"the limits of '{item.id}' have no source; write where they come from")


@rule(
    "over-hundred",
    "info",
    "Weights are shares of their sum, whatever that is; it is a slip only if percent was meant.",
    bad="""
indications:
  lid: {question: Is the lid on?, usual: {"yes": 98, "no": 12}}
causes:
  filter-full: {shows: {lid: {"no": sometimes}}}
""",
    mend=("12", "2"),
)
def over_hundred(vetted: Vetted) -> Iterator[Finding]:
    """The weights of a question's answers under `usual` count as shares of their sum. A sum a little over 100 looks
    like percent with a slip in it; where shares are meant, it may stay."""
    for item in vetted.written.maps["indications"].values():
        weights = item.node.find(["usual"]).value if "usual" in item.keys else ""
        if isinstance(weights, dict):
            total = sum(float(str(weight.value)) for weight in weights.values())
            if 100.0 < total < LITTLE_OVER:
                text = f"the answers of '{item.id}' add up to {total:g}; as percent they should add up to 100"
                yield Finding(item.place("usual"), text)


@rule(
    "not-found",
    "warning",
    "Somebody who knows the machine finds it anyway.",
    bad="""
indications:
  relay-lamp: {lamp: red, normal: dark}
""",
    mend=("dark", "dark, where: on the motor relay"),
)
def not_found(vetted: Vetted) -> Iterator[Finding]:
    """Nobody could find a lamp, display or contact that is not on the face, has no place written, and that no check
    leads to. Say where it is, or put it on the face."""
    on_face = {id for block in vetted.machine.face for row in block.rows for id in row}
    for indication in looked_at(vetted):
        if indication.kind is not Kind.QUESTION and indication.id not in on_face and not indication.where:
            text = f"'{indication.id}' is not on the face, has no 'where' and no check; nobody could find it"
            yield vetted.finding(indication, text)


@rule(
    "measured-by-nobody",
    "error",
    "As it stands, people are told to look from outside at something that takes a meter, without any gate.",
    bad="""
indications:
  fuse: {contact: make, measured: continuity, normal: closed, where: on the board}
""",
    more="""
checks:
  measure-fuse:
    gives: fuse
    do: Measure across the fuse
    with: multimeter on continuity
    access: dead
    zone: box
    who: electrician
    minutes: 5
    caution: A fuse that has just blown may be hot.
""",
)
def measured_by_nobody(vetted: Vetted) -> Iterator[Finding]:
    """What is measured with a meter needs a check that says how, and with which access."""
    for indication in looked_at(vetted):
        if indication.measured:
            text = f"'{indication.id}' is measured, and no check says how; as it stands it is looked at from outside"
            yield vetted.finding(indication, text)


@rule(
    "inside-look",
    "warning",
    "The rule goes by words, and a word may mean something else here.",
    bad="""
indications:
  relay-lamp: {lamp: red, normal: dark, where: behind the cover of the box}
""",
    mend=("behind the cover of the box", '"behind the cover of the box, seen through its window"'),
)
def inside_look(vetted: Vetted) -> Iterator[Finding]:
    """An indication without a written check is looked at from outside, so it must be visible from there. Write a check
    with the access that it needs, or say that it is seen from outside."""
    for indication in looked_at(vetted):
        where = words.inside(indication.where)
        if where:
            text = f"'{indication.id}' is looked at from outside, and its place says '{where}'; write a check for it"
            yield vetted.finding(indication, text, "where")


def looked_at(vetted: Vetted) -> Iterator[Indication]:
    """Indications without a written check."""
    for check in vetted.machine.checks.values():
        if check.implied:
            yield vetted.machine.indications[check.gives[0]]
