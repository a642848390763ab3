"""Where names stand in the files: which words of an entry are the names of other entries, and of what kind.

Modules and chains work on the words as they were written, before names are looked up. The types of the fields tell them
a name from a state or a text; `walk` goes over an entry by that.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Protocol, get_args, get_origin

from pydantic import BaseModel

from diag.machine.language.fields.base_source import fields, names
from diag.machine.language.fields.marks import Refers
from diag.machine.language.fields.module_fields import UseSource
from diag.machine.language.fields.panel_fields import ALL, POWER
from diag.machine.language.fields.sections import LISTS, MAPS, MODULE, NAMED_IN, Sections, entry_type
from diag.machine.language.fields.tree_fields import NODES
from diag.machine.language.shapes import forms_in, is_model
from diag.machine.model import UNLISTED
from diag.machine.place import Place
from diag.machine.span import Node

FREE: Final = frozenset({ALL, POWER, UNLISTED})
"""Words that mean something by themselves where a name could stand."""


@dataclass(frozen=True, slots=True)
class Form:
    """One form of a value: a word that names something, the fields of a model, or a map."""

    kind: str = ""
    """What a word, or each word of a list, names."""
    model: type[BaseModel] | None = None
    keys: str = ""
    """What the keys of a map name; under `all:` stands the same again."""
    values: Spec = ()
    """What all values of a map may be."""


Spec = tuple[Form, ...]
"""The forms in which names may stand in a value. Anything else is text. A list holds any number of what is given."""


def spec_of(annotation: Any, metadata: Iterable[Any] = ()) -> Spec:
    """Where names stand in what has this type, as its annotations tell. A model's fields are looked at when they are
    asked for, as a node of a tree holds nodes."""
    found: list[Form] = []
    for form, marks in forms_in(annotation, metadata):
        refers = next((mark for mark in marks if isinstance(mark, Refers)), None)
        if refers is not None:
            found.append(Form(kind=refers.kind))
        elif is_model(form):
            found.append(Form(model=form))
        elif get_origin(form) is tuple:
            found += spec_of(get_args(form)[0])
        elif get_origin(form) is dict:
            keys, values = map(spec_of, get_args(form))
            found.append(Form(keys=kind_of_word(keys), values=values))
    return tuple(found)


@cache
def _fields(model: type[BaseModel]) -> Mapping[str, Spec]:
    found = {name: spec_of(field.annotation, field.metadata) for name, field in fields(model).items()}
    if model is UseSource:
        found[names(UseSource).but] = (Form(model=Sections),)
    return found


IN_MODULES: Final = tuple(name for name in (*MAPS, *LISTS) if name in MODULE and name in NAMED_IN)
"""The sections of named entries that a module may hold."""


@cache
def entry_spec(section: str) -> Spec:
    """The spec of one entry of a section. A tree's first node stands beside its name."""
    nodes = NODES.values() if section == names(Sections).trees else ()
    return (*spec_of(entry_type(section)), *(Form(model=node) for node in nodes))


def under(spec: Spec, key: str) -> Spec:
    """The spec of a field's value, or of the value that stands under any key."""
    found: Spec = ()
    for form in spec:
        if form.model is not None:
            found += _fields(form.model).get(key, ())
        elif not form.kind:
            found += (form,) if form.keys and key == ALL else form.values
    return found


def kind_of_word(spec: Spec) -> str:
    """The kind that a word names; empty where it is text."""
    return next((form.kind for form in spec if form.kind), "")


def kind_of_keys(spec: Spec) -> str:
    """The kind that a map's keys name; empty where they are fields or states."""
    return next((form.keys for form in spec if form.keys), "")


class Visitor(Protocol):
    """What becomes of each word. `kind` is empty where the word is no name."""

    def made(self, node: Node) -> None:
        """Called once for each list, map and word that is made."""

    def word(self, node: Node, kind: str) -> Node:
        """The node that stands for a word; it may be changed, and is new."""

    def key(self, word: str, place: Place, kind: str) -> str:
        """The key that stands for a key."""

    def twice(self, key: str, place: Place) -> None:
        """Called where two keys of a map have become one."""


def walk(node: Node, spec: Spec, visitor: Visitor, file: str) -> Node:
    """A copy of an entry in which each word is what the visitor made of it."""
    value = node.value
    if isinstance(value, str):
        new = like(node, value)
        visitor.made(new)
        return visitor.word(new, kind_of_word(spec))
    if isinstance(value, list):
        new = like(node, [walk(child, spec, visitor, file) for child in value])
    else:
        filled: dict[str, Node] = {}
        for key, child in value.items():
            place = child.key_place(file)
            name = visitor.key(key, place, kind_of_keys(spec))
            if name in filled:
                visitor.twice(name, place)
            else:
                filled[name] = walk(child, under(spec, key), visitor, file)
        new = like(node, filled)
    visitor.made(new)
    return new


def like(node: Node, value: str | list[Node] | dict[str, Node]) -> Node:
    """A node in the same place that holds something else."""
    return Node(value, node.line, node.column, node.key_line, node.key_column, file=node.file, used=node.used)
