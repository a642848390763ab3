"""What a field is stands once, in the models of `machine/language`; everything else is derived from them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import diag.machine
from diag.machine.language.fields.base_source import Source, fields
from diag.machine.language.fields.sections import Sections
from diag.machine.language.shapes import models

ROOM = Path(diag.machine.__file__).parent
MODELS = (Sections, *models())
HOMES = {Path(*model.__module__.split(".")[2:]).with_suffix(".py") for model in (*MODELS, Source)}
"""The modules in which the models stand."""
FIELDS = {name for model in MODELS for name in fields(model)}


def literals(path: Path) -> Iterator[tuple[int, str]]:
    """The string literals of a module. The pieces of an f-string are no words by themselves."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    pieces = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in pieces:
            yield node.lineno, node.value


def named(text: str) -> bool:
    """Whether a literal is a field's name, or a list of three or more of them in one text."""
    words = [word.rstrip(":") for word in re.split(r"[\s,|]+", text) if word]
    return text.strip().rstrip(":") in FIELDS or (len(words) > 2 and FIELDS.issuperset(words))


def test_no_field_s_name_is_written_outside_the_models() -> None:
    found = [
        f"{path.relative_to(ROOM)}:{line}: {text!r}"
        for path in sorted(ROOM.rglob("*.py"))
        if path.relative_to(ROOM) not in HOMES
        for line, text in literals(path)
        if named(text)
    ]
    assert found == []
