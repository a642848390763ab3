"""One entry of a file against its model, and pydantic's complaints turned into plain problems at the right word."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from enum import Enum
from typing import Annotated, Any, Final, Generic, TypeVar, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from diag.machine.language import forms
from diag.machine.language.fields.base_source import Source, fields, required
from diag.machine.language.fields.field_types import kind_of
from diag.machine.language.shapes import models_in
from diag.machine.model import Access
from diag.machine.names import unknown
from diag.machine.place import Place
from diag.machine.problem import Broken, Problem, shown
from diag.machine.span import Node, Path, Plain

S = TypeVar("S", bound=Source)

OURS: Final = frozenset((Broken.KIND, Broken.NAME, Broken.CHANCE, Broken.OFTEN))
"""Rules of `field_types`, whose complaints are whole messages already."""
NOTHING: Final = "\0"
"""Stands for a missing word. No file can hold it, so no look-up complains of it."""
INSIDE: Final = "inside an enclosure it is dead, or live"
_QUOTED: Final = re.compile(r"'([^']*)'")


@dataclass(frozen=True, slots=True)
class Written:
    """A piece of a file with its place. Everything that looks into a file goes through this."""

    id: str
    file: str
    node: Node

    @property
    def keys(self) -> tuple[str, ...]:
        """The fields that are written; none when it is no map."""
        return tuple(self.node.value) if isinstance(self.node.value, dict) else ()

    def place(self, *path: str | int) -> Place:
        """Where the value at `path` stands."""
        return self.node.find(path).place(self.file)

    def key_place(self, *path: str | int) -> Place:
        """Where the key at `path` stands."""
        return self.node.find(path).key_place(self.file)


@dataclass(frozen=True, slots=True)
class Entry(Written, Generic[S]):
    """One entry as its model has it."""

    source: S
    sound: bool = True
    """False when a field was left out or replaced because it was wrong: it serves to find more problems and for nothing
    else."""


def validate(model: type[S], written: Written, problems: list[Problem], without: Sequence[str] = ()) -> Entry[S] | None:
    """The entry as `model`; its problems are added to `problems`. The fields in `without` are checked elsewhere.

    Where some fields are wrong, the others still count, so that one run also finds wrong names in them. None only when
    nothing can be made of the entry.
    """
    plain = written.node.plain()
    if without and isinstance(plain, dict):
        plain = {key: value for key, value in plain.items() if key not in without}
    try:
        return Entry(written.id, written.file, written.node, model.model_validate(plain))
    except ValidationError as error:
        details = error.errors(include_url=False)
    found = [(detail, _problem(detail, model, written)) for detail in details]
    misspelt = {(detail["loc"][:-1], problem.hint) for detail, problem in found if problem.rule == Broken.FIELD}
    for detail, problem in found:
        if problem.rule != Broken.MISSING or (detail["loc"][:-1], detail["loc"][-1]) not in misspelt:
            problems.append(problem)
    if not isinstance(plain, dict):
        return None
    wrong = {detail["loc"][0] for detail in details if detail["loc"]}
    rest = {key: value for key, value in plain.items() if key not in wrong}
    rest |= {name: _stand_in(fields(model)[name]) for name in required(model) if name not in rest}
    try:
        return Entry(written.id, written.file, written.node, model.model_validate(rest), sound=False)
    except ValidationError:
        return None


def _stand_in(field: FieldInfo) -> Plain:
    """What stands for a required field that is missing or wrong, while the rest of its entry is looked at: nothing,
    where the field takes a word; else a word that it takes; else an empty list."""
    kind: Any = Annotated[field.annotation, *field.metadata, None]
    adapter: TypeAdapter[Any] = TypeAdapter(kind)
    known: list[Plain] = [NOTHING, *_choices(field.annotation), *map(str, field.examples or ()), []]
    for plain in known:
        with suppress(ValidationError):
            adapter.validate_python(plain)
            return plain
    return NOTHING


def _choices(annotation: Any) -> Iterator[str]:
    """The words of a closed set of words, wherever it stands in a type."""
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        yield from (str(member.value) for member in annotation)
    for part in get_args(annotation):
        yield from (part,) if isinstance(part, str) else _choices(part)


def _problem(detail: ErrorDetails, model: type[BaseModel], written: Written) -> Problem:
    path = tuple(part for part in detail["loc"] if part != "[key]")
    said, given = detail["type"], detail["input"]
    name = next((str(part) for part in reversed(path) if isinstance(part, str)), "")
    if said == "missing":
        return Problem.at(written.key_place(*path[:-1]), f"{shown(name)} is missing", Broken.MISSING)
    if said == "extra_forbidden":
        text, near = unknown("field", name, fields(_model_at(model, path[:-1])))
        return Problem.at(written.key_place(*path), text, Broken.FIELD, near)
    place = written.key_place(*path) if len(path) < len(detail["loc"]) else written.place(*path)
    subject = f"{shown(name)} " if name else ""
    listed = bool(path) and isinstance(path[-1], int)
    if said == Broken.NAME and isinstance(given, str) and given:
        if given != name:
            subject = f"{shown(name)}: {shown(given)} " if name else f"{shown(given)} "
        return Problem.at(place, subject + ((listed and _names_in(given)) or detail["msg"]), said)
    if said in OURS:
        return Problem.at(place, f"{subject}{detail['msg']}", said)
    if said in ("literal_error", "enum"):
        right = _QUOTED.findall(str(detail.get("ctx", {}).get("expected", "")))
        if isinstance(given, str) and given:
            text, near = _wrong_word(given, right, listed)
            return Problem.at(place, f"{shown(name) if name else 'this'}: {text}", Broken.WORD, near)
        text = f"{subject}should be one of {', '.join(right)}, and is {kind_of(given)}"
    elif said in ("dict_type", "model_type", "model_attributes_type", "dataclass_type") and not path:
        text = forms.entry(written.id, required(model), given)
    elif said in ("dict_type", "model_type", "model_attributes_type", "dataclass_type", "tuple_type", "list_type"):
        field, inside = _field_at(model, path)
        above = next((part for part in reversed(path[:-1]) if isinstance(part, str)), "this")
        last = path[-1] if isinstance(path[-1], str) else above
        text = forms.instead(shown(last), field, given, said in ("tuple_type", "list_type"), inside)
    else:
        text = f"{subject}{detail['msg']}"
    return Problem.at(place, text, Broken.KIND)


def _wrong_word(given: str, right: list[str], listed: bool) -> tuple[str, str]:
    """What to say of a word that is none of the right ones, and the nearest of them. `listed`: it stands in a list."""
    if set(right) == set(Access):
        # The nearest spelling of a wrong one must not send anybody inside as if outside.
        return f"unknown word {shown(given)}; known: {', '.join(right)}; {INSIDE}", ""
    parts = given.replace(",", " ").split()
    if listed and len(parts) > 1 and set(parts) <= set(right):
        return f"write several as [{', '.join(parts)}]", ""
    return unknown("word", given, right)


def _names_in(given: str) -> str:
    """What to say of several names in a list without a comma between them; empty for anything else."""
    parts = given.split()
    if len(parts) < 2 or not all(re.fullmatch(r"[a-z][a-z0-9-]*", part) for part in parts):
        return ""
    if any("-" in part for part in parts):
        return f"is no name; a ',' is missing: write {shown(', '.join(parts))}"
    return f"is no name; write {shown('-'.join(parts))}, or {shown(', '.join(parts))} for several"


def _field_at(model: type[BaseModel], path: Path) -> tuple[FieldInfo | None, bool]:
    """The field that what stands at `path` belongs to, and whether it is one of the entries in that field's value."""
    found, inside = None, False
    for part in path:
        field = fields(model).get(str(part))
        inside = field is None
        if field is not None:
            found = field
            model = next(models_in(field.annotation), model)
    return found, inside


def _model_at(model: type[BaseModel], path: Path) -> type[BaseModel]:
    """The model that checks what stands at `path` of an entry that `model` checks."""
    field, _ = _field_at(model, path)
    return next(models_in(field.annotation), model) if field is not None else model
