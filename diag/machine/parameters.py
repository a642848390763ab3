"""Parameters of a module: what it asks for, what the using machine gives, and the words with it filled in.

`{nominal}` stands for what is given, in a text, as a whole value or as a key; `{85 % of nominal}` for a share of a
number. Where a name is expected, the bare word will do: `lamp` means the machine's own lamp when `lamp` is a parameter.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from diag.machine.compose import LONGEST
from diag.machine.names import unknown
from diag.machine.names_in import MEMBER, NAMED_IN, Spec, like, walk
from diag.machine.place import Place
from diag.machine.problem import Problem, shown
from diag.machine.source import ParameterSource
from diag.machine.span import DEEPEST, Node
from diag.machine.validate import Entry, Written, validate
from diag.machine.words import is_number, kind_of

MARK: Final = "\x01"
"""Before a word that came from outside a module: a name that is not the module's own. It can stand in no file. One is
taken off where the module's names are put under the name of its use, so that none is left in the machine."""
MOST_WORDS: Final = 200_000
"""Words, lists and maps that all modules and chains of a machine may stand for; as many as one file may have."""
NAME_KINDS: Final = tuple(
    dict.fromkeys(kind for section, kind in NAMED_IN.items() if section not in ("chains", "groups"))
)
_FIELD: Final = re.compile(r"\{(?:([0-9]{1,4}(?:\.[0-9]{1,4})?) ?% of )?([^\s{}]+)\}")

Report = Callable[[Problem], None]


class TooLarge(Exception):
    """Modules and chains stand for more than a machine may hold."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem


@dataclass(slots=True)
class Budget:
    """What may still be written out."""

    left: int = MOST_WORDS

    def spend(self, place: Place, words: int = 1) -> None:
        self.left -= words
        if self.left < 0:
            text = f"modules and chains stand for more than {MOST_WORDS:,} words in this machine"
            raise TooLarge(Problem.at(place, text, "size"))


@dataclass(frozen=True, slots=True)
class Parameter:
    """What a module asks for."""

    what: str
    kind: str
    default: Node | None = None

    @property
    def names(self) -> bool:
        """Whether it is the name of something of the using machine."""
        return self.kind in NAME_KINDS


@dataclass(frozen=True, slots=True)
class Argument:
    """What is given for a parameter."""

    kind: str
    node: Node

    @property
    def names(self) -> bool:
        return self.kind in NAME_KINDS


def unmarked(word: str) -> str:
    return word.replace(MARK, "")


def one_mark_off(word: str) -> str:
    return word[1:] if word.startswith(MARK) else word


def declared(written: Mapping[str, Written], problems: list[Problem]) -> dict[str, Parameter]:
    """The parameters of a module. One that is wrong stays, so that its uses are no further problem."""
    found = {}
    for id, item in written.items():
        entry: Entry[ParameterSource] | None = validate(ParameterSource, item, problems)
        if entry is None:
            found[id] = Parameter("", "text", item.node)
            continue
        source = entry.source
        default = item.node.find(["default"]) if "default" in entry.keys else None
        found[id] = Parameter(source.what, source.kind, default)
        if default is None:
            continue
        if found[id].names:
            text = f"{shown(id)} names something of the machine that uses this, which a 'default' cannot know"
            problems.append(Problem.at(item.key_place("default"), text, "kind"))
        else:
            text = wrong_kind(found[id].kind, default)
            if text:
                problems.append(Problem.at(item.place("default"), f"'default' {text}", "kind"))
    return found


def wrong_kind(kind: str, node: Node) -> str:
    """Why a value is not of its parameter's kind; empty when it is. Whether a name exists is not looked at."""
    value = node.value
    if kind == "list":
        return "" if not isinstance(value, str) else f"is written [one, another], and this is {kind_of(value)}"
    if not isinstance(value, str) or not value.strip():
        return f"should be {a_kind(kind)}, and is {kind_of(node.plain())}"
    if kind == "number" and not is_number(unmarked(value)):
        return f"should be a number such as 12 or 0.5, and is {shown(unmarked(value))}"
    return ""


def a_kind(kind: str) -> str:
    """The kind with its article."""
    return "stored energy" if kind == "stored energy" else f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


@dataclass(slots=True)
class Filler:
    """Fills what is given for the parameters into a module's words, and says of each where the module is used."""

    arguments: Mapping[str, Argument]
    report: Report
    budget: Budget
    used: Place
    user: str
    """The file of the use: what is given stands in it."""
    file: str
    """The file of the module."""
    keep: frozenset[str] = frozenset()
    """Words in braces that are filled in later."""

    def entry(self, item: Written, spec: Spec) -> Written:
        return Written(item.id, item.file, self.node(item.node, spec))

    def node(self, node: Node, spec: Spec) -> Node:
        return measured(walk(node, spec, self, self.file), self.used)

    def made(self, node: Node) -> None:
        node.used = self.used
        text = node.value if isinstance(node.value, str) else ""
        self.budget.spend(self.used, 1 + len(text) // 100)

    def word(self, node: Node, kind: str) -> Node:
        word = node.value
        assert isinstance(word, str)
        if self._stands_for(word, kind):
            node.value = self._name(word)
            return node
        whole = _FIELD.fullmatch(word)
        if whole and whole[1] is None and whole[2] in self.arguments:
            return self._given(self.arguments[whole[2]].node, node)
        node.value = self.text(word, node.place(self.file))
        return node

    def key(self, word: str, place: Place, kind: str) -> str:
        if self._stands_for(word, kind):
            return self._name(word)
        whole = _FIELD.fullmatch(word)
        if whole and kind and whole[1] is None and whole[2] in self.arguments:
            return self._name(whole[2])
        return self.text(word, Place(place.file, place.line, place.column, self.used))

    def twice(self, key: str, place: Place) -> None:
        self.report(twice(key, Place(place.file, place.line, place.column, self.used)))

    def text(self, text: str, place: Place) -> str:
        """A text with the words in braces filled in; what is wrong with them is told at `place`."""
        if "{" not in text:
            return text
        parts: list[str] = []
        end = 0
        for found in _FIELD.finditer(text):
            parts += text[end : found.start()], self._field(found, place)
            end = found.end()
        parts.append(text[end:])
        size = sum(map(len, parts))
        self.budget.spend(self.used, size // 100)
        if size > LONGEST:
            self.report(Problem.at(place, f"a text of {size:,} characters once filled in; {LONGEST:,} at most", "size"))
            return text
        return "".join(parts)

    def _field(self, found: re.Match[str], place: Place) -> str:
        share, name = found[1], found[2]
        if name in self.keep:
            return found[0]
        if name not in self.arguments:
            text, near = unknown("parameter", name, self.arguments)
            self.report(Problem.at(place, text, "unknown", near))
            return found[0]
        given = self.arguments[name]
        if not isinstance(given.node.value, str):
            text = f"{shown(name)} is a list; it can only stand by itself, and not in a text"
            self.report(Problem.at(place, text, "kind"))
            return found[0]
        word = self._word(name)
        if share is None:
            return word
        if not is_number(word):
            if given.kind != "number":
                self.report(Problem.at(place, f"{shown(name)} is no number; no share of it can be taken", "kind"))
            return found[0]
        return f"{(Decimal(share) / 100 * Decimal(word)).quantize(Decimal('1e-6')).normalize():f}"

    def _stands_for(self, word: str, kind: str) -> bool:
        """Whether a bare word, where a name of this kind is wanted, is a parameter. A reset is an indication too."""
        given = self.arguments.get(word)
        if given is None or not kind or not given.names:
            return False
        return given.kind == kind or (kind in (MEMBER, "indication") and given.kind in ("indication", "reset"))

    def _name(self, name: str) -> str:
        """The name that was given, as the level above knows it."""
        value = self.arguments[name].node.value
        return MARK + value if isinstance(value, str) else name

    def _word(self, name: str) -> str:
        value = self.arguments[name].node.value
        return unmarked(value) if isinstance(value, str) else name

    def _given(self, given: Node, at: Node) -> Node:
        """What is given, in the place of the words that stand for it; what it holds keeps its own places."""
        value = given.value
        if isinstance(value, str):
            at.value = MARK + value
        elif isinstance(value, list):
            at.value = [self._foreign(child) for child in value]
        else:
            at.value = {MARK + key: self._foreign(child) for key, child in value.items()}
        return at

    def _foreign(self, node: Node) -> Node:
        self.budget.spend(self.used)
        value = node.value
        made = like(node, MARK + value if isinstance(value, str) else value)
        made.file = node.file or self.user
        if isinstance(value, list):
            made.value = [self._foreign(child) for child in value]
        elif isinstance(value, dict):
            made.value = {MARK + key: self._foreign(child) for key, child in value.items()}
        return made


def twice(key: str, place: Place) -> Problem:
    """Two keys of a map that have become one."""
    return Problem.at(place, f"{shown(unmarked(key))} is written twice once its names are filled in", "twice")


def measured(node: Node, used: Place) -> Node:
    """The node with the height of what it holds told. Raises TooLarge when it is nested too deep."""
    value = node.value
    if not isinstance(value, str):
        children = value if isinstance(value, list) else list(value.values())
        node.height = 1 + max((measured(child, used).height for child in children), default=0)
        if node.height > DEEPEST:
            raise TooLarge(Problem.at(used, f"nested deeper than {DEEPEST} levels once filled in", "size"))
    return node


def unquoted(node: Node) -> Node:
    """A copy in which `{word}` written without quotes, which YAML takes for a map, is the word in braces again."""
    value = node.value
    if isinstance(value, str):
        return node
    if isinstance(value, list):
        return like(node, [unquoted(child) for child in value])
    if len(value) == 1:
        ((key, child),) = value.items()
        in_flow = child.key_line == node.line and child.key_column == node.column + 1
        if in_flow and child.value == "" and _FIELD.fullmatch(f"{{{key}}}"):
            return like(node, f"{{{key}}}")
    return like(node, {key: unquoted(child) for key, child in value.items()})
