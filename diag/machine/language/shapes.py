"""What may stand behind a field: a word, several in a row, or names with values; and which fields go together.

All that has to know what a type of the language is made of learns it from `forms_in`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from enum import Flag, auto
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, BeforeValidator
from pydantic.fields import FieldInfo

from diag.machine.language.fields.base_source import Source, fields
from diag.machine.language.fields.field_types import one_or_many, one_or_many_maps
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.marks import Apart, Mark
from diag.machine.language.fields.sections import Sections
from diag.machine.language.fields.tree_fields import NODES, TreeSource


def forms_in(annotation: Any, marks: Iterable[Any] = ()) -> Iterator[tuple[Any, tuple[Any, ...]]]:
    """The forms that a value of this type may take, each with its marks: the parts of a union one by one, and what is
    looked at apart in place of its mark."""
    marks = tuple(marks)
    apart = next((mark for mark in marks if isinstance(mark, Apart)), None)
    if apart is not None:
        yield from forms_in(apart.type())
    elif get_origin(annotation) is Annotated:
        inner, *more = get_args(annotation)
        yield from forms_in(inner, (*marks, *more))
    elif get_origin(annotation) in (Union, UnionType):
        for part in get_args(annotation):
            yield from forms_in(part, marks)
    elif annotation is not NoneType:
        yield annotation, marks


def is_model(form: Any) -> bool:
    """Whether this form is a model, and not a word, a list or a map."""
    return isinstance(form, type) and get_origin(form) is None and issubclass(form, BaseModel)


class Shape(Flag):
    """What may stand behind a field."""

    NOTHING = 0
    WORD = auto()
    """A word or a text."""
    ROW = auto()
    """Several, in brackets or each in a line with a dash."""
    MAP = auto()
    """Names with values, in braces or each in a line of its own."""


def shape_of(annotation: Any, metadata: Iterable[Any] = ()) -> Shape:
    """What may be written where this type is wanted."""
    found = Shape.NOTHING
    for form, marks in forms_in(annotation, metadata):
        if get_origin(form) is tuple:
            found |= Shape.ROW
            found |= Shape.WORD if _made_by(marks, one_or_many) else Shape.NOTHING
            found |= Shape.MAP if _made_by(marks, one_or_many_maps) else Shape.NOTHING
        elif get_origin(form) is dict or is_model(form):
            found |= Shape.MAP
        else:
            found |= ~Shape.NOTHING if form is Any else Shape.WORD
    return found


def _made_by(marks: Iterable[Any], short: Any) -> bool:
    """Whether this function makes a list of a short form."""
    return any(isinstance(mark, BeforeValidator) and mark.func is short for mark in marks)


def models_in(annotation: Any, metadata: Iterable[Any] = ()) -> Iterator[type[Source]]:
    """The models that a type is made of, those that are looked at apart among them."""
    for form, _ in forms_in(annotation, metadata):
        if is_model(form):
            yield form
        for part in get_args(form):
            yield from models_in(part)


@cache
def models() -> tuple[type[Source], ...]:
    """Every model of the language but `Sections`, each once, those further out first."""
    found: dict[type[Source], None] = {HeadSource: None}
    ahead: list[type[Source]] = [HeadSource, Sections, *NODES.values()]
    for outer in ahead:
        for field in outer.model_fields.values():
            new = [model for model in models_in(field.annotation, field.metadata) if model not in found]
            found.update(dict.fromkeys(new))
            ahead += dict.fromkeys(new)
    return tuple(found)


@cache
def entries() -> tuple[Mapping[str, Shape], ...]:
    """For each kind of entry its fields, and what may stand behind them. What stands at the left edge of a file comes
    first; a node of a tree may have the tree's name beside it."""
    trees = [(TreeSource, node) for node in NODES.values()]
    kinds: list[tuple[type[BaseModel], ...]] = [(HeadSource, Sections), *((model,) for model in models()), *trees]
    return tuple(
        {name: shape_of(field.annotation, field.metadata) for model in kind for name, field in fields(model).items()}
        for kind in kinds
    )


def _all_fields() -> Iterator[tuple[str, FieldInfo]]:
    for model in models():
        yield from fields(model).items()


@cache
def numbers() -> frozenset[str]:
    """Fields that take a number, or a rate in words and numbers."""
    return frozenset(
        name for name, field in _all_fields() if {float, int} & {field.annotation, *get_args(field.annotation)}
    )


@cache
def texts() -> frozenset[str]:
    """Fields that take several texts, whose commas are their own."""
    return frozenset(name for name, field in _all_fields() if Mark.FREE_TEXT in field.metadata)


@cache
def several() -> frozenset[str]:
    """Fields that take one name or state, or several of them."""
    rows = (name for name, field in _all_fields() if _made_by(field.metadata, one_or_many))
    return frozenset(rows) - texts()
