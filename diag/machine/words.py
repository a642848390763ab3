"""The field types of the language: what a written word may become, and how it is refused in plain English."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Sequence
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

_NUMBER: Final = re.compile(r"-?(?:0|[1-9][0-9]{0,8})(?:\.[0-9]{1,9})?")
_COUNT: Final = re.compile("0|[1-9][0-9]{0,4}")
_NAME: Final = re.compile(r"[^\s,;=|?*'\"{}\[\]<>]{1,60}")
NO_NAME: Final = "is no name: one word without spaces and , ; = | ? * ' \" { } [ ] < >, at most 60 characters"
_NO_NUMBER: Final = "should be a number such as 12 or 0.5"
_NO_COUNT: Final = "should be a whole number such as 2"
_NO_FLAG: Final = "should be true or false"
_NO_CHANCE: Final = "should be always, usually, sometimes, seldom, never, or a number from 0 to 1"
_NO_RATE: Final = "should be common, occasional, rare, or a rate such as '0.2 a year'"
_NO_DAY: Final = "should be a day such as 2026-11-25"
_NO_DIGEST: Final = (
    "is no digest, which has 16 characters out of 0 to 9 and a to f; write 'trial', then run diag approve"
)
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
        raise complaint("kind", f"holds ': '; put all of the text in quotes: {quoted(value)}")
    if not isinstance(value, str):
        raise complaint("kind", f"should be a word or a text, and is {kind_of(value)}")
    if not value.strip():
        raise complaint("kind", "is empty")
    return value


def _short(value: str) -> str:
    if len(value) > SHORT:
        raise complaint("kind", f"is longer than {SHORT} characters")
    return value


def is_number(word: str) -> bool:
    return _NUMBER.fullmatch(word) is not None


def _number(value: object) -> object:
    if not isinstance(value, str) or not is_number(value):
        point = value.replace(",", ".", 1) if isinstance(value, str) else ""
        point = point.partition(" ")[0]
        raise complaint("kind", f"{_NO_NUMBER}; write {point}" if is_number(point) else _NO_NUMBER)
    return float(value)


def _positive(value: float) -> float:
    if value < 0:
        raise complaint("kind", "should not be below zero")
    return value


def _count(value: object) -> object:
    if not isinstance(value, str) or not _COUNT.fullmatch(value):
        raise complaint("kind", _NO_COUNT)
    return int(value)


def _flag(value: object) -> object:
    if value not in ("true", "false"):
        raise complaint("kind", _NO_FLAG)
    return value == "true"


def is_name(word: str) -> bool:
    """Whether commands, trees and other files can name it: no spaces, and nothing that they use as a separator."""
    return _NAME.fullmatch(word) is not None


def _name(value: object) -> object:
    if not isinstance(value, str) or value == "":
        raise complaint("name", f"should be a name, and is {kind_of(value)}")
    if not is_name(value):
        raise complaint("name", no_name(value))
    return value


def no_name(word: str) -> str:
    """What to say of a word that is no name, after the word itself: with the name that it would make, if that is
    clear."""
    parts = [part.strip() for part in word.split(",")]
    if len(parts) > 1 and all(map(is_name, parts)):
        return f"is no name; several are written [{', '.join(parts)}]"
    return f"{NO_NAME}; write {as_name(word)!r}" if as_name(word) else NO_NAME


def as_name(word: str) -> str:
    """The name that several words make: `Hood switch` makes `hood-switch`. Empty where they make none, and for what is
    a name already."""
    parts = word.split()
    hyphened = "-".join(parts).lower()
    return hyphened if (len(parts) > 1 or parts != [word]) and is_name(hyphened) else ""


def _chance(value: object) -> object:
    if isinstance(value, str):
        if value in SURELY:
            return SURELY[value]
        if _NUMBER.fullmatch(value) and 0.0 <= float(value) <= 1.0:
            return float(value)
    raise complaint("chance", _NO_CHANCE)


def _rate(value: object) -> object:
    if isinstance(value, str):
        if value in OFTEN:
            return OFTEN[value]
        found = _RATE.fullmatch(value)
        if found and float(found[1]) > 0.0:
            return float(found[1])
    raise complaint("often", _NO_RATE)


def _day(value: object) -> object:
    if isinstance(value, str) and _DAY.fullmatch(value):
        try:
            return datetime.date.fromisoformat(value).isoformat()
        except ValueError:
            raise complaint("kind", "is no day of the calendar") from None
    raise complaint("kind", _NO_DAY)


def _digest(value: object) -> object:
    if isinstance(value, str) and _DIGEST.fullmatch(value):
        return value
    raise complaint("kind", _NO_DIGEST)


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
        raise complaint("kind", "is empty")
    return value


def showing(value: object) -> object:
    """`dark` stands for `{dark: always}`."""
    return {value: "always"} if isinstance(value, str) and value else value


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
_FLAG_SHAPE: Final = _shape("boolean", "string", whole="true|false", says=_NO_FLAG)
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
Count = Annotated[int, BeforeValidator(_count), _COUNT_SHAPE]
Flag = Annotated[bool, BeforeValidator(_flag), _FLAG_SHAPE]
Chance = Annotated[float, BeforeValidator(_chance), _CHANCE_SHAPE]
Day = Annotated[str, BeforeValidator(_day), _shape("string", whole=_DAY.pattern, says=_NO_DAY)]
"""A day of the calendar, as 2026-11-25."""
Digest = Annotated[str, BeforeValidator(_digest), _shape("string", "number", whole=_DIGEST.pattern, says=_NO_DIGEST)]
"""As `diag.machine.digest` makes it. One of figures alone is a number to an editor."""
Rate = Annotated[float, BeforeValidator(_rate), _RATE_SHAPE]
"""Stops a year."""
Names = Annotated[tuple[Name, ...], BeforeValidator(one_or_many)]
"""One name, or a list of them."""
SomeNames = Annotated[Names, AfterValidator(at_least_one)]
"""At least one name."""
Some = AfterValidator(at_least_one)
Texts = Annotated[tuple[Text, ...], BeforeValidator(one_or_many)]
Words = Annotated[tuple[Text, ...], BeforeValidator(one_or_many)]
"""One state or several. Not names: a display's raw codes may stand in their place."""


def split_states(word: str) -> Sequence[str]:
    """The states of a key such as `dark | slow`."""
    return tuple(part.strip() for part in word.split("|"))
