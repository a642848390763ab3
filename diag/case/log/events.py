"""What happened in a case, as frozen events that are only ever added. A case is what their replay gives.

An event holds what a person entered and nothing that was computed. It is stored as JSON and read back with the care
that any input gets.
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
    kind: Literal["opened"] = "opened"
    machine: Word
    revision: Word


class TookOver(_Event):
    """Somebody takes the case in hand, at the start, at a handover or in another role. Live work lapses."""

    kind: Literal["took-over"] = "took-over"
    person: Word
    role: Role
    authorised: bool = False
    qualified: bool = False


class Joined(_Event):
    """Somebody sits down beside whoever has the case in hand, at a terminal of their own, or says anew what they may
    do. They look and add facts in their own name."""

    kind: Literal["joined"] = "joined"
    person: Word
    role: Role
    authorised: bool = False
    qualified: bool = False


class Resumed(_Event):
    """The case was opened again after the program had ended. Live work lapses."""

    kind: Literal["resumed"] = "resumed"


class Found(_Event):
    """A fact: one indication with P(seen | true state) for some of its states."""

    kind: Literal["found"] = "found"
    indication: Word
    seen: dict[Word, Annotated[float, Field(ge=0.0, le=1.0)]]
    """State to P(seen | that state); a plain observation is `{state: 1.0}`."""
    said: Text = ""
    """As the person said it: `23.9 V`, a display code."""
    check: Word = ""
    """The check that gave it; empty for a look."""
    before: Word = ""
    """Who found it before this case; such a fact is recorded, and never taken as found now."""


class CannotTell(_Event):
    kind: Literal["cannot-tell"] = "cannot-tell"
    indication: Word
    check: Word = ""


class Skipped(_Event):
    """A check or remedy was set aside (no tool, no part). It is not offered again in this round unless asked for."""

    kind: Literal["skipped"] = "skipped"
    action: Word
    why: Text = ""


class Did(_Event):
    """An instruction of a tree was carried out."""

    kind: Literal["did"] = "did"
    tree: Word
    text: Text


class ResetDone(_Event):
    """A reset was done, which starts a round. Its outcome follows as a fact on the reset's own indication."""

    kind: Literal["reset-done"] = "reset-done"
    reset: Word


class Remedied(_Event):
    """A remedy was carried out, which starts a round."""

    kind: Literal["remedied"] = "remedied"
    remedy: Word
    done_at: datetime | None = None
    """Entered later: when it was done, under the lock of whoever enters it. None: it has just been done."""


class Prepared(_Event):
    """Something was done from outside before the proof of the last remedy is looked at, as the file says it. Starts a
    round."""

    kind: Literal["prepared"] = "prepared"
    text: Text


class RemedyFailed(_Event):
    """The last remedy did not cure the fault."""

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
    values: dict[Word, Annotated[float, Field(allow_inf_nan=False)]] = Field(default_factory=dict)
    """What the meter read at a test point, in volts, for each pair."""
    by_item: bool = False
    """The gate asked for each thing by its own name. Entries of earlier programs were made when it did not."""


class MadeSafe(_Event):
    """The danger sign that stood is over: somebody made it safe. Starts a round."""

    kind: Literal["made-safe"] = "made-safe"
    how: Text


class TagFound(_Event):
    """A danger tag hangs at the machine. It stands until the person named on it, or the employer's procedure for an
    absent owner, takes it down."""

    kind: Literal["tag-found"] = "tag-found"
    person: Word
    """The name on it, as it is written there."""
    point: Word = ""
    """The isolation point that it hangs on; empty for elsewhere."""
    where: Text = ""
    """Where it hangs, in words, where that is no isolation point."""
    says: Text = ""
    """What else is written on it."""


class TagDown(_Event):
    """The person named on a danger tag has taken it down."""

    kind: Literal["tag-down"] = "tag-down"
    person: Word
    point: Word = ""
    how: Text = ""
    """What was seen, so that it may come down."""


class OwnerAbsent(_Event):
    """By the employer's procedure somebody took off locks, or took down danger tags, whose owner is absent
    (29 CFR 1910.147(e)(3)). Each thing that the procedure asks for is answered in words."""

    kind: Literal["owner-absent"] = "owner-absent"
    owner: Word
    locks: tuple[Word, ...] = ()
    """Isolation points, each with a lock of the owner."""
    tags: tuple[Word, ...] = ()
    """Isolation points, each with a danger tag that names the owner; empty for elsewhere."""
    directed_by: Word
    """Who directs it for the employer."""
    off_site: Text
    """How it was verified that the owner is not on site."""
    tried: Text
    """How the owner was tried to be reached."""
    removed_by: Word
    authorised: bool = False
    qualified: bool = False
    """What that person had said of themselves."""
    checked: Text
    """Who checked the area and saw that everybody is clear."""


class OwnerTold(_Event):
    """Somebody whose lock or tag was taken off while they were absent knows it now."""

    kind: Literal["owner-told"] = "owner-told"
    owner: Word
    how: Text


class ListsRepaired(_Event):
    """The casebook's lists of the machine did not agree with its entries, and were worked out anew from them. No zone
    counts as proved."""

    kind: Literal["lists-repaired"] = "lists-repaired"
    changed: int
    """How many rows were."""
    lost: int = 0
    """How many things are missing or cannot be read. With any, what stands at the machine is said below and begins
    anew, as the worst that it can have been."""
    locks: tuple[tuple[Word, Word], ...] = ()
    """What stands in somebody's name, as the casebook lists it: an isolation point and the person."""
    dangers: tuple[Text, ...] = ()
    """Signs of danger by their names."""
    resets: tuple[datetime, ...] = ()


GAP = "record: gap"
"""The name of the danger that stands where entries of a machine are lost."""


class Called(_Event):
    kind: Literal["called"] = "called"
    role: Role


class Noted(_Event):
    kind: Literal["noted"] = "noted"
    text: Text


class TakenBack(_Event):
    """An earlier event is taken back: it never counted."""

    kind: Literal["taken-back"] = "taken-back"
    seq: int


class Closed(_Event):
    kind: Literal["closed"] = "closed"
    outcome: Literal["cured", "running", "handed-over"]
    cause: Word = ""
    """Cured: the cause, or `unlisted`."""
    to: Word = ""
    """Handed over: to whom."""
    note: Text = ""


Undoable = Found | CannotTell | Skipped | Did | ResetDone | Remedied | Prepared | RemedyFailed | Called | Noted | Closed
"""What may be taken back by its number. Who was at the keys stays said, and the gate has its own return to service."""
Event = Annotated[
    Opened
    | TookOver
    | Joined
    | Resumed
    | MadeSafe
    | Gate
    | TagFound
    | TagDown
    | OwnerAbsent
    | OwnerTold
    | ListsRepaired
    | TakenBack
    | Undoable,
    Field(discriminator="kind"),
]


class Advised(_Event):
    """What the person was advised. It is computed, and kept for whoever asks later how good the advice was."""

    causes: dict[Word, Annotated[float, Field(ge=0.0, le=100.0)]]
    """The five likeliest causes, in percent."""
    unlisted: Annotated[float, Field(ge=0.0, le=100.0)]
    """Something that is not in this file, in percent."""
    next: Word
    """What was advised, in two words: its kind and its id."""
    taken: int
    of: int
    """How many entries of the sitting could have been what was advised, and how many were."""
    files: Word
    """The digest of the machine's files."""


class Stamped(BaseModel):
    """An event with its place in the case, the clock's time and the person at the keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    seq: int
    at: datetime
    """UTC."""
    by: Word
    event: Event
    sitting: Word = ""
    """The sitting in which it was entered; empty in casebooks from before there were any."""
    role: Role | None = None
    authorised: bool = False
    qualified: bool = False
    """What the person had said of themselves in that sitting; no role in casebooks from before it was kept."""
    advice: Advised | None = None
    """At the first entry that followed advice, and at the ending."""


@dataclass(frozen=True, slots=True)
class Unreadable:
    """An entry of the casebook that cannot be read any more. It keeps its place, and nobody guesses what it said."""

    seq: int
    why: str
    """One line."""


Entry = Stamped | Unreadable
"""What the casebook gives back."""


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """An entry of another case at the same machine that touched what is physically so there: a lock, a proof, a danger,
    a reset. What it says holds for every case."""

    case: str
    entry: Entry
