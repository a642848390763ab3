"""How what is more than a word is written: the form that a message shows, where a file has something else.

Who writes the files need not know what a map or a list is; what they can use is how it looks.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from diag.machine.problem import shown
from diag.machine.slips import no_space
from diag.machine.words import is_name, kind_of

_NAMES: Final = "[one, another]"
_WHEN: Final = "{supply-lamp: dark}"
_FIELDS: Final = "{title: ..., minutes: ...}"

FORMS: Final = {
    "minutes": "{lock: 10, restore: 5}",
    "call": "{operator: ..., electrician: ..., engineer: ...}",
    "approved": "{by: ..., on: ..., digest: ...}",
    "hazards": "[hot oven, sharp knives]",
    "neighbours": "[infeed belt, outfeed belt]",
    "parts": "[6 A fuse, fuse holder]",
    "who": "[electrician, engineer]",
    "when": _WHEN,
    "shows": "{supply-lamp: dark, air: {low: usually}}",
    "proof": "{supply-lamp: lit}",
    "needs": '{main-switch: "on"}',
    "latched": "{dark: reset-key}",
    "lamp-test": "{test-key: dark}",
    "agrees": "{run-lamp: {lit: closed}}",
    "follows": "{when: {supply-lamp: dark}, shows: dark}",
    "states": "{lit: steady, dark: off}",
    "states in a row": "[open, closed]",
    "codes": '{"--": idle, "E1": hot}',
    "bands": '{low: "< 20", good: "20 .. 28", high: "> 28"}',
    "usual": "{nothing: 6, power-dip: 1}",
    "answers": "[yes, no]",
    "facts": "[{supply-lamp: dark}, {air: low}]",
    "remedy": "{do: Change the lamp, minutes: 5, access: outside}",
    "conclude": "[fuse-blown, lamp-failed]",
    "with": "{lamp: supply-lamp, zone: cabinet}",
    "but": "{causes: {lamp-failed: {often: rare}}}",
    "series": "[guard-left, guard-right]",
    "line": "[station-1, station-2]",
}
"""By the field that it is the value of."""
INSIDE: Final = {
    "shows": "{dark: usually, slow: sometimes}",
    "codes": "{state: hot, means: what it means}",
    "agrees": "{lit: closed}",
    "facts": _WHEN,
    "follows": "{when: {supply-lamp: dark}, shows: dark}",
    "but": "{lamp-failed: {often: rare}}",
}
"""By the field whose entries it is one of."""
LISTED: Final = {
    "uses": "- {module: dc-supply, as: rack}",
    "dangers": "- {when: {smell: burning}, stop: Keep away, call: engineer}",
    "trees": "- {tree: first-look, title: First look, look: supply-lamp, when: {dark: {call: engineer}}}",
    "examples": "- {example: one, title: First stop, facts: [{supply-lamp: dark}], cause: fuse-blown}",
}
"""An entry of each section that is a list."""


def instead(subject: str, name: str, given: object, many: bool, inside: bool = False) -> str:
    """The message where a field is written in a wrong form.

    `name`: of the field, or `inside` it of what it is an entry of; `many`: whether entries in a row are wanted, and not
    names with values. What is a slip of the pen is told as one.
    """
    slip = no_space(given) if isinstance(given, str) else ""
    if slip and not many:
        return slip
    if name == "facts" and not inside and isinstance(given, dict):
        return a_fact(given)
    if name == "facts" and inside and isinstance(given, str) and len(given.split()) == 2:
        key, value = given.split()
        return a_fact({key: value})
    named = (INSIDE if inside else FORMS).get(name, _NAMES if many else _FIELDS)
    form = FORMS.get(f"{name} in a row", named) if many else named
    return f"{subject} is written {form}, and this is {kind_of(given)}"


def a_fact(given: Mapping[str, object]) -> str:
    """The message where facts stand together that should stand in a row."""
    key, value = next(iter(given.items()), ("supply-lamp", "dark"))
    first = shown(f"- {{{key}: {value}}}") if isinstance(value, str) else f"'- {INSIDE['facts']}'"
    return f"each fact stands in a line of its own that begins with a dash: write {first}"


def entry(id: str, needed: tuple[str, ...], given: object) -> str:
    """The message for an entry of a section that has no fields."""
    fields = ", ".join(f"'{field}:'" for field in needed)
    return f"{shown(id)} is {kind_of(given)} and has no fields; they stand below it, two spaces further right: {fields}"


def members(name: str, given: object) -> str:
    """The message where the members of a chain are words one behind the other."""
    words = re.split(r"[\s,;]+", given) if isinstance(given, str) else []
    words = [word for word in words if word]
    said = f"the members of {shown(name)} stand in brackets, parted by commas, or each in a line with a '- '"
    if 1 < len(words) <= 8 and all(map(is_name, words)):
        return f"{said}: write {shown(f'{name}: [' + ', '.join(words) + ']')}"
    return f"{said}: {FORMS[name]}; this is {kind_of(given)}"


def section(name: str, given: object) -> str:
    """The message for a section that is not what it should be."""
    if name in LISTED:
        return f"each entry of {shown(name)} begins with a '- ', such as {LISTED[name]}; this is {kind_of(given)}"
    if isinstance(given, list):
        return f"{shown(name)} takes no dashes: each entry has a name with a ':', its fields two spaces further right"
    return f"below {shown(name + ':')} stand entries, each under a name with a ':'; this is {kind_of(given)}"


def file(sections: tuple[str, ...], given: object) -> str:
    """The message for a file that begins with none of its fields or sections."""
    said = ", ".join(f"'{name}:'" for name in sections[:3])
    return f"this file is made of fields such as {said}, and here is {kind_of(given)}"


def alone(name: str) -> str:
    """The message for a `tree` or an `example` at the edge of a file that holds the whole machine."""
    if name == "tree":
        return (
            "'tree' names one in a file of the folder trees; here 'start:' names the first, "
            "and 'trees:' stands above a list of them"
        )
    return "'example' names one in a file of the folder examples; here 'examples:' stands above a list of them"
