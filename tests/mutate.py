"""Small changes to a piece of Python source, each of which some test ought to notice.

`mutants(source)` finds every change that the operators of `KINDS` can make, each as a replacement of one stretch of the
text; the rest of the file stays as it is, byte for byte. Docstrings, annotations, decorators, the words of an assertion
and what stands under `if TYPE_CHECKING` are left alone: nothing runs them, or nobody could tell. So are the `strict=`
of a `zip` and `assert_never`: like an assertion they say what always holds.
"""

from __future__ import annotations

import ast
import io
import tokenize
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from inspect import CO_NEWLOCALS
from itertools import pairwise
from types import CodeType

KINDS = {
    "boundary": "`<` becomes `<=`, and the like: the boundary itself changes sides",
    "comparison": "a comparison becomes its opposite",
    "condition": "a condition is negated",
    "and-or": "`and` becomes `or`, or the other way round",
    "not": "a `not` is taken out",
    "constant": "a number, a text or a truth value is another one",
    "arithmetic": "an operator of arithmetic or of sets is another one",
    "return": "a function gives back None instead of its value",
    "call": "a statement that is a call is left out",
    "default": "the default of a parameter or a field is another value",
}
"""The operators, with what each does."""

BOUNDARY = {"<": "<=", "<=": "<", ">": ">=", ">=": ">"}
OPPOSITE = {
    "<": ">=",
    "<=": ">",
    ">": "<=",
    ">=": "<",
    "==": "!=",
    "!=": "==",
    "is": "is not",
    "is not": "is",
    "in": "not in",
    "not in": "in",
}
OTHER = {"+": "-", "-": "+", "*": "/", "/": "*", "//": "*", "%": "*", "**": "*", "@": "*", "|": "&", "&": "|", "^": "|"}


@dataclass(frozen=True)
class Mutant:
    """A change of one stretch of a file."""

    kind: str
    line: int
    """Where it begins, from 1."""
    start: int
    end: int
    """The stretch that is replaced, in characters of the source."""
    text: str
    """What stands there instead."""

    def applied(self, source: str) -> str:
        return source[: self.start] + self.text + source[self.end :]

    def was(self, source: str) -> str:
        """The line that is changed, without its indent."""
        return source.split("\n")[self.line - 1].strip()

    def becomes(self, source: str) -> str:
        """The same line afterwards."""
        return self.applied(source).split("\n")[self.line - 1].strip()


@cache
def mutants(source: str) -> tuple[Mutant, ...]:
    """Every change, in the order of the text."""
    return tuple(sorted(set(_Finder(source).found()), key=lambda m: (m.start, m.end, m.kind, m.text)))


def function_at(source: str, line: int) -> int:
    """The first line of the innermost function that has this line in its body, decorators included; 0 for none.

    The defaults of a function and its decorators run with what is around it, so they are no part of it."""
    best = 0
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = min([node.lineno, *(d.lineno for d in node.decorator_list)])
            if node.body[0].lineno <= line <= (node.end_lineno or 0) and first > best:
                best = first
    return best


def functions(source: str, file: str) -> dict[tuple[str, int], CodeType]:
    """The code of every function that stands in no other one, by its qualified name and its first line."""
    found: dict[tuple[str, int], CodeType] = {}
    todo = [compile(source, file, "exec", dont_inherit=True)]
    while todo:
        for code in todo.pop().co_consts:
            if isinstance(code, CodeType):
                if code.co_flags & CO_NEWLOCALS and not code.co_name.startswith("<"):
                    found[code.co_qualname, code.co_firstlineno] = code
                elif not code.co_flags & CO_NEWLOCALS:
                    todo.append(code)
    return found


def stands(mutant: Mutant, source: str) -> bool:
    """Whether the changed source can be parsed, and is another one than before."""
    changed = mutant.applied(source)
    if changed == source:
        return False
    try:
        ast.parse(changed)
    except SyntaxError:
        return False
    return True


class _Finder:
    def __init__(self, source: str) -> None:
        self.source = source
        self.tree = ast.parse(source)
        starts = [0]
        self.lines = source.split("\n")
        for line in self.lines:
            starts.append(starts[-1] + len(line) + 1)
        self.starts = starts
        self.tokens = [
            (self.starts[t.start[0] - 1] + t.start[1], self.starts[t.end[0] - 1] + t.end[1], t.string)
            for t in tokenize.generate_tokens(io.StringIO(source).readline)
            if t.type in (tokenize.OP, tokenize.NAME)
        ]

    # ------------------------------------------------------------ where things stand

    def at(self, line: int, column: int) -> int:
        """The character at a place that `ast` names: a line from 1, and a column in bytes."""
        return self.starts[line - 1] + len(self.lines[line - 1].encode()[:column].decode())

    def span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return self.at(node.lineno, node.col_offset), self.at(node.end_lineno, node.end_col_offset)

    def text(self, node: ast.expr) -> str:
        start, end = self.span(node)
        return self.source[start:end]

    def change(self, kind: str, start: int, end: int, text: str) -> Mutant:
        line = bisect_right(self.starts, start)
        return Mutant(kind, line, start, end, text)

    def replaced(self, kind: str, node: ast.expr | ast.stmt, text: str) -> Mutant:
        return self.change(kind, *self.span(node), text)

    def between(self, left: ast.expr, right: ast.expr) -> list[tuple[int, int, str]]:
        """The words and signs between two operands, without brackets."""
        start, end = self.span(left)[1], self.span(right)[0]
        return [t for t in self.tokens if start <= t[0] and t[1] <= end and t[2] not in "()"]

    def operator(self, kind: str, left: ast.expr, right: ast.expr, others: dict[str, str]) -> Iterator[Mutant]:
        found = self.between(left, right)
        if found:
            word = " ".join(t[2] for t in found)
            if word in others:
                yield self.change(kind, found[0][0], found[-1][1], others[word])

    # ------------------------------------------------------------ going through the tree

    def found(self) -> Iterator[Mutant]:
        yield from self._body(self.tree)

    def _body(self, node: ast.AST) -> Iterator[Mutant]:
        """The changes below a node."""
        for field, value in ast.iter_fields(node):
            if field in ("annotation", "returns", "decorator_list", "type_comment", "msg"):
                continue
            values = value if isinstance(value, list) else [value]
            if field == "body" and values and _is_text(values[0]):
                values = values[1:]
            for child in values:
                if isinstance(child, ast.AST) and not _left_alone(child):
                    yield from self._of(child)
                    yield from self._body(child)

    def _of(self, node: ast.AST) -> Iterator[Mutant]:
        """The changes of a node itself."""
        match node:
            case ast.Compare(left=left, ops=_, comparators=others):
                for one, other in zip([left, *others], others, strict=False):
                    yield from self.operator("boundary", one, other, BOUNDARY)
                    yield from self.operator("comparison", one, other, OPPOSITE)
            case ast.BoolOp(values=values):
                for one, other in pairwise(values):
                    yield from self.operator("and-or", one, other, {"and": "or", "or": "and"})
            case ast.UnaryOp(op=ast.Not(), operand=operand):
                yield self.replaced("not", node, f"({self.text(operand)})")
            case ast.BinOp(left=left, right=right):
                yield from self.operator("arithmetic", left, right, OTHER)
            case ast.AugAssign(target=target, value=value):
                yield from self.operator(
                    "arithmetic", target, value, {f"{a}=": f"{b}=" for a, b in OTHER.items() if a != "@"}
                )
            case ast.If(test=test) | ast.While(test=test) | ast.IfExp(test=test):
                yield from self._negated(test)
            case ast.comprehension(ifs=ifs):
                for test in ifs:
                    yield from self._negated(test)
            case ast.match_case(guard=ast.expr() as guard):
                yield from self._negated(guard)
            case ast.Return(value=ast.expr() as value) if not _is_none(value):
                yield self.replaced("return", value, "None")
            case ast.Expr(value=ast.Call()):
                yield self.replaced("call", node, "pass")
            case ast.arguments(defaults=defaults, kw_defaults=more):
                for default in [*defaults, *more]:
                    if default is not None:
                        yield from self._constant("default", default)
            case ast.ClassDef(body=body):
                for line in body:
                    if isinstance(line, ast.AnnAssign) and line.value is not None:
                        yield from self._constant("default", line.value)
            case ast.Constant():
                yield from self._constant("constant", node)

    def _negated(self, test: ast.expr) -> Iterator[Mutant]:
        yield self.replaced("condition", test, f"(not ({self.text(test)}))")

    def _constant(self, kind: str, node: ast.expr) -> Iterator[Mutant]:
        if not isinstance(node, ast.Constant):
            return
        match node.value:
            case bool(value):
                yield self.replaced(kind, node, str(not value))
            case int(value):
                yield self.replaced(kind, node, f"({value + 1})")
                if value > 0:
                    yield self.replaced(kind, node, f"({value - 1})")
            case float(value):
                yield self.replaced(kind, node, f"({value * 2 if value else 1.0!r})")
                if value:
                    yield self.replaced(kind, node, f"({value / 2!r})")
            case str(value):
                yield self.replaced(kind, node, '""' if value else '"x"')
            case None if kind == "default":
                yield self.replaced(kind, node, "0")


def _is_text(node: ast.AST) -> bool:
    """A docstring, or a text that stands below a field and says what it is."""
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _is_none(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _left_alone(node: ast.AST) -> bool:
    """Texts in a body, `if TYPE_CHECKING`, parts of a text with braces, what only asserts, lists of public names."""
    if isinstance(node, ast.JoinedStr) or _is_text(node) or (isinstance(node, ast.keyword) and node.arg == "strict"):
        return True
    if (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Call)
        and ast.unparse(node.value.func) == "assert_never"
    ):
        return True
    if isinstance(node, ast.If) and isinstance(node.test, ast.Name):
        return node.test.id == "TYPE_CHECKING"
    names = [t.id for t in node.targets if isinstance(t, ast.Name)] if isinstance(node, ast.Assign) else []
    return names == ["__all__"]
