"""Chains: contacts in series, and stations on a line, written out into causes, indications and checks.

What is the same for all members is said once on the chain, as fields of an ordinary entry; a member may say some of
them otherwise. `{member}`, `{before}`, `{after}` and `{chain}` in a text stand for titles.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from dataclasses import replace
from functools import partial
from typing import Any, Final

from diag.machine.expand.chain_line import line_parts
from diag.machine.expand.chain_parts import Chain, Member, titled
from diag.machine.expand.chain_series import series_parts
from diag.machine.expand.fill import Budget
from diag.machine.expand.parameters import MARK, Report, unmarked
from diag.machine.language import forms
from diag.machine.language.fields.base_source import names
from diag.machine.language.fields.field_types import is_name, kind_of, no_name
from diag.machine.language.fields.module_fields import CHAINS, ContactMember, LineSource, SeriesSource, StationMember
from diag.machine.language.fields.sections import Sections
from diag.machine.language.names_in import FREE, Spec, entry_spec, kind_of_keys, under
from diag.machine.language.validate import Written, validate
from diag.machine.names import Named
from diag.machine.problem import Broken, shown
from diag.machine.reader.gather import Folder
from diag.machine.span import Node

_LINE, _STATION = names(LineSource), names(StationMember)

FEWEST: Final = 2
MOST: Final = 40
"""Members of one chain. Each cause of a line tells of every lamp behind it, so that a chain grows with the square."""
_FIELD: Final = re.compile(r"\{(member|before|after|chain)\}")


There = Callable[[str], Collection[str]]
"""The indications that are there already where a word comes from."""


def write_out(item: Written, there: There, report: Report, budget: Budget) -> Folder:
    """The sections that a chain stands for. `there` tells which members and lamps are indications already."""
    made = Folder()
    item = Written(item.id, item.file, _fields_unmarked(item.node, entry_spec(names(Sections).chains)))
    before = len(report.problems)
    chain = _read(item, there, report)
    if chain is None or len(report.problems) > before:
        made.unmade.add(f"{item.id}-")
        return made
    for part in series_parts(chain) if chain.series else line_parts(chain):
        place = part.at.place(chain.file)
        budget.spend(place, part.node.nodes)
        node = part.node.mapped(partial(_filled, part.words))
        node.key_line, node.key_column = part.at.line, part.at.column
        node.file, node.used = part.at.file, part.at.used
        if not is_name(part.id):
            report(place, f"{shown(part.id)} {no_name(part.id)}", Broken.NAME)
        made.maps[part.section][part.id] = Written(part.id, chain.file, node)
    return made


def _filled(words: Mapping[str, str], text: str) -> str:
    """A text with the titles filled in; one that begins with a title begins with a capital."""
    filled = _FIELD.sub(lambda found: words[found[1]], text)
    return filled[:1].upper() + filled[1:] if text.startswith("{") else filled


def _read(item: Written, there: There, report: Report) -> Chain | None:
    """The chain; of no use where a problem was reported."""
    kinds = [kind for kind in CHAINS if kind in item.keys]
    if not kinds:
        text = f"{shown(item.id)} does not say what it is: one of {', '.join(CHAINS)}"
        report(item.key_place(), text, Broken.MISSING)
        return None
    if len(kinds) > 1:
        text = f"{shown(item.id)} is a series and a line; it can be one of them"
        report(item.key_place(kinds[1]), text, Broken.KIND)
        return None
    model: Any = CHAINS[kinds[0]]
    entry = validate(model, _words_unmarked(item), report.problems)
    if entry is None or not entry.sound:
        return None
    members = _members(item, kinds[0], there, report)
    if _LINE.head in item.keys:
        _known(item.node.find([_LINE.head]), item.file, there, report)
    return Chain(item.id, item.file, item.node, entry.source.title or titled(item.id), model is SeriesSource, members)


def _known(node: Node, file: str, there: There, report: Report) -> None:
    """Reports a lamp that is named and not there. One that came from outside is looked up with all other names."""
    word = node.value
    if isinstance(word, str) and word and not word.startswith(MARK) and word not in there(word):
        report.unknown(node.place(file), Named.INDICATION, word, there(word))


def _members(item: Written, kind: str, there: There, report: Report) -> tuple[Member, ...]:
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
        report(node.place(item.file), forms.members(kind, unmarked(value)), Broken.KIND)
        return ()
    first, own = nodes[0] if len(nodes) == 1 else (node, node)
    if own is None and isinstance(first.value, str) and " " in first.value:
        report(first.place(item.file), forms.members(kind, first.value), Broken.KIND)
        return ()
    found: dict[str, Member] = {}
    for at, own in nodes:
        place = at.place(item.file)
        if not isinstance(at.value, str) or not at.value:
            report(place, f"a member should be a name, and is {kind_of(at.plain())}", Broken.NAME)
            continue
        name = unmarked(at.value)
        if not is_name(name) or name in FREE:
            report(place, f"{shown(name)} {no_name(name)}", Broken.NAME)
        elif name in found:
            report(place, f"{shown(name)} is a member of this chain twice", Broken.TWICE)
        else:
            found[name] = _member(item, kind, at, own, there, report)
    if not FEWEST <= len(nodes) <= MOST:
        text = f"{shown(item.id)} has {len(nodes)} member{'s' * (len(nodes) != 1)}; {FEWEST} to {MOST} are possible"
        report(node.place(item.file), text, Broken.SIZE)
    return tuple(found.values())


def _member(item: Written, kind: str, at: Node, own: Node | None, there: There, report: Report) -> Member:
    assert isinstance(at.value, str)
    name = unmarked(at.value)
    says: Mapping[str, Node] = {}
    title = titled(name)
    if own is not None:
        model: Any = ContactMember if CHAINS[kind] is SeriesSource else StationMember
        entry = validate(model, _words_unmarked(Written(name, item.file, own)), report.problems)
        says = own.value if isinstance(own.value, dict) else {}
        if entry is not None and entry.source.title:
            title = entry.source.title
        for field in (_STATION.in_, _STATION.out, _STATION.power):
            if model is StationMember and field in says:
                _known(says[field], item.file, there, report)
    return Member(name, at.value, title, at, says, name in there(at.value))


def _words_unmarked(item: Written) -> Written:
    """The words as the files have them, for checking what kind each field is."""
    return Written(item.id, item.file, item.node.mapped(unmarked, unmarked))


def _fields_unmarked(node: Node, spec: Spec) -> Node:
    """Fields that were given from outside under the names that the language has for them; names keep their marks."""
    value = node.value
    if not isinstance(value, dict):
        return node
    made = {}
    for key, child in value.items():
        name = key if kind_of_keys(spec) else unmarked(key)
        made[name] = _fields_unmarked(child, under(spec, name))
    return replace(node, value=made)
