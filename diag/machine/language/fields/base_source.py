"""What all models of the language have in common, and how a field is spelled in the files."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

from pydantic import BaseModel, ConfigDict, Field
from pydantic.fields import FieldInfo

from diag.machine.span import Plain


def _written(field: str) -> str:
    """A field as the files spell it: `by_design` is `by-design`."""
    return field.rstrip("_").replace("_", "-")


class Source(BaseModel):
    """An entry as it is written. Frozen; an unknown field is an error; defaults are not yet worked out.

    A model is built when something is first held against it: most machines need few of them.
    """

    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=False, alias_generator=_written, defer_build=True
    )


@cache
def fields(model: type[BaseModel]) -> Mapping[str, FieldInfo]:
    """The fields of a model, by their names as the files spell them."""
    return {_written(name): field for name, field in model.model_fields.items()}


class FieldNames:
    """The fields of a model as the files spell them, by attribute: `names(CauseSource).by_design` is `by-design`."""

    def __init__(self, model: type[BaseModel]) -> None:
        self.__dict__.update((name, _written(name)) for name in model.model_fields)

    def __getattr__(self, name: str) -> str:
        raise AttributeError(f"no field {name}")


def names(model: type[BaseModel]) -> FieldNames:
    """Where code has to name a field, it takes the name from here."""
    return FieldNames(model)


def written(model: type[BaseModel], **values: Plain) -> dict[str, Plain]:
    """Fields with their values as a file would have them, for what the program writes out by itself."""
    return {getattr(names(model), name): value for name, value in values.items()}


def required(model: type[BaseModel]) -> tuple[str, ...]:
    """The fields that an entry must have."""
    return tuple(name for name, field in fields(model).items() if field.is_required())


def first_field(model: type[BaseModel]) -> str:
    """The field that tells of what kind an entry is: the first that its own class declares."""
    return _written(next(iter(model.__annotations__)))


def example_of(field: FieldInfo) -> str:
    """How a field is written; empty where its help has no example."""
    return str((field.examples or ("",))[0])


def needed(help: str, example: str) -> Any:
    """A field that an entry must have: its help line, and an example of how it is written."""
    return Field(description=help, examples=[example])


def optional(default: Any, help: str, example: str) -> Any:
    """A field that may be left out, and what it is then."""
    return Field(default=default, description=help, examples=[example])
