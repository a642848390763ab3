"""The faults that the tests are tried with: which there are, and that each is a change of one place."""

from __future__ import annotations

import ast

import mutants
import mutate
import pytest

SOURCE = '''"""A module."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from somewhere import Thing

LIMIT = 3


class Box:
    """A box."""

    size: int = 2
    """How large it is."""


@decorated(frozen=True)
def door(ä: int, open: bool = False) -> str:
    """A door."""
    if 1 < ä and not open or ä == 7:
        shout("ü", ä + 1)
        return "yes"
    assert ä, "a door has a number"
    ä -= 2
    return f"no {ä * 2}"
'''


def changed(kind: str) -> set[str]:
    """The lines that the changes of one kind make."""
    return {m.becomes(SOURCE) for m in mutate.mutants(SOURCE) if m.kind == kind}


@pytest.mark.parametrize(
    ("kind", "lines"),
    [
        ("boundary", {"if 1 <= ä and not open or ä == 7:"}),
        ("comparison", {"if 1 >= ä and not open or ä == 7:", "if 1 < ä and not open or ä != 7:"}),
        ("condition", {"if (not (1 < ä and not open or ä == 7)):"}),
        ("and-or", {"if 1 < ä or not open or ä == 7:", "if 1 < ä and not open and ä == 7:"}),
        ("not", {"if 1 < ä and (open) or ä == 7:"}),
        ("arithmetic", {'shout("ü", ä - 1)', "ä += 2"}),
        ("return", {"return None"}),
        ("call", {"pass"}),
        ("default", {"size: int = (3)", "size: int = (1)", "def door(ä: int, open: bool = True) -> str:"}),
    ],
)
def test_each_kind_changes_what_it_says(kind: str, lines: set[str]) -> None:
    assert changed(kind) == lines


def test_constants_are_changed_and_what_nobody_reads_is_left_alone() -> None:
    found = changed("constant")
    assert {"LIMIT = (4)", "LIMIT = (2)", 'shout("", ä + 1)', 'return ""'} <= found
    text = " ".join(m.becomes(SOURCE) for m in mutate.mutants(SOURCE))
    for kept in ("A module", "somewhere", "A box", "How large", "frozen=False", "A door"):
        assert kept not in text
    assert 'assert ä, ""' not in text


def test_each_change_can_be_parsed_and_touches_nothing_else() -> None:
    for mutant in mutate.mutants(SOURCE):
        after = mutant.applied(SOURCE)
        ast.parse(after)
        assert after != SOURCE
        assert after.startswith(SOURCE[: mutant.start])
        assert after.endswith(SOURCE[mutant.end :])


def test_a_line_belongs_to_the_innermost_function_and_a_default_to_none() -> None:
    lines = SOURCE.split("\n")
    assert mutate.function_at(SOURCE, lines.index("    ä -= 2") + 1) == lines.index("@decorated(frozen=True)") + 1
    assert mutate.function_at(SOURCE, lines.index("LIMIT = 3") + 1) == 0
    assert mutate.function_at(SOURCE, lines.index("def door(ä: int, open: bool = False) -> str:") + 1) == 0


def test_every_file_that_can_hold_a_fault_gets_one_and_the_seed_decides_which() -> None:
    trials = mutants.draw(mutants.ROOMS, 120, 1)
    assert len(trials) == 120
    files = {
        f.relative_to(mutants.ROOT).as_posix() for r in mutants.ROOMS for f in (mutants.ROOT / "diag" / r).rglob("*.py")
    }
    able = {f for f in files if mutate.mutants((mutants.ROOT / f).read_text())}
    assert {t.file for t in trials} == able
    assert all(f.endswith("__init__.py") for f in files - able)
    assert mutants.draw(mutants.ROOMS, 120, 1) == trials != mutants.draw(mutants.ROOMS, 120, 2)
    assert len({(t.file, t.mutant.start, t.mutant.end) for t in trials}) == 120


def test_what_is_known_to_survive_still_stands_in_the_code() -> None:
    """A reason for a change that can no longer be made excuses nothing, and has to go."""
    for (file, was, becomes), reason in mutants.survivors().items():
        assert len(reason.split()) > 3, (file, was)
        source = (mutants.ROOT / file).read_text()
        assert (was, becomes) in {(m.was(source), m.becomes(source)) for m in mutate.mutants(source)}, (
            file,
            was,
            becomes,
        )


def test_what_only_asserts_is_left_alone() -> None:
    source = "for a, b in zip(x, y, strict=True):\n    assert_never(a)\n    shout(b)\n"
    assert {m.becomes(source) for m in mutate.mutants(source)} == {"pass"}


def test_the_functions_that_stand_in_no_other_one_are_found_by_name_and_line() -> None:
    source = "def one():\n    return [two() for _ in (1,)]\n\nclass Box:\n    def door(self):\n        def inner(): ..."
    assert sorted(mutate.functions(source, "box.py")) == [("Box.door", 5), ("one", 1)]
    before, after = (mutate.functions(text, "box.py") for text in (source, source.replace("(1,)", "(2,)")))
    assert before["one", 1] != after["one", 1]
    assert before["Box.door", 5] == after["Box.door", 5]
