"""Where each field of the language stands in a file that holds all of them, each in a line of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from diag.machine.language.fields.base_source import fields, first_field
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.sections import Sections
from diag.machine.language.fields.tree_fields import NODES, TreeSource
from diag.machine.language.shapes import Shape, models_in, shape_of
from diag.machine.reader.compose import compose
from diag.machine.span import Node

FOLDER = Path(__file__).parent / "every_field"
MODULE = FOLDER.parent / "modules" / "tiny.yaml"


@dataclass(frozen=True)
class Place:
    """One field in one entry."""

    model: type[BaseModel]
    field: str
    shape: Shape
    file: Path
    line: int
    column: int
    node: Node

    @property
    def id(self) -> str:
        return f"{self.model.__name__}.{self.field}"


def places() -> dict[str, Place]:
    """The first place of each field that stands at the beginning of a line, by model and field."""
    found: dict[str, Place] = {}
    for file, root_models in ((FOLDER / "machine.yaml", (HeadSource, Sections)), (MODULE, (Sections,))):
        text = file.read_text(encoding="utf-8")
        root, problems = compose(text, str(file))
        assert root is not None
        assert not problems
        for place in _walk(root, root_models, file, text.split("\n")):
            found.setdefault(place.id, place)
    return found


def _walk(node: Node, models: tuple[type[Any], ...], file: Path, lines: list[str]) -> Iterator[Place]:
    if isinstance(node.value, list):
        for child in node.value:
            yield from _walk(child, models, file, lines)
        return
    if isinstance(node.value, str):
        return
    fits = [model for model in models if set(node.value) & set(fields(model))]
    fits = [model for model in fits if model in (HeadSource, Sections, TreeSource) or _first(model) in node.value] or [
        model for model in fits if set(node.value) <= set(fields(model))
    ]
    for name, child in node.value.items():
        known = False
        for model in fits:
            for written, field in fields(model).items():
                if written == name:
                    known = True
                    before = lines[child.key_line - 1][: child.key_column - 1]
                    shape = shape_of(field.annotation, field.metadata)
                    if not before.strip(" -") and model is not Sections:
                        yield Place(model, name, shape, file, child.key_line, child.key_column, child)
                    inner = tuple(models_in(field.annotation, field.metadata))
                    inner = (*inner, *NODES.values()) if TreeSource in inner else inner
                    yield from _walk(child, inner, file, lines)
        if not known:
            yield from _walk(child, models, file, lines)


def _first(model: type[BaseModel]) -> str:
    return "" if model is Sections else first_field(model)
