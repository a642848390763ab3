"""What a box asks, as plain data: a list to choose from, lines to type, and what was answered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

Given = TypeVar("Given")


class Question(Generic[Given]):
    """Something that is asked over a screen, and answered with a `Given`."""


@dataclass(frozen=True, slots=True)
class Row:
    """One choice: its name to the program, its title, and a quieter remark beside it."""

    id: str
    title: str
    beside: str = ""
    head: str = ""
    """Rows with the same head stand together below it."""
    also: str = ""
    """Other words that it is found by."""


@dataclass(frozen=True, slots=True)
class Picked:
    """What was taken: a row's id, or (where the list allows it) what was typed instead."""

    id: str
    typed: str = ""

    @property
    def words(self) -> str:
        return self.typed or self.id


@dataclass(frozen=True)
class ChooseOne(Question[Picked]):
    """A list to choose from. With `digits` its first nine rows have a digit each."""

    title: str
    rows: tuple[Row, ...]
    digits: bool = False
    free: str = ""
    """What may be typed in place of a row, as the line's prompt; empty when only rows are taken."""
    wrong: Callable[[str], str] | None = None
    """What is wrong with words that are typed in place of a row, empty when nothing is; with it a part of a row's words
    stands for the row."""
    marks: bool = True
    """A row is marked at first."""
    about: str = ""
    """What is to be known before choosing."""
    rest: tuple[Row, ...] = ()
    """Rows that are shown only once something is typed."""
    typed: str = ""
    """What the line holds already."""
    bare: bool = False
    """Of people's safety: it takes a digit or a click, nothing typed, and neither before it can have been read."""
    wrong_before: str = ""
    """Why it is asked again."""

    def again(self, picked: Picked, wrong: str) -> ChooseOne:
        """The same with what was typed before, and why that could not be taken."""
        return replace(self, typed=picked.typed, wrong_before=wrong)


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to type: what it is, what stands after the line (a unit), what it holds already."""

    prompt: str
    after: str = ""
    value: str = ""
    example: str = ""
    empty: bool = False
    """It may stay empty."""


Answers = tuple[str, ...]
"""What was typed into the lines of a box, in their order."""


def nothing_wrong(answers: Answers) -> str:
    return ""


def nowhere(answers: Answers) -> int | None:
    return None


@dataclass(frozen=True)
class AskLines(Question[Answers]):
    """Lines to type."""

    title: str
    about: str
    lines: tuple[Line, ...]
    check: Callable[[Answers], str] = nothing_wrong
    """What is wrong with all of them, in one line; empty when nothing is."""
    tell: Callable[[Answers], str] | None = None
    """What they come to, while they are typed."""
    pad: bool = False
    """Numbers are asked for, so figures are shown that can be clicked."""
    pad_more: tuple[str, ...] = ()
    """What else is shown beside them."""
    wrong_before: str = ""
    """Why it is asked again."""
    in_turn: bool = False
    """Enter goes through every line, filled in already or not, and takes them on the last one alone."""
    concerns: Callable[[Answers], int | None] = nowhere
    """The line that what is wrong is about, from 0; None where it is about none of them alone."""

    def again(self, answers: Answers, wrong: str) -> AskLines:
        """The same with what was typed before, and why that could not be taken."""
        typed = tuple(replace(one, value=answer) for one, answer in zip(self.lines, answers, strict=True))
        return replace(self, lines=typed, wrong_before=wrong)
