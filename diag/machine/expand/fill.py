"""A module's words with what is given filled in."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from diag.machine.expand.parameters import MARK, Argument, Report, unmarked
from diag.machine.language.fields.field_types import is_number
from diag.machine.language.names_in import Spec, like, walk
from diag.machine.language.validate import Written
from diag.machine.names import Named
from diag.machine.place import Place
from diag.machine.problem import Broken, Problem, shown
from diag.machine.reader.compose import LONGEST
from diag.machine.span import DEEPEST, Node

MOST_WORDS: Final = 200_000
"""Words, lists and maps that all modules and chains of a machine may stand for; as many as one file may have."""
_FIELD: Final = re.compile(r"\{(?:([0-9]{1,4}(?:\.[0-9]{1,4})?) ?% of )?([^\s{}]+)\}")


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
            raise TooLarge(Problem.at(place, text, Broken.SIZE))


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
        return Written(item.id, item.file, measured(walk(unquoted(item.node), spec, self, self.file), self.used))

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
        return self.text(word, replace(place, used=self.used))

    def twice(self, key: str, place: Place) -> None:
        twice(self.report, key, replace(place, used=self.used))

    def text(self, text: str, place: Place) -> str:
        """A text with the words in braces filled in; what is wrong with them is reported at `place`."""
        if "{" not in text:
            return text
        filled = _FIELD.sub(lambda found: self._field(found, place), text)
        size = len(filled)
        self.budget.spend(self.used, size // 100)
        if size > LONGEST:
            self.report(place, f"a text of {size:,} characters once filled in; {LONGEST:,} at most", Broken.SIZE)
            return text
        return filled

    def _field(self, found: re.Match[str], place: Place) -> str:
        share, name = found[1], found[2]
        if name in self.keep:
            return found[0]
        if name not in self.arguments:
            self.report.unknown(place, "parameter", name, self.arguments)
            return found[0]
        given = self.arguments[name]
        if not isinstance(given.node.value, str):
            text = f"{shown(name)} is a list; it can only stand by itself, and not in a text"
            self.report(place, text, Broken.KIND)
            return found[0]
        word = unmarked(given.node.value)
        if share is None:
            return word
        if not is_number(word):
            if given.kind != "number":
                self.report(place, f"{shown(name)} is not a number, so no share of it can be taken", Broken.KIND)
            return found[0]
        return f"{(Decimal(share) / 100 * Decimal(word)).quantize(Decimal('1e-6')).normalize():f}"

    def _stands_for(self, word: str, kind: str) -> bool:
        """Whether a bare word, where a name of this kind is wanted, is a parameter. A reset is an indication too."""
        given = self.arguments.get(word)
        if given is None or not kind or not given.names:
            return False
        return given.kind == kind or (kind == Named.INDICATION and given.kind == Named.RESET)

    def _name(self, name: str) -> str:
        """The name that was given, as the level above knows it."""
        value = self.arguments[name].node.value
        return MARK + value if isinstance(value, str) else name

    def _given(self, given: Node, at: Node) -> Node:
        """What is given, in the place of the words that stand for it; what it holds keeps its own places."""
        self.budget.spend(self.used, given.nodes - 1)
        at.value = given.mapped(marked, marked, self.user).value
        return at


def marked(word: str) -> str:
    """The word as one that came from outside."""
    return MARK + word


def twice(report: Report, key: str, place: Place) -> None:
    """Reports two keys of a map that have become one."""
    report(place, f"{shown(unmarked(key))} is written twice once its names are filled in", Broken.TWICE)


def measured(node: Node, used: Place) -> Node:
    """The node with its height worked out anew. Raises TooLarge when it is nested too deep."""
    node.height = 1 + max((measured(child, used).height for child in node.children), default=0)
    if node.height > DEEPEST:
        raise TooLarge(Problem.at(used, f"nested deeper than {DEEPEST} levels once filled in", Broken.SIZE))
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
