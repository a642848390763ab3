"""YAML text to a tree of nodes, in one pass over the parser's events.

No implicit typing: `on`, `no`, `00`, `1e3`, `12:30`, `null` and `~` are the words that were written. Refused: a key
written twice, tags, merge keys, keys that are not words, several documents, and what grows past the limits below.
The events are taken one by one, and not as ready-made nodes, so that no depth of nesting can exhaust the stack.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple, NoReturn

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

from diag.machine.language.shapes import texts
from diag.machine.language.written_pairs import no_space
from diag.machine.problem import UNSAFE, Broken, Problem, shown
from diag.machine.repair import slips
from diag.machine.repair.curly import HARD, QUOTES, curly, hard_spaces
from diag.machine.repair.dashes import rows
from diag.machine.repair.layout import misplaced
from diag.machine.repair.mend import Mending, dashed, spaced
from diag.machine.repair.outline import heading
from diag.machine.repair.slips import Slip
from diag.machine.repair.syntax import in_one_line, slip_of, syntax
from diag.machine.span import DEEPEST, Node
from diag.text import one_line

PARSER: Final[Any] = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
"""The fast parser, where PyYAML was built with it."""
MOST_NODES: Final = 200_000
"""Words, lists and maps in one file with its aliases written out: ten times the largest file that makes sense."""
LONGEST: Final = 2_000
"""Characters in one word or text."""


class _Refused(Exception):
    """Nothing more can be made of this file as it is."""

    def __init__(self, slip: Slip) -> None:
        self.slip = slip


def compose(text: str, file: str) -> tuple[Node | None, list[Problem]]:
    """The tree of a file's one document, or None when it is empty or cannot be read; and what is wrong with it. A slip
    that can mean one thing only is reported, and the tree is that of the file as it was meant."""
    hard: list[Slip] = []
    if HARD.search(text):
        text, hard = hard_spaces(text)
    mending = Mending(file, text, [slip.problem(file) for slip in hard])
    while True:
        composer = _Composer(file, mending.text)
        try:
            root = composer.document()
        except _Refused as refused:
            slip = refused.slip
        except yaml.YAMLError as error:
            slip = syntax(error, mending.text)
        else:
            break
        if not mending.tell(slip):
            return None, _once([*composer.problems, *mending.told], mending)
    found = misplaced(root, {p.line for p in composer.problems if p.rule == Broken.TWICE}) if root is not None else None
    if root is not None:
        mending.columns(root)
    if found is None:
        return root, _once([*composer.problems, *mending.told], mending)
    if not mending.after:
        place, said = found[0].key_place(file), found[1]
        mending.told.append(Problem(file, place.line, place.column, "error", said, Broken.FIELD))
    return None, mending.told


def _once(problems: list[Problem], mending: Mending) -> list[Problem]:
    """One problem for each place; of what was told of a line while it was mended, the slip alone."""
    told = {(problem.line, problem.column) for problem in mending.told}
    others = [p for p in problems if (p.line, p.column) not in told and p.line not in mending.after]
    return sorted([*others, *mending.told], key=lambda problem: (problem.line, problem.column))


class _Key(NamedTuple):
    """A key that waits for its value."""

    word: str
    line: int
    column: int
    twice: bool
    """It is there already."""
    plain: bool
    """It stands without quotes."""
    end: int
    """Where it ends in the text."""


class _Composer:
    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.text = text
        self.losing = slips.may_be_lost(text)
        """Whether YAML may leave out text of this file as a remark."""
        self.problems: list[Problem] = []
        self.whole: list[range] = []
        """Lines of quoted and block texts that go over several, where it matters."""
        self.root: Node | None = None
        self.open: list[Node] = []
        self.keys: list[_Key | None] = []
        """For each open map the key that waits for its value."""
        self.anchors: dict[str, Node | None] = {}
        """None while the anchor's own node is still open."""
        self.names: list[str | None] = []
        self.nodes = 0

    def document(self) -> Node | None:
        get = PARSER(self.text).get_event
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
                    self.refuse(event.start_mark, "a second document starts here; one file holds one")
            elif kind is StreamEndEvent:
                if self.losing:
                    self.lost_lines()
                return self.root

    def scalar(self, event: Any) -> None:
        word, mark = event.value, event.start_mark
        if event.tag is not None:
            self.tagged(event)
        if len(word) > LONGEST:
            self.refuse(mark, f"a text of {len(word):,} characters; {LONGEST:,} at most", Broken.SIZE)
        if event.style == '"':
            bad = UNSAFE.search(word)
            if bad:
                self.refuse(mark, f"control character U+{ord(bad[0]):04X} in quotes; take it out", Broken.ENCODING)
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.key(word, event)
            if event.anchor is not None:
                self.anchors[event.anchor] = Node(word, mark.line + 1, mark.column + 1)
            return
        node = Node(word, mark.line + 1, mark.column + 1)
        if event.anchor is not None:
            self.anchors[event.anchor] = node
        if event.style:
            if self.losing and event.end_mark.line > mark.line:
                self.whole.append(range(mark.line + 1, event.end_mark.line + 2))
        elif word:
            self.plain(word, mark, event.end_mark)
        elif self.losing and self.open and type(self.open[-1].value) is list:
            self.left_out(slips.lost_after_key(self.text, mark.index), mark.line + 1, mark.column + 1)
        self.attach(node)

    def plain(self, word: str, mark: Any, end: Any) -> None:
        """Looks at a value without quotes for what YAML takes without a word."""
        if word[0] in QUOTES:
            self.curly(mark)
        if self.losing:
            self.left_out(slips.lost_after_text(self.text, mark.index, end.index), end.line + 1, end.column + 1)
        many = end.line > mark.line
        pending = self.keys[-1] if self.keys else None
        if many and pending is not None and pending.line < mark.line + 1:
            slip = rows((mark.line + 1, mark.column + 1), self.text.split("\n"))
            if slip is not None:
                raise _Refused(slip)
        if many or ":" in word or word[0] == "-":
            found = slips.folded(self.text, mark.index, end.index, many)
            if found:
                self.folded(mark.line + 1 + found[0], found[1], found[2])
        if word[0].isdigit() and self.open and type(self.open[-1].value) is list and self.open[-1].value:
            before = self.open[-1].value[-1].value
            text = slips.decimal(self.text, mark.index, end.index, before) if type(before) is str else ""
            if text:
                self.refuse(mark, text)

    def folded(self, line: int, column: int, text: str) -> None:
        """Reports a line that YAML took as more of the text above."""
        rest = self.text.split("\n")[line - 1]
        if rest[column - 1] == "-":
            mend = {} if rest[column : column + 1] == " " else {line: dashed(rest, column)}
            missing = heading(self.text.split("\n"), line) if not mend else ""
            if missing:
                such = "a line such as" if missing in texts() else "the line"
                text = f"{text}; or {such} {shown(missing + ':')} is missing above"
        else:
            mend = {line: spaced(rest, column)}
        raise _Refused(Slip(line, column, text, mend))

    def curly(self, mark: Any) -> None:
        """Refuses words that begin with a curly quote and end with one."""
        slip = curly(self.text.split("\n"), mark.line + 1)
        if slip is not None and slip.column == mark.column + 1:
            raise _Refused(slip)

    def left_out(self, lost: tuple[int, str] | None, line: int, column: int) -> None:
        """Reports what YAML left out as a remark, so far behind a place."""
        if lost:
            self.problems.append(Problem(self.file, line, column + lost[0], "warning", lost[1], Broken.REMARK))

    def lost_lines(self) -> None:
        """Reports which lines it left out, those inside quotes and texts of several lines not counted."""
        for line, column, text in slips.lost_lines(self.text):
            if not any(line in lines for lines in self.whole):
                self.left_out((0, text), line, column)

    def key(self, word: str, event: Any) -> None:
        mark, plain = event.start_mark, not event.style
        line, column = mark.line + 1, mark.column + 1
        if plain and word and word[0] in QUOTES:
            self.curly(mark)
        if plain and ("{" in word or "[" in word):
            slip = in_one_line(self.text.split("\n"), line)
            if slip is not None:
                raise _Refused(slip)
        if word == "<<":
            self.refuse(mark, "'<<' is not used here; write the fields out")
        value = self.open[-1].value
        assert isinstance(value, dict)
        twice = word in value
        if twice:
            text = f"{shown(word)} is written twice; first in line {value[word].key_line}"
            self.problems.append(Problem(self.file, line, column, "error", text, Broken.TWICE))
        end = event.end_mark.index
        if plain and word and self.text[end : end + 1] != ":":
            text = slips.comma(self.text, mark.index, end)
            if text:
                self.refuse(mark, text)
        self.keys[-1] = _Key(word, line, column, twice, plain, end)

    def begin(self, event: Any, value: dict[str, Node] | list[Node]) -> None:
        mark = event.start_mark
        if event.tag is not None:
            self.tagged(event)
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.refuse(mark, "a list or a map where a key should be; put text with brackets in quotes")
        if len(self.open) >= DEEPEST:
            self.refuse(mark, f"nested deeper than {DEEPEST} levels", Broken.SIZE)
        self.open.append(Node(value, mark.line + 1, mark.column + 1))
        self.keys.append(None)
        self.names.append(event.anchor)
        if event.anchor is not None:
            self.anchors[event.anchor] = None

    def end(self) -> None:
        node = self.open.pop()
        self.keys.pop()
        name = self.names.pop()
        if name is not None:
            self.anchors[name] = node
        self.attach(node)

    def alias(self, event: Any) -> None:
        mark, name = event.start_mark, event.anchor
        if self.keys and self.keys[-1] is None and type(self.open[-1].value) is dict:
            self.refuse(mark, f"alias {shown('*' + name)} as a key; write the word")
        if name not in self.anchors:
            text = f"a text that begins with '*' goes in quotes (or '&{one_line(name)}' is missing before it)"
            self.refuse(mark, text)
        meant = self.anchors[name]
        if meant is None:
            self.refuse(mark, f"alias {shown('*' + name)} stands inside itself")
        if len(self.open) + meant.height > DEEPEST:
            self.refuse(mark, f"nested deeper than {DEEPEST} levels", Broken.SIZE)
        self.nodes += meant.size - 1
        self.attach(Node(meant.value, mark.line + 1, mark.column + 1, size=meant.size, height=meant.height))

    def attach(self, node: Node) -> None:
        """Hands a finished node to the list or map that it stands in."""
        self.nodes += 1
        if self.nodes > MOST_NODES:
            text = f"more than {MOST_NODES:,} words with its aliases written out"
            raise _Refused(Slip(node.line, node.column, text, rule=Broken.SIZE))
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
        word, node.key_line, node.key_column, twice, plain, end = pending
        if plain and node.value == "":
            self.empty(word, node, end)
        if not twice and isinstance(value, dict):
            value[word] = node
        elif twice and len(self.open) == 1 and isinstance(value, dict):
            first = value[word].value
            if isinstance(first, dict) and isinstance(node.value, dict):
                value[word].value = {**node.value, **first}  # what stands below the second is no unknown name

    def empty(self, word: str, node: Node, end: int) -> None:
        """Looks at a key without a value: whether it holds the value too, or the value was left out."""
        at = (node.key_line, node.key_column)
        if (" = " in word and slips.EQUALS.fullmatch(word)) or no_space(word):
            slip = slip_of(at, word, self.text.split("\n"))
            assert slip is not None
            raise _Refused(slip)
        if ":" in word:
            raise _Refused(Slip(*at, f"{shown(word)} has no ': '; put it in quotes, or a space after the ':'"))
        if self.losing:
            self.left_out(slips.lost_after_key(self.text, end), node.key_line, node.key_column + len(word))

    def tagged(self, event: Any) -> None:
        text = f"tag {shown(event.tag)} is not used here; put text with '!' in quotes"
        self.refuse(event.start_mark, text)

    def refuse(self, mark: Any, text: str, rule: str = Broken.YAML) -> NoReturn:
        raise _Refused(Slip(mark.line + 1, mark.column + 1, text, rule=rule))
