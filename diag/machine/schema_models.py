"""Each model of `diag.machine.source` as JSON Schema: its fields with their help, and what is asked of it beyond them.

The shapes of the fields stand beside their types in `diag.machine.words`, the help in `diag.machine.field_help`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, Final

from pydantic import BaseModel, WithJsonSchema
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue, models_json_schema
from pydantic_core import core_schema

from diag.machine import source, words
from diag.machine.field_help import HELP
from diag.machine.model import RESET_OUTCOMES
from diag.machine.source import Source
from diag.machine.standing import DRAFT, WORDS
from diag.panel import flash
from diag.panel.formulas import FORMULAS
from diag.panel.segments import MOST_DIGITS

Schema = dict[str, Any]


def ref(name: str) -> Schema:
    """A reference to one of the definitions."""
    return {"$ref": f"#/$defs/{name}"}


def name_of(word: str) -> str:
    """The definition of a class: `TestPointSource` is `test-point`, `Role` is `role`."""
    word = word.removesuffix("Source")
    return "".join(f"-{c.lower()}" if c.isupper() else c for c in word).lstrip("-")


def long_or_short(type: str, long: Schema, short: Schema) -> Schema:
    """The long form where this type is written, else the short one. A wrong one is told by its own form alone."""
    return {"if": {"type": type}, "then": long, "else": short}


def _shape_of(annotated: Any) -> Schema:
    return next(dict(part.json_schema or {}) for part in annotated.__metadata__ if isinstance(part, WithJsonSchema))


TEXT: Final = _shape_of(words.Text)
NAME: Final = _shape_of(words.Name)
NAMED: Final[Schema] = {key: NAME[key] for key in ("pattern", "errorMessage")}
"""For keys, which are text to an editor whatever they look like."""
ANY_WORD: Final[Schema] = {"type": TEXT["type"], "minLength": 1}
STATES: Final = long_or_short("array", {"type": "array", "items": ANY_WORD, "minItems": 1}, ANY_WORD)
"""A state, or several."""


def _some(inner: Schema) -> Schema:
    """At least one of them; a short form is one already."""
    long = inner.get("then", inner)
    least = "minItems" if long["type"] == "array" else "minProperties"
    return {**inner, "then": {**long, least: 1}} if "then" in inner else {**inner, least: 1}


_SHORT_FORMS: Final[dict[Any, Callable[[Schema], Schema]]] = {
    words.one_or_many: lambda inner: long_or_short("array", inner, inner["items"]),
    words.one_or_many_maps: lambda inner: long_or_short("array", inner, inner["items"]),
    words.showing: lambda inner: long_or_short("object", {**inner, "minProperties": 1}, TEXT),
    source.code_of: lambda inner: long_or_short("object", inner, NAME),
}
"""What may be written in place of a list or a map, by the function that makes the list or map of it."""


class _Writer(GenerateJsonSchema):
    """Pydantic's own, told what short forms the language has, and that nothing written is no value."""

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> JsonSchemaValue:
        inner = super().function_before_schema(schema)
        short = _SHORT_FORMS.get(schema["function"]["function"])
        return inner if short is None else short(inner)

    def function_after_schema(self, schema: core_schema.AfterValidatorFunctionSchema) -> JsonSchemaValue:
        inner = super().function_after_schema(schema)
        return _some(inner) if schema["function"]["function"] is words.at_least_one else inner

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        found = super().default_schema(schema)
        if not isinstance(found.get("default"), str | int | float) or found["default"] == "":
            found.pop("default", None)
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


def models() -> dict[str, Schema]:
    """The definition of each model, and of each set of words that they share, by its plain name."""
    classes = [m for m in vars(source).values() if isinstance(m, type) and issubclass(m, Source) and m.model_fields]
    _, top = models_json_schema([(model, "validation") for model in classes], schema_generator=_Writer)
    found: dict[str, Schema] = {name_of(name): _renamed(part) for name, part in top["$defs"].items()}
    for part in found.values():
        part.pop("title", None)
        part.pop("description", None)
    for model in classes:
        name = name_of(model.__name__)
        found[name] = _helped(model, _further(model, found[name]))
    return found


def _renamed(part: Any) -> Any:
    if isinstance(part, dict):
        return {
            key: f"#/$defs/{name_of(value.rpartition('/')[2])}" if key == "$ref" else _renamed(value)
            for key, value in part.items()
        }
    return [_renamed(item) for item in part] if isinstance(part, list) else part


def help_for(model: type[BaseModel]) -> dict[str, str]:
    """The help of a model's fields, and of itself under the empty name. What several models share is told once."""
    found: dict[str, str] = {}
    for base in reversed(model.__mro__):
        found |= HELP.get(base, {})
    return found


def _helped(model: type[Source], made: Schema) -> Schema:
    texts = help_for(model)
    fields = {name: {"description": texts[name], **field} for name, field in made["properties"].items()}
    return {"description": texts[""], **made, "properties": fields}


# ---------------------------------------------------------------- beyond the models


def _when() -> Schema:
    """Indications and their states, some of them under `all`."""
    states = {"type": "object", "additionalProperties": STATES}
    every = {"description": "All of these at once.", **long_or_short("object", states, STATES)}
    return {**states, "minProperties": 1, "propertyNames": {"pattern": TEXT["pattern"]}, "properties": {"all": every}}


def _offered(some: list[str], of: Schema) -> Schema:
    """Some words that an editor offers; any other may be written."""
    return {"anyOf": [{"enum": some}, of]}


def _has(*fields: str) -> Schema:
    return {"required": list(fields)}


def one_of_these(fields: Iterable[str], says: str) -> list[Schema]:
    """For each field that it is there, and what an editor says when none is."""
    return [{"required": [field], "errorMessage": says} for field in fields]


_SOME_STATES: Final[Schema] = {
    "type": "object",
    "propertyNames": {"pattern": TEXT["pattern"]},
    "additionalProperties": long_or_short("array", {"type": "array", "items": TEXT, "minItems": 1}, TEXT),
}
_PATTERNS: Final = [p.name for p in (flash.STEADY, flash.OFF, flash.BLINK, flash.FLICKER, *flash.FLASHES, flash.SLOW)]
_NODE: Final = ref("node")


def _members(name: str) -> Schema:
    """The members of a chain: their names, or by name what is otherwise on one of them, which may be nothing."""
    nothing: Schema = {"type": ["null", "string"], "maxLength": 0}
    by_name = {"propertyNames": NAMED, "additionalProperties": long_or_short("object", ref(name), nothing)}
    return long_or_short("array", {"type": "array", "items": NAME}, {"type": "object", **by_name})


FIELDS: Final[dict[type[Source], dict[str, Schema]]] = {
    source.HeadSource: {"standing": long_or_short("object", ref("standing"), {"enum": list(WORDS), "default": DRAFT})},
    source.DangerSource: {"when": _when()},
    source.FollowSource: {"when": _when()},
    source.ResetSource: {
        "usual": {
            "type": "object",
            "properties": dict.fromkeys(RESET_OUTCOMES, _shape_of(words.Minutes)),
            "propertyNames": {"pattern": TEXT["pattern"]},
            "additionalProperties": _shape_of(words.Minutes),
        }
    },
    source.LampSource: {
        "states": {
            "type": "object",
            "propertyNames": NAMED,
            "additionalProperties": _offered(_PATTERNS, TEXT),
        }
    },
    source.DisplaySource: {"display": {"type": "string", "pattern": f"^[1-{MOST_DIGITS}] characters?$"}},
    source.ReadingSource: {"formula": _offered(list(FORMULAS), TEXT)},
    source.CauseSource: {
        "remedy": long_or_short("object", ref("remedy"), ANY_WORD),
        "proof": {**_SOME_STATES, "minProperties": 1},
        "intermittent": {
            "anyOf": [
                {"enum": list(words.SURELY)},
                {
                    "type": ["number", "string"],
                    "pattern": "^(?!1)(?:" + words.SHARE + ")$",
                    "minimum": 0,
                    "exclusiveMaximum": 1,
                },
            ]
        },
    },
    source.CheckSource: {"needs": _SOME_STATES},
    source.SeriesSource: {"series": _members("contact-member")},
    source.LineSource: {"line": _members("station-member"), "head": ANY_WORD},
    source.LookSource: {"when": {"type": "object", "additionalProperties": _NODE}, "otherwise": _NODE},
    source.DoSource: {"then": _NODE},
    source.ExampleSource: {
        "facts": {
            "type": "array",
            "items": {
                "type": "object",
                "propertyNames": {"pattern": TEXT["pattern"]},
                "additionalProperties": TEXT,
                "minProperties": 1,
                "maxProperties": 1,
            },
        },
        "within": {**_shape_of(words.Count), "minimum": 1, "pattern": "^[1-9][0-9]{0,4}$", "default": 1},
    },
}
"""Fields of which more is asked, or more is known to offer, than their type says."""

ENTRIES: Final[dict[type[Source], Schema]] = {
    source.StandingSource: _has("approved"),
    source.LampSource: _has("normal"),
    source.DisplaySource: {
        **_has("normal"),
        "if": {**_has("scrolls"), "properties": {"scrolls": {"enum": [True, "true"]}}},
        "then": {"properties": {"display": {"pattern": "^1 "}}},
    },
    source.ContactSource: {
        **_has("normal"),
        "allOf": [
            {
                "if": {**_has("contact"), "properties": {"contact": {"enum": ["changeover"]}}},
                "then": _has("side"),
                "else": {"properties": {"side": False}},
            },
            {
                "if": _has("nominal"),
                "then": {**_has("measured"), "properties": {"measured": {"enum": ["voltage"]}}},
            },
        ],
    },
    source.ReadingSource: {"anyOf": one_of_these(("normal", "nominal"), "'normal' is missing.")},
    source.QuestionSource: {
        "oneOf": one_of_these(("usual", "answers"), "This needs 'usual' or 'answers', one of them.")
    },
    source.LookSource: {"anyOf": one_of_these(("when", "otherwise"), "'when' is missing.")},
}
"""What is asked of an entry as a whole: fields that are needed, and what goes with what."""


def _further(model: type[Source], made: Schema) -> Schema:
    more = ENTRIES.get(model, {})
    return {
        **made,
        **more,
        "required": [*made.get("required", ()), *more.get("required", ())],
        "properties": {**made["properties"], **FIELDS.get(model, {})},
    }
