"""What a key comes to, as plain data: words for the line of status, a line to type in, or something to be opened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from diag.case.observe.observation import Observation
from diag.case.snapshot import Action, Disagreement, ResetCount
from diag.machine.model import Indication, Reset
from diag.tui.questions import AskLines, ChooseOne, Given, Question
from diag.tui.storing import STORING, Entry

Tone = Literal["say", "warn", "hint", "stop"]
"""What was done; what was refused or not understood; what may be done."""


@dataclass(frozen=True)
class TapAlongWith(Question[Observation]):
    """Tapping along with a lamp."""

    indication: Indication


@dataclass(frozen=True)
class DrawIt(Question[Observation]):
    """Drawing what a display shows. `begun`: what was typed already."""

    indication: Indication
    begun: str
    could_be: Callable[[Observation], tuple[tuple[str, float], ...]]


@dataclass(frozen=True)
class AskReset(Question[bool]):
    """Before a reset: what it clears, what is still to be noted, how many are left."""

    reset: Reset
    count: ResetCount | None
    action: Action
    missing: tuple[str, ...]


@dataclass(frozen=True)
class InFull(Question[None]):
    """All that is known about an action. `odd`: what no single cause explains."""

    action: Action
    disagreements: tuple[Disagreement, ...]
    odd: str


@dataclass(frozen=True)
class ToLockout(Question[None]):
    """The lockout screen, on a zone. `live`: it asks at once for the acknowledgement of live work."""

    zone: str
    live: bool


@dataclass(frozen=True)
class ToFinish(Question[None]):
    """The screen that closes the case."""


PLAIN = TapAlongWith, DrawIt, AskLines, ChooseOne
"""What is answered in these is a fact, a note or a call, or leads to another box: it is taken though others entered
something meanwhile."""


def _nothing(_: object) -> Reply:
    return NOTHING


@dataclass(frozen=True, slots=True)
class Reply:
    words: str | None = None
    """For the line of status, in the tone of `tone`; None leaves it as it is."""
    tone: Tone = "hint"
    request: Question[Any] | None = None
    """What is to be opened; what is answered there goes on with `then`."""
    then: Callable[[Any], Reply] = _nothing
    begin: str | None = None
    """The keys go to the line, with these characters typed into it."""
    to_panel: bool = False
    """The keys go back from the line to the panel."""
    clear: bool = False
    """What stands in the line is given up."""
    entry: Entry | None = None
    """It is still being stored; once that is over, `then` says what came of it."""


NOTHING = Reply()


def say(words: str) -> Reply:
    return Reply(words, "say")


def warn(words: str) -> Reply:
    return Reply(words, "warn")


def hint(words: str) -> Reply:
    return Reply(words, "hint")


def entered(entry: Entry, words: str | Callable[[], str]) -> Reply:
    """What came of an entry: why it was refused, or else what was done."""
    return once_stored(entry, lambda: say(words if isinstance(words, str) else words()))


def once_stored(entry: Entry, then: Callable[[], Reply]) -> Reply:
    """What came of an entry: why it was refused, or else what `then` says. While it is still being stored, that."""
    if not entry.over:
        return Reply(STORING, "hint", entry=entry, then=lambda _: once_stored(entry, then))
    return warn(entry.wrong) if entry.wrong else then()


def ask(question: Question[Given], then: Callable[[Given], Reply]) -> Reply:
    return Reply(request=question, then=then)
