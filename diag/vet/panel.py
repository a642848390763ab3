"""Rules about indications: can each be found, is it used, and can its limits be argued with?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from diag.machine.gather import Folder
from diag.machine.model import Indication, Kind
from diag.machine.nodes import Look
from diag.vet import words
from diag.vet.table import Finding, Vetted, joined, rule

LITTLE_OVER: Final = 150.0
"""Up to here a sum over 100 looks like percent with a slip in it."""


@rule(
    "unused",
    "warning",
    "It costs a look and says nothing; nobody is led astray by it.",
    bad="""
indications:
  lid: {question: Is the lid on?, usual: {"yes": 9, "no": 1}}
""",
    good="""
indications:
  lid: {question: Is the lid on?, usual: {"yes": 9, "no": 1}}
causes:
  filter-full: {shows: {lid: {"no": sometimes}}}
""",
)
def unused(vetted: Vetted) -> Iterator[Finding]:
    """An indication that no cause, danger sign, tree, need, proof or lamp test uses only makes the list longer. Use it,
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
    used.update(node.indication for _, node in vetted.nodes if isinstance(node, Look))
    for indication in machine.indications.values():
        if indication.id not in used:
            yield Finding(vetted.where(indication.place), f"nothing uses '{indication.id}'; use it, or take it out")


@rule(
    "no-source",
    "error",
    "A limit decides what is called a fault; a wrong one that nobody can look up stays wrong.",
    bad="""
indications:
  current: {reading: A, nominal: 4, bands: {good: "< 5", high: "> 5"}}
""",
    good="""
indications:
  current: {reading: A, nominal: 4, bands: {good: "< 5", high: "> 5"}, source: motor plate}
""",
)
def no_source(vetted: Vetted) -> Iterator[Finding]:
    """Limits without a source cannot be argued with. Write under `source` where they come from: a standard, the plate
    of the machine, or that it is common practice."""
    yield from without_source(vetted.written)


def without_source(written: Folder) -> Iterator[Finding]:
    """The readings that say no source, of a machine that may have errors elsewhere."""
    for item in written.maps["indications"].values():
        if "reading" in item.keys and "bands" in item.keys and "source" not in item.keys:
            yield Finding(item.key_place(), f"the limits of '{item.id}' have no source; write where they come from")


@rule(
    "over-hundred",
    "info",
    "The weights are shares of their sum, whatever it is; only who meant percent has made a slip.",
    bad="""
indications:
  lid: {question: Is the lid on?, usual: {"yes": 98, "no": 12}}
causes:
  filter-full: {shows: {lid: {"no": sometimes}}}
""",
    good="""
indications:
  lid: {question: Is the lid on?, usual: {"yes": 98, "no": 2}}
causes:
  filter-full: {shows: {lid: {"no": sometimes}}}
""",
)
def over_hundred(vetted: Vetted) -> Iterator[Finding]:
    """What a question's answers weigh under `usual` is compared with their sum. A sum a little over 100 looks like
    percent with a slip in it; it may stay where shares are meant."""
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
    "Who knows the machine finds it anyhow.",
    bad="""
indications:
  relay-lamp: {lamp: red, normal: dark}
""",
    good="""
indications:
  relay-lamp: {lamp: red, normal: dark, where: on the motor relay}
""",
)
def not_found(vetted: Vetted) -> Iterator[Finding]:
    """A lamp, display or contact that is neither on the face nor said to be anywhere, and that no check leads to,
    nobody could find. Say where it is, or put it on the face."""
    on_face = {id for block in vetted.machine.face for row in block.rows for id in row}
    for indication in looked_at(vetted):
        if indication.kind is not Kind.QUESTION and indication.id not in on_face and not indication.where:
            text = f"'{indication.id}' is not on the face, has no 'where' and no check; nobody could find it"
            yield Finding(vetted.where(indication.place), text)


@rule(
    "measured-by-nobody",
    "error",
    "As it stands a person is told to look from outside at what takes a meter, past no gate.",
    bad="""
indications:
  fuse: {contact: make, measured: continuity, normal: closed, where: on the board}
""",
    good="""
indications:
  fuse: {contact: make, measured: continuity, normal: closed, where: on the board}
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
    """What takes a meter takes a check that says how, and with what access."""
    for indication in looked_at(vetted):
        if indication.measured:
            text = f"'{indication.id}' is measured, and no check says how; as it stands it is looked at from outside"
            yield Finding(vetted.where(indication.place), text)


@rule(
    "inside-look",
    "warning",
    "It goes by words, and a word may mean something else here.",
    bad="""
indications:
  relay-lamp: {lamp: red, normal: dark, where: behind the cover of the box}
""",
    good="""
indications:
  relay-lamp: {lamp: red, normal: dark, where: "behind the cover of the box, seen through its window"}
""",
)
def inside_look(vetted: Vetted) -> Iterator[Finding]:
    """What has no written check is looked at from outside, so it had better be there. Write a check with the access
    that it needs, or say that it is seen from outside."""
    for indication in looked_at(vetted):
        where = words.inside(indication.where)
        if where:
            text = f"'{indication.id}' is looked at from outside, and its place says '{where}'; write a check for it"
            yield Finding(vetted.place("indications", indication.id, "where", otherwise=indication.place), text)


def looked_at(vetted: Vetted) -> Iterator[Indication]:
    """Indications without a written check."""
    for check in vetted.machine.checks.values():
        if check.implied:
            yield vetted.machine.indications[check.gives[0]]
