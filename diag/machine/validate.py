"""One entry of a file against its model, and pydantic's complaints turned into plain problems at the right word."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, Generic, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from diag.machine import forms
from diag.machine.names import unknown
from diag.machine.place import Place
from diag.machine.problem import Problem, shown
from diag.machine.source import Source
from diag.machine.span import Node, Path, Plain
from diag.machine.words import kind_of

S = TypeVar("S", bound=Source)

OURS: Final = frozenset({"kind", "name", "chance", "often"})
"""Rules of `words`, whose complaints are whole messages already."""
NOTHING: Final = "\0"
"""Stands for a missing word. No file can hold it, so no look-up complains of it."""
STAND_IN: Final[dict[str, Plain]] = {
    "format": "1",
    "often": "rare",
    "minutes": "1",
    "access": "outside",
    "who": "engineer",
    "call": "engineer",
    "lamp": "white",
    "contact": "make",
    "facts": [],
}
"""What stands for a required field that is missing or wrong, while the rest of its entry is looked at."""
INSIDE: Final = "inside an enclosure it is dead, or live"
_QUOTED: Final = re.compile(r"'([^']*)'")


@dataclass(frozen=True, slots=True)
class Written:
    """Something of a file with its place: what all looks into a file go through."""

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
    """False when a field was left out or replaced because it was wrong: good for finding more problems, no more."""


def validate(model: type[S], written: Written, problems: list[Problem], without: Sequence[str] = ()) -> Entry[S] | None:
    """The entry as `model`, with its problems added. Fields `without` are looked at elsewhere.

    Where fields are wrong the others still count, so that one run also finds the wrong names in them; None only when
    nothing can be made of it.
    """
    plain = written.node.plain()
    if without and isinstance(plain, dict):
        plain = {key: value for key, value in plain.items() if key not in without}
    try:
        return Entry(written.id, written.file, written.node, model.model_validate(plain))
    except ValidationError as error:
        details = error.errors(include_url=False)
    found = [(detail, _problem(detail, model, written)) for detail in details]
    misspelt = {(detail["loc"][:-1], problem.hint) for detail, problem in found if problem.rule == "field"}
    for detail, problem in found:
        if problem.rule != "missing" or (detail["loc"][:-1], detail["loc"][-1]) not in misspelt:
            problems.append(problem)
    if not isinstance(plain, dict):
        return None
    wrong = {detail["loc"][0] for detail in details if detail["loc"]}
    rest = {key: value for key, value in plain.items() if key not in wrong}
    for name, field in model.model_fields.items():
        key = field.alias or name
        if field.is_required() and key not in rest:
            rest[key] = STAND_IN.get(key, NOTHING)
    try:
        return Entry(written.id, written.file, written.node, model.model_validate(rest), sound=False)
    except ValidationError:
        return None


def fields(model: type[BaseModel]) -> tuple[str, ...]:
    """The field names of a model as the files write them."""
    return tuple(field.alias or name for name, field in model.model_fields.items())


def _problem(detail: ErrorDetails, model: type[BaseModel], written: Written) -> Problem:
    path = tuple(part for part in detail["loc"] if part != "[key]")
    is_key = len(path) < len(detail["loc"])
    said, given = detail["type"], detail["input"]
    name = next((str(part) for part in reversed(path) if isinstance(part, str)), "")
    if said == "missing":
        text = f"{shown(name)} is missing"
        return Problem.at(written.key_place(*path[:-1]), text, "missing")
    if said == "extra_forbidden":
        text, near = unknown("field", name, fields(_model_at(model, path[:-1])))
        return Problem.at(written.key_place(*path), text, "field", near)
    place = written.key_place(*path) if is_key else written.place(*path)
    subject = f"{shown(name)} " if name else ""
    if said == "name" and isinstance(given, str) and given and given != name:
        subject = f"{subject[:-1]}: {shown(given)} " if subject else f"{shown(given)} "
    if said in OURS:
        return Problem.at(place, f"{subject}{detail['msg']}", said)
    if said in ("literal_error", "enum"):
        right = _QUOTED.findall(str(detail.get("ctx", {}).get("expected", "")))
        if isinstance(given, str) and given:
            text, near = unknown("word", given, right)
            parts = given.replace(",", " ").split()
            if len(parts) > 1 and name == "who" and set(parts) <= set(right):
                text, near = f"several are written [{', '.join(parts)}]", ""
            if name == "access":  # the nearest spelling of a wrong one must not send anybody inside as if outside
                text, near = f"unknown word {shown(given)}; known: {', '.join(right)}; {INSIDE}", ""
            return Problem.at(place, f"{subject[:-1] or 'this'}: {text}", "word", near)
        return Problem.at(place, f"{subject}should be one of {', '.join(right)}, and is {kind_of(given)}", "kind")
    if said in ("dict_type", "model_type", "model_attributes_type", "dataclass_type"):
        if not path:
            return Problem.at(place, forms.entry(written.id, _required(model), given), "kind")
        return Problem.at(place, _form(model, path, given, many=False), "kind")
    if said in ("tuple_type", "list_type"):
        return Problem.at(place, _form(model, path, given, many=True), "kind")
    return Problem.at(place, f"{subject}{detail['msg']}", "kind")


def _required(model: type[BaseModel]) -> tuple[str, ...]:
    return tuple(field.alias or name for name, field in model.model_fields.items() if field.is_required())


def _form(model: type[BaseModel], path: Path, given: object, many: bool) -> str:
    """The message for what stands at `path` of an entry in a wrong form: a field of a model, or an entry inside one."""
    *above, last = path
    outer = str(above[-1]) if above else ""
    inside = outer in forms.INSIDE and (isinstance(last, int) or outer not in ("facts", "follows"))
    if isinstance(last, int):
        return forms.instead(shown(outer) if outer else "this", outer, given, many, inside)
    return forms.instead(shown(last), outer if inside else last, given, many, inside)


def _model_at(model: type[BaseModel], path: Path) -> type[BaseModel]:
    """The model that checks what stands at `path` of an entry that `model` checks."""
    for part in path:
        for name, field in model.model_fields.items():
            if (field.alias or name) == part:
                model = next(_models_in(field.annotation), model)
    return model


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in get_args(annotation):
        yield from _models_in(argument)
