"""How what is more than a word is written: the form that a message shows, where a file has something else.

Who writes the files need not know what a map or a list is; what they can use is how it looks.
"""

from __future__ import annotations

from typing import Final

from diag.machine.problem import shown
from diag.machine.slips import no_space
from diag.machine.words import kind_of

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
    named = (INSIDE if inside else FORMS).get(name, _NAMES if many else _FIELDS)
    form = FORMS.get(f"{name} in a row", named) if many else named
    return f"{subject} is written {form}, and this is {kind_of(given)}"


def entry(id: str, needed: tuple[str, ...], given: object) -> str:
    """The message for an entry of a section that has no fields."""
    fields = ", ".join(f"'{field}:'" for field in needed)
    return f"{shown(id)} is {kind_of(given)} and has no fields; they stand below it, two spaces further right: {fields}"


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
