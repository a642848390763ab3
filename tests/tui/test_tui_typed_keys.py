"""What a character comes to that is pressed without Enter, on a clock that the test sets. No Textual here."""

from __future__ import annotations

import pytest
from case_parts import Ticks

from diag.machine.model import Machine
from diag.tui.screens.case.parts.asked import Asked
from diag.tui.screens.case.parts.typed_keys import AT_ONCE, PASS, Press, Step, TypedKeys


@pytest.fixture
def clock() -> Ticks:
    return Ticks(100.0)


@pytest.fixture
def keys(clock: Ticks) -> TypedKeys:
    return TypedKeys(clock)


@pytest.fixture
def code(mixer: Machine) -> Asked:
    return Asked(mixer.indications["box-display"])


@pytest.fixture
def lamp(mixer: Machine) -> Asked:
    return Asked(mixer.indications["supply-lamp"])


def char(character: str, does: str = "") -> Press:
    return Press(character, character, printable=True, does=does)


ENTER = Press("enter", "\r", does="do")


def test_a_letter_that_is_no_key_begins_the_line(keys: TypedKeys, code: Asked) -> None:
    assert keys.press(char("d"), code, "") == Step(stop=True, begin="d")


def test_a_figure_begins_the_line_though_it_is_a_key(keys: TypedKeys, code: Asked) -> None:
    assert keys.press(char("1", "digit"), code, "") == Step(stop=True, begin="1")


def test_where_digits_answer_they_are_keys(keys: TypedKeys, lamp: Asked) -> None:
    assert keys.press(char("1", "digit"), lamp, "") == PASS


def test_nothing_begins_where_nothing_is_asked(keys: TypedKeys) -> None:
    assert keys.press(char("z"), None, "") == PASS


def test_nothing_begins_where_the_place_is_closed(keys: TypedKeys, mixer: Machine) -> None:
    assert keys.press(char("z"), Asked(mixer.indications["box-display"], shut=True), "") == PASS


def test_a_digit_too_many_begins_nothing_and_what_is_typed_with_it_neither(
    keys: TypedKeys, clock: Ticks, code: Asked
) -> None:
    keys.chosen_by_digit()
    first = keys.press(char("1", "digit"), code, "")
    assert (first.begin, first.warn) == ("", "1 was not taken: the list has ended. Enter begins the line here.")
    assert keys.press(char("d"), code, "").warn
    assert keys.press(char("u", "undo"), code, "").warn, "not even what is a key"
    clock.now += AT_ONCE
    assert keys.press(char("u", "undo"), code, "") == PASS
    assert keys.press(char("d"), code, "") == Step(stop=True, begin="d")


def test_another_key_ends_it(keys: TypedKeys, clock: Ticks, code: Asked) -> None:
    keys.chosen_by_digit()
    keys.press(char("1", "digit"), code, "")
    keys.other_key()
    assert keys.press(char("2", "digit"), code, "") == Step(stop=True, begin="2")


def test_a_key_that_begins_a_code_is_held(keys: TypedKeys, code: Asked) -> None:
    step = keys.press(char("a", "other"), code, "")
    assert step == Step(stop=True, hold=True, hint="a … type the rest of the code, or wait for: other.")
    assert keys.let_go() == "a"
    assert keys.let_go() == "", "it does what it does once"


def test_what_goes_on_with_the_code_is_typed(keys: TypedKeys, code: Asked) -> None:
    keys.press(char("a", "other"), code, "")
    assert keys.press(char("3", "digit"), code, "") == Step(stop=True, begin="a3", hint="")
    assert keys.let_go() == ""


def test_what_does_not_lets_the_letter_go_and_follows_it(keys: TypedKeys, code: Asked) -> None:
    keys.press(char("g", "lockout"), code, "")
    escape = Press("escape", "\x1b", does="next")
    assert keys.press(escape, code, "") == Step(stop=True, let_go="g", again=True)
    assert keys.press(escape, code, "") == PASS


def test_enter_takes_a_code_of_one_letter(keys: TypedKeys, mixer: Machine) -> None:
    from dataclasses import replace

    display = mixer.indications["box-display"]
    short = Asked(replace(display, codes=(*display.codes, replace(display.codes[0], pattern="U"))))
    assert keys.press(char("u", "undo"), short, "").hold
    assert keys.press(ENTER, short, "") == Step(stop=True, begin="u", again=True)


def test_enter_after_half_a_code_lets_the_letter_go(keys: TypedKeys, code: Asked) -> None:
    keys.press(char("g", "lockout"), code, "")
    assert keys.press(ENTER, code, "") == Step(stop=True, let_go="g", again=True)


def test_no_letter_is_held_once_something_stands_in_the_line(keys: TypedKeys, code: Asked) -> None:
    assert keys.press(char("a", "other"), code, "d") == PASS
