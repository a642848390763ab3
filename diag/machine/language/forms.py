"""How what is more than a word is written: the form that a message shows where a file has something else.

People who write the files need not know what a map or a list is; what helps them is how it looks. The forms are the
examples that stand at the fields of the models.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from diag.machine.language.fields.base_source import example_of, fields, names, required
from diag.machine.language.fields.field_types import Fact, is_name, kind_of, one_or_many_maps
from diag.machine.language.fields.module_fields import CHAINS
from diag.machine.language.fields.sections import FOLDERS, LISTS, entry_type
from diag.machine.language.fields.tree_fields import LookSource, TreeSource
from diag.machine.language.written_pairs import no_space
from diag.machine.problem import shown

_NAMES: Final = "[one, another]"
_FIELDS: Final = "{title: ..., minutes: ...}"
_A_FACT: Final = ("supply-lamp", "dark")


def example(model: type[BaseModel], name: str) -> str:
    """How a field, named as the files spell it, is written. Raises KeyError for what is no field of the model."""
    return example_of(fields(model)[name])


def entry_example(section: str) -> str:
    """How an entry of a section that is a list is written in one line."""
    model = entry_type(section)
    parts = [f"{name}: {example(model, name)}" for name in required(model)]
    if model is TreeSource:
        look = names(LookSource)
        parts += [f"{name}: {example(LookSource, name)}" for name in (look.look, look.when)]
    return f"- {{{', '.join(parts)}}}"


def _inside(field: FieldInfo) -> str:
    """How one of the entries in a field's value is written; empty where it is a word."""
    whole = example_of(field)
    if any(getattr(part, "func", None) is one_or_many_maps for part in field.metadata):
        return whole
    start = min((at for sign in "{[" if (at := whole.find(sign, 1)) > 0), default=0)
    depth = 0
    for end, sign in enumerate(whole[start:], start):
        depth += (sign in "{[") - (sign in "}]")
        if start and depth == 0:
            return whole[start : end + 1]
    return ""


def instead(subject: str, field: FieldInfo | None, given: object, many: bool, inside: bool = False) -> str:
    """The message where a field is written in a wrong form.

    `inside`: it is one of the entries in the field's value; `many`: entries in a row are wanted, and not names with
    values. What is a slip of the pen is reported as one.
    """
    slip = no_space(given) if isinstance(given, str) else ""
    if slip and not many:
        return slip
    if field is not None and get_origin(field.annotation) is tuple and get_args(field.annotation)[0] == Fact:
        if not inside and isinstance(given, dict):
            return a_fact(given)
        if inside and isinstance(given, str) and len(given.split()) == 2:
            return a_fact(dict([given.split()]))
    form = (_inside(field) if inside else example_of(field)) if field is not None else ""
    return f"{subject} takes the form {form or (_NAMES if many else _FIELDS)}; this is {kind_of(given)}"


def a_fact(given: Mapping[str, object]) -> str:
    """The message where facts stand together that should stand in a row."""
    key, value = next(iter(given.items()), _A_FACT)
    key, value = (key, value) if isinstance(value, str) else _A_FACT
    return f"each fact stands in a line of its own that begins with a dash: write {shown(f'- {{{key}: {value}}}')}"


def entry(id: str, needed: tuple[str, ...], given: object) -> str:
    """The message for an entry of a section that has no fields."""
    fields = ", ".join(f"'{field}:'" for field in needed)
    return f"{shown(id)} is {kind_of(given)} and has no fields; they stand below it, two spaces further right: {fields}"


def members(name: str, given: object) -> str:
    """The message where the members of a chain are words one behind the other."""
    words = re.split(r"[\s,;]+", given) if isinstance(given, str) else []
    words = [word for word in words if word]
    said = f"the members of {shown(name)} stand in brackets, separated by commas, or each in a line with a '- '"
    if 1 < len(words) <= 8 and all(map(is_name, words)):
        return f"{said}: write {shown(f'{name}: [' + ', '.join(words) + ']')}"
    return f"{said}: {example(CHAINS[name], name)}; this is {kind_of(given)}"


def section(name: str, given: object) -> str:
    """The message for a section that is not what it should be."""
    if name in LISTS:
        return (
            f"each entry of {shown(name)} begins with a '- ', such as {entry_example(name)}; this is {kind_of(given)}"
        )
    if isinstance(given, list):
        return f"{shown(name)} takes no dashes: each entry has a name with a ':', its fields two spaces further right"
    return f"below {shown(name + ':')} stand entries, each under a name with a ':'; this is {kind_of(given)}"


def file(sections: tuple[str, ...], given: object) -> str:
    """The message for a file that begins with none of its fields or sections."""
    said = ", ".join(f"'{name}:'" for name in sections[:3])
    return f"this file consists of fields such as {said}; this is {kind_of(given)}"


def alone(name: str) -> str:
    """The message for a `tree` or an `example` at the edge of a file that holds the whole machine."""
    folder, section = next((folder, section) for folder, (section, key) in FOLDERS.items() if key == name)
    first = "'start:' names the first, and " if name == names(TreeSource).tree else ""
    return (
        f"{shown(name)} names one in a file of the folder {folder}; here {first}{shown(section + ':')} stands above a "
        "list of them"
    )
