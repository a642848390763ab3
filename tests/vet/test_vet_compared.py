"""What a wrong example is told: its facts under two causes, and the reason of the one that speaks most against it."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from diag.case.case import Case
from diag.machine.load import read
from diag.machine.model import Role
from diag.safety.types import Person
from diag.vet.examples.compared import Compared, compare
from diag.vet.examples.replay_example import replay
from diag.vet.vetted.sample import SAMPLE

WRONG = """  - example: wrong
    title: Wrong
    facts: FACTS
    cause: CAUSE
    tree: false
"""


def told(folder: Path, facts: str, cause: str, *changes: tuple[str, str]) -> Compared:
    text = SAMPLE
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    (folder / "machine.yaml").write_text(text + WRONG.replace("FACTS", facts).replace("CAUSE", cause))
    machine = read(folder)
    found = replay(machine, machine.examples[-1])
    assert found.compared is not None
    return found.compared


@pytest.mark.parametrize(
    "facts",
    [
        "[{display: F3}, {air: weak}]",
        "[{air: weak}, {display: F3}, {supply-lamp: lit}, {supply: 231 V}]",
        "[{display: E1}, {air: weak}, {display: F3}]",  # the last word on the display counts
        "[{supply: 207 V}, {display: F3}]",
    ],
)
def test_the_parts_multiply_to_how_the_two_stand_at_the_end(tmp_path: Path, facts: str) -> None:
    found = told(tmp_path, facts, "motor-hot")
    machine = read(tmp_path)
    whole = replay(machine, machine.examples[-1])
    first = compare(machine, machine.examples[-1], whole.first)
    assert first == found
    p, q = (b * math.prod(f.expected if n == 0 else f.first for f in found.facts) for n, b in enumerate(found.before))
    case = Case.open(machine, Person("test", Role.ENGINEER))
    for indication, text in machine.examples[-1].facts:
        case.say(indication, text, before="test")
    at_end = {c.id: c.probability for c in case.advice().causes}
    assert p / q == pytest.approx(at_end["motor-hot"] / at_end[whole.first], rel=1e-9)


@pytest.mark.parametrize(
    ("facts", "cause", "hint"),
    [
        (
            "[{display: F3}]",
            "motor-hot",
            "motor-hot shows display: hot, which alone means always; write {hot: usually} if that is wrong",
        ),
        (
            "[{motor-wire: open}, {air: weak}, {display: idle}]",
            "supply-lost",
            "supply-lost does not name motor-wire under 'shows', so it is taken to show its normal state, closed",
        ),
        (
            "[{display: F3}, {test-key: both}]",
            "wire-broken",
            "wire-broken does not name display under 'shows', so it is taken to show its normal state, idle, or what "
            "it follows",
        ),
        (
            '[{main-switch: "off"}]',
            "supply-lost",
            "supply-lost does not name main-switch under 'shows', so it is answered as usual",
        ),
    ],
)
def test_why_a_fact_is_so_unlikely(tmp_path: Path, facts: str, cause: str, hint: str) -> None:
    assert told(tmp_path, facts, cause).hint == hint


def test_a_state_that_is_named_as_seldom(tmp_path: Path) -> None:
    weak = ("air: {weak: sometimes}", "air: {weak: seldom}")
    found = told(tmp_path, "[{air: weak}]", "motor-hot", weak)
    assert found.hint == "by the file motor-hot shows air: weak in 10% of its stops"
    assert found.facts[0].expected == pytest.approx(0.98 * (0.1 + 0.9 * 0.03) + 0.02 / 2)


def test_other_states_that_are_named(tmp_path: Path) -> None:
    two = ("display: E1,", "display: {E1: usually, blank: seldom},")
    found = told(tmp_path, "[{display: F3}]", "motor-hot", two)
    assert found.hint == "by the file motor-hot shows display: hot or blank, and not filter"


def test_an_example_that_comes_out_and_one_that_only_the_tree_fails_are_not_compared() -> None:
    machine = read(Path(__file__).parents[1] / "machines" / "mixer")
    assert all(replay(machine, example).compared is None for example in machine.examples)
