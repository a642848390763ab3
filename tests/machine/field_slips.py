"""Slips of the pen, made in any field of a file, and the repair that a message proposes for one."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from field_places import Place
from pydantic import TypeAdapter, ValidationError

from diag.machine.language.fields.base_source import fields
from diag.machine.language.shapes import Shape
from diag.machine.problem import Problem
from diag.machine.reader.compose import compose
from diag.machine.span import Node, Plain

TEXT = "Wait, then go"
NOTE = "Note: wait"


@dataclass(frozen=True)
class Slip:
    """A file with one thing wrong, and the line at which that has to be told."""

    lines: list[str]
    line: int


def lines_of(place: Place) -> list[str]:
    return place.file.read_text(encoding="utf-8").split("\n")


def value(place: Place) -> str:
    """What stands behind the field in its own line."""
    return lines_of(place)[place.line - 1][place.column + len(place.field) :].strip()


def rewritten(place: Place, said: str, *below: str) -> list[str]:
    """The file with the field's line, and more below it, in the place of what it was."""
    lines = lines_of(place)
    start = lines[place.line - 1][: place.column - 1]
    inner = " " * (place.column - 1)
    lines[place.line - 1 : place.line] = [f"{start}{said}", *(f"{inner}{line}" for line in below)]
    return lines


def no_colon(place: Place) -> Slip | None:
    return Slip(rewritten(place, f"{place.field} {value(place)}".rstrip()), place.line)


def no_space(place: Place) -> Slip | None:
    said = value(place)
    return Slip(rewritten(place, f"{place.field}:{said}"), place.line) if said else None


def equals(place: Place) -> Slip | None:
    said = value(place)
    return Slip(rewritten(place, f"{place.field} = {said}"), place.line) if said else None


def value_below(place: Place) -> Slip | None:
    """The value stands in the next line, level with its name. Below a name that takes several it is one of them."""
    said = value(place)
    return Slip(rewritten(place, f"{place.field}:", said), place.line + 1) if said else None


def decimal_comma(place: Place) -> Slip | None:
    return Slip(rewritten(place, f"{place.field}: 0,5"), place.line) if takes(place, "0.5", float) else None


def entries(place: Place) -> list[str]:
    """What stands in the field's brackets; twice, where it is one."""
    said = value(place)
    if not place.shape & Shape.ROW or not said.startswith("["):
        return []
    found = re.findall(r"\{[^}]*\}|[^,\[\]{} ][^,\[\]{}]*", said[1:-1])
    return found if len(found) > 1 else found * 2


def dash_left_out(place: Place) -> Slip | None:
    return second_entry(place, "")


def dash_without_space(place: Place) -> Slip | None:
    return second_entry(place, "-")


def second_entry(place: Place, sign: str) -> Slip | None:
    """A list in lines, in which the second entry and those after it begin with this."""
    first, *rest = entries(place) or [""]
    if not rest:
        return None
    below = [f"  - {first}", *(f"  {sign}{entry}" for entry in rest)]
    return Slip(rewritten(place, f"{place.field}:", *below), place.line + 2)


def no_dashes(place: Place) -> Slip | None:
    found = entries(place)
    return Slip(rewritten(place, f"{place.field}:", *(f"  {e}" for e in found)), place.line + 1) if found else None


def colon_in_text(place: Place) -> Slip | None:
    if not takes(place, NOTE, str) or not value(place):
        return None
    return Slip(rewritten(place, f"{place.field}: {NOTE}"), place.line)


def colon_in_braces(place: Place) -> Slip | None:
    return in_braces(place, NOTE) if takes(place, NOTE, str) else None


def comma_in_braces(place: Place) -> Slip | None:
    return in_braces(place, TEXT) if takes(place, TEXT, str) else None


SLIPS: dict[str, Callable[[Place], Slip | None]] = {
    slip.__name__: slip
    for slip in (
        no_colon,
        no_space,
        equals,
        value_below,
        decimal_comma,
        dash_left_out,
        dash_without_space,
        no_dashes,
        colon_in_text,
        colon_in_braces,
        comma_in_braces,
    )
}


def takes(place: Place, word: str, kind: type) -> bool:
    """Whether the field takes this word, and makes a value of this type of it."""
    field = fields(place.model)[place.field]
    if field.annotation is Any:
        return False
    whole: Any = Annotated[field.annotation, *field.metadata, None]
    try:
        return isinstance(TypeAdapter(whole).validate_python(word), kind)
    except ValidationError:
        return False


# ---------------------------------------------------------------- an entry in braces


def in_braces(place: Place, raw: str) -> Slip | None:
    """The entry in one line, with this for the field, without quotes; None for the file as a whole."""
    lines = lines_of(place)
    root, _ = compose("\n".join(lines), "")
    assert root is not None
    entry = _around(root, place)
    if entry is None or entry is root:
        return None
    plain = entry.plain()
    assert isinstance(plain, dict)
    first = entry.key_line or entry.line
    start = (
        lines[first - 1][: lines[first - 1].index(":") + 1] + " "
        if entry.key_line
        else lines[first - 1][: entry.column - 1]
    )
    said = _flow({**plain, place.field: "\0"}).replace('"\0"', raw)
    return Slip([*lines[: first - 1], start + said, *lines[_end(entry) :]], first)


def _around(node: Node, place: Place) -> Node | None:
    children = (
        node.value.values() if isinstance(node.value, dict) else node.value if isinstance(node.value, list) else ()
    )
    for child in children:
        if (child.key_line, child.key_column) == (place.line, place.column):
            return node
        found = _around(child, place)
        if found is not None:
            return found
    return None


def _end(node: Node) -> int:
    if isinstance(node.value, str):
        return node.line
    children = node.value.values() if isinstance(node.value, dict) else node.value
    return max(node.line, *(max(child.key_line, _end(child)) for child in children))


def _flow(plain: Plain) -> str:
    if isinstance(plain, dict):
        return "{" + ", ".join(f"{_word(key)}: {_flow(child)}" for key, child in plain.items()) + "}"
    return "[" + ", ".join(map(_flow, plain)) + "]" if isinstance(plain, list) else _word(plain)


def _word(word: str) -> str:
    return word if re.fullmatch(r"[A-Za-z0-9][\w .-]*", word) else f'"{word}"'


# ---------------------------------------------------------------- what a message proposes


def mended(lines: list[str], problem: Problem) -> list[str] | None:
    """The file with what the message proposes done; None where it proposes nothing."""
    lines, at = list(lines), problem.line - 1
    text = problem.text.split("; used in ")[0]
    line = lines[at]
    found = re.search(r"(?:put the text in quotes: |write [\w-]+: )(\"[^\"]*\")$", text)
    if found:
        lines[at] = line.replace(found[1][1:-1], found[1])
        return lines
    found = re.search(r"write '(.+)'$", text)
    if found and "goes behind it" in text:
        above = lines[at - 1]
        lines[at - 1 : at + 1] = [above[: len(above) - len(above.lstrip(" -"))] + found[1]]
        return lines
    if found:
        column = problem.column - 1
        lines[at] = line[:column] + found[1]
        if "begin each line" in text or "after the '-' of a list" in text:
            for n in range(at + 1, len(lines)):
                if not re.fullmatch(rf" {{{column}}}[^ #].*", lines[n]) or re.match(r" *-? *[\w-]+:( |$)", lines[n]):
                    break
                lines[n] = f"{lines[n][:column]}- {lines[n].lstrip(' -')}"
        return lines
    found = re.search(r"write ([0-9.]+)(?:;|$)", text)
    if found:
        lines[at] = line[: problem.column - 1] + found[1]
        return lines
    return None
