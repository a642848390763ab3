"""The field types of the language: what a word may become, how a wrong one is refused, how it looks to an editor."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Iterable, Sequence
from enum import StrEnum, auto
from math import inf
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from diag.machine.language.fields.marks import Mark, Refers
from diag.machine.model import Role
from diag.machine.names import Named
from diag.machine.problem import Broken
from diag.panel.display.segments import MOST_DIGITS

_NUMBER: Final = re.compile(r"-?(?:0|[1-9][0-9]{0,8})(?:\.[0-9]{1,9})?")
_COUNT: Final = re.compile("0|[1-9][0-9]{0,4}")
_FLAG: Final = re.compile("true|false")
_NAME: Final = re.compile(r"[^\s,;=|?*'\"{}\[\]<>]{1,60}")
NO_NAME: Final = (
    "is not a name, which is one word without spaces and , ; = | ? * ' \" { } [ ] < >, at most 60 characters"
)
_PLAIN_NAME: Final = re.compile(r"(?=.{1,60}$)[^\s/\\-][^\s/\\]*(?: [^\s/\\]+)*")
_NO_PLAIN_NAME: Final = (
    "should be plain words with one space between them, without / and \\ and no hyphen first, at most 60 characters"
)
_NO_NUMBER: Final = "should be a number such as 12 or 0.5"
_NO_COUNT: Final = "should be a whole number such as 2"
_NO_FLAG: Final = "should be true or false"
_NO_CHANCE: Final = "should be always, usually, sometimes, seldom, never, or a number from 0 to 1"
_NO_RATE: Final = "should be common, occasional, rare, or a rate such as '0.2 a year'"
_NO_VOLTS: Final = "should be a voltage with its unit, such as 1 V"
_NO_DAY: Final = "should be a day such as 2026-11-25"
_NO_DIGEST: Final = (
    "is not a digest, which has 16 characters out of 0 to 9 and a to f; write 'trial', then run diag approve"
)
_VOLTS: Final = re.compile(r"(?!0+(?:\.0+)? )(?:0|[1-9][0-9]{0,8})(?:\.[0-9]{1,9})? V")
_DAY: Final = re.compile(r"[12][0-9]{3}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12][0-9]|3[01])")
_DIGEST: Final = re.compile("[0-9a-f]{16}")
_RATE: Final = re.compile(r"((?:0|[1-9][0-9]{0,5})(?:\.[0-9]{1,6})?) a year")

SURELY: Final = {"always": 0.98, "usually": 0.85, "sometimes": 0.40, "seldom": 0.10, "never": 0.0}
"""The words for how surely a cause shows a state, as probabilities (`semantics`: from words to probabilities)."""

SHORT: Final = 200
"""Characters of what a case records by itself, such as the machine's revision."""

OFTEN: Final = {"common": 2.0, "occasional": 0.2, "rare": 0.02}
"""The words for how often a cause comes, in stops a year."""


def complaint(rule: str, text: str) -> PydanticCustomError:
    """A refusal whose text is the whole message; without a context pydantic fills no braces in it."""
    return PydanticCustomError(rule, text)


def kind_of(value: object) -> str:
    """What a plain value is, in words."""
    if isinstance(value, dict):
        return "a set of names with values"
    if isinstance(value, list):
        return "a row of entries"
    return "empty" if value == "" else "a text" if isinstance(value, str) and " " in value else "a word"


def quoted(value: object) -> str:
    """The text that became a name with a value because of its ': ', in quotes; empty when that is not what it is."""
    if not isinstance(value, dict) or len(value) != 1:
        return ""
    ((key, more),) = value.items()
    return f'"{key}: {more}"' if isinstance(more, str) and more and " " in f"{key}{more}" else ""


def _word(value: object) -> object:
    if quoted(value):
        raise complaint(Broken.KIND, f"holds ': '; put all of the text in quotes: {quoted(value)}")
    if not isinstance(value, str):
        raise complaint(Broken.KIND, f"should be a word or a text, and is {kind_of(value)}")
    if not value.strip():
        raise complaint(Broken.KIND, "is empty")
    return value


def _short(value: str) -> str:
    if len(value) > SHORT:
        raise complaint(Broken.KIND, f"is longer than {SHORT} characters")
    return value


def is_number(word: str) -> bool:
    return _NUMBER.fullmatch(word) is not None


def with_a_point(value: object, most: float = inf) -> str:
    """What to write for a number with a decimal comma, or with its unit behind it; empty where that makes none."""
    point = value.replace(",", ".", 1).partition(" ")[0] if isinstance(value, str) else ""
    return f"; write {point}" if is_number(point) and 0.0 <= abs(float(point)) <= most else ""


def _number(value: object) -> object:
    if not isinstance(value, str) or not is_number(value):
        raise complaint(Broken.KIND, _NO_NUMBER + with_a_point(value))
    return float(value)


def _positive(value: float) -> float:
    if value < 0:
        raise complaint(Broken.KIND, "should not be below zero")
    return value


def is_name(word: str) -> bool:
    """Whether commands, trees and other files can name it: no spaces, and nothing that they use as a separator."""
    return _NAME.fullmatch(word) is not None


def _name(value: object) -> object:
    if not isinstance(value, str) or value == "":
        raise complaint(Broken.NAME, f"should be a name, and is {kind_of(value)}")
    if not is_name(value):
        raise complaint(Broken.NAME, no_name(value))
    return value


def no_name(word: str) -> str:
    """What to say of a word that is no name, after the word itself: with the name that it would make, if that is
    clear."""
    parts = [part.strip() for part in word.split(",")]
    if len(parts) > 1 and all(map(is_name, parts)):
        return f"is no name; write several as [{', '.join(parts)}]"
    return f"{NO_NAME}; write {as_name(word)!r}" if as_name(word) else NO_NAME


def as_name(word: str) -> str:
    """The name that several words make: `Hood switch` makes `hood-switch`. Empty where they make none, and for what is
    a name already."""
    parts = word.split()
    hyphened = "-".join(parts).lower()
    return hyphened if (len(parts) > 1 or parts != [word]) and is_name(hyphened) else ""


def _chance(value: object) -> object:
    word = value if isinstance(value, str) else ""
    if word in SURELY:
        return SURELY[word]
    if is_number(word) and 0.0 <= float(word) <= 1.0:
        return float(word)
    percent = re.fullmatch(r"([0-9]{1,3}(?:[.,][0-9]{1,6})?) ?%", word)
    if percent and (share := float(percent[1].replace(",", "."))) <= 100.0:
        raise complaint(Broken.CHANCE, f"{_NO_CHANCE}; write {round(share / 100.0, 8):.8f}".rstrip("0").rstrip("."))
    raise complaint(Broken.CHANCE, _NO_CHANCE + with_a_point(value, 1.0))


def _rate(value: object) -> object:
    word = value if isinstance(value, str) else ""
    if word in OFTEN:
        return OFTEN[word]
    meant = word.replace(",", ".", 1)
    found = _RATE.fullmatch(meant)
    if not found or float(found[1]) <= 0.0:
        raise complaint(Broken.OFTEN, _NO_RATE)
    if meant != word:
        raise complaint(Broken.OFTEN, f"{_NO_RATE}; write '{meant}'")
    return float(found[1])


def _volts(word: str) -> float:
    return float(word.removesuffix(" V"))


def _day(word: str) -> str:
    try:
        return datetime.date.fromisoformat(word).isoformat()
    except ValueError:
        raise complaint(Broken.KIND, "is not a day of the calendar") from None


def _all_of(pattern: re.Pattern[str], make: Callable[[str], object], says: str) -> BeforeValidator:
    """A word that is this pattern as a whole, what is made of it, and what is said of any other."""

    def read(value: object) -> object:
        if isinstance(value, str) and pattern.fullmatch(value):
            return make(value)
        raise complaint(Broken.KIND, says)

    return BeforeValidator(read)


def one_or_many(value: object) -> object:
    return [value] if isinstance(value, str) else _many(value)


def _many(value: object) -> object:
    if not isinstance(value, list):
        raise complaint("list_type", "should be a list")
    return value


def one_or_many_maps(value: object) -> object:
    """A single map stands for a list of one."""
    return [value] if isinstance(value, dict) else _many(value)


def at_least_one(value: Any) -> object:
    """At least one of them."""
    if not value:
        raise complaint(Broken.KIND, "is empty")
    return value


def showing(value: object) -> object:
    """`dark` stands for `{dark: always}`."""
    return {value: "always"} if isinstance(value, str) and value else value


Schema = dict[str, Any]


def long_or_short(type: str, long: Schema, short: Schema) -> Schema:
    """The long form where this type is written, else the short one. A wrong one is told by its own form alone."""
    return {"if": {"type": type}, Keyword.THEN: long, "else": short}


class Keyword(StrEnum):
    """Words of JSON Schema that are names of fields too."""

    THEN = auto()
    TITLE = auto()
    DEFAULT = auto()
    EXAMPLES = auto()


def _shape(*types: str, whole: str = "", says: str = "", **more: Any) -> WithJsonSchema:
    """How a word looks to an editor: of one of these types and, where it is written as text, all of it `whole`.

    An editor reads `24` as a number and `true` as a truth value, so a word may be either. Nothing at all is left out:
    an editor cannot tell it from the word `null`, and it is the more frequent of the two. What it `says` of a wrong
    one is what the reader says; editors show it, and validators pass over it.
    """
    pattern = {"pattern": f"^(?:{whole})$"} if whole else {}
    return WithJsonSchema({"type": list(types), **pattern, **more, **_saying(says)})


def _saying(says: str) -> dict[str, str]:
    return {"errorMessage": f"This {says}."} if says else {}


def _one_of(words: Iterable[str], other: WithJsonSchema, says: str) -> WithJsonSchema:
    """Certain words, which an editor then offers, or something else."""
    return WithJsonSchema({"anyOf": [{"enum": list(words), **_saying(says)}, other.json_schema]})


_WORD: Final = ("string", "number", "boolean")
_TEXT_SHAPE: Final = _shape(*_WORD, pattern=r"\S")
_NAME_SHAPE: Final = _shape(*_WORD, whole=_NAME.pattern, says=NO_NAME)
_NUMBER_SHAPE: Final = _shape(
    "number", "string", whole=_NUMBER.pattern, says=_NO_NUMBER, exclusiveMinimum=-1e9, exclusiveMaximum=1e9
)
_MINUTES_SHAPE: Final = _shape(
    "number", "string", whole=rf"(?!-.*[1-9]){_NUMBER.pattern}", says=_NO_NUMBER, minimum=0, exclusiveMaximum=1e9
)
_COUNT_SHAPE: Final = _shape("integer", "string", whole=_COUNT.pattern, says=_NO_COUNT, minimum=0, maximum=99_999)
_FLAG_SHAPE: Final = _shape("boolean", "string", whole=_FLAG.pattern, says=_NO_FLAG)
SHARE: Final = r"-?0(?:\.0{1,9})?|0\.[0-9]{1,9}|1(?:\.0{1,9})?"
"""Numbers from 0 to 1, as text."""
_SHARE_SHAPE: Final = _shape("number", "string", whole=SHARE, says=_NO_CHANCE, minimum=0, maximum=1)
_CHANCE_SHAPE: Final = _one_of(SURELY, _SHARE_SHAPE, _NO_CHANCE)
_YEARLY_SHAPE: Final = _shape("string", whole=rf"(?!0(?:\.0+)? ){_RATE.pattern}", says=_NO_RATE)
_RATE_SHAPE: Final = _one_of(OFTEN, _YEARLY_SHAPE, _NO_RATE)

Text = Annotated[str, BeforeValidator(_word), _TEXT_SHAPE]
"""Any text that is not empty."""
Short = Annotated[Text, AfterValidator(_short), _shape(*_WORD, pattern=r"\S", maxLength=SHORT)]
"""What is recorded with each case."""
Name = Annotated[str, BeforeValidator(_name), _NAME_SHAPE]
"""What can be named elsewhere: no spaces and nothing that commands or trees use as a separator."""
Number = Annotated[float, BeforeValidator(_number), _NUMBER_SHAPE]
Minutes = Annotated[float, BeforeValidator(_number), AfterValidator(_positive), _MINUTES_SHAPE]
Count = Annotated[int, _all_of(_COUNT, int, _NO_COUNT), _COUNT_SHAPE]
Flag = Annotated[bool, _all_of(_FLAG, "true".__eq__, _NO_FLAG), _FLAG_SHAPE]
Chance = Annotated[float, BeforeValidator(_chance), _CHANCE_SHAPE]
Volts = Annotated[float, _all_of(_VOLTS, _volts, _NO_VOLTS), _shape("string", whole=_VOLTS.pattern, says=_NO_VOLTS)]
"""A voltage with its unit, such as 1 V. Above zero."""
Day = Annotated[str, _all_of(_DAY, _day, _NO_DAY), _shape("string", whole=_DAY.pattern, says=_NO_DAY)]
"""A day of the calendar, as 2026-11-25."""
Digest = Annotated[
    str, _all_of(_DIGEST, str, _NO_DIGEST), _shape("string", "number", whole=_DIGEST.pattern, says=_NO_DIGEST)
]
"""As `diag.machine.approval.digest` makes it. One of figures alone is a number to an editor."""
Rate = Annotated[float, BeforeValidator(_rate), _RATE_SHAPE]
"""Stops a year."""
Names = Annotated[tuple[Name, ...], BeforeValidator(one_or_many)]
"""One name, or a list of them."""
SomeNames = Annotated[Names, AfterValidator(at_least_one)]
"""At least one name."""
Some = AfterValidator(at_least_one)
Texts = Annotated[tuple[Text, ...], BeforeValidator(one_or_many), Mark.FREE_TEXT]
Items = Annotated[tuple[Short, ...], BeforeValidator(one_or_many), Mark.FREE_TEXT]
"""Things that are confirmed one by one, each by these words."""
PlainName = Annotated[
    str, _all_of(_PLAIN_NAME, str, _NO_PLAIN_NAME), _shape(*_WORD, whole=_PLAIN_NAME.pattern, says=_NO_PLAIN_NAME)
]
"""A name that people gave, of several words, without what a command could take for something else."""
PlainNames = Annotated[tuple[PlainName, ...], BeforeValidator(one_or_many)]
Words = Annotated[tuple[Text, ...], BeforeValidator(one_or_many)]
"""One state or several. Not names: a display's raw codes may stand in their place."""
SomeWords = Annotated[Words, Some]
Roles = Annotated[tuple[Role, ...], BeforeValidator(one_or_many), Some]
Characters = Annotated[Text, WithJsonSchema({"type": "string", "pattern": f"^[1-{MOST_DIGITS}] characters?$"})]
"""How many characters a display has."""
PartChance = Annotated[
    Chance, _one_of(SURELY, _shape("number", "string", whole=f"(?!1)(?:{SHARE})", minimum=0, exclusiveMaximum=1), "")
]
"""A chance that is less than 1."""
FromOne = Annotated[
    Count, _shape("integer", "string", whole="[1-9][0-9]{0,4}", says=_NO_COUNT, minimum=1, maximum=99_999)
]
"""A place in an order, counted from 1."""
IndicationWord = Annotated[Text, Refers(Named.INDICATION)]
"""An indication's name. Whether there is one of that name is looked up later, so that any text will do here."""
TreeName = Annotated[Name, Refers(Named.TREE)]
ZoneName = Annotated[Name, Refers(Named.ZONE)]
CauseName = Annotated[Name, Refers(Named.CAUSE)]
RemedyName = Annotated[Text, Refers(Named.REMEDY)]
MemberName = Annotated[Name, Refers(Named.MEMBER)]

_ANY_WORD: Final[Schema] = {"type": list(_WORD), "minLength": 1}
_STATES: Final = long_or_short("array", {"type": "array", "items": _ANY_WORD, "minItems": 1}, _ANY_WORD)
_BY_INDICATION: Final[Schema] = {"type": "object", "additionalProperties": _STATES}
_ALL_OF: Final = {"description": "All of these at once.", **long_or_short("object", _BY_INDICATION, _STATES)}
_NAMED: Final[Schema] = {"type": "object", "minProperties": 1, "propertyNames": {"pattern": r"\S"}}
When = Annotated[
    dict[IndicationWord, Any],
    WithJsonSchema({**_NAMED, "additionalProperties": _STATES, "properties": {"all": _ALL_OF}}),
]
"""Indications and their states; looked at by `Scope.when`, as `all:` may stand between."""
Fact = Annotated[
    dict[IndicationWord, Text],
    WithJsonSchema({**_NAMED, "additionalProperties": _TEXT_SHAPE.json_schema, "maxProperties": 1}),
]
"""One indication, and what was seen of it."""


def split_states(word: str) -> Sequence[str]:
    """The states of a key such as `dark | slow`."""
    return tuple(part.strip() for part in word.split("|"))
