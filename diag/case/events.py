"""What happened in a case, as frozen events that are only ever added. A case is folded from them, in order.

An event says what a person entered and nothing that was computed. It is stored as JSON and read back with the same
care as any other input.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from diag.machine.model import Role
from diag.safety.types import Act

Word = Annotated[str, Field(max_length=200)]
Text = Annotated[str, Field(max_length=4000)]


class _Event(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Opened(_Event):
    """The case begins."""

    kind: Literal["opened"] = "opened"
    machine: Word
    revision: Word


class TookOver(_Event):
    """Somebody takes the keys: at the start, at a handover, on a change of role. Live work lapses."""

    kind: Literal["took-over"] = "took-over"
    person: Word
    role: Role
    authorised: bool = False
    qualified: bool = False


class Resumed(_Event):
    """The case was opened again after the program had ended. Live work lapses."""

    kind: Literal["resumed"] = "resumed"


class Found(_Event):
    """A fact: one indication, as P(seen | true state) over some of its states."""

    kind: Literal["found"] = "found"
    indication: Word
    seen: dict[Word, Annotated[float, Field(ge=0.0, le=1.0)]]
    """State to P(seen | that state); a plain sight is `{state: 1.0}`."""
    said: Text = ""
    """As the person said it: `23.9 V`, a display code."""
    check: Word = ""
    """The check that gave it; empty for a look."""
    before: Word = ""
    """Found before this case, by this person: recorded, and never taken as done now."""


class CannotTell(_Event):
    kind: Literal["cannot-tell"] = "cannot-tell"
    indication: Word
    check: Word = ""


class Skipped(_Event):
    """A check or a remedy set aside (no tool, no part): not offered again until a new round, unless asked for."""

    kind: Literal["skipped"] = "skipped"
    action: Word
    why: Text = ""


class Did(_Event):
    """An instruction of a tree carried out."""

    kind: Literal["did"] = "did"
    tree: Word
    text: Text


class ResetDone(_Event):
    """A reset; its outcome follows as a fact on the reset's own indication. Starts a round."""

    kind: Literal["reset-done"] = "reset-done"
    reset: Word


class Remedied(_Event):
    """A remedy carried out. Starts a round."""

    kind: Literal["remedied"] = "remedied"
    remedy: Word


class RemedyFailed(_Event):
    """The last remedy did not cure it."""

    kind: Literal["remedy-failed"] = "remedy-failed"
    remedy: Word


class Gate(_Event):
    """One confirmation at the gate of a zone."""

    kind: Literal["gate"] = "gate"
    zone: Word
    act: Act
    target: Word = ""
    reason: Text = ""
    """Live work: why it cannot be done dead."""
    permit: Text = ""
    """Live work: the site's permit, as the person named it."""


class Called(_Event):
    kind: Literal["called"] = "called"
    role: Role


class Noted(_Event):
    kind: Literal["noted"] = "noted"
    text: Text


class TakenBack(_Event):
    """An earlier event never counted."""

    kind: Literal["taken-back"] = "taken-back"
    seq: int


class Closed(_Event):
    """The end of the case."""

    kind: Literal["closed"] = "closed"
    outcome: Literal["cured", "running", "handed-over"]
    cause: Word = ""
    """Cured: the cause, or `unlisted`."""
    to: Word = ""
    """Handed over: to whom."""
    note: Text = ""


Event = Annotated[
    Opened
    | TookOver
    | Resumed
    | Found
    | CannotTell
    | Skipped
    | Did
    | ResetDone
    | Remedied
    | RemedyFailed
    | Gate
    | Called
    | Noted
    | TakenBack
    | Closed,
    Field(discriminator="kind"),
]


class Stamped(BaseModel):
    """An event with its place in the case, the clock's time and the person at the keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    seq: int
    at: datetime
    """UTC."""
    by: Word
    event: Event


@dataclass(frozen=True, slots=True)
class Unreadable:
    """An entry of the casebook that cannot be read any more. It keeps its place, and nobody guesses what it said."""

    seq: int
    why: str
    """One line."""


Entry = Stamped | Unreadable
"""What the casebook gives back."""
