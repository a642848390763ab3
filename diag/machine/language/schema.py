"""The machine language as a JSON Schema, for text editors that complete and check while one writes.

Made from the models of the language (see `schema_models`) and the sections that the files are made of.
Only keywords that draft 7 of JSON Schema has too are used, as some editors stop there; `errorMessage` is a note that
editors show and validators pass over.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from typing import Annotated, Final, get_args, get_origin

from diag.machine.language.fields.base_source import Source, names
from diag.machine.language.fields.field_types import Keyword, Schema
from diag.machine.language.fields.machine_fields import HeadSource
from diag.machine.language.fields.module_fields import CHAINS
from diag.machine.language.fields.panel_fields import KINDS
from diag.machine.language.fields.sections import (
    FILE_HELP,
    FILES,
    FOLDERS,
    HEAD,
    LISTS,
    NAMED_IN,
    PANEL,
    SECTION_HELP,
    Sections,
    entry_type,
)
from diag.machine.language.fields.tree_fields import NODES, TreeSource
from diag.machine.language.names_in import FREE
from diag.machine.language.schema_models import ANY_WORD, NAMED, definitions, name_of, one_of_these, ref
from diag.machine.language.spellings import RENAMED, hint
from diag.machine.model import UNLISTED

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

SECTIONS: Final = {name.removesuffix(".yaml"): name for name in FILES} | {name: f"{name}/*.yaml" for name in FOLDERS}
"""What has a schema of its own, and which files it is for."""

_WORDS: Final[Schema] = {"type": "array", "items": {"type": ANY_WORD["type"]}}
_SECTION: Final = names(Sections)
_NOT_NAMES: Final = {
    _SECTION.indications: sorted(FREE),
    _SECTION.groups: sorted(FREE),
    _SECTION.causes: [UNLISTED],
}
"""Words that mean something already where a name of this section could stand."""


def _entry(section: str) -> Schema:
    """What an entry of a section is: one model, one of several, or a list of names."""
    kind = entry_type(section)
    if section in SEVERAL:
        return ref(SEVERAL[section])
    if isinstance(kind, type) and get_origin(kind) is None:
        return ref(name_of(kind.__name__))
    words = get_args(kind)[0] if get_origin(kind) is Annotated else kind
    return (
        {**_WORDS, "minItems": 1} if get_origin(get_args(words)[0]) is Annotated else {"type": "array", "items": _WORDS}
    )


SEVERAL: Final = {_SECTION.indications: "indication", _SECTION.chains: "chain"}
"""Sections whose entries are told apart by their first field, and what one is called."""


def schema(section: str | None = None) -> Schema:
    """The schema of one kind of file; without `section` that of machine.yaml, with those of all others in its `$defs`.

    Raises KeyError for a section that is none of `SECTIONS`.
    """
    name = section or next(iter(SECTIONS))
    title = f"{SECTIONS[name]} of a machine"
    defs = _definitions()
    kept = _needed(defs, name) if section else defs
    return {
        "$schema": DIALECT,
        Keyword.TITLE: title,
        **ref(name),
        "$defs": {name: part for name, part in sorted(defs.items()) if name in kept},
    }


def _definitions() -> dict[str, Schema]:
    defs = definitions()
    head, tree = defs.pop(_named(HeadSource)), defs.pop(_named(TreeSource))
    indication, chain = SEVERAL[_SECTION.indications], SEVERAL[_SECTION.chains]
    defs[indication] = {"description": defs[indication]["description"], **_by_first_key(KINDS, defs)}
    defs["node"] = _by_first_key(NODES, defs)
    defs[chain] = _by_first_key(CHAINS, defs)
    for model in NODES.values():
        defs[_rooted(model)] = _joined(tree, defs[_named(model)])
    defs[_named(TreeSource)] = {"description": tree["description"], **_by_first_key(NODES, defs, _rooted)}
    for file, sections in FILES.items():
        name = file.removesuffix(".yaml")
        own = _closed([section for section in sections if section not in HEAD])
        defs[name] = {**(_joined(_old_too(head), own) if HEAD[0] in sections else own), "description": FILE_HELP[file]}
    for name, (section, key) in FOLDERS.items():
        listed = {"type": "object", "required": [section]}
        defs[name] = {"description": FILE_HELP[name], "if": listed, Keyword.THEN: _closed([section]), "else": ref(key)}
    return defs


def _old_too(head: Schema) -> Schema:
    """The header with the old spellings of its fields."""
    old = {
        old: {**head["properties"][new], "deprecated": True, "description": f"It {hint(old)}."}
        for old, new in RENAMED.items()
    }
    return {**head, "properties": {**head["properties"], **old}}


def _closed(sections: Iterable[str]) -> Schema:
    """These sections and nothing else."""
    own = {section: _section(section) for section in sections}
    return {"type": "object", "properties": own, "additionalProperties": False}


def _section(name: str) -> Schema:
    """A section, which may also be left empty."""
    many = "array" if name in LISTS else "object"
    made: Schema = {"description": SECTION_HELP[name], "type": [many, "null", "string"], "maxLength": 0}
    if name in LISTS:
        return {**made, "items": _entry(name)}
    made["additionalProperties"] = _entry(name)
    if name in NAMED_IN or name not in FILES[PANEL.name]:
        made["propertyNames"] = NAMED
    if name in _NOT_NAMES:
        taken = _NOT_NAMES[name]
        pattern = f"^(?!(?:{'|'.join(taken)})$)" + NAMED["pattern"].removeprefix("^")
        says = f"{NAMED['errorMessage'].removesuffix('.')}, and not {' or '.join(taken)}."
        made["propertyNames"] = {"pattern": pattern, "errorMessage": says}
    return made


def _joined(one: Schema, other: Schema) -> Schema:
    """What has the fields of both, those of the first in front."""
    made = {**one, **other, "properties": {**one["properties"], **other["properties"]}}
    return {**made, "required": [*one.get("required", ()), *other.get("required", ())]}


def _named(model: type[Source]) -> str:
    return name_of(model.__name__)


def _rooted(model: type[Source]) -> str:
    """A node that is the root of a tree."""
    return f"tree-{_named(model)}"


def _by_first_key(
    kinds: Mapping[str, type[Source]], defs: Mapping[str, Schema], name: Callable[[type[Source]], str] = _named
) -> Schema:
    """Told apart by the one of these keys that is there; with two of them, or with none, one complaint.

    With two the second is the one that is complained of, as the reader does."""
    known = ", ".join(kinds)
    made: Schema = {
        "type": "object",
        "properties": {key: defs[name(model)]["properties"][key] for key, model in kinds.items()},
        "anyOf": one_of_these(kinds, f"This says none of {known}."),
    }
    keys = list(kinds)
    for i, key in reversed(list(enumerate(keys))):
        others = dict.fromkeys(keys[i + 1 :], False)
        alone = {"not": {"anyOf": [{"required": [other]} for other in others]}} if others else {}
        one = ref(name(kinds[key]))
        mixed = {"properties": others, "errorMessage": f"This has {key} beside it already; it can be one of {known}."}
        then = {"if": alone, Keyword.THEN: one, "else": mixed} if others else one
        made = {"if": {"type": "object", "required": [key]}, Keyword.THEN: then, "else": made}
    return made


def _needed(defs: Mapping[str, Schema], name: str) -> list[str]:
    """The definitions that this one leads to, itself among them."""
    found = [name]
    for at in found:
        refs = re.findall(r'"#/\$defs/([^"]+)"', json.dumps(defs[at]))
        found += [ref for ref in dict.fromkeys(refs) if ref not in found]
    return found
