"""Each model of the language as JSON Schema: its fields with their help, and what is asked of it beyond them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Annotated, Any, Final, Literal, get_args, get_origin

from pydantic import WithJsonSchema
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue, models_json_schema
from pydantic_core import core_schema

from diag.machine.language.fields.base_source import Source, fields, names
from diag.machine.language.fields.field_types import (
    Keyword,
    Minutes,
    Name,
    Schema,
    Text,
    at_least_one,
    long_or_short,
    one_or_many,
    one_or_many_maps,
    showing,
)
from diag.machine.language.fields.machine_fields import ApprovalSource, ResetSource
from diag.machine.language.fields.marks import Apart
from diag.machine.language.fields.panel_fields import (
    ContactSource,
    DisplaySource,
    IndicationSource,
    LampSource,
    QuestionSource,
    ReadingSource,
    code_of,
)
from diag.machine.language.fields.tree_fields import LookSource, Node
from diag.machine.language.shapes import models
from diag.machine.model import RESET_OUTCOMES
from diag.panel.formulas.formulas import FORMULAS
from diag.panel.lamps import flash


def ref(name: str) -> Schema:
    """A reference to one of the definitions."""
    return {"$ref": f"#/$defs/{name}"}


def name_of(word: str) -> str:
    """The definition of a class: `TestPointSource` is `test-point`, `Role` is `role`."""
    word = word.removesuffix("Source")
    return "".join(f"-{c.lower()}" if c.isupper() else c for c in word).lstrip("-")


def _shape_of(annotated: Any) -> Schema:
    return next(dict(part.json_schema or {}) for part in annotated.__metadata__ if isinstance(part, WithJsonSchema))


TEXT: Final = _shape_of(Text)
NAME: Final = _shape_of(Name)
NAMED: Final[Schema] = {key: NAME[key] for key in ("pattern", "errorMessage")}
"""For keys, which are text to an editor whatever they look like."""
ANY_WORD: Final[Schema] = {"type": TEXT["type"], "minLength": 1}


def _some(inner: Schema) -> Schema:
    """At least one of them; a short form is one already."""
    long = inner.get(Keyword.THEN, inner)
    least = "minItems" if long["type"] == "array" else "minProperties"
    return {**inner, Keyword.THEN: {**long, least: 1}} if Keyword.THEN in inner else {**inner, least: 1}


_SHORT_FORMS: Final[dict[Any, Callable[[Schema], Schema]]] = {
    one_or_many: lambda inner: long_or_short("array", inner, inner["items"]),
    one_or_many_maps: lambda inner: long_or_short("array", inner, inner["items"]),
    showing: lambda inner: long_or_short("object", {**inner, "minProperties": 1}, TEXT),
    code_of: lambda inner: long_or_short("object", inner, NAME),
}
"""What may be written in place of a list or a map, by the function that makes the list or map of it."""


class _Writer(GenerateJsonSchema):
    """Pydantic's own, which also knows the short forms of the language, and that an empty field is no value."""

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> JsonSchemaValue:
        inner = super().function_before_schema(schema)
        short = _SHORT_FORMS.get(schema["function"]["function"])
        return inner if short is None else short(inner)

    def function_after_schema(self, schema: core_schema.AfterValidatorFunctionSchema) -> JsonSchemaValue:
        inner = super().function_after_schema(schema)
        return _some(inner) if schema["function"]["function"] is at_least_one else inner

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        found = super().default_schema(schema)
        if not isinstance(found.get(Keyword.DEFAULT), str | int | float) or found[Keyword.DEFAULT] == "":
            found.pop(Keyword.DEFAULT, None)
        return found

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        keys, values = self.generate_inner(schema["keys_schema"]), self.generate_inner(schema["values_schema"])
        limits = {name: keys[name] for name in ("pattern", "errorMessage") if name in keys}
        named = {"propertyNames": limits} if limits else {}
        return {"type": "object", **named, "additionalProperties": values}

    def literal_schema(self, schema: core_schema.LiteralSchema) -> JsonSchemaValue:
        found = list(schema["expected"])  # `format: 1` is a number to an editor
        return {"enum": [*found, *(int(word) for word in found if word.isdigit())]}

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def definitions() -> dict[str, Schema]:
    """The definition of each model, and of each set of words that they share, by its plain name."""
    classes: tuple[type[Source], ...] = (*models(), IndicationSource)
    _, top = models_json_schema([(model, "validation") for model in classes], schema_generator=_Writer)
    found: dict[str, Schema] = {name_of(name): _renamed(part) for name, part in top["$defs"].items()}
    entries = {name_of(model.__name__): model for model in classes}
    for name, part in found.items():
        part.pop(Keyword.TITLE, None)
        if name not in entries:
            part.pop("description", None)  # of a set of words: it speaks to whoever reads the code
    return found | {name: _further(model, found[name]) for name, model in entries.items()}


def _renamed(part: Any) -> Any:
    if isinstance(part, dict):
        return {
            key: f"#/$defs/{name_of(value.rpartition('/')[2])}" if key == "$ref" else _renamed(value)
            for key, value in part.items()
        }
    return [_renamed(item) for item in part] if isinstance(part, list) else part


# ---------------------------------------------------------------- beyond the models


def _offered(some: list[str], of: Schema) -> Schema:
    """Some words that an editor offers; any other may be written."""
    return {"anyOf": [{"enum": some}, of]}


def _has(*fields: str) -> Schema:
    return {"required": list(fields)}


def one_of_these(fields: Iterable[str], says: str) -> list[Schema]:
    """For each field that it is there, and what an editor says when none is."""
    return [{"required": [field], "errorMessage": says} for field in fields]


_PATTERNS: Final = [p.name for p in (flash.STEADY, flash.OFF, flash.BLINK, flash.FLICKER, *flash.FLASHES, flash.SLOW)]
_RESET, _LAMP, _DISPLAY = names(ResetSource), names(LampSource), names(DisplaySource)
_CONTACT, _READING, _QUESTION, _LOOK = (
    names(ContactSource),
    names(ReadingSource),
    names(QuestionSource),
    names(LookSource),
)

OFFERED: Final[dict[type[Source], dict[str, Schema]]] = {
    ResetSource: {_RESET.usual: {"properties": dict.fromkeys(RESET_OUTCOMES, _shape_of(Minutes))}},
    LampSource: {_LAMP.states: {"additionalProperties": _offered(_PATTERNS, TEXT)}},
    ReadingSource: {_READING.formula: _offered(list(FORMULAS), TEXT)},
}
"""What an editor can offer for a field beyond what its type says."""

WHOLE: Final[dict[type[Source], Schema]] = {
    ApprovalSource: _has(names(ApprovalSource).approved),
    LampSource: _has(_LAMP.normal),
    DisplaySource: {
        **_has(_DISPLAY.normal),
        "if": {**_has(_DISPLAY.scrolls), "properties": {_DISPLAY.scrolls: {"enum": [True, "true"]}}},
        Keyword.THEN: {"properties": {_DISPLAY.display: {"pattern": "^1 "}}},
    },
    ContactSource: {
        **_has(_CONTACT.normal),
        "allOf": [
            {
                "if": {**_has(_CONTACT.contact), "properties": {_CONTACT.contact: {"enum": ["changeover"]}}},
                Keyword.THEN: _has(_CONTACT.side),
                "else": {"properties": {_CONTACT.side: False}},
            },
            {
                "if": _has(_CONTACT.nominal),
                Keyword.THEN: {
                    **_has(_CONTACT.measured),
                    "properties": {_CONTACT.measured: {"enum": ["voltage"]}},
                },
            },
        ],
    },
    ReadingSource: {"anyOf": one_of_these((_READING.normal, _READING.nominal), "'normal' is missing.")},
    QuestionSource: {
        "oneOf": one_of_these((_QUESTION.usual, _QUESTION.answers), "This needs 'usual' or 'answers', one of them.")
    },
    LookSource: {"anyOf": one_of_these((_LOOK.when, _LOOK.otherwise), "'when' is missing.")},
}
"""What is asked of an entry as a whole: fields that are needed, and what goes with what."""


def _further(model: type[Source], made: Schema) -> Schema:
    """What is known of a model beyond what pydantic makes of it."""
    properties = {}
    for name, field in fields(model).items():
        apart = next((mark for mark in field.metadata if isinstance(mark, Apart)), None)
        offered = OFFERED.get(model, {}).get(name, {})
        found = made["properties"][name]
        if apart is not None and field.annotation is Any:
            found = _apart(apart.type(), field.default, apart.in_part)
        if "anyOf" in offered:
            found = {}
        properties[name] = {**found, "description": field.description, **offered}
        properties[name].pop(Keyword.EXAMPLES, None)
    more = WHOLE.get(model, {})
    needed = [*made.get("required", ()), *more.get("required", ())]
    text = " ".join(made["description"].split())
    return {**made, **more, "description": text, "required": needed, "properties": properties}


def _apart(annotation: Any, default: Any = None, in_part: bool = False) -> Schema:
    """The schema of what is looked at apart from its entry; `in_part`: only some of a model's fields stand there."""
    if annotation == Node:
        return ref("node")
    parts = get_args(annotation)
    if get_origin(annotation) is dict:
        if parts[1] == Node:
            return {"type": "object", "additionalProperties": ref("node")}
        nothing: Schema = {"type": ["null", "string"], "maxLength": 0}
        inner = long_or_short("object", ref(name_of(parts[1].__name__)), nothing)
        return {"type": "object", "propertyNames": NAMED, "additionalProperties": inner}
    if get_origin(annotation) is tuple:
        return {"type": "array", "items": NAME}
    if get_origin(annotation) is Literal:
        return {"enum": list(parts), Keyword.DEFAULT: default}
    if get_origin(annotation) is Annotated:
        return ANY_WORD
    if isinstance(annotation, type):
        return {"type": "object"} if in_part else ref(name_of(annotation.__name__))
    long, short = sorted(parts, key=_is_short)
    return long_or_short(
        "array" if get_origin(long) is tuple else "object", _apart(long, in_part=in_part), _apart(short, default)
    )


def _is_short(part: Any) -> int:
    """The form that an editor tells by its type comes first: a model, or a list; else what it is not told from."""
    return 2 if get_origin(part) in (Literal, Annotated) else get_origin(part) is dict
