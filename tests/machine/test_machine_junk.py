"""Nothing that stands in a file makes the loader raise: it gives problems."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from diag.machine.find import listing
from diag.machine.load import Loaded, load
from diag.machine.problem import Problem
from diag.machine.reader.compose import compose
from diag.machine.reader.file_text import decode

MIXER = (Path(__file__).parent.parent / "machines" / "mixer" / "machine.yaml").read_text()
LINES = MIXER.splitlines()
PIECES = sorted(set(MIXER.replace("{", " { ").replace("}", " } ").replace(",", " , ").split()))
ODD = [
    "\t",
    "&a ",
    "*a",
    "<<: ",
    "!x ",
    "? ",
    "- ",
    "[",
    "]",
    "{",
    "}",
    ":",
    "''",
    '"',
    "|",
    ">",
    "%",
    "@",
    "\0",
    "\ud7ff",
    "~",
]


def loads(content: bytes) -> Loaded:
    """What load gives for a machine.yaml of these bytes; its promises are checked."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "machine.yaml").write_bytes(content)
        loaded = load(Path(folder))
        listing(Path(folder).parent)
    errors = [problem for problem in loaded.problems if problem.level == "error"]
    assert (loaded.machine is None) == bool(errors)
    for problem in loaded.problems:
        assert "\n" not in str(problem)
        assert str(problem).isprintable()
        assert problem.line >= 1
        assert problem.column >= 1
    return loaded


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_bytes(content: bytes) -> None:
    assert loads(content).machine is None


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=300))
def test_text(content: str) -> None:
    assert loads(content.encode("utf-8", "surrogatepass")).machine is None


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from([*PIECES, *ODD, "\n", "\n  ", "\n    "]), max_size=60))
def test_words_of_the_language_in_any_order(words: list[str]) -> None:
    assert loads(" ".join(words).encode("utf-8", "surrogatepass")).machine is None


change = st.tuples(
    st.integers(0, len(LINES) - 1),
    st.sampled_from(["drop", "twice", "swap", "cut", "put", "word", "indent"]),
    st.integers(0, 200),
    st.sampled_from([*PIECES, *ODD]),
)


def mutated(changes: list[tuple[int, str, int, str]]) -> str:
    lines = list(LINES)
    for at, how, column, word in changes:
        at %= len(lines)
        line = lines[at]
        cut = column % (len(line) + 1)
        if how == "drop" and len(lines) > 1:
            del lines[at]
        elif how == "twice":
            lines.insert(at, line)
        elif how == "swap":
            other = column % len(lines)
            lines[at], lines[other] = lines[other], line
        elif how == "cut":
            lines[at] = line[:cut] + line[cut + 1 :]
        elif how == "put":
            lines[at] = line[:cut] + word + line[cut:]
        elif how == "word":
            parts = line.split(" ")
            parts[column % len(parts)] = word
            lines[at] = " ".join(parts)
        else:
            lines[at] = " " * (column % 9) + line.lstrip()
    return "\n".join(lines)


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(change, min_size=1, max_size=4))
def test_a_good_file_with_a_few_slips(changes: list[tuple[int, str, int, str]]) -> None:
    loads(mutated(changes).encode("utf-8", "surrogatepass"))


scalars = st.text(st.characters(exclude_categories=["Cs", "Cc", "Cf", "Zl", "Zp", "Co", "Cn"]), max_size=8)
trees = st.recursive(scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(scalars, inner, max_size=3))


def written(value: object) -> str:
    """YAML in brackets, every word in single quotes."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"? {written(key)} : {written(child)}" for key, child in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    return "'" + str(value).replace("'", "''") + "'"


@settings(max_examples=150, deadline=None)
@example({":": ""})
@given(trees.filter(lambda tree: "<<" not in str(tree)))
def test_what_is_composed_is_what_was_written(tree: object) -> None:
    node, problems = compose(written(tree), "f")
    assert problems == []
    assert node is not None
    assert node.plain() == tree


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=60))
def test_bytes_become_text_or_one_problem(raw: bytes) -> None:
    found = decode(raw, "f")
    if isinstance(found, Problem):
        assert found.file == "f"
    else:
        assert "\r" not in found
        assert "\0" not in found


ROOT = Path(__file__).parent.parent
GUARDED = (ROOT / "modules" / "guarded" / "machine.yaml").read_text()
MODULES = {path.stem: path.read_text() for path in (ROOT.parent / "knowledge" / "modules").glob("*.yaml")}
INSTEAD = [
    *"{}[],:'\"#",
    "{zone}",
    "{x}",
    "{50 % of nominal}",
    "[a, b]",
    "{a: b}",
    "",
    "uses",
    "chains",
    "series",
    "line",
    "12",
]
CHANGES = st.lists(
    st.tuples(st.integers(0, 400), st.sampled_from(["out", "again", "value", "left"]), st.sampled_from(INSTEAD)),
    min_size=1,
    max_size=4,
)


def changed(text: str, changes: list[tuple[int, str, str]]) -> str:
    """A file with some of its lines taken out, doubled, moved to the left or with another value."""
    lines = text.splitlines()
    for at, what, word in changes:
        i = at % len(lines)
        key, colon, _ = lines[i].partition(": ")
        if what == "out" and len(lines) > 1:
            del lines[i]
        elif what == "again":
            lines.insert(i, lines[i])
        elif what == "left":
            lines[i] = lines[i].lstrip()
        else:
            lines[i] = f"{key}{colon}{word}" if colon else lines[i] + word
    return "\n".join(lines) + "\n"


@settings(max_examples=150, deadline=None)
@given(module=st.sampled_from(["", "guard-circuit", "dc-supply"]), changes=CHANGES)
def test_what_was_done_to_a_module_or_its_use_gives_problems_that_name_both(
    module: str, changes: list[tuple[int, str, str]]
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        machine, shelf = Path(folder) / "guarded", Path(folder) / "modules"
        machine.mkdir()
        shelf.mkdir()
        (machine / "machine.yaml").write_text(GUARDED if module else changed(GUARDED, changes))
        for name, text in MODULES.items():
            (shelf / f"{name}.yaml").write_text(changed(text, changes) if name == module else text)
        loaded = load(machine)
        assert (loaded.machine is None) == any(problem.level == "error" for problem in loaded.problems)
        for problem in loaded.problems:
            assert str(problem).isprintable()
            lines = (Path(problem.file).read_text() + "\n").split("\n")
            assert 1 <= problem.line <= len(lines)
            assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1
            assert ("; used in " in problem.text) == ("/modules/" in problem.file)
