"""What a use of a module gives, against what the module asks for."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from diag.machine.gather import Folder
from diag.machine.names import unknown
from diag.machine.parameters import MARK, Argument, Parameter, Report, a_kind, unmarked, wrong_kind
from diag.machine.place import Place
from diag.machine.problem import Problem, shown
from diag.machine.span import Node
from diag.machine.validate import Entry


@dataclass(frozen=True, slots=True)
class Asked:
    """A name that is given to a module, to be looked up once all names are there."""

    parameter: str
    kind: str
    word: str
    place: Place


def bind(
    module: str,
    parameters: Mapping[str, Parameter],
    use: Entry[Any],
    outer: Mapping[str, Argument],
    asked: list[Asked],
    report: Report,
) -> dict[str, Argument] | None:
    """What stands for each parameter, or None with the problems told. Names are added to `asked`.

    `outer`: what was given to the module that the use stands in; its bare names may be handed on.
    """
    node = use.node.find(["with"]) if "with" in use.keys else None
    given = node.value if node is not None and isinstance(node.value, dict) else {}
    fine = True
    meant = set()
    for name, child in given.items():
        if name not in parameters:
            text, near = unknown("parameter", name, parameters, of=module)
            meant.add(near)
            report(Problem.at(child.key_place(use.file), text, "unknown", near))
            fine = False
    found = {}
    for name, parameter in parameters.items():
        value = given.get(name, parameter.default)
        if value is None and name in meant:
            continue
        if value is None:
            text = f"{shown(name)} is missing; the module {shown(module)} needs it: {parameter.what}"
            report(Problem.at(use.key_place("with") if node is not None else use.place("module"), text, "missing"))
            fine = False
            continue
        place = value.place(use.file)
        text = wrong_kind(parameter.kind, value) if name in given else ""
        if text:
            report(Problem.at(place, f"{shown(name)} {text}", "kind"))
            fine = False
            continue
        if parameter.names:
            value = _handed_on(value, outer)
            asked.append(Asked(name, parameter.kind, str(value.value), place))
        found[name] = Argument(parameter.kind, value)
    return found if fine else None


def _handed_on(value: Node, outer: Mapping[str, Argument]) -> Node:
    """A name as the level that gives it knows it: its own, or one that was given to it, which is marked."""
    word = value.value
    if isinstance(word, str) and word in outer and outer[word].names:
        return Node(f"{MARK}{outer[word].node.value}", value.line, value.column, file=value.file, used=value.used)
    return value


def settle(asked: list[Asked], names: Mapping[str, Collection[str]], found: Folder, report: Report) -> None:
    """Tells which of the given names there are not, or are of something else. Those from further out were looked up
    there."""
    for item in asked:
        if item.word.startswith((MARK, *found.unmade)) or item.word in names[item.kind] or found.lost:
            continue
        found.told.add(item.word)
        word = unmarked(item.word)
        other = next((kind for kind, known in names.items() if word in known), "")
        if other:
            wanted, is_one = a_kind(item.kind), a_kind(other)
            text = f"{shown(item.parameter)} should be the name of {wanted}, and {shown(word)} is {is_one}"
            report(Problem.at(item.place, text, "kind"))
        else:
            text, near = unknown(item.kind, word, names[item.kind])
            report(Problem.at(item.place, f"{shown(item.parameter)}: {text}", "unknown", near))
