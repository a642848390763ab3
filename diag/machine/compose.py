"""YAML text to a tree of nodes, in one pass over the parser's events.

No implicit typing: `on`, `no`, `00`, `1e3`, `12:30`, `null` and `~` are the words that were written. Refused: a key
written twice, tags, merge keys, keys that are not words, several documents, and what grows past the limits below.
The events are taken one by one, and not as ready-made nodes, so that no depth of nesting can exhaust the stack.
"""

from __future__ import annotations

from typing import Any, Final

import yaml
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
    StreamEndEvent,
)

from diag.machine import slips
from diag.machine.problem import UNSAFE, Problem, shown
from diag.machine.span import Node

try:
    from yaml import CSafeLoader as _Parser
except ImportError:
    from yaml import SafeLoader as _Parser  # type: ignore[assignment]

DEEPEST: Final = 100
"""Levels of nesting. A tree of 30 questions, one below the other, has about 95."""
MOST_NODES: Final = 200_000
"""Words, lists and maps in one file with its aliases written out: ten times the largest file that makes sense."""
LONGEST: Final = 2_000
"""Characters in one word or text."""


class _Refused(Exception):
    """Nothing more can be made of this file."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem


def compose(text: str, file: str) -> tuple[Node | None, list[Problem]]:
    """The tree of a file's one document, or None when it is empty or cannot be read; and what is wrong with it."""
    composer = _Composer(file, text)
    try:
        return composer.document(text), composer.problems
    except _Refused as refused:
        return None, [*composer.problems, refused.problem]
    except yaml.YAMLError as error:
        return None, [*composer.problems, _syntax(error, file, text)]


class _Composer:
    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.lines = text.split("\n")
        self.problems: list[Problem] = []
        self.remarks = slips.of_remark(self.lines) if slips.REMARK.search(text) else {}
        """Lines in which a '#' may take something away that was meant to stand, to its column."""
        for n in self.remarks:
            self.told(slips.of_code(self.lines[n], n + 1))
        self.root: Node | None = None
        self.open: list[Node] = []
        self.keys: list[tuple[str, int, int, bool, bool] | None] = []
        """For each open map the key that waits for its value, its place, and whether it is there already."""
        self.anchors: dict[str, Node | None] = {}
        """None while the anchor's own node is still open."""
        self.bare: dict[int, list[tuple[str, str]]] = {}
        """For each open map the keys in braces that have no ':', with what to say of them."""
        self.names: list[str | None] = []
        self.nodes = 0

    def document(self, text: str) -> Node | None:
        get: Any = _Parser(text).get_event
        documents = 0
        while True:
            event = get()
            kind = type(event)
            if kind is ScalarEvent:
                self.scalar(event)
            elif kind is MappingStartEvent:
                self.begin(event, {})
            elif kind is SequenceStartEvent:
                self.begin(event, [])
            elif kind is MappingEndEvent or kind is SequenceEndEvent:
                self.end()
            elif kind is AliasEvent:
                self.alias(event)
            elif kind is DocumentStartEvent:
                documents += 1
                if documents > 1:
                    self.refuse(event.start_mark, "a second document starts here; one file holds one", "yaml")
            elif kind is StreamEndEvent:
                return self.root

    def scalar(self, event: Any) -> None:
        word, mark = event.value, event.start_mark
        if event.tag is not None:
            self.tagged(event)
        if len(word) > LONGEST:
            self.refuse(mark, f"a text of {len(word):,} characters; {LONGEST:,} at most", "size")
        if event.style == '"':
            bad = UNSAFE.search(word)
            if bad:
                self.refuse(mark, f"control character U+{ord(bad[0]):04X} in quotes; take it out", "encoding")
        if not event.style:
            self.plain(word, mark, event.end_mark)
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.key(word, mark, plain=not event.style)
            if event.anchor is not None:
                self.anchors[event.anchor] = Node(word, mark.line + 1, mark.column + 1)
            return
        node = Node(word, mark.line + 1, mark.column + 1)
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        self.attach(node)

    def plain(self, word: str, mark: Any, end: Any) -> None:
        """A text without quotes: what YAML silently takes away from it, or adds to it."""
        line = end.line
        remark = self.remarks.get(line, -1)
        if word and end.column <= remark and not self.lines[line][end.column : remark].strip():
            text = "taken for a remark from here; put the text in quotes, or write '# ' where a remark is meant"
            self.problems.append(Problem(self.file, line + 1, remark + 1, "warning", text, "lost"))
        if line > mark.line:
            for n in range(mark.line, line + 1):
                first = n == mark.line
                slip = slips.of_dash(self.lines[n], n + 1) if first else slips.of_more_text(self.lines[n], n + 1)
                self.told(slip)

    def told(self, slip: slips.Slip | None) -> None:
        if slip is not None:
            self.problems.append(Problem(self.file, slip.line, slip.column, "warning", slip.text, "lost"))

    def key(self, word: str, mark: Any, plain: bool) -> None:
        line, column = mark.line + 1, mark.column + 1
        if word == "<<":
            self.refuse(mark, "'<<' is not used here; write the fields out", "yaml")
        value = self.open[-1].value
        assert isinstance(value, dict)
        twice = word in value
        if twice:
            text = f"{shown(word)} is written twice; first in line {value[word].key_line}"
            self.problems.append(Problem(self.file, line, column, "error", text, "twice"))
        self.keys[-1] = (word, line, column, twice, plain)

    def begin(self, event: Any, value: dict[str, Node] | list[Node]) -> None:
        mark = event.start_mark
        if event.tag is not None:
            self.tagged(event)
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.refuse(mark, "a list or a map where a key should be; put text with brackets in quotes", "yaml")
        if len(self.open) >= DEEPEST:
            self.refuse(mark, f"nested deeper than {DEEPEST} levels", "size")
        self.open.append(Node(value, mark.line + 1, mark.column + 1))
        self.keys.append(None)
        self.names.append(event.anchor)
        if event.anchor is not None:
            self.anchors[event.anchor] = None

    def end(self) -> None:
        node = self.open.pop()
        self.keys.pop()
        bare_keys = self.bare.pop(id(node), ())
        for word, text in bare_keys if len(node.value) > 1 else ():
            # Alone in its braces it stands for a parameter of a module.
            if isinstance(node.value, dict) and word in node.value:
                bare = node.value.pop(word)
                self.problems.append(Problem(self.file, bare.key_line, bare.key_column, "error", text, "yaml"))
        name = self.names.pop()
        if name is not None:
            self.anchors[name] = node
        self.attach(node)

    def alias(self, event: Any) -> None:
        mark, name = event.start_mark, event.anchor
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.refuse(mark, f"alias {shown('*' + name)} as a key; write the word", "yaml")
        if name not in self.anchors:
            text = f"alias {shown('*' + name)} has no anchor before it; a text that begins with '*' goes in quotes"
            self.refuse(mark, text, "yaml")
        meant = self.anchors[name]
        if meant is None:
            self.refuse(mark, f"alias {shown('*' + name)} stands inside itself", "yaml")
        assert meant is not None
        if len(self.open) + meant.height > DEEPEST:
            self.refuse(mark, f"nested deeper than {DEEPEST} levels", "size")
        self.nodes += meant.size - 1
        self.attach(Node(meant.value, mark.line + 1, mark.column + 1, size=meant.size, height=meant.height))

    def attach(self, node: Node) -> None:
        """Hands a finished node to the list or map that it stands in."""
        self.nodes += 1
        if self.nodes > MOST_NODES:
            text = f"more than {MOST_NODES:,} words with its aliases written out"
            raise _Refused(Problem(self.file, node.line, node.column, "error", text, "size"))
        if not self.open:
            self.root = node
            return
        parent = self.open[-1]
        parent.size += node.size
        if node.height >= parent.height:
            parent.height = node.height + 1
        value = parent.value
        if isinstance(value, list):
            value.append(node)
            return
        pending = self.keys[-1]
        assert pending is not None
        self.keys[-1] = None
        word, node.key_line, node.key_column, twice, plain = pending
        if plain and ":" in word and node.value == "":
            text = f"{shown(word)} stands where a key and its value should; put a space after the ':'"
            raise _Refused(Problem(self.file, node.key_line, node.key_column, "error", text, "yaml"))
        if plain and node.value == "":
            text = slips.of_braces(self.lines, node.key_line, node.key_column, word)
            if text:
                self.bare.setdefault(id(parent), []).append((word, text))
        if not twice and isinstance(value, dict):
            value[word] = node

    def tagged(self, event: Any) -> None:
        self.refuse(event.start_mark, f"tag {shown(event.tag)} is not used here; put text with '!' in quotes", "yaml")

    def refuse(self, mark: Any, text: str, rule: str) -> None:
        raise _Refused(Problem(self.file, mark.line + 1, mark.column + 1, "error", text, rule))


_PLAINER: Final = (
    ("maximum nesting depth", f"nested deeper than {DEEPEST} levels"),
    ("cannot start any token", "a text that begins with {char} goes in quotes"),
    ("end of stream", "the quote that opens here is never closed"),
    ("mapping values are not allowed", "a ':' that cannot stand here; check the indent, or put the text in quotes"),
    ("found a tab character", "a tab; indent with spaces"),
    ("could not find expected ':'", "a ':' is missing, or the indent is wrong"),
    ("expected ',' or '}'", "a '}' or a ',' is missing"),
    ("expected ',' or ']'", "a ']' or a ',' is missing"),
    ("did not find expected key", "a key was expected here; check the indent and the quotes"),
    ("expected '-' indicator", "a '- ' was expected here; check the indent"),
    ("expected <block end>", "a line that does not fit the ones above it; check the indent"),
    ("unknown escape character", "a backslash that means nothing here; use single quotes"),
    ("found undefined tag handle", "a '!' that cannot stand here; put the text in quotes"),
    ("expected alphabetic or numeric", "a '&' or '*' that cannot stand here; put the text in quotes"),
    ("found unexpected ':'", "after a ':' comes a space, before a comma too"),
    ("expected comment or line break", "a text that begins with '>' or '|' goes in quotes"),
    ("mapping keys are not allowed", "a text that begins with '?' goes in quotes"),
    (
        "block sequence entries",
        "a text that begins with '- ' goes in quotes; the entries of a list have lines of their own",
    ),
    ("expected node content", "{char} cannot stand here; put the text in quotes, and write a list in [ ]"),
    ("end of what is open", "the file ends here with a bracket still open"),
)


def _syntax(error: yaml.YAMLError, file: str, text: str) -> Problem:
    """The parser's own complaint in plain words, where it is known what it means. A file that breaks off is told at its
    last character: the parser means the line after it, which is not there."""
    said = str(getattr(error, "problem", None) or error).partition("\n")[0]
    mark, begun = getattr(error, "problem_mark", None), getattr(error, "context_mark", None)
    mark = mark or begun
    context, lines = str(getattr(error, "context", None) or ""), text.split("\n")
    slip = _slip(said, mark, begun, lines) if mark is not None else None
    if slip is not None:
        return Problem(file, slip.line, slip.column, "error", slip.text, "yaml")
    if mark is not None and "node content" in said and not "".join(lines[mark.line :])[mark.column :].strip():
        said = "end of what is open"
    plainly = next((plain for words, plain in _PLAINER if words in said), f"not YAML: {said}")
    if "quoted scalar" in context and "never closed" in plainly:
        mark = begun or mark
    line, column = (mark.line + 1, mark.column + 1) if mark is not None else (1, 1)
    if line > len(lines):
        line, column = len(lines), len(lines[-1]) + 1
    char = lines[line - 1][column - 1 : column]
    return Problem(file, line, column, "error", plainly.replace("{char}", _named(char)), "yaml")


def _slip(said: str, mark: Any, begun: Any, lines: list[str]) -> slips.Slip | None:
    """The slip of the hand behind the parser's complaint, which is often told a line too late."""
    at = mark.line + 1
    for sign in "}]":
        if f"expected ',' or '{sign}'" in said and begun is not None and begun.line < mark.line:
            opened = "{" if sign == "}" else "["
            text = f"this '{opened}' is not closed in line {at - 1}, or a ',' is missing there"
            return slips.Slip(begun.line + 1, begun.column + 1, text)
    if "cannot start any token" in said and at <= len(lines) and lines[at - 1][mark.column : mark.column + 1] == "\t":
        return slips.Slip(at, mark.column + 1, "a tab; indent with spaces")
    if "did not find expected key" in said and at <= len(lines):
        return slips.of_quotes(lines[at - 1], at, mark.column)
    if "could not find expected ':'" in said and begun is not None and begun.line < len(lines):
        return slips.of_line(lines[begun.line], begun.line + 1)
    if "mapping values are not allowed" in said and at <= len(lines):
        return (
            slips.of_two_colons(lines[at - 1], at, mark.column) or slips.above(lines, at) or slips.of_deeper(lines, at)
        )
    return None


def _named(char: str) -> str:
    return shown(char) if char.strip() else "what stands here"
