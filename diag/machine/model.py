"""A machine, resolved: every short form written out, every name known to exist, every default filled in.

These are the types that all rooms above read. The loader (`diag.machine.load`) is the only place that makes them;
nothing here knows a file. What a lockout is about stands in `isolation`, trees in `nodes`. Everything is frozen.
Names are plain strings (`"supply-lamp"`), unique within their kind.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum, auto
from functools import cached_property
from typing import TYPE_CHECKING

from diag.machine.approval.approval import Approval
from diag.machine.assets import NoSuchAsset, folded, no_asset, recorded_as, spelled
from diag.machine.isolation import IsolationPoint, Minutes, StoredEnergy, TakenOff, TestPoint, Zone
from diag.machine.nodes import Tree
from diag.machine.place import Place

if TYPE_CHECKING:
    from diag.panel.meter.accuracy import Accuracy


class Kind(StrEnum):
    """What sort of thing an indication is; it decides how it is entered and drawn."""

    LAMP = auto()
    DISPLAY = auto()
    CONTACT = auto()
    READING = auto()
    QUESTION = auto()
    HISTORY = auto()
    """A list of alarms, read out in order; the first of them carries the evidence."""


class Access(StrEnum):
    """What an action needs. `OUTSIDE`: enclosure closed. `DEAD`: isolated, proved. `LIVE`: inside and energised."""

    OUTSIDE = auto()
    DEAD = auto()
    LIVE = auto()


class Energy(StrEnum):
    """What the machine must be for an observation to mean anything."""

    ON = auto()
    OFF = auto()
    ANY = auto()


class Role(StrEnum):
    """Roles are not a ladder: a list of roles says who may, and nobody else may."""

    OPERATOR = auto()
    ELECTRICIAN = auto()
    ENGINEER = auto()


OTHER = "other"
"""The state of a display or an alarm list that shows a code which its file does not declare."""
EMPTY = "empty"
"""The state of an alarm list that holds nothing of this stop."""
PROOF_HOLDS = 60.0
"""Minutes that a proof of dead holds unless the site says otherwise. No standard gives a figure; it is the site's."""
UNLISTED = "unlisted"
"""The cause that is always there without being written: something that is not in this file."""


@dataclass(frozen=True, slots=True)
class State:
    """One named value of an indication."""

    id: str
    means: str = ""
    """In words, for the screen; may be empty."""
    pattern: str = ""
    """Lamps only: how the lamp looks in this state, for `panel.lamps.flash.parse` (`steady`, `off`, `blink 1 Hz`)."""
    colour: str = ""
    """Lamps only: where it differs from the lamp's own colour."""
    protective: bool = False
    """A protective device has operated."""
    cleared_by: tuple[str, ...] = ()
    """A latched state: what clears it, resets by id or the word `power`."""


@dataclass(frozen=True, slots=True)
class Band:
    """The span of a reading's values that one state stands for. `None` is without limit on that side."""

    state: str
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Code:
    """A display pattern (`?` stands for any one character) and the state that it means."""

    pattern: str
    state: str
    means: str = ""


@dataclass(frozen=True, slots=True)
class Follow:
    """When every indication of `when` is in one of its states, the indication that holds this rule shows `shows`."""

    when: tuple[tuple[str, tuple[str, ...]], ...]
    shows: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Indication:
    """Something a person can see, read, measure or be asked, with a fixed set of named states."""

    id: str
    kind: Kind
    title: str
    """What to call it on a screen: the label as printed, or the question."""
    states: tuple[State, ...]
    normal: str
    """The state on a stopped, energised, healthy machine."""
    where: str = ""
    label: str = ""
    colour: str = ""
    """Lamps: the colour as seen."""
    characters: int = 0
    """Displays: how many."""
    codes: tuple[Code, ...] = ()
    scrolls: bool = False
    """Displays: a code comes in steps, one character at a time, then a gap, again and again."""
    lamp_test: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """Lamps and displays: the indication that a lamp test gives, and its states in which this one failed."""
    contact: str = ""
    """Contacts: make, break or changeover."""
    side: str = ""
    """Changeover contacts: which half is meant, `make` or `break`."""
    coil: str = ""
    """Contacts: how the coil (or what moves it) is on a stopped, healthy machine: `energised`, `released` or empty."""
    agrees: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = ()
    """Contacts: a lamp that reports the same thing, with the contact's state for each of the lamp's."""
    measured: str = ""
    """Contacts: how it is found, `continuity` or `voltage`; empty when it is seen on a lamp or a screen."""
    unit: str = ""
    nominal: float | None = None
    """Readings: what it should be. Contacts measured by voltage: the supply."""
    accuracy: Accuracy | None = None
    """Readings: of the meter that the file names; where the file names none, an ordinary one."""
    bands: tuple[Band, ...] = ()
    """Readings: from low to high, without gap or overlap."""
    formula: str = ""
    source: str = ""
    """Where the limits come from."""
    usual: tuple[float, ...] = ()
    """Questions: the usual mix over `states`, summing to 1; empty for every other kind."""
    energy: Energy = Energy.ON
    follows: tuple[Follow, ...] = ()
    place: Place | None = None

    @property
    def state_ids(self) -> tuple[str, ...]:
        return tuple(s.id for s in self.states)

    def state(self, id: str) -> State:
        """The state of that name. Raises KeyError."""
        for s in self.states:
            if s.id == id:
                return s
        raise KeyError(id)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """What cures one cause or several."""

    id: str
    do: str
    minutes: float
    access: Access
    who: tuple[Role, ...]
    zone: str = ""
    parts: tuple[str, ...] = ()
    from_outside: str = ""
    """Where its parts sit, when they are exchanged with every enclosure and guard closed; the file's word for it."""
    tool: str = ""
    caution: str = ""
    chance: float = 0.95
    """The chance that it cures, given that its cause is the one."""
    takes_off: tuple[TakenOff, ...] = ()
    place: Place | None = None


def scaled(chances: Mapping[str, float]) -> Mapping[str, float]:
    """The chances of one indication's states as reasoning uses them: divided by their sum where that is above 1."""
    total = sum(chances.values())
    return {state: chance / total for state, chance in chances.items()} if total > 1.0 else chances


@dataclass(frozen=True, slots=True)
class ProofStep:
    """Something that is done from outside before the proof of a cure is looked at."""

    do: str
    who: tuple[Role, ...]
    reset: str = ""
    """The reset that this is, by id; empty for anything else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """A fault (or a stop by design) that explains facts."""

    id: str
    title: str
    part: str
    rate: float
    """Stops a year."""
    shows: Mapping[str, Mapping[str, float]]
    """Indication id to state id to probability, as written (words turned into numbers, not yet `scaled`).
    What is not named shows its normal state, its usual mix, or what it follows."""
    remedy: Remedy | None = None
    proof: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Indications and the states, any of which shows that it is cured; the function test is part of it."""
    proof_first: tuple[ProofStep, ...] = ()
    """What is done before the proof is looked at, in order."""
    safety: bool = False
    """It is a fault of what keeps people safe, so its proof holds a test in which the machine refuses."""
    function_test: tuple[str, ...] = ()
    """Those indications of the proof that are the function test."""
    rest_probability: float = 0.0
    """Intermittent causes: the chance per round that everything shows normal."""
    by_design: bool = False
    """The machine stops because it should: waiting, a permission missing, a door open."""
    note: str = ""
    place: Place | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """An action that gives facts. Indications that no written check gives have an implied one: a look from outside."""

    id: str
    title: str
    gives: tuple[str, ...]
    do: str
    minutes: float
    access: Access
    who: tuple[Role, ...]
    tool: str = ""
    where: str = ""
    zone: str = ""
    needs: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Only makes sense when these indications are in one of these states."""
    caution: str = ""
    energy: Energy = Energy.ANY
    changes: bool = False
    """It changes the machine, so a new round starts with it."""
    takes_off: tuple[TakenOff, ...] = ()
    implied: bool = False
    place: Place | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Danger:
    """A sign that goes before everything: stop, keep away, call."""

    when: tuple[tuple[str, tuple[str, ...]], ...]
    stop: str
    call: Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Reset:
    """A reset, and the question about its outcome (an indication with the same id)."""

    id: str
    title: str
    do: str
    who: tuple[Role, ...]
    clears: str = ""
    note_first: tuple[str, ...] = ()
    """Indications to note before it."""
    minutes: float = 1.0


RESET_OUTCOMES = ("back-at-once", "back-later", "ran-on")
"""The states of a reset's own indication; the first is the normal one on a machine with a lasting fault."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """A worked case: facts in order as a person would say them (`23.9 V`, a state, a display code), and the cause."""

    id: str
    title: str
    facts: tuple[tuple[str, str], ...]
    cause: str
    within: int = 1
    """The cause must stand at this place or before it at the end."""
    tree: bool = True
    """The authored tree must lead to the cause too."""
    who: str = ""
    tried: str = ""
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class FaceRow:
    """One titled block of the front, as rows of indications from the top, each row from the left."""

    title: str
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True)
class Machine:
    id: str
    title: str
    place: str
    revision: str
    approval: Approval
    hazards: tuple[str, ...]
    neighbours: tuple[str, ...]
    """What else still moves when this machine is off."""
    minutes: Minutes
    proof_holds: float = PROOF_HOLDS
    """Minutes after which a proof of dead is made again before anything more is done inside."""
    reset_limit: int
    call: Mapping[Role, str]
    """Whom to call, by role."""
    points: Mapping[str, IsolationPoint]
    stored: Mapping[str, StoredEnergy]
    test_points: Mapping[str, TestPoint]
    zones: Mapping[str, Zone]
    dangers: tuple[Danger, ...]
    resets: Mapping[str, Reset]
    groups: Mapping[str, tuple[str, ...]]
    indications: Mapping[str, Indication]
    face: tuple[FaceRow, ...]
    causes: Mapping[str, Cause]
    remedies: Mapping[str, Remedy]
    checks: Mapping[str, Check]
    """Written and implied, in the order of the file, implied ones last."""
    trees: Mapping[str, Tree]
    start: str
    examples: tuple[Example, ...]
    files: str = field(default="", compare=False)
    """The digest of what its files say (`diag.machine.approval.digest`), for the record; empty where nobody asked."""
    assets: tuple[str, ...] = ()
    """The machines that share this file, as it names them; none where it serves one alone."""
    asset: str = ""
    """The one of them that this is; empty before one was named. What is physically so is of it alone."""

    @property
    def recorded_as(self) -> str:
        """What the record knows it by: the id, and behind it the asset where it is one of several."""
        return recorded_as(self.id, self.asset)

    @property
    def name(self) -> str:
        """What to call it: the title, and the asset where it is one of several."""
        return f"{self.title}, {self.asset}" if self.asset else self.title

    @property
    def gone(self) -> bool:
        """It is an asset that the file names no more, or none although the file has some by now. A case of it can be
        read and ended, and none is begun."""
        return self.asset not in (self.assets or ("",))

    def of_asset(self, name: str) -> Machine:
        """The machine as that one of its assets. With an empty name as it is, where its file names none, and the one
        that there is, where it names one.

        Raises `NoSuchAsset`, with the nearest name."""
        wanted = name or (self.assets[0] if len(self.assets) == 1 else "")
        found = next((asset for asset in self.assets if folded(asset) == folded(wanted)), "")
        if found or not (name or self.assets):
            return replace(self, asset=found)
        raise NoSuchAsset(no_asset(self.id, name, self.assets))

    def as_recorded(self, asset: str) -> Machine:
        """The machine as the record knows it by an asset's name, also where its file names that asset no more, or has
        come to name some since (see `gone`)."""
        return replace(self, asset=spelled(self.assets, asset))

    @cached_property
    def checks_for(self) -> Mapping[str, tuple[Check, ...]]:
        """For each indication the checks that give it, in file order."""
        found: dict[str, list[Check]] = {id: [] for id in self.indications}
        for check in self.checks.values():
            for id in check.gives:
                found[id].append(check)
        return {id: tuple(checks) for id, checks in found.items()}

    @cached_property
    def causes_of(self) -> Mapping[str, tuple[str, ...]]:
        """For each remedy the causes that it is for."""
        found: dict[str, list[str]] = {id: [] for id in self.remedies}
        for cause in self.causes.values():
            if cause.remedy is not None:
                found[cause.remedy.id].append(cause.id)
        return {id: tuple(causes) for id, causes in found.items()}
