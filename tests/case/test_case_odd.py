"""Facts that no single cause explains: the line for the screen and the sheet."""

from __future__ import annotations

from pathlib import Path

import pytest

from diag.case.advice.rationale import of_odd
from diag.case.case import Case
from diag.case.sheet.sheet import markdown
from diag.machine.load import read
from diag.machine.model import Role
from diag.safety.types import Person

ROOT = Path(__file__).resolve().parents[2]
STACKER = read(ROOT / "knowledge" / "tray-stacker")


def told(**facts: str) -> Case:
    case = Case.open(STACKER, Person("B. Amsel", Role.ELECTRICIAN))
    for indication, state in facts.items():
        case.say(indication.replace("_", "-"), state, before="C. Birk")
    return case


def test_plain_facts_are_not_odd() -> None:
    case = told(guards_pressed="front-door")
    advice = case.advice()
    assert advice.odd == ""
    assert advice.surprise is not None
    assert advice.surprise < 1.0
    assert "No single cause" not in markdown(case)


def test_without_facts_nothing_is_said() -> None:
    advice = told().advice()
    assert advice.odd == ""
    assert advice.surprise is None


def test_the_line_says_what_to_look_at_again() -> None:
    """The supply's lamp is dark, and what it feeds is lit: one of the two is misread."""
    case = told(supply_lamp="dark", dc_lamp="lit", health_lamp="lit")
    odd = case.advice().odd
    assert odd == "No single cause explains this: look again at HEALTH or SUPPLY."
    assert odd in markdown(case)
    assert "odd taken together" not in markdown(case)


def test_two_causes_are_named_by_their_titles() -> None:
    """The outfeed block is dead and the lift's amplifier reports an overload: no one cause reaches both."""
    facts = {"branch_b_block_in": "dark", "block_lamp": "dark", "amp1_digit": "overload", "amp1_able": "faulty"}
    case = told(**facts, amp1_cause="two")
    odd = case.advice().odd
    assert "or two causes: " in odd
    assert STACKER.causes["amp1-stiff"].title in odd


@pytest.mark.parametrize(
    ("again", "two", "text"),
    [
        (("SUPPLY",), (), "No single cause explains this: look again at SUPPLY."),
        (("A", "B"), (), "No single cause explains this: look again at A or B."),
        (("Does it hum?",), (), "No single cause explains this: look again at “Does it hum?”."),
        (("SUPPLY",), ("x", "y"), "No single cause explains this: look again at SUPPLY, or two causes: x and y."),
        ((), ("x", "y"), "No single cause explains this: two causes: x and y."),
        ((), (), "No single cause explains this: something may be missing from the file."),
    ],
)
def test_the_words(again: tuple[str, ...], two: tuple[str, ...], text: str) -> None:
    assert of_odd(again, two) == text
