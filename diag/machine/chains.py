"""Chains: what hangs one behind the other, written out into causes, indications and checks.

Two kinds: contacts in series, with voltage up to the one that is open (`series`), and stations one behind the other on
a cable, each with its lamps (`line`). What is the same for all members is said once on the chain, as fields of an
ordinary cause, indication or check; a member may say some of them otherwise. `{member}`, `{before}` and `{after}` in a
text stand for a member's title and those of its neighbours, `{chain}` for the chain's.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from diag.machine import forms
from diag.machine.chain_line import line_parts
from diag.machine.chain_parts import Chain, Member, Part, laid_under, titled
from diag.machine.chain_series import series_parts
from diag.machine.gather import Folder
from diag.machine.names import unknown
from diag.machine.names_in import FREE, Keys, Spec, entry_spec, under
from diag.machine.parameters import MARK, Budget, Report, unmarked
from diag.machine.problem import Problem, shown
from diag.machine.source import ContactMember, LineSource, SeriesSource, StationMember
from diag.machine.span import Node
from diag.machine.validate import Written, validate
from diag.machine.words import is_name, kind_of, no_name

FEWEST: Final = 2
MOST: Final = 40
"""Members of one chain. Each cause of a line tells of every lamp behind it, so that a chain grows with the square."""
_FIELD: Final = re.compile(r"\{(member|before|after|chain)\}")


There = Callable[[str], Collection[str]]
"""The indications that are there already where a word comes from."""


def write_out(item: Written, there: There, report: Report, budget: Budget) -> Folder:
    """The sections that a chain stands for. `there` tells which members and lamps are indications already."""
    made = Folder()
    item = Written(item.id, item.file, _fields_unmarked(item.node, entry_spec("chains")))
    problems: list[Problem] = []
    chain = _read(item, there, problems)
    for problem in problems:
        report(problem)
    if chain is None:
        made.unmade.add(f"{item.id}-")
        return made
    for part in series_parts(chain) if chain.series else line_parts(chain):
        node = _Fill(chain, part, budget).node(laid_under(part.node, *part.over))
        node.key_line, node.key_column = part.at.line, part.at.column
        node.file, node.used = part.at.file, part.at.used
        if not is_name(part.id):
            report(Problem.at(part.at.place(chain.file), f"{shown(part.id)} {no_name(part.id)}", "name"))
        made.maps[part.section][part.id] = Written(part.id, chain.file, node)
    return made


def _read(item: Written, there: There, problems: list[Problem]) -> Chain | None:
    """The chain, or None with its problems told."""
    kinds = [kind for kind in ("series", "line") if kind in item.keys]
    if not kinds:
        problems.append(Problem.at(item.key_place(), f"{shown(item.id)} says none of series, line", "missing"))
        return None
    if len(kinds) > 1:
        text = f"{shown(item.id)} is a series and a line; it can be one of them"
        problems.append(Problem.at(item.key_place("line"), text, "kind"))
        return None
    series = kinds[0] == "series"
    model: Any = SeriesSource if series else LineSource
    entry = validate(model, _words_unmarked(item), problems)
    if entry is None or not entry.sound:
        return None
    members = _members(item, kinds[0], there, problems)
    head = item.node.find(["head"]) if "head" in item.keys else None
    if head is not None:
        _known(head, item.file, there, problems)
    if problems:
        return None
    return Chain(item.id, item.file, item.node, entry.source.title or titled(item.id), series, members)


def _known(node: Node, file: str, there: There, problems: list[Problem]) -> None:
    """Tells of a lamp that is named and not there. One that came from outside is looked up with all other names."""
    word = node.value
    if isinstance(word, str) and word and not word.startswith(MARK) and word not in there(word):
        text, near = unknown("indication", word, there(word))
        problems.append(Problem.at(node.place(file), text, "unknown", near))


def _members(item: Written, kind: str, there: There, problems: list[Problem]) -> tuple[Member, ...]:
    node = item.node.find([kind])
    value = node.value
    nodes: list[tuple[Node, Node | None]] = []
    if isinstance(value, dict):
        for word, child in value.items():
            at = replace(child, value=word, line=child.key_line, column=child.key_column, key_line=0)
            nodes.append((at, None if child.value == "" else child))
    elif isinstance(value, list):
        nodes = [(child, None) for child in value]
    else:
        problems.append(Problem.at(node.place(item.file), forms.members(kind, unmarked(value)), "kind"))
        return ()
    if len(nodes) == 1 and nodes[0][1] is None and isinstance(nodes[0][0].value, str) and " " in nodes[0][0].value:
        problems.append(Problem.at(nodes[0][0].place(item.file), forms.members(kind, nodes[0][0].value), "kind"))
        return ()
    found: dict[str, Member] = {}
    for at, own in nodes:
        place = at.place(item.file)
        if not isinstance(at.value, str) or not at.value:
            problems.append(Problem.at(place, f"a member should be a name, and is {kind_of(at.plain())}", "name"))
            continue
        name = unmarked(at.value)
        if not is_name(name) or name in FREE:
            problems.append(Problem.at(place, f"{shown(name)} {no_name(name)}", "name"))
        elif name in found:
            problems.append(Problem.at(place, f"{shown(name)} is a member of this chain twice", "twice"))
        else:
            found[name] = _member(item, kind, at, own, there, problems)
    if not FEWEST <= len(nodes) <= MOST:
        text = f"{shown(item.id)} has {len(nodes)} member{'s' * (len(nodes) != 1)}; {FEWEST} to {MOST} are possible"
        problems.append(Problem.at(node.place(item.file), text, "size"))
    return tuple(found.values())


def _member(item: Written, kind: str, at: Node, own: Node | None, there: There, problems: list[Problem]) -> Member:
    assert isinstance(at.value, str)
    name = unmarked(at.value)
    says: Mapping[str, Node] = {}
    title = titled(name)
    if own is not None:
        model: Any = ContactMember if kind == "series" else StationMember
        entry = validate(model, _words_unmarked(Written(name, item.file, own)), problems)
        says = own.value if isinstance(own.value, dict) else {}
        if entry is not None and entry.source.title:
            title = entry.source.title
        for field in ("in", "out", "power"):
            if kind == "line" and field in says:
                _known(says[field], item.file, there, problems)
    return Member(name, at.value, title, at, says, name in there(at.value))


def _words_unmarked(item: Written) -> Written:
    """For the check of what kind each field is: the words as the files have them."""

    def plain(node: Node) -> Node:
        value = node.value
        if isinstance(value, str):
            return replace(node, value=unmarked(value))
        if isinstance(value, list):
            return replace(node, value=[plain(child) for child in value])
        return replace(node, value={unmarked(key): plain(child) for key, child in value.items()})

    return Written(item.id, item.file, plain(item.node))


def _fields_unmarked(node: Node, spec: Spec) -> Node:
    """Fields that were given from outside under the names that the language has for them; names keep their marks."""
    value = node.value
    if not isinstance(value, dict):
        return node
    parts = spec if isinstance(spec, tuple) else (spec,)
    named = any(isinstance(part, Keys) for part in parts)
    made = {}
    for key, child in value.items():
        name = key if named else unmarked(key)
        made[name] = _fields_unmarked(child, under(spec, name))
    return replace(node, value=made)


@dataclass(slots=True)
class _Fill:
    """Fills titles into the texts of one part."""

    chain: Chain
    part: Part
    budget: Budget

    def node(self, node: Node) -> Node:
        value = node.value
        self.budget.spend(self.part.at.place(self.chain.file))
        if isinstance(value, list):
            return replace(node, value=[self.node(child) for child in value])
        if isinstance(value, dict):
            return replace(node, value={key: self.node(child) for key, child in value.items()})
        if "{" not in value:
            return replace(node)
        text = _FIELD.sub(lambda found: self.part.words[found[1]], value)
        return replace(node, value=text[:1].upper() + text[1:] if value.startswith("{") else text)
