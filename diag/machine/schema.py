"""The machine language as a JSON Schema, for text editors that complete and check while one writes.

Made from the models of `diag.machine.source` (see `schema_models`) and the reader's own list of files and sections.
Only keywords that draft 7 of JSON Schema has too are used, as some editors stop there; `errorMessage` is a note that
editors show and validators pass over.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final

from diag.machine.field_help import FILE_HELP, SECTION_HELP
from diag.machine.gather import FILES, FOLDERS, HEAD, LISTS
from diag.machine.resolve_causes import UNLISTED
from diag.machine.resolve_panel import RESERVED
from diag.machine.schema_models import ANY_WORD, NAMED, Schema, models, name_of, one_of_these, ref
from diag.machine.source import KINDS, NODES, LineSource, SeriesSource, Source

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"

SECTIONS: Final = {name.removesuffix(".yaml"): name for name in FILES} | {name: f"{name}/*.yaml" for name in FOLDERS}
"""What has a schema of its own, and which files it is for."""

_WORDS: Final[Schema] = {"type": "array", "items": {"type": ANY_WORD["type"]}}
ENTRIES: Final[dict[str, Schema]] = {
    "points": ref("point"),
    "stored": ref("stored"),
    "test-points": ref("test-point"),
    "zones": ref("zone"),
    "resets": ref("reset"),
    "groups": {**_WORDS, "minItems": 1},
    "indications": ref("indication"),
    "face": {"type": "array", "items": _WORDS},
    "remedies": ref("remedy"),
    "causes": ref("cause"),
    "checks": ref("check"),
    "parameters": ref("parameter"),
    "uses": ref("use"),
    "chains": ref("chain"),
    "dangers": ref("danger"),
    "trees": ref("tree"),
    "examples": ref("example"),
}
"""What an entry of each section is."""
_NOT_NAMES: Final = {"indications": sorted(RESERVED), "groups": sorted(RESERVED), "causes": [UNLISTED]}
"""Words that mean something already where a name of this section could stand."""


def schema(section: str | None = None) -> Schema:
    """The schema of one kind of file; without `section` that of machine.yaml, with those of all others in its `$defs`.

    Raises KeyError for a section that is none of `SECTIONS`.
    """
    name = section or "machine"
    title = f"{SECTIONS[name]} of a machine"
    defs = _definitions()
    kept = _needed(defs, name) if section else set(defs)
    return {
        "$schema": DIALECT,
        "title": title,
        **ref(name),
        "$defs": {name: part for name, part in sorted(defs.items()) if name in kept},
    }


def _definitions() -> dict[str, Schema]:
    defs = models()
    head, tree = defs.pop("head"), defs.pop("tree")
    defs["indication"] = {"description": defs["indication"]["description"], **_by_first_key(KINDS, defs)}
    defs["node"] = _by_first_key(NODES, defs)
    defs["chain"] = _by_first_key({"series": SeriesSource, "line": LineSource}, defs)
    for model in NODES.values():
        defs[_rooted(model)] = _joined(tree, defs[_named(model)])
    defs["tree"] = {"description": tree["description"], **_by_first_key(NODES, defs, _rooted)}
    for file, sections in FILES.items():
        name = file.removesuffix(".yaml")
        own = _closed([section for section in sections if section not in HEAD])
        defs[name] = {**(_joined(head, own) if HEAD[0] in sections else own), "description": FILE_HELP[name]}
    for name, (section, key) in FOLDERS.items():
        listed = {"type": "object", "required": [section]}
        defs[name] = {"description": FILE_HELP[name], "if": listed, "then": _closed([section]), "else": ref(key)}
    return defs


def _closed(sections: Iterable[str]) -> Schema:
    """These sections and nothing else."""
    own = {section: _section(section) for section in sections}
    return {"type": "object", "properties": own, "additionalProperties": False}


def _section(name: str) -> Schema:
    """A section, which may also be left empty."""
    many = "array" if name in LISTS else "object"
    made: Schema = {"description": SECTION_HELP[name], "type": [many, "null", "string"], "maxLength": 0}
    if name in LISTS:
        return {**made, "items": ENTRIES[name]}
    made["additionalProperties"] = ENTRIES[name]
    if name != "face":
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
        then = {"if": alone, "then": one, "else": mixed} if others else one
        made = {"if": {"type": "object", "required": [key]}, "then": then, "else": made}
    return made


def _needed(defs: Mapping[str, Schema], name: str) -> set[str]:
    """The definitions that this one leads to, itself among them."""
    found: set[str] = set()
    waiting = [name]
    while waiting:
        at = waiting.pop()
        if at not in found:
            found.add(at)
            waiting.extend(_refs(defs[at]))
    return found


def _refs(part: Any) -> Iterable[str]:
    if isinstance(part, dict):
        for key, value in part.items():
            if key == "$ref" and isinstance(value, str):
                yield value.rpartition("/")[2]
            else:
                yield from _refs(value)
    elif isinstance(part, list):
        for item in part:
            yield from _refs(item)
